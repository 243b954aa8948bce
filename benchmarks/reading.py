"""Time the reading of data loggers' files of a million rows, written in several ways.

``python benchmarks/reading.py``. Absolute seconds depend on the machine and what else it does: compare the ratios to
splitting the file into lines and cells alone.
"""

from __future__ import annotations

import datetime
import tempfile
import time
from pathlib import Path

from thermsim.loggers.run import Columns, read_run

ROWS = 1_000_000
START = datetime.datetime(2024, 3, 1)


def written(kind: str) -> str:
    """Text of a file of times and two temperatures."""
    temperatures = [(20 + k % 90 + k % 10 / 10, 100 + k % 20 / 10) for k in range(1000)]
    lines = [{"dates": "Time", "clock": "Time", "seconds": "Time [s]"}[kind] + ";Core [°C];Retort [°C]"]
    for k in range(ROWS):
        core, retort = temperatures[k // 1000]
        when = str(k)
        if kind == "clock":
            when = f"{k // 3600:02d}:{k // 60 % 60:02d}:{k % 60:02d}"
        elif kind == "dates":
            when = (START + datetime.timedelta(seconds=k)).isoformat(" ")
        lines.append(f"{when};{core:.1f};{retort:.1f}".replace(".", ","))
    return "\n".join(lines) + "\n"


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        for kind in ("seconds", "clock", "dates"):
            path = Path(folder) / f"{kind}.csv"
            path.write_text(written(kind), encoding="utf-8")
            began = time.perf_counter()
            cells = [line.split(";") for line in path.read_text("utf-8").split("\n")]
            splitting = time.perf_counter() - began
            del cells
            began = time.perf_counter()
            run = read_run(path, Columns(probes=("Core [°C]",), medium="Retort [°C]"))
            reading = time.perf_counter() - began
            rows = run.courses[0].time.size
            print(f"{kind:8s} {rows} rows  {reading:.1f} s  ({reading / splitting:.1f} times splitting alone)")


if __name__ == "__main__":
    main()
