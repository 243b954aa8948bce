"""Time the ready jar to the default accuracy (0.05 K), cold and warm, and another process on it; check a fine run.

Run it on its own: ``python benchmarks/jar.py``. The cold run is a process of its own, the warm runs share this one.
Absolute seconds depend on the machine and what else it does: compare the ratios.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
from machine import peak_memory, warm_seconds

from thermsim.assess.simulate.simulation import simulate
from thermsim.assess.simulate.what_if import solved
from thermsim.case.case import Accuracy
from thermsim.case.file.reader import read_case

JAR = Path(__file__).parent.parent / "cases" / "jar.toml"
WARM_RUNS = 9

ONE_RUN = f"""
import time
began = time.perf_counter()
from thermsim.assess.simulate.simulation import simulate
from thermsim.case.file.reader import read_case
simulate(read_case({str(JAR)!r}))
print(time.perf_counter() - began)
"""


def cold_run() -> float:
    """Seconds of a process of its own, imports included."""
    return float(subprocess.run([sys.executable, "-c", ONE_RUN], check=True, capture_output=True, text=True).stdout)


def main() -> None:
    cold_run()  # reads the libraries from the disk
    cold = cold_run()
    case = read_case(JAR)
    without_target = case.replace(lethality=case.lethality.__class__(case.lethality.reference, case.lethality.z))
    times = {"with the hold for the target": case, "cold spots alone": without_target}
    warm = {name: warm_seconds(lambda one=one: simulate(one), WARM_RUNS) for name, one in times.items()}
    result = simulate(without_target)

    ready = solved(without_target)
    holds = np.linspace(0.8, 1.2, 2 * WARM_RUNS) * 4500.0
    processes = [case.process.with_hold(hold) for hold in holds]
    others = iter(processes)
    other = warm_seconds(lambda: ready.with_process(next(others)), len(processes) - 1)
    memory = peak_memory()
    # a reference whose grid and tolerance are four times finer in both directions
    fine = simulate(without_target.replace(accuracy=Accuracy(temperature=0.0005, lethality=0.00005, place=1e-5)))
    worst = max(
        float(np.abs(spot.temperature - other.temperature).max())
        for spot, other in zip(result.spots, fine.spots, strict=True)
    )
    least, known = result.cold_spot.least_lethality, fine.cold_spot.least_lethality
    effort = result.effort
    print(f"nodes of the finest grid      {effort.nodes}  (reference {fine.effort.nodes})")
    print(f"entries in time on it         {effort.steps}")
    print(f"a process of its own          {cold:.2f} s")
    for name, seconds in warm.items():
        print(f"warm, {name:23s} {seconds:.3f} s  (median of {WARM_RUNS})")
    print(f"another process, solved case  {1e3 * other:.2f} ms  (median of {len(processes) - 1})")
    print(f"peak memory of this process   {memory:.0f} MB")
    print(f"worst error at the cold spots {worst:.4f} K over the whole process")
    print(f"error of the least lethality  {100 * abs(least.lethality / known.lethality - 1):.4f} %")
    off_z, off_r = 1e3 * abs(least.z - known.z), 1e3 * abs(least.r - known.r)
    print(f"error of its place            {off_z:.4f} mm in z, {off_r:.4f} mm in r")


if __name__ == "__main__":
    main()
