"""Probe diameters against over-reading: a thicker stem leads more heat to its tip."""

import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
from matplotlib import pyplot as plt

import thermsim as ts

case = ts.read_case(Path(__file__).with_name("can_probe.toml"))
case = case.replace(probe=case.probe.at_depth(0.0585, case.container), probes=())
case = case.replace(accuracy=ts.Accuracy(*map(float, sys.argv[1:])))
vary = {"probe.segments[0].diameter": np.array([1.0, 1.5, 2.0, 3.0, 4.5, 6.0]) * 1e-3}
study = ts.run_study(case, vary, executor=ThreadPoolExecutor(1))
diameter = 1e3 * study.values["probe.segments[0].diameter"]
figure, ax = plt.subplots(layout="constrained")
ax.plot(diameter, 100 * study.figures["own_heating_bias"], "o-", label="until heating ends")
ax.plot(diameter, 100 * study.figures["own_bias"], "s--", label="whole process, cooling included")
ax.set(xlabel="Diameter of the steel stem [mm]", ylabel="Over-reading of its place [% of lethality]", ylim=(0, None))
ax.legend()
figure.savefig("probe_diameters.png")
