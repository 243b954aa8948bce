"""How long a newcomer waits: the first answer after installing, later ones in a process of their own, memory.

``python benchmarks/start.py [--install] [RUNS]``: first answers with nothing compiled (``NUMBA_CACHE_DIR`` in a
folder of its own), beside what the same machine takes to import numba and scipy; then, in turns, medians of later
answers: without files, with files, and a depth. ``--install`` begins with a new virtual environment and pip.
Elapsed and processor time of whole processes, their children included, and the most memory that one of them held.
"""

from __future__ import annotations

import argparse
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parent.parent
LIBRARIES = ["-c", "import numba, scipy.linalg, scipy.sparse"]
#: Answers that a newcomer waits for, with nothing compiled.
FIRST = "solve, no files", "solve a composition"


class Took(NamedTuple):
    """Elapsed and processor time of a process [s]."""

    elapsed: float
    processor: float


def main() -> None:
    """Print the times."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("runs", nargs="?", type=int, default=5, help="later answers of each kind (default 5)")
    parser.add_argument("--install", action="store_true", help="install into a new virtual environment first")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        room = Path(folder)
        python = sys.executable
        if asked.install:
            took = timed([python, "-m", "venv", str(room / "venv")], room)
            python = str(room / "venv" / "bin" / "python")
            took = Took(
                *map(sum, zip(took, timed([python, "-m", "pip", "install", "-q", str(ROOT)], room), strict=True))
            )
            print_line("installing", took)
        libraries = [python, *LIBRARIES]
        timed(libraries, room)  # reads them from the disk
        print_line("importing numba and scipy", timed(libraries, room))
        answers = jobs(python, room)
        for name in FIRST:
            print_line(f"first: {name}", timed(answers[name], room))
        for job in answers.values():
            timed(job, room)  # compiles what the others do not need
        found: dict[str, list[Took]] = {name: [] for name in answers}
        for _ in range(asked.runs):
            for name, job in answers.items():
                found[name].append(timed(job, room))
        for name, times in found.items():
            print_line(f"later: {name}", Took(*(statistics.median(each) for each in zip(*times, strict=True))))
    print(f"most memory of one process {resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024:.0f} MB")


def jobs(python: str, room: Path) -> dict[str, list[str]]:
    """Commands by name."""

    def command(*words: str) -> list[str]:
        return [python, "-m", "thermsim", *words, "--quiet"]

    jar, changing, can = (str(ROOT / "cases" / f"{name}.toml") for name in ("jar", "jar_composition", "can_probe"))
    return {
        "solve, no files": command("solve", jar),
        "solve a composition": command("solve", changing),
        "solve --out": command("solve", jar, "--out", str(room / "solve")),
        "depth, no files": command("depth", can),
        "depth --out": command("depth", can, "--out", str(room / "depth")),
    }


def timed(command: list[str], room: Path) -> Took:
    """Run a command in a folder of its own, with its own compiled code."""
    before, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    environment = {**os.environ, "NUMBA_CACHE_DIR": str(room / "compiled"), "MPLBACKEND": "Agg"}
    environment |= {"PYTHONDONTWRITEBYTECODE": "", "PYTHONPYCACHEPREFIX": str(room / "modules")}
    subprocess.run(command, cwd=room, env=environment, check=True, stdout=subprocess.DEVNULL)
    elapsed, after = time.perf_counter() - began, resource.getrusage(resource.RUSAGE_CHILDREN)
    return Took(elapsed, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)


def print_line(name: str, took: Took) -> None:
    """Print elapsed and processor time of one thing."""
    print(f"{name:32s}{took.elapsed:8.2f} s{took.processor:8.2f} s of processor time", flush=True)


if __name__ == "__main__":
    main()
