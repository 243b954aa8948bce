"""Bodies and processes that several tests of the solver use."""

from __future__ import annotations

import numpy as np

from thermsim.case.process import Film, Process, Stage
from thermsim.physics.materials import Material
from thermsim.solve.grid.body import INSULATED, Body

PASTE = Material("paste", 0.55, 1050.0, 3700.0)
GLASS = Material("glass", 1.0, 2500.0, 750.0)
STEEL = Material("steel", 50.0, 7800.0, 450.0)
GAS = Material("gas", 0.1, 1.0, 1000.0)


def plain_body(r, z, material, product, initial, materials):
    """A body without a probe and without special wishes for its grid."""
    return Body(
        columns=r,
        levels=z,
        material=material,
        product=product,
        probe=np.zeros_like(product),
        initial=initial,
        materials=materials,
        wanted_columns=np.full(r.size, np.inf),
        wanted_levels=np.full(z.size, np.inf),
    )


def cylinder(material=PASTE, radius=0.03, height=0.08, initial=30.0):
    """A bare cylinder of one material."""
    return plain_body(
        np.array([0.0, radius]),
        np.array([0.0, height]),
        np.array([[0]]),
        np.array([[True]]),
        np.array([[initial]]),
        (material,),
    )


def jar(headspace=0, initial=30.0):
    """A glass jar with a steel lid 0.25 mm thick; ``headspace`` is the region number of what is above the product."""
    return plain_body(
        np.array([0.0, 0.033, 0.036]),
        np.array([0.0, 0.005, 0.106, 0.118, 0.11825]),
        np.array([[0, 1, headspace, 2], [0, 0, 0, 2]]),
        np.array([[False, True, False, False], [False, False, False, False]]),
        np.full((2, 4), initial),
        (GLASS, PASTE, STEEL, GAS),
    )


def heat_and_cool(film, start=30.0, hot=118.0, cold=25.0):
    """A jump up, a hold, a ramp down and a hold; ``film`` for heating, half of it for cooling (if it is finite)."""
    film = film if isinstance(film, Film) else Film.everywhere(film)
    half = Film(*(value if np.isinf(value) else value / 2 for value in (film.side, film.base, film.lid)))
    return Process(
        (
            Stage("come-up", np.array([0.0, 600.0]), np.array([start, hot]), film),
            Stage("hold", np.array([600.0, 3000.0]), np.array([hot + 1.0, hot + 1.0]), film),
            Stage("cool", np.array([3000.0, 3600.0, 4200.0]), np.array([hot + 1.0, cold, cold]), half),
        )
    )


__all__ = ["GAS", "GLASS", "INSULATED", "PASTE", "STEEL", "cylinder", "heat_and_cool", "jar", "plain_body"]
