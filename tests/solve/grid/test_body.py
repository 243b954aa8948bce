"""Rung: hand-worked. What stands where in a body, and how warm it is at the start."""

import dataclasses

import numpy as np
import pytest
from numpy.testing import assert_allclose
from small_cans import PASTE, PLASTIC, STEEL, STEM, TAPERED, small_can
from small_jars import GAS

from thermsim.case.probe import Fitting, Gap, Probe, Segment
from thermsim.case.product import Headspace
from thermsim.solve.grid.body import body_of
from thermsim.solve.grid.grid import grid_family

#: A plastic tube of 6 mm with 1 mm of wall round steel, in a gland of 12 mm, at 25 degC; the product begins at 40.
TUBE = Probe(
    "lid", "through", (Segment(0.006, 0.080, PLASTIC, 0.001, STEEL),), insertion=0.036, sensing=0.002,
    fitting=Fitting(0.012, 0.003, 0.010, STEEL), gap=Gap(0.0005, GAS), initial=25.0,
)  # fmt: skip


def at(body, r, z):
    """Material and start of the region round a place [m]."""
    i, j = int(np.searchsorted(body.columns, r)) - 1, int(np.searchsorted(body.levels, z)) - 1
    return body.materials[body.material[i, j]].name, body.initial[i, j]


def test_walls_product_headspace_and_probe_begin_each_at_their_own_temperature():
    case = small_can(probe=TUBE)
    container = dataclasses.replace(case.container, initial=15.0)
    case = case.replace(container=container, fill_height=0.060, headspace=Headspace("fixed", GAS))
    body, product = body_of(case), case.product.initial
    inner, wall = container.radius_at(0.03), container.side.thickness
    top = container.outer_height
    tip = top - 0.036
    assert len({15.0, product, 25.0}) == 3
    for name, r, z, material, start in (
        ("side wall", inner + wall / 2, 0.03, container.side.material, 15.0),
        ("base", 0.01, container.floor / 2, container.base.material, 15.0),
        ("lid", 0.02, top - container.lid.thickness / 2, container.lid.material, 15.0),
        ("product", 0.02, 0.03, PASTE, product),
        ("headspace", 0.02, container.floor + 0.065, GAS, product),
        ("core of the tube", 0.001, tip + 0.010, STEEL, 25.0),
        ("wall of the tube", 0.0025, tip + 0.010, PLASTIC, 25.0),
        ("gap round the tube", 0.00325, tip + 0.010, GAS, product),
        ("headspace round the tube", 0.00325, container.floor + 0.062, GAS, product),
        ("fitting within the lid", 0.005, top - container.lid.thickness / 2, STEEL, 25.0),
        ("fitting inside", 0.005, container.ceiling - 0.0015, STEEL, 25.0),
        ("fitting outside", 0.005, top + 0.005, STEEL, 25.0),
    ):
        assert at(body, r, z) == (material.name, start), name


def test_without_a_start_of_their_own_the_walls_begin_as_the_product():
    case = small_can()
    assert set(np.unique(body_of(case).initial)) == {case.product.initial}


@pytest.mark.parametrize("depth", [0.030, 0.060])
def test_a_tip_over_a_base_that_rises_is_flat_and_where_it_was_put(depth):
    """Levels that followed the cone up to the tip would set it half a millimetre aslant and read beside it."""
    case = small_can(container=TAPERED, fill_height=0.080)
    case = case.replace(probe=STEM.at_depth(depth, case.container))
    grid = grid_family(body_of(case))[-1]
    face = grid.z[grid.columns < 0.0015 + 1e-9, grid.probe[0].argmax()]
    assert face.size > 2
    assert_allclose(face, case.container.outer_height - depth, rtol=0, atol=1e-12)
