"""A map of the cold spot: where it lies for each height of the headspace, and each heat that crosses it."""

import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
from matplotlib import pyplot as plt

import thermsim as ts

case = ts.read_case(Path(__file__).with_name("jar.toml"))
case = case.replace(accuracy=ts.Accuracy(*map(float, sys.argv[1:])), points=())
heights, conductivities = np.linspace(0.004, 0.020, 4), np.array([0.03, 0.1, 0.3, 1.0])
vary = {"fill.headspace": heights, "headspace.material.conductivity": conductivities}
study = ts.run_study(case, vary, executor=ThreadPoolExecutor(1))
z = study.figures["least_z"].reshape(heights.size, conductivities.size)
print(f"The place of least lethality lies between {1e3 * z.min():.0f} and {1e3 * z.max():.0f} mm above the base.")
figure, axes = plt.subplots(2, figsize=(6, 8), layout="constrained")
ts.plot_study(study, "least_z", axes[0])
ts.plot_study(study, "least_lethality", axes[1])
figure.savefig("headspace_map.png")
