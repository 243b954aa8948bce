"""Factors and lethality of a measured array, and what the cold spot gathered without the probe that measured it."""

from pathlib import Path

import numpy as np

import thermsim as ts

here = Path(__file__).parent
case = ts.read_case(here / "measured_can.toml")
columns = ts.Columns(probes=("Can 1 [°C]",), medium="Retort [°C]")
run = ts.read_run(here / "measured_can_run.csv", columns)
time, reading = run.courses[0].time, run.courses[0].temperature
retort = np.interp(time, run.medium.time, run.medium.temperature)
factors = ts.heat_penetration(time, reading, retort)
print(f"fh {factors.fh / 60:.1f} min, jh {factors.jh:.2f}, fc {factors.fc / 60:.1f} min, jc {factors.jc:.2f}")
print(f"F0 as read {ts.lethality(time, reading, case.lethality.reference, case.lethality.z) / 60:.2f} min")
found = ts.compare(case, run, ts.Plan(columns, design=False))
print(found)
spot = found.containers[0].corrected
print(f"F0 of the cold spot without the probe {spot.lethality / 60:.2f} min, {100 * spot.over_reading:+.1f} % read")
