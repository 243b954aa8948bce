"""Guard against getting slower: named benchmarks on two revisions, compared by ratio on the same machine.

``python benchmarks/compare.py HEAD~5 now`` compares a revision with the checkout as it stands; any two names that git
knows do. Each revision is unpacked into a folder of its own and runs in processes of its own, by the packages of this
environment or, with ``--own-environments``, in one with what its ``pyproject.toml`` asks for. The two take turns, and
each turn gives one ratio, so that what else the machine does cancels. A benchmark got slower if the middle ratio is
above ``--most`` and three turns in four say slower; then the exit code is 1. What was found is added to
``benchmarks/history.jsonl``, a line a benchmark, with the machine's facts; ``--history`` shows it.
"""

from __future__ import annotations

import argparse
import io
import json
import os
import statistics
import subprocess
import sys
import tarfile
import tempfile
import venv
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
from machine import facts, revision_of
from samples import SAMPLES

ROOT = Path(__file__).parent.parent
HISTORY = Path(__file__).parent / "history.jsonl"
NOW = "now"


@dataclass(frozen=True)
class Revision:
    """A revision to run: its name, its files, the interpreter to run it with."""

    name: str
    tree: Path
    python: Path


@dataclass(frozen=True)
class Comparison:
    """A benchmark on two revisions: seconds of each turn (their medians), what both found, why there are none."""

    benchmark: str
    old: str
    new: str
    old_s: tuple[float, ...] = ()
    new_s: tuple[float, ...] = ()
    old_answer: float | None = None
    new_answer: float | None = None
    failed: str = ""

    @property
    def ratios(self) -> tuple[float, ...]:
        """New over old of each turn."""
        return tuple(new / old for old, new in zip(self.old_s, self.new_s, strict=True))

    @property
    def ratio(self) -> float:
        """The middle ratio: above 1 is slower than before."""
        return statistics.median(self.ratios)

    @property
    def quartiles(self) -> tuple[float, float]:
        """Between which half of the ratios lie."""
        low, high = np.quantile(self.ratios, (0.25, 0.75))
        return float(low), float(high)

    def slower(self, most: float) -> bool:
        """Whether it got slower than is let pass; less than four turns say nothing."""
        return len(self.ratios) >= 4 and self.ratio > most and self.quartiles[0] > 1.0

    def line(self, most: float) -> str:
        """What is said of it."""
        if self.failed:
            return f"{self.benchmark:10s} not compared: {self.failed}"
        low, high = self.quartiles
        found = (
            f"{self.benchmark:10s} {statistics.median(self.old_s):9.4f} s -> {statistics.median(self.new_s):9.4f} s"
        )
        found += f"  ratio {self.ratio:.3f} ({low:.3f} to {high:.3f})"
        if self.old_answer and self.new_answer is not None:
            found += f"  answer differs by {abs(self.new_answer / self.old_answer - 1):.1e}"
        return found + ("  SLOWER" if self.slower(most) else "")


def unpacked(name: str, room: Path, *, own_environment: bool) -> Revision:
    """Put a revision's files into a folder and choose its interpreter."""
    if name == NOW:
        tree, called = ROOT, f"{revision_of(ROOT)} (now)"
    else:
        called = _git("rev-parse", "--short=10", f"{name}^{{commit}}").decode().strip()
        tree = room / called
        with tarfile.open(fileobj=io.BytesIO(_git("archive", "--format=tar", called))) as archive:
            archive.extractall(tree, filter="data")
    python = Path(sys.executable)
    if own_environment:
        place = room / f"environment {called}"
        venv.create(place, with_pip=True)
        python = place / ("Scripts" if os.name == "nt" else "bin") / "python"
        subprocess.run([str(python), "-m", "pip", "install", "--quiet", str(tree)], check=True)
    return Revision(called, tree, python)


def run(revision: Revision, benchmark: str, cases: Path, runs: int, cache: Path) -> tuple[float, float]:
    """Median seconds of a benchmark's runs in a new process, and what it found; raises ``ChildProcessError``."""
    environment = {
        "OPENBLAS_NUM_THREADS": "1",
        **os.environ,
        "PYTHONPATH": str(revision.tree),
        "NUMBA_CACHE_DIR": str(cache / revision.name.replace(" ", "_")),
    }
    command = [str(revision.python), str(Path(__file__).parent / "samples.py"), benchmark, str(cases), str(runs)]
    done = subprocess.run(command, env=environment, cwd=cache, capture_output=True, text=True, check=False)
    if done.returncode:
        raise ChildProcessError(f"{revision.name}: {(done.stderr.strip().splitlines() or ['it failed'])[-1]}")
    found = json.loads(done.stdout)
    if Path(found["package"]).resolve() != (revision.tree / "thermsim").resolve():
        raise ChildProcessError(f"{revision.name}: another thermsim was imported, from {found['package']}")
    return statistics.median(found["seconds"]), float(found["answer"])


def compare(pair: tuple[Revision, Revision], benchmark: str, *, turns: int, runs: int, cache: Path) -> Comparison:
    """Let two revisions take turns at a benchmark, each first every other time; both on the older one's cases."""
    names = {"benchmark": benchmark, "old": pair[0].name, "new": pair[1].name}
    seconds: tuple[list[float], list[float]] = ([], [])
    answers = [0.0, 0.0]
    try:
        for which in (0, 1):  # compiles
            run(pair[which], benchmark, pair[0].tree / "cases", 1, cache)
        for turn in range(turns):
            for which in (0, 1) if turn % 2 == 0 else (1, 0):
                found, answers[which] = run(pair[which], benchmark, pair[0].tree / "cases", runs, cache)
                seconds[which].append(found)
    except ChildProcessError as failure:
        return Comparison(**names, failed=str(failure))
    return Comparison(
        **names, old_s=tuple(seconds[0]), new_s=tuple(seconds[1]), old_answer=answers[0], new_answer=answers[1]
    )


def remember(found: Sequence[Comparison], history: Path) -> None:
    """Add comparisons to the history, a line of JSON each."""
    machine = facts(ROOT)
    with history.open("a", encoding="utf-8") as file:
        for one in found:
            if not one.failed:
                low, high = one.quartiles
                record = {**asdict(one), "ratio": one.ratio, "quartiles": [low, high], "machine": machine}
                file.write(json.dumps(record) + "\n")


def told(history: Path) -> str:
    """The history as a table."""
    lines = []
    for text in history.read_text("utf-8").splitlines():
        one = json.loads(text)
        machine = one["machine"]
        found = f"{one['benchmark']:10s} {one['old']:>12s} -> {one['new']:18s} ratio {one['ratio']:.3f}"
        where = f"{machine['processor']}, {machine['cores']} cores, load {machine['load']}"
        where += f", yardstick {1e3 * machine['yardstick_s']:.1f} ms"
        lines.append(f"{machine['date']}  {found}  {statistics.median(one['new_s']):.4f} s  ({where})")
    return "\n".join(lines)


def _git(*words: str) -> bytes:
    done = subprocess.run(["git", *words], cwd=ROOT, capture_output=True, check=False)
    if done.returncode:
        raise SystemExit(f"git {' '.join(words)}: {done.stderr.decode().strip()}")
    return done.stdout


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("old", nargs="?", default="HEAD", help='revision to compare with (default HEAD), or "now"')
    parser.add_argument("new", nargs="?", default=NOW, help='revision to compare (default "now": the checkout)')
    parser.add_argument("--benchmarks", nargs="+", choices=SAMPLES, default=list(SAMPLES), metavar="NAME")
    parser.add_argument("--turns", type=int, default=7, help="processes of each revision (default 7)")
    parser.add_argument("--runs", type=int, default=5, help="runs in each process (default 5)")
    parser.add_argument("--most", type=float, default=1.1, help="largest ratio that passes (default 1.1)")
    parser.add_argument("--own-environments", action="store_true", help="install each revision's own packages")
    parser.add_argument("--no-record", action="store_true", help="leave the history as it is")
    parser.add_argument("--history", action="store_true", help="show the history and do nothing else")
    parser.add_argument("--smoke", action="store_true", help="only see whether it runs: now against now, once")
    words = parser.parse_args()
    if words.history:
        print(told(HISTORY) if HISTORY.exists() else "there is no history yet")
        return
    if words.smoke:
        words.old = words.new = NOW
        words.benchmarks, words.turns, words.runs, words.no_record = (["reading"], 1, 1, True)
    with tempfile.TemporaryDirectory() as name:
        room = Path(name)
        old, new = (unpacked(one, room, own_environment=words.own_environments) for one in (words.old, words.new))
        print(f"{old.name} -> {new.name}, {words.turns} turns of {words.runs} runs")
        found = []
        for benchmark in words.benchmarks:
            found.append(compare((old, new), benchmark, turns=words.turns, runs=words.runs, cache=room))
            print(found[-1].line(words.most), flush=True)
    if not words.no_record:
        remember(found, HISTORY)
    if any(one.slower(words.most) for one in found):
        raise SystemExit(1)


if __name__ == "__main__":
    main()
