"""Run a study of 200 runs once undisturbed, then kill another ten times with signal 9 and let it end.

``python killed_ten_times.py FOLDER``; each attempt is a process of its own, forked from this one so that nothing is
loaded twice. Prints, as JSON, how many runs each attempt found finished.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from study_scenes import SCAN, series, study_case

from thermsim.records.study.file import save_study
from thermsim.records.study.running import run_study


def slow_series(task):
    time.sleep(0.004)
    return series(task)


def attempt(folder: Path) -> None:
    """The study from what its journal holds to its end."""
    with ThreadPoolExecutor(1) as pool:
        result = run_study(study_case(SCAN), journal=folder / "study.journal", executor=pool, compute=slow_series)
    save_study(result, folder / "study.h5")


def in_a_process(folder: Path, ends_after: int | None, pause: float) -> int:
    """Make an attempt, killed when the journal holds so many lines more and a pause has passed; how it ended."""
    began = lines_of(folder)
    child = os.fork()
    if child == 0:
        code = 1
        try:
            attempt(folder)
            code = 0
        finally:
            os._exit(code)
    if ends_after is not None:
        while lines_of(folder) < began + ends_after:
            time.sleep(0.0005)
        time.sleep(pause)
        os.kill(child, signal.SIGKILL)
    return os.waitpid(child, 0)[1]


def lines_of(folder: Path) -> int:
    journal = folder / "study.journal"
    return journal.read_bytes().count(b"\n") if journal.exists() else 0


def main(folder: Path) -> None:
    for name in ("undisturbed", "killed"):
        (folder / name).mkdir()
    assert in_a_process(folder / "undisturbed", None, 0.0) == 0
    chance = random.Random(20)
    found, ends = [], []
    for _ in range(10):
        ends.append(in_a_process(folder / "killed", chance.randint(1, 16), chance.uniform(0, 0.006)))
        found.append(lines_of(folder / "killed") - 1)
    ends.append(in_a_process(folder / "killed", None, 0.0))
    print(json.dumps({"found": found, "ends": ends}))


if __name__ == "__main__":
    main(Path(sys.argv[1]))
