"""A medium from one's own arrays, and what other holds of it would do."""

import sys
from pathlib import Path

import numpy as np
from matplotlib import pyplot as plt

import thermsim as ts

case = ts.read_case(Path(__file__).with_name("jar.toml")).replace(accuracy=ts.Accuracy(*map(float, sys.argv[1:])))
time = np.arange(0.0, 7201.0, 10.0)  # s: 12 min come-up, 75 min hold, then cooling
retort = np.where(time < 5220.0, 118.0 - 78.0 * np.exp(-time / 250.0), 30.0 + 88.0 * np.exp(-(time - 5220.0) / 400.0))
retort += 0.2 * np.random.default_rng(1).standard_normal(time.size)
process = ts.process_from_arrays(time, retort, cooling_starts=5220.0, film=450.0, cooling_film=350.0, thin=0.5)
solved = ts.solved(case.replace(process=process))
holds = 60.0 * np.arange(40.0, 121.0, 5.0)
least = [solved.with_process(process.with_hold(hold))[0].lethality for hold in holds]
print(f"A hold of {np.interp(case.lethality.target, least, holds) / 60:.1f} min reaches the target at this place.")
axes = [ts.plot_histories(solved.result), plt.subplots(layout="constrained")[1]]
axes[1].plot(holds / 60, np.array(least) / 60, "o-")
axes[1].axhline(case.lethality.target / 60, linestyle="--")
axes[1].set(xlabel="Hold [min]", ylabel="Least lethality [min]")
for name, ax in zip(("own_medium.png", "own_medium_holds.png"), axes, strict=True):
    ax.figure.savefig(name)
