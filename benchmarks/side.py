"""Time a recommendation from the side on the ready can, its parts, and its peak memory.

``python benchmarks/side.py``. The whole runs in a process of its own, as ``thermsim depth`` does, so that its peak
memory is its own. Absolute seconds depend on the machine and what else it does: compare the ratios.
"""

from __future__ import annotations

import resource
import subprocess
import sys
from pathlib import Path

from machine import seconds_of, warm_seconds

from thermsim.assess.depth.fin import quick_look
from thermsim.assess.depth.recommendation import recommend
from thermsim.assess.simulate.simulation import simulate
from thermsim.case.file.reader import read_case

CAN = Path(__file__).parent.parent / "cases" / "can_side.toml"


def main() -> None:
    command = [sys.executable, "-m", "thermsim", "depth", str(CAN), "--quiet"]
    (whole,) = seconds_of(lambda: subprocess.run(command, check=True, capture_output=True), 1)
    memory = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1e6
    case = read_case(CAN)
    alone = case.replace(probes=())
    own = warm_seconds(lambda: recommend(alone), 1)
    container = warm_seconds(lambda: simulate(case.replace(probe=None, probes=())), 1)
    quick = warm_seconds(lambda: quick_look(alone), 1)
    print(f"thermsim depth, {1 + len(case.probes)} probes at three entries  {whole:.1f} s, {memory:.2f} GB at most")
    print(f"the case's own probe at three entries      {own:.1f} s  ({whole / own:.1f} times less)")
    print(f"the container without a probe              {container:.2f} s  ({own / container:.1f} times less)")
    print(f"the first look of one probe                {quick:.2f} s  ({own / quick:.0f} times less)")


if __name__ == "__main__":
    main()
