"""A new can, before anything is drilled: where its cold spot lies, and how deep which probe should go."""

import sys

import thermsim as ts

tinplate = ts.Wall(ts.find_material("tinplate"), 0.2e-3)  # lengths in m, times in s, temperatures in degC
can = ts.Container.straight(0.073, 0.110, side=tinplate, base=tinplate, lid=tinplate)
stew = ts.Product(ts.Material("stew", 0.55, 1050.0, 3600.0), initial=60.0)  # W/mK, kg/m3, J/kgK
process = ts.Process.of(30.0, [("come-up", 600.0, 121.1), ("hold", 4500.0), ("cool", 1800.0, 25.0)], film=2000.0)
steel = ts.Segment(2.0e-3, 0.090, ts.find_material("stainless steel"))
case = ts.Case(
    title="New can of 73 mm",
    container=can,
    product=stew,
    fill_height=0.104,
    headspace=ts.Headspace("fixed", ts.Material("headspace gas", 0.1, 1.0, 1010.0)),
    process=process,
    lethality=ts.Lethality(reference=121.1, z=10.0, target=360.0),
    probe=ts.Probe("lid", "through", (steel,), sensing=1.0e-3),
    accuracy=ts.Accuracy(*map(float, sys.argv[1:])),  # as good as can be where nothing is said
).with_thickness("gel/solid")
result = ts.recommend(case)
print(result)
ts.plot_section(result).figure.savefig("new_container.png")
