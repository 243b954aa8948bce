"""Rung: geometry. Nodes where they are promised, and grids that can be compared with each other."""

from __future__ import annotations

import dataclasses
import itertools

import numpy as np
import pytest
from bodies import INSULATED, cylinder, jar
from numpy.testing import assert_allclose

from thermsim.solve.grid.grid import grid_family
from thermsim.solve.grid.lines import grid_lines, prolongation


@pytest.mark.parametrize("refinement", [1.0, 1.5, 2.0])
@pytest.mark.parametrize("body", [cylinder(), jar(3), jar(INSULATED)], ids=["cylinder", "jar", "insulated"])
def test_every_break_line_holds_nodes_on_every_grid(body, refinement):
    for grid in grid_family(body, refinement=refinement):
        # break lines are copied, so they are met exactly
        assert set(body.columns) <= set(grid.columns)
        assert set(body.levels) <= set(grid.levels)


@pytest.mark.parametrize("thin", [1e-4, 2.5e-4, 5e-4, 7e-4, 1e-3, 1.3e-3, 2e-3, 3e-3, 5e-3])
def test_neighbouring_intervals_differ_by_less_than_half(thin):
    breaks = np.array([0.0, thin, 0.04, 0.04 + thin, 0.05, 0.05 + thin])
    lines, layer = grid_lines(breaks, 0.002)[-1]
    sizes = [np.diff(lines)[layer == k] for k in range(5)]
    assert all(max(one[1:] / one[:-1]) < 1.5 and max(one[:-1] / one[1:]) < 1.5 for one in sizes)
    for one, other in itertools.pairwise(sizes):
        (low, narrow), (high, _) = sorted(((one[-1], one), (other[0], other)), key=lambda found: found[0])
        # neighbours need not follow a thin layer's own four, but are no wider than half again the whole of it
        assert high < 1.5 * (narrow.sum() if narrow.size == 4 else low)


def test_the_thinnest_wall_is_divided_as_often_as_all_else():
    body = jar(3)
    lid = body.levels[3:5]
    counts = [int(((grid.levels >= lid[0]) & (grid.levels <= lid[1])).sum()) - 1 for grid in grid_family(body)]
    assert counts == [1, 2, 4]


def test_each_grid_keeps_the_nodes_of_the_coarser_one():
    coarse, middle, fine = grid_family(jar(3))
    for few, many in ((coarse, middle), (middle, fine)):
        assert set(few.columns) <= set(many.columns)
        assert set(few.levels) <= set(many.levels)
    for k in range(4):
        assert (fine.layer_z == k).sum() == 2 * (middle.layer_z == k).sum() == 4 * (coarse.layer_z == k).sum()


def test_refinement_makes_the_spacings_smaller():
    assert grid_family(cylinder(), refinement=2.0)[-1].columns.size > 1.8 * grid_family(cylinder())[-1].columns.size


def test_what_is_wanted_round_a_tip_becomes_finer_too_along_both_directions():
    """Else a sharper accuracy would solve the steepest place of all, the tip's face, no better than before."""
    body = cylinder()
    wanted = np.array([1e-4, 1e-4])
    body = dataclasses.replace(body, wanted_columns=wanted, wanted_levels=wanted)
    for refinement in (1.0, 2.0):
        finest = grid_family(body, refinement=refinement)[-1]
        # whole intervals fill a layer, so what is wanted is met within a tenth
        ends = [np.diff(finest.columns)[-1], *np.diff(finest.levels)[[0, -1]]]
        assert_allclose(ends, 1e-4 / refinement, rtol=0.1)


def test_prolongation_carries_cubics_exactly_and_keeps_common_nodes():
    (coarse, layer_c), (_, _), (fine, layer_f) = grid_lines(np.array([0.0, 0.03, 0.031]), 0.002)
    middle = grid_lines(np.array([0.0, 0.03, 0.031]), 0.002)[1]
    carry = prolongation(layer_c, middle[1])
    weights = carry.matrix()
    assert_allclose(middle[0][carry.common], coarse, rtol=0, atol=0)
    assert_allclose(weights.sum(axis=1), 1.0, rtol=0, atol=1e-12)  # constants pass unchanged

    def cubic(number):
        return 1.0 + number - 0.3 * number**2 + 0.02 * number**3

    thick = np.flatnonzero(layer_c == 0)
    number = np.arange(thick.size + 1)
    values = np.zeros(coarse.size)
    values[: thick.size + 1] = cubic(number)
    carried = (weights @ values)[: 2 * thick.size + 1]
    # cubic in the node's number: exact up to rounding
    assert_allclose(carried, cubic(np.arange(2 * thick.size + 1) / 2), rtol=1e-12, atol=1e-12)
    assert fine.size > middle[0].size


def test_block_at_finds_the_product_the_walls_and_the_insulated_headspace():
    grid = grid_family(jar(INSULATED))[-1]
    rows, columns = grid.block_at(0.0, 0.05)
    assert (grid.columns[rows][0], grid.columns[rows][-1]) == (0.0, 0.033)
    assert (grid.levels[columns][0], grid.levels[columns][-1]) == (0.005, 0.106)
    rows, columns = grid.block_at(0.034, 0.05)
    assert (grid.columns[rows][0], grid.columns[rows][-1]) == (0.033, 0.036)
    assert grid.block_at(0.01, 0.110) is None
