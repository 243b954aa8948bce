"""What a reduced basis leaves behind: bounds and entries. Rung: the maximum principle, and counting."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from bodies import cylinder, heat_and_cool
from numpy.testing import assert_allclose, assert_array_equal

from thermsim.solve.basis.reduced import Reduced
from thermsim.solve.grid.grid import grid_family
from thermsim.solve.grid.operator import operator_of


@pytest.fixture(scope="module")
def found():
    """A body of 10 degC on one side and 140 degC on the other, hotter than the medium ever is, which cools it."""
    operator = operator_of(grid_family(cylinder())[1])
    initial = np.where(np.arange(operator.initial.shape[1]) < 5, 10.0, 140.0) * np.ones_like(operator.initial)
    operator = dataclasses.replace(operator, initial=initial)
    return Reduced(operator, tolerance=0.01).evolve(heat_and_cool(250.0, hot=119.0, cold=4.0))


def test_no_temperature_is_held_within_less_than_the_body_and_its_medium_have_met(found):
    low, high = (np.concatenate(part) for part in zip(*found.met, strict=True))
    medium = np.concatenate([leg.medium for leg in found.legs])
    assert_array_equal(high, 140.0)
    assert_allclose(low, np.minimum(np.minimum.accumulate(medium), 10.0), rtol=0, atol=0)
    assert low[-1] == 4.0 < low[0] == 10.0
    temperature, _ = found.entries(found.conducting)
    assert temperature.max() > 130.0  # of what starts hotter than all media nothing is cut off
    # between knots the medium may be where it has not been at either
    last = len(found.legs[0].time) - 2
    assert_array_equal(found.bounds(0, np.array([last]), np.array([150.0])), [[10.0], [150.0]])
    assert_array_equal(found.bounds(0, np.array([0]), np.array([-3.0])), [[-3.0], [140.0]])


@pytest.mark.parametrize("tolerance", [0.05, 0.001])
def test_cubics_between_entries_are_within_the_tolerance_of_what_modes_say(found, tolerance):
    """Or within twice that: between two looks the fourth derivative falls by tens, and a mean of it serves."""
    off = []
    for leg in found.legs:
        time, piece = leg.entries(tolerance)
        coordinates, change, _ = leg.at(time, piece, settled=True)
        within = np.flatnonzero(piece[1:] == piece[:-1])
        step = np.diff(time)[within, None]
        for x in (0.25, 0.5, 0.75):
            y = 1.0 - x
            cubic = y * y * (1.0 + 2.0 * x) * coordinates[within] + x * x * (1.0 + 2.0 * y) * coordinates[within + 1]
            cubic += step * (x * y * y * change[within] - x * x * y * change[within + 1])
            exact, _, _ = leg.at(time[within] + x * step[:, 0], piece[within], settled=True)
            off.append(np.abs((cubic - exact) @ leg.modes.shapes).max())
    assert tolerance / 2.0 <= max(off) <= 2.0 * tolerance  # and there are no more of them than that takes


def test_every_second_entry_is_left_and_every_knot(found):
    for (time, piece), (some, of) in zip(found.pieces, found.sparse_pieces, strict=True):
        for number in np.unique(piece):
            whole, left = time[piece == number], some[of == number]
            assert_array_equal(left, np.unique(np.append(whole[::2], whole[-1])))
