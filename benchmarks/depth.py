"""Time the recommendation of a depth on the ready can with a probe, and its parts, cold and warm.

``python benchmarks/depth.py``. The cold run is a process of its own with an empty cache of compiled loops, as in a
new environment. Absolute seconds depend on the machine and what else it does: compare the ratios.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

from machine import seconds_of, warm_seconds

from thermsim.assess.depth.recommendation import recommend
from thermsim.assess.simulate.simulation import simulate
from thermsim.case.file.reader import read_case

CAN = Path(__file__).parent.parent / "cases" / "can_probe.toml"


def cold_run(cache: str) -> float:
    """Seconds of ``thermsim depth`` in a process of its own."""
    environment = {**os.environ, "NUMBA_CACHE_DIR": cache}
    command = [sys.executable, "-m", "thermsim", "depth", str(CAN), "--quiet"]
    return seconds_of(lambda: subprocess.run(command, env=environment, check=True, capture_output=True), 1)[0]


def main() -> None:
    with tempfile.TemporaryDirectory() as cache:
        first, second = cold_run(cache), cold_run(cache)
    case = read_case(CAN)
    alone = case.replace(probes=())
    result = recommend(case)
    candidates = result.advice.candidates if result.advice else ()
    rungs = sum(len(candidate.ladder) for candidate in candidates)
    everything, own = warm_seconds(lambda: recommend(case)), warm_seconds(lambda: recommend(alone))
    container = warm_seconds(lambda: simulate(case.replace(probe=None, probes=())))
    print(f"thermsim depth, nothing compiled   {first:.1f} s")
    print(f"thermsim depth, compiled before    {second:.1f} s")
    print(f"warm, {len(candidates)} probes and entries       {everything:.2f} s  ({rungs} rungs)")
    print(f"warm, the case's own probe alone   {own:.2f} s  ({everything / own:.1f} times less)")
    print(f"warm, the container without probe  {container:.2f} s  ({everything / container:.1f} times less)")


if __name__ == "__main__":
    main()
