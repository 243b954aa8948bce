"""Rungs: hand-worked stencil, conservation, steady solutions in closed form."""

from __future__ import annotations

import numpy as np
import pytest
from bodies import GLASS, INSULATED, PASTE, cylinder, jar, plain_body
from numpy.testing import assert_allclose

from thermsim.case.process import Film
from thermsim.solve.grid.grid import Grid, grid_family
from thermsim.solve.grid.operator import exchange_of, operator_of


def two_by_two():
    """Nodes at r = 0, 2, 6 and z = 0, 1, 4 (metres, for figures that can be worked out by hand)."""
    r, z = np.array([0.0, 2.0, 6.0]), np.array([0.0, 1.0, 4.0])
    return Grid(
        r,
        z,
        *np.meshgrid(r, z, indexing="ij"),
        np.array([0, 1]),
        np.array([0, 1]),
        np.array([[0, 1], [1, 0]]),
        np.full((2, 2), True),
        np.full((2, 2), False),
        np.array([[10.0, 20.0], [20.0, 10.0]]),
        (PASTE, GLASS),
    )


def test_hand_worked_stencil_of_the_middle_node():
    op = operator_of(two_by_two())
    inner, outer = np.pi * (2.0**2 - 1.0**2), np.pi * (4.0**2 - 2.0**2)  # half rings round r = 2
    paste, glass = 1050.0 * 3700.0, 2500.0 * 750.0
    # quarters: (inner, lower) paste, (inner, upper) glass, (outer, lower) glass, (outer, upper) paste
    expected = paste * inner * 0.5 + glass * inner * 1.5 + glass * outer * 0.5 + paste * outer * 1.5
    assert_allclose(op.capacity[1, 1], expected, rtol=1e-14)
    # towards the axis: face at r = 1, half heights 0.5 (paste) and 1.5 (glass), distance 2
    assert_allclose(op.conductance_r[0, 1], 2 * np.pi * 1.0 / 2.0 * (0.55 * 0.5 + 1.0 * 1.5), rtol=1e-14)
    # downwards: inner half ring paste, outer half ring glass, distance 1
    assert_allclose(op.conductance_z[1, 0], 0.55 * inner + 1.0 * outer, rtol=1e-14)
    heat = paste * inner * 0.5 * 10 + glass * inner * 1.5 * 20 + glass * outer * 0.5 * 20 + paste * outer * 1.5 * 10
    assert_allclose(op.initial[1, 1], heat / expected, rtol=1e-14)


@pytest.mark.parametrize("body", [cylinder(), jar(3), jar(INSULATED)], ids=["cylinder", "jar", "insulated"])
def test_volumes_and_areas_add_up_to_the_body(body):
    op = operator_of(grid_family(body)[1])
    ring = np.pi * np.diff(body.columns**2)
    volume = ring[:, None] * np.diff(body.levels)
    heat = np.array([material.capacity for material in body.materials] + [0.0])[body.material]
    assert_allclose(op.capacity.sum(), (volume * heat).sum(), rtol=1e-13)
    assert_allclose(op.side.sum(), 2 * np.pi * body.columns[-1] * body.levels[-1], rtol=1e-13)
    assert_allclose(op.base.sum(), np.pi * body.columns[-1] ** 2, rtol=1e-13)
    assert_allclose(op.lid.sum(), np.pi * body.columns[-1] ** 2, rtol=1e-13)


def test_nothing_flows_into_an_insulated_headspace():
    grid = grid_family(jar(INSULATED))[1]
    op = operator_of(grid)
    inside = ~grid.active
    assert inside.any()
    assert op.capacity[inside].max() == 0.0
    assert op.conductance_z[inside[:, :-1] | inside[:, 1:]].max() == 0.0
    # the layer keeps the product's surface, so it is the layer above that carries nothing
    assert op.conductance_r[inside[:-1] | inside[1:]].max() == 0.0


def test_infinite_film_holds_nodes_and_finite_film_exchanges():
    op = operator_of(grid_family(cylinder())[0])
    exchange, fixed = exchange_of(op, Film(side=100.0, base=np.inf, lid=50.0))
    assert fixed[:, 0].all()
    assert not fixed[:, 1:].any()
    assert_allclose(exchange.sum(), 100.0 * op.side.sum() + 50.0 * op.lid.sum(), rtol=1e-14)


def steady_radial(wall, h_outer, h_inner=np.inf):
    """Resistance per metre [K m/W] of a wall between the medium and its inner face, from the operator."""
    breaks = np.concatenate([[wall[0][0]], [outer for outer, _ in wall[1:]]])
    materials = tuple(material for _, material in wall[1:])
    body = plain_body(
        breaks,
        np.array([0.0, 1.0]),
        np.arange(len(materials))[:, None],
        np.full((len(materials), 1), True),
        np.full((len(materials), 1), 0.0),
        materials,
    )
    op = operator_of(grid_family(body, refinement=4.0)[-1])
    # one row: the sum over z of the conductances between neighbouring radii, then in series with the film
    between = op.conductance_r.sum(axis=1)
    film = h_outer * op.side[-1].sum()  # the inner face counts as a side of this ring too
    return (1.0 / between).sum() + 1.0 / film


def test_glass_wall_has_the_resistance_of_the_closed_form():
    # ln(r2/r1)/(2 pi k) + 1/(2 pi r2 h); glass 3 mm, inner radius 35 mm, h 500 outside: 0.0214651757971 K m/W
    # (closed form, computed with 40 digits)
    found = steady_radial([(0.035, None), (0.038, GLASS)], 500.0)
    assert_allclose(found, 0.0214651757971, rtol=1e-5)  # second order: (dr/r)^2/12 of the wall's part, dr = 0.3 mm
