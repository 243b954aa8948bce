"""Figures whose error is known from closed forms or far finer grids lie within what is stated. Rung: exact solution."""

from __future__ import annotations

import numpy as np
import pytest

from thermsim.assess.simulate.simulation import simulate
from thermsim.case.case import Case, Lethality, Point
from thermsim.case.container import Container, Wall
from thermsim.case.process import Film, Process, Stage
from thermsim.case.product import Headspace, Product
from thermsim.exact import semi_infinite_unaccomplished
from thermsim.physics.materials import Material

#: A wall of what it holds: a flat solid without any interface, as far as heat knows.
STUFF = Material("stuff", 0.22, 1000.0, 1800.0)


@pytest.mark.parametrize("thickness", [0.2e-3, 0.5e-3])
def test_the_first_seconds_after_a_jump_in_a_wall_that_warms_slowly(thickness):
    film = Film.everywhere(900.0)
    depths = {"half-way through the wall": thickness / 2, "inside of the wall": thickness}
    case = Case(
        "flat",
        Container.straight(0.1, 0.2, base=Wall(STUFF, thickness)),
        Product(STUFF, 20.0),
        0.2,
        Headspace("insulated"),
        Process((Stage("hold", np.array([0.0, 60.0]), np.array([90.0, 90.0]), film),)),
        Lethality(90.0, 10.0),
        tuple(Point(name, 0.0, depth) for name, depth in depths.items()),
        output_every=1.0,
    )
    result = simulate(case)
    for k, depth in enumerate(depths.values()):
        curve = result.points[k]
        # 60 s reach 6 mm into the solid, the other faces are 50 and 200 mm away
        left = semi_infinite_unaccomplished(
            depth,
            curve.time,
            conductivity=STUFF.conductivity,
            density=STUFF.density,
            specific_heat=STUFF.specific_heat,
            film=film.base,
        )[:, 0]
        error = np.abs(curve.temperature - (90.0 - 70.0 * left)).max()
        stated = result.uncertainty[f"points.{k}.temperature"]
        assert error <= stated <= max(30.0 * error, 0.5)
