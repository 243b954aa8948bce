"""Faults put into the package one at a time, to see which of them a test notices.

``--reach`` runs the tests once and notes which functions each test file enters (ten minutes). ``--listed`` then puts
in the faults of ``mutation/listed.toml``, ``--sample 100`` that many small changes drawn from all that the package
allows. Each is put into a copy of the checkout, and the test files that enter the function run until one fails, the
cheapest first, within ``--budget`` seconds. What survives is printed; all of it is kept in ``out/mutants``.
``--long`` does all this with the tests marked ``long`` instead, ``--again`` with what no run before has killed.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import tomllib
from collections.abc import Iterator
from pathlib import Path

from mutation.operators import Site, count, site

ROOT = Path(__file__).parent.parent
OUT = ROOT / "out" / "mutants"
LOG = OUT / "log.txt"
#: Memory that the tests of a fault may take [bytes].
MOST_MEMORY = 12 * 2**30
#: Tests of the machine's own faults and of a browser take long, and tell nothing of a line.
LEFT_OUT = ("tests/page/test_browser.py", "tests/hostile/test_faults_of_the_machine.py", "tests/test_benchmarks.py")


def copied(folder: Path) -> Path:
    """A copy of all that git knows in the checkout, as it stands, with what numba has compiled."""
    listed = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
    names = subprocess.run(listed, cwd=ROOT, check=True, capture_output=True).stdout
    kept = [Path(name) for name in names.decode().split("\0") if name]
    kept += [path.relative_to(ROOT) for path in (ROOT / "thermsim").rglob("__pycache__/*.nb?")]
    for path in kept:
        if (ROOT / path).is_file():
            (folder / path).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(ROOT / path, folder / path)
    return folder


def environment(folder: Path, **more: str) -> dict[str, str]:
    paths = [str(folder), str(folder / "benchmarks" / "mutation")]
    return {**os.environ, "PYTHONPATH": os.pathsep.join(paths), "MPLBACKEND": "Agg", **more}


def map_of(marked: tuple[str, ...]) -> Path:
    """Where it is kept what test files enter, by what is said of marks."""
    return OUT / f"reach{'-long' if marked else ''}.json"


def reach(names: list[str], marked: tuple[str, ...]) -> None:
    """Run test files, each folder in a process of its own, and keep what they enter."""
    path = map_of(marked)
    known = json.loads(path.read_text("utf-8")) if path.is_file() else {}
    files = sorted(path.relative_to(ROOT).as_posix() for path in (ROOT / "tests").rglob("test_*.py"))
    for name in names or sorted({str(Path(file).parent) for file in files}):
        mine = [file for file in files if (file == name or str(Path(file).parent) == name) and file not in LEFT_OUT]
        if not mine:
            continue
        with tempfile.TemporaryDirectory() as made:
            folder = copied(Path(made))
            kept = folder / "reach.json"
            command = [sys.executable, "-m", "pytest", "-q", "-p", "reach", "-p", "no:cacheprovider", *marked, *mine]
            done = subprocess.run(command, cwd=folder, env=environment(folder, REACH=str(kept)), capture_output=True)
            known |= json.loads(kept.read_text("utf-8"))
        said = (
            "passed"
            if done.returncode in (0, 5)
            else f"FAILED without a fault: {done.stdout.decode().splitlines()[-1]}"
        )
        print(f"{name}: {said}", flush=True)
        OUT.mkdir(parents=True, exist_ok=True)
        path.write_text(json.dumps(known, indent=0), "utf-8")


def tests_for(known: dict[str, dict], changed: Site, budget: float, first: tuple[str, ...]) -> list[str]:
    """Test files that enter the function changed, or its module where it is outside; near, then cheap ones first."""
    module = f"{changed.file}:"
    inside = module + changed.function if changed.function else module

    def enters(entry: dict) -> bool:
        if not changed.function:  # a module is run where a test happens to import it first: that tells nothing
            return any(name.startswith(inside) and not name.endswith(">") for name in entry["functions"])
        return any(name == inside or name.startswith(inside + ".") for name in entry["functions"])

    found = [file for file, entry in known.items() if enters(entry)]
    if not found:  # compiled, or not Python: the tests of the same room, else whoever enters what imports it
        room, imported = "/".join(Path(changed.file).parts[1:-1]), f".{Path(changed.file).stem} import"
        found = [file for file in known if file.startswith(f"tests/{room}/")]
        using = [path for path in (ROOT / "thermsim").rglob("*.py") if imported in path.read_text("utf-8")]
        users = tuple(f"{path.relative_to(ROOT).as_posix()}:" for path in using)
        found = found or [file for file, of in known.items() if any(one.startswith(users) for one in of["functions"])]
    cost, chosen = 0.0, []
    near = "/".join(("tests", *Path(changed.file).parts[1:-1]))
    for file in sorted(
        found, key=lambda file: (not file.startswith(first), file[: len(near)] != near, known[file]["seconds"])
    ):
        if not chosen or cost + known[file]["seconds"] <= budget:
            cost += known[file]["seconds"]
            chosen.append(file)
    return chosen


def listed(match: str) -> Iterator[tuple[str, Site]]:
    """The faults of the list."""
    rows = tomllib.loads((ROOT / "benchmarks" / "mutation" / "listed.toml").read_text("utf-8"))["fault"]
    for says, file, old, new in rows:
        if match not in says:
            continue
        path = ROOT / "thermsim" / file
        text = path.read_text("utf-8")
        if text.count(old) != 1:
            print(f"GONE      {says}: its text stands {text.count(old)} times in {file}")
            continue
        line = text[: text.index(old)].count("\n") + 1
        function = _function_at(text, line) if path.suffix == ".py" else ""
        yield says, Site(f"thermsim/{file}", line, function, says, text.replace(old, new))


def _function_at(text: str, line: int) -> str:
    """Name of the innermost function round a line, as the interpreter has it."""
    import ast

    def inside(body: list[ast.stmt], path: str) -> str | None:
        for node in body:
            if isinstance(node, ast.FunctionDef | ast.ClassDef) and node.lineno <= line <= (node.end_lineno or 0):
                name = path + node.name
                if isinstance(node, ast.FunctionDef):
                    return inside(node.body, f"{name}.<locals>.") or name
                return inside(node.body, f"{name}.")
        return None

    return inside(ast.parse(text).body, "") or ""


def sampled(number: int, seed: int, since: str, among: tuple[str, ...]) -> Iterator[tuple[str, Site]]:
    """Small changes drawn from all that the package allows, or its files that differ from a commit's, "" for all.

    ``among`` are parts of the names of files that are drawn from, none for all.
    """
    paths = sorted((ROOT / "thermsim").rglob("[!_]*.py"))
    if since:
        differing = ["git", "diff", "--name-only", since]
        names = subprocess.run(differing, cwd=ROOT, check=True, capture_output=True, text=True).stdout.splitlines()
        paths = [path for path in paths if path.relative_to(ROOT).as_posix() in names]
    if among:
        paths = [path for path in paths if any(part in path.as_posix() for part in among)]
    places = [(path, k) for path in paths for k in range(count(path))]
    print(f"{len(places)} changes are possible; {number} are drawn, seed {seed}")
    for path, k in random.Random(seed).sample(places, number):
        found = site(path, ROOT, k)
        yield f"{found.file}:{found.line} {found.function}: {found.change}", found


def _held() -> None:
    """Let a fault take no more memory than tests need, or it takes all that the machine has."""
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))


def noticed_before() -> set[str]:
    """Faults that a run has killed, by the log of all runs."""
    lines = LOG.read_text("utf-8").splitlines() if LOG.is_file() else []
    return {line.removeprefix("killed    ").rpartition("  [")[0] for line in lines if line.startswith("killed")}


def killed(folder: Path, changed: Site, tests: list[str], marked: tuple[str, ...], limit: float) -> str:
    """Put a change into the copy and run tests: which one fails, "" for none."""
    path = folder / changed.file
    before = path.stat()
    whole = path.read_text("utf-8")
    with tempfile.TemporaryDirectory() as cache:
        # a compiled loop keeps what it calls of other files: nothing that was compiled may be taken over
        more = {"NUMBA_CACHE_DIR": cache} if path.stem.endswith(("_kernels", "compiled")) else {}
        path.write_text(changed.text, "utf-8")
        try:
            command = [
                sys.executable,
                "-m",
                "pytest",
                "-x",
                "-q",
                "-rfE",
                "--tb=no",
                "-p",
                "no:cacheprovider",
                *marked,
                *tests,
            ]
            done = subprocess.run(
                command, cwd=folder, env=environment(folder, **more), capture_output=True, timeout=limit, text=True,
                preexec_fn=_held,
            )  # fmt: skip
        except subprocess.TimeoutExpired:
            return "time is up"
        finally:
            path.write_text(whole, "utf-8")
            os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
    if done.returncode in (0, 5):
        return ""
    said = [line for line in done.stdout.splitlines() if line.startswith(("FAILED", "ERROR"))]
    return said[0][:160] if said else f"pytest ended with {done.returncode}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument(
        "--reach", nargs="*", metavar="TESTS", help="note what test files (or folders) enter, and end"
    )
    parser.add_argument("--listed", action="store_true", help="the faults of the list")
    parser.add_argument("--match", default="", metavar="WORDS", help="only listed faults with these words")
    parser.add_argument("--sample", type=int, default=0, metavar="N", help="so many small changes")
    parser.add_argument("--since", default="", metavar="COMMIT", help="draw only from files that differ from it")
    parser.add_argument("--among", nargs="*", default=(), metavar="PART", help="draw only from files so named")
    parser.add_argument(
        "--first", nargs="*", default=(), metavar="TESTS", help="test files or folders that come first"
    )
    parser.add_argument(
        "--skip", type=int, default=0, metavar="N", help="leave out so many faults: those of a run that was stopped"
    )
    parser.add_argument("--again", action="store_true", help="leave out what the log says was killed")
    parser.add_argument("--long", action="store_true", help="the tests marked long; they have a reach of their own")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--budget", type=float, default=60.0, metavar="S", help="seconds of tests a fault at most")
    options = parser.parse_args()
    # begun in the background by a shell tests would not hear an interrupt, and one would fail without a fault
    signal.signal(signal.SIGINT, signal.default_int_handler)
    marked = ("-m", "long and not whole") if options.long else ()
    if options.reach is not None:
        reach(options.reach, marked)
        return
    known = json.loads(map_of(marked).read_text("utf-8"))
    faults = [
        *(listed(options.match) if options.listed else ()),
        *(sampled(options.sample, options.seed, options.since, tuple(options.among)) if options.sample else ()),
    ]
    faults = faults[options.skip :]
    if options.again:
        known_dead = noticed_before()
        faults = [fault for fault in faults if fault[0] not in known_dead]
    alive = []
    with tempfile.TemporaryDirectory() as made:
        folder = copied(Path(made))
        for says, changed in faults:
            began, tests = time.monotonic(), tests_for(known, changed, options.budget, tuple(options.first))
            usual = sum(known[file]["seconds"] for file in tests)
            by = killed(folder, changed, tests, marked, 60.0 + 5.0 * usual) if tests else ""
            how = "killed    " if by else "SURVIVED  " if tests else "NOT RUN   "
            line = f"{how}{says}  [{by or len(tests)}; {time.monotonic() - began:.0f} s]"
            print(line, flush=True)
            with LOG.open("a", encoding="utf-8") as log:
                log.write(line + "\n")
            if not by:
                alive.append(line)
    print(f"\n{len(faults) - len(alive)} of {len(faults)} were noticed; not:")
    print("\n".join(alive))


if __name__ == "__main__":
    main()
