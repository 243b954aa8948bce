"""The named benchmarks of ``benchmarks/compare.py``: each a piece of work that gives one number to check it by.

They use what every revision has: public names, and ``march`` on a grid. Cases come from a folder that both revisions
of a comparison can read. Run on its own it prints seconds: ``python benchmarks/samples.py jar cases 5``.
"""

from __future__ import annotations

import json
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path


def jar(cases: Path) -> Callable[[], float]:
    """Simulate the ready jar; its least lethality [s]."""
    from thermsim import read_case, simulate

    case = read_case(cases / "jar.toml")
    return lambda: simulate(case).cold_spot.least_lethality.lethality


def can(cases: Path) -> Callable[[], float]:
    """Simulate the ready can, without the search for a hold; its least lethality [s]."""
    from thermsim import read_case, simulate

    case = read_case(cases / "can.toml")
    case = case.replace(lethality=type(case.lethality)(case.lethality.reference, case.lethality.z))
    return lambda: simulate(case).cold_spot.least_lethality.lethality


def depth(cases: Path) -> Callable[[], float]:
    """Recommend a depth for the can with a probe, its own probe alone; the depth [m]."""
    from thermsim import read_case, recommend

    case = read_case(cases / "can_probe.toml").replace(probes=())

    def work() -> float:
        advice = recommend(case).advice
        if advice is None:
            raise ValueError("no advice was given")
        return advice.candidates[advice.chosen].recommended(advice.criterion).depth

    return work


def march(cases: Path) -> Callable[[], float]:
    """March on a fine grid of the jar; the mean temperature at the end [degC]."""
    from thermsim import read_case
    from thermsim.solve.grid.body import body_of
    from thermsim.solve.grid.grid import grid_family
    from thermsim.solve.grid.operator import operator_of
    from thermsim.solve.march.march import march as marched

    case = read_case(cases / "jar.toml")
    grid = grid_family(body_of(case), refinement=2.0)[-1]
    operator = operator_of(grid)
    return lambda: float(marched(operator, case.process, tolerance=2e-3).temperature[-1][grid.active].mean())


def reading(cases: Path) -> Callable[[], float]:
    """Read and check every ready case; how many there are."""
    from thermsim import read_case

    files = [cases / name for name in ("jar.toml", "can.toml", "can_probe.toml", "cup.toml")]
    return lambda: float(len([read_case(file) for file in files]))


def start(cases: Path) -> Callable[[], float]:
    """Start a process that solves the jar, compiled before; how it ended (0 is well)."""
    command = [sys.executable, "-m", "thermsim", "solve", str(cases / "jar.toml"), "--quiet"]
    return lambda: float(subprocess.run(command, capture_output=True, check=True).returncode)


SAMPLES = {sample.__name__: sample for sample in (jar, can, depth, march, reading, start)}


def sampled(name: str, cases: Path, runs: int) -> dict[str, object]:
    """Seconds of several runs after one that warms up, what they found, and which thermsim it was."""
    import thermsim

    work = SAMPLES[name](cases)
    answer = work()
    seconds = []
    for _ in range(runs):
        began = time.perf_counter()
        answer = work()
        seconds.append(time.perf_counter() - began)
    return {"seconds": seconds, "answer": answer, "package": str(Path(thermsim.__file__).parent)}


if __name__ == "__main__":
    print(json.dumps(sampled(sys.argv[1], Path(sys.argv[2]), int(sys.argv[3]))))
