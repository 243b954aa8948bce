"""Rung: slow twins. Shares of quadrilaterals, equations of stages and places of nodes, as they are defined."""

from __future__ import annotations

import numpy as np
import pytest
from bodies import INSULATED, jar
from numpy.testing import assert_allclose
from shapes import SHAPES

from thermsim.case.process import Film
from thermsim.solve.grid.body import body_of
from thermsim.solve.grid.grid import grid_family
from thermsim.solve.grid.lines import layer_nodes
from thermsim.solve.grid.operator import exchange_of, operator_of, shares_of
from thermsim.solve.matrix.numbering import Numbering
from thermsim.solve.matrix.system import system_of

HALVES = (slice(None, -1), slice(1, None))
GRIDS = {
    **{name: grid_family(body_of(case))[0] for name, case in SHAPES.items()},
    "gas": grid_family(jar(3))[0],
    "insulated": grid_family(jar(INSULATED))[0],
}


def ring_volume(corners):
    """2 pi times the integral of r over polygons."""
    total = 0.0
    for (r, z), (r_next, z_next) in zip(corners, [*corners[1:], corners[0]], strict=True):
        total = total + (r * z_next - r_next * z) * (r + r_next)
    return np.pi / 3 * np.abs(total)


@pytest.mark.parametrize("name", GRIDS)
def test_shares_are_those_of_the_gradient_at_each_corner(name):
    grid = GRIDS[name]
    conducts, found = grid.material >= 0, shares_of(grid)
    middle = tuple(sum(x[HALVES[a], HALVES[b]] for a in (0, 1) for b in (0, 1)) / 4 for x in (grid.r, grid.z))
    along_r, along_z, diagonal = (np.zeros((2, *conducts.shape)) for _ in range(3))
    for k, (a, b) in enumerate(((0, 0), (1, 0), (0, 1), (1, 1))):
        here, aside, above = (HALVES[a], HALVES[b]), (HALVES[1 - a], HALVES[b]), (HALVES[a], HALVES[1 - b])
        (r, z), (r1, z1), (r2, z2) = ((grid.r[at], grid.z[at]) for at in (here, aside, above))
        one, two = np.stack([r1 - r, z1 - z]), np.stack([r2 - r, z2 - z])
        area = np.abs(one[0] * two[1] - one[1] * two[0])
        weight = np.where(conducts, np.pi / 2 / area, 0.0)
        mixed = -weight * np.sqrt((r + r1) / 2 * (3 * r + r1) / 4) * (one * two).sum(axis=0)
        along_r[b] += weight * (r + r1) / 2 * (two**2).sum(axis=0) + mixed
        along_z[a] += weight * (3 * r + r1) / 4 * (one**2).sum(axis=0) + mixed
        diagonal[int(a == b)] -= mixed
        part = ring_volume([(r, z), ((r + r1) / 2, (z + z1) / 2), middle, ((r + r2) / 2, (z + z2) / 2)])
        assert_allclose(found.volume[k], part, rtol=1e-9, atol=1e-18)  # rounding, of differences of products
    assert_allclose(found.along_r, along_r, rtol=1e-12, atol=1e-14)
    assert_allclose(found.along_z, along_z, rtol=1e-12, atol=1e-14)
    assert_allclose([found.rising, found.falling], diagonal, rtol=1e-12, atol=1e-14)


@pytest.mark.parametrize("film", [Film.everywhere(300.0), Film(800.0, 60.0, np.inf)], ids=["films", "held lid"])
@pytest.mark.parametrize("name", GRIDS)
def test_a_stage_has_the_equations_of_all_pairs_of_neighbours(name, film):
    operator = operator_of(GRIDS[name])
    numbering = Numbering(operator.capacity > 0.0)
    known = {}
    system_of(operator, Film.everywhere(20.0), numbering, known)  # what other films leave changes nothing
    system = system_of(operator, film, numbering, known)
    exchange, held = exchange_of(operator, film)
    number = numbering.turn(numbering.number)
    matrix, given = np.zeros((numbering.count, numbering.count)), np.zeros(numbering.count)
    free = numbering.vector((operator.capacity > 0.0) & ~held)
    at = number >= 0
    given[number[at]] = exchange[at] * free[number[at]]
    for along, low, high in (
        (operator.conductance_r, np.s_[:-1, :], np.s_[1:, :]),
        (operator.conductance_z, np.s_[:, :-1], np.s_[:, 1:]),
        (operator.rising, np.s_[:-1, :-1], np.s_[1:, 1:]),
        (operator.falling, np.s_[1:, :-1], np.s_[:-1, 1:]),
    ):
        for a, b, c in zip(number[low].flat, number[high].flat, along.flat, strict=True):
            if c != 0.0:
                for one, other in ((a, b), (b, a)):
                    matrix[one, one] += c * free[one]
                    matrix[one, other] -= c * free[one] * free[other]
                    given[one] += c * free[one] * (1 - free[other])
    matrix[np.diag_indices(numbering.count)] += numbering.vector(exchange) * free
    assert_allclose(system.matrix.times(np.eye(numbering.count)), matrix, rtol=1e-12, atol=1e-13)
    for below, diagonal in enumerate(system.matrix.pairs.band):
        expected = np.diag(matrix, -below) if below else 0.0
        assert_allclose(diagonal[: numbering.count - below], expected, rtol=1e-12, atol=1e-13)
    assert_allclose(system.exchange, given, rtol=1e-12, atol=1e-13)


@pytest.mark.parametrize("layer", [0, 1, 2])
def test_nodes_lie_at_equal_steps_of_the_integral_of_one_over_the_spacing(layer):
    breaks, finest = np.array([0.0, 0.033, 0.0334, 0.06]), np.array([np.inf, 3e-4, 3e-4, 5e-4])
    within = np.linspace(breaks[:-1], breaks[1:], 501, axis=1)
    nodes = layer_nodes(breaks, within, finest, 0.12, np.full((3, 501), 2e-3), [2, 2, 2], 4)[layer]
    x = within[layer]
    density = 1.0 / np.minimum(2e-3, (finest[:, None] + 0.12 * np.abs(x - breaks[:, None])).min(axis=0))
    count = np.insert(np.cumsum((density[1:] + density[:-1]) / 2 * np.diff(x)), 0, 0.0)
    assert nodes.size <= 3 or (nodes.size - 1) % 4 == 0  # thin layers are one or two intervals
    assert count[-1] <= nodes.size - 1 < count[-1] + 5
    expected = np.interp(np.linspace(0.0, count[-1], nodes.size), count, x)
    assert_allclose(nodes, expected, rtol=0, atol=1e-15)
