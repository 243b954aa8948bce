"""Make measured_can_run.csv, an invented measured run, from the model of measured_can.toml: no real measurement.

``python cases/make_measured_run.py``. The product conducts less than the case says, the cans differ a little, the
logger's clock is 12 s ahead of the retort's, and the record has noise, a repeated time, a gap, drop-outs and a spike,
as records have. What was put in stands in the constants below, so that what is found can be held against it.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from thermsim.assess.measured.model import ProbeModel
from thermsim.case.case import Case
from thermsim.case.file.reader import read_case
from thermsim.case.process import Process, Stage

HERE = Path(__file__).parent
#: By column: insertion [mm], diffusivity [m2/s], temperature at the start [degC].
CANS = {
    "Can 1 [°C]": (60.0, 1.350e-7, 58.6),
    "Can 2 [°C]": (60.0, 1.375e-7, 59.2),
    "Can 3 [°C]": (75.0, 1.350e-7, 58.8),
}
OFFSET, NOISE, INTERVAL = 12.0, 0.1, 30.0  # s, K, s


def retort(case: Case) -> Process:
    """What the retort really did: slow at first, a little over, then at 121.4 degC; cold water that warms up."""
    film = [stage.film for stage in case.process.stages]
    time = np.array([0.0, 120.0, 300.0, 510.0, 600.0, 720.0, 5100.0])
    heating = np.array([60.0, 82.0, 106.0, 121.0, 122.0, 121.4, 121.4])
    return Process(
        (
            Stage("come-up", time[:4], heating[:4], film[0]),
            Stage("hold", time[3:], heating[3:], film[1]),
            Stage("cool", np.array([5100.0, 5220.0, 5700.0, 7500.0]), np.array([121.4, 30.0, 26.0, 25.0]), film[2]),
        )
    )


def main() -> None:
    """Write the file."""
    chance = np.random.default_rng(2718)
    case = read_case(HERE / "measured_can.toml")
    process = retort(case)
    time = np.arange(0.0, process.end + 1.0, INTERVAL)
    columns = [process.medium_at(time) + chance.normal(0.0, 0.05, time.size)]
    for insertion, diffusivity, initial in CANS.values():
        probe = case.probe.at_depth(insertion / 1e3, case.container) if case.probe else None
        model = ProbeModel(case.replace(probe=probe), process, ("diffusivity", "initial", "offset"), time)
        reading = model.on_grids((diffusivity, initial, OFFSET), finer=True).temperature
        columns.append(reading + chance.normal(0.0, NOISE, time.size))
    values = np.column_stack(columns)
    values[61, 1] += 14.0  # a spike
    values[98:101, 2] = 999.9  # a plug that came loose

    lines = ["Run 7, invented: no real measurement", "Interval;30 s", ""]
    lines.append(";".join(["Time [hh:mm:ss]", "Retort [°C]", *CANS]))
    for row, (when, numbers) in enumerate(zip(time.tolist(), values.tolist(), strict=True)):
        if 140 <= row < 146:
            continue  # the logger was read out
        clock = f"{int(when) // 3600:02d}:{int(when) // 60 % 60:02d}:{int(when) % 60:02d}"
        cells = [f"{number:.2f}".replace(".", ",") for number in numbers]
        lines += [";".join([clock, *cells])] * (2 if row == 30 else 1)
    (HERE / "measured_can_run.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
