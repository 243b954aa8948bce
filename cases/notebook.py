# %% [markdown]
# # A jar from its container to its probe
# Cells of a notebook; it runs as a script too. SI units and degC. A simulation is not a validation: it says where to
# measure, and the process authority decides. Heat moves by conduction alone.

# %%
"""A jar from its container to its probe, cell by cell."""

import sys

import numpy as np

import thermsim as ts

accuracy = ts.Accuracy(*map(float, sys.argv[1:])) if len(sys.argv) == 4 else ts.Accuracy()

# %% [markdown]
# ## The jar, its food and its process

# %%
glass = ts.find_material("soda-lime glass")
lid = ts.Wall(ts.find_material("tinplate"), 0.25e-3)
jar = ts.Container.straight(0.066, 0.113, side=ts.Wall(glass, 3e-3), base=ts.Wall(glass, 5e-3), lid=lid)
paste = ts.Material("bean paste", 0.55, 1050.0, 3700.0, source="invented")
gas = ts.Headspace("fixed", ts.Material("headspace gas", 0.1, 1.0, 1010.0, source="invented"))
process = ts.Process.of(
    40.0,
    [("come-up", 720.0, 118.0), ("hold", 4500.0), ("cool", 1200.0, 30.0, 350.0), ("cool", 900.0, None, 350.0)],
    film=450.0,
)
lethality = ts.Lethality(reference=121.1, z=10.0, target=360.0)
case = ts.Case("Jar of 66 mm", jar, ts.Product(paste, 40.0), 0.101, gas, process, lethality, accuracy=accuracy)
case = case.with_thickness("gel/solid")

# %% [markdown]
# ## Where its cold spot lies

# %%
result = ts.simulate(case)
print(result)  # in a notebook its name alone shows the drawing beside the answer

# %%
left, right = ts.plot_maps(result)
left.figure.savefig("notebook_maps.png")

# %% [markdown]
# ## Its temperatures over time, along the axis
# `to_xarray` needs the extra `xarray`.

# %%
fields = result.to_xarray()
along = fields.temperature.isel(r=0).sel(time=result.case.process.heated_until, method="nearest").dropna("z")
coldest = float(along.z[int(np.argmin(along.values))])
print(f"coldest on the axis when heating ends: z = {1e3 * coldest:.1f} mm")

# %% [markdown]
# ## What a longer hold would do
# At the places found above; before a hold is relied on, simulate it.

# %%
solved = ts.solved(case)
holds = 60.0 * np.arange(60.0, 101.0, 5.0)
least = [solved.with_process(process.with_hold(hold))[0].lethality for hold in holds]
print(f"F0 of 6 min needs a hold of {np.interp(360.0, least, holds) / 60:.0f} min")

# %% [markdown]
# ## What a thin steel stem would read
# How deep it should go is asked of `ts.recommend`.

# %%
stem = ts.Segment(2e-3, 0.090, ts.find_material("stainless steel"))
probe = ts.Probe("lid", "through", (stem,), insertion=0.0535, sensing=1e-3, name="2 mm steel")
probed = ts.simulate(case.replace(probe=probe))
print(probed)
ts.plot_reading(probed).figure.savefig("notebook_reading.png")
