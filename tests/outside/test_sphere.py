"""Rung: exact solution. A ball of product, its outline given by many points, against the series for the sphere.

The series is that of H. S. Carslaw and J. C. Jaeger, Conduction of heat in solids (from memory), in thermsim.exact,
which is itself held against independent high-precision values.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from thermsim.assess.simulate.simulation import simulate
from thermsim.case.case import Case, Lethality
from thermsim.case.container import Container
from thermsim.case.process import Film, Process, Stage
from thermsim.case.product import Headspace, Product
from thermsim.case.profile import Profile
from thermsim.exact import sphere
from thermsim.physics.materials import Material

PASTE = Material("paste", 0.55, 1050.0, 3700.0)
RADIUS, START, MEDIUM = 0.030, 20.0, 120.0


def ball(points, film):
    """A ball heated all round, without walls; ``points`` on its outline, evenly spaced in angle."""
    angle = np.linspace(0.0, np.pi, points)
    z, r = RADIUS * (1.0 - np.cos(angle)), RADIUS * np.sin(angle)
    r[[0, -1]] = 0.0
    profile = Profile(tuple(zip(z.tolist(), r.tolist(), strict=True)))
    stage = Stage("hold", np.array([0.0, 3600.0]), np.array([MEDIUM, MEDIUM]), Film.everywhere(film))
    return Case(
        title="ball",
        container=Container(profile),
        product=Product(PASTE, START),
        fill_height=profile.height,
        headspace=Headspace("insulated"),
        process=Process((stage,)),
        lethality=Lethality(121.1, 10.0),
    )


@pytest.mark.parametrize("film", [np.inf, 200.0], ids=["held", "film"])
def test_a_ball_of_many_points_heats_as_the_sphere(film):
    case = ball(161, film)
    result = simulate(case)
    grid = result.grid
    exact = sphere(
        RADIUS,
        conductivity=PASTE.conductivity,
        density=PASTE.density,
        specific_heat=PASTE.specific_heat,
        film=film,
    )
    away = np.minimum(np.hypot(grid.r, grid.z - RADIUS), RADIUS)
    time = result.time[result.time >= 300.0]
    unaccomplished = exact.unaccomplished(away.ravel(), time)
    truth = (MEDIUM + (START - MEDIUM) * unaccomplished).reshape(time.size, *grid.shape)
    error = np.abs(result.temperature[result.time >= 300.0] - truth)
    if np.isinf(film):
        # everywhere, the two points on the axis included where the outline's straight edges are nearly level
        assert error.max() < 0.1
    # where the outline closes on the axis the grid is at its most skewed: first order within 2 mm of there
    from_poles = np.minimum(np.hypot(grid.r, grid.z), np.hypot(grid.r, grid.z - 2 * RADIUS))
    assert error[:, from_poles > 2e-3].max() < 0.1
    assert error.max() < 1.0
    spot = result.cold_spot.slowest_heating
    assert_allclose([spot.r, spot.z], [0.0, RADIUS], rtol=0, atol=1e-4)
    settled = result.time >= 60.0
    centre = MEDIUM + (START - MEDIUM) * exact.unaccomplished(np.array([0.0]), result.time[settled])[:, 0]
    # a polygon of 161 points lies 0.02 % of the radius within the sphere: it heats 0.04 % faster, 0.02 K at most
    assert np.abs(result.spots[1].temperature[settled] - centre).max() < 0.03
