"""Factors of a reading under a process. Rung: hand-worked: the curve is the straight line itself, in both phases."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from thermsim.assess.curves.heat_penetration import (
    cooling_penetration,
    factors_uncertainty,
    heating_factors,
    heating_penetration,
    start_of,
)
from thermsim.case.process import Film, Process, Stage

FILM = Film.everywhere(500.0)
#: Up in 10 min to 120 degC, held to 80 min, then in water of 20 degC to 140 min.
PROCESS = Process(
    (
        Stage("come-up", [0.0, 600.0], [30.0, 120.0], FILM),
        Stage("hold", [600.0, 4800.0], [120.0, 120.0], FILM),
        Stage("cool", [4800.0, 8400.0], [20.0, 20.0], FILM),
    )
)
TIME = np.arange(0.0, 8401.0, 15.0)
START, FH, JH, FC, JC = 30.0, 1500.0, 1.4, 1200.0, 1.1


def curve(zero):
    """The start, then straight lines in the logarithm: from a zero in heating, from the end of heating in cooling."""
    heating = np.minimum(120.0 - START, (120.0 - START) * JH * 10 ** (-(TIME - zero) / FH))
    heated = 120.0 - heating
    end = float(heated[TIME == 4800.0][0])
    cooling = np.minimum(end - 20.0, (end - 20.0) * JC * 10 ** (-(TIME - 4800.0) / FC))
    return np.where(TIME <= 4800.0, heated, 20.0 + cooling)


@pytest.mark.parametrize(("asked", "credited"), [({}, 0.42), ({"credit": 0.0}, 0.0), ({"credit": 1.0}, 1.0)])
def test_the_lag_counts_from_the_part_of_the_come_up_that_is_not_credited(asked, credited):
    """42 % where nothing is said: common practice, no source."""
    zero = (1.0 - credited) * 600.0
    found = heating_penetration(TIME, curve(zero), PROCESS, **asked)
    assert_allclose([found.medium, found.start, found.zero], [120.0, START, zero], rtol=1e-9)
    assert_allclose([found.line.f, found.line.j], [FH, JH], rtol=1e-6)


def test_cooling_counts_from_the_end_of_heating_towards_the_water():
    found = cooling_penetration(TIME, curve(348.0), PROCESS)
    assert_allclose([found.medium, found.zero], [20.0, 4800.0])
    assert_allclose(found.start, curve(348.0)[TIME == 4800.0][0])
    assert_allclose([found.line.f, found.line.j], [FC, JC], rtol=1e-6)


def test_a_given_straight_part_and_a_floor_are_kept_to():
    found = heating_penetration(TIME, curve(348.0), PROCESS, part=(2400.0, 3600.0))
    assert not found.line.automatic
    assert 2400.0 <= found.line.start < found.line.end <= 3600.0
    for floor in (1.0, 5.0):
        line = heating_penetration(TIME, curve(348.0), PROCESS, floor=floor).line
        # where so much is left
        last = 348.0 + FH * np.log10((120.0 - START) * JH / floor)
        assert_allclose(line.end, min(last, 4800.0), rtol=0, atol=30.0)


def test_the_start_is_the_mean_of_the_first_minute_until_the_reading_moves():
    """A start that is off shifts the lag factor: one sample's noise must not decide it, nor what is warm already."""
    time = 15.0 * np.arange(9)
    still = np.array([20.0, 20.04, 19.96, 20.02, 20.03, 20.04, 20.04, 20.04, 20.04])
    assert_allclose(start_of(time, still), np.mean([20.0, 20.04, 19.96, 20.02, 20.03]), rtol=1e-12)
    moved = np.array([20.0, 20.04, 26.0, 26.0, 26.0, 26.0, 26.0, 26.0, 26.0])
    assert_allclose(start_of(time, moved), 20.02, rtol=1e-12)


def test_factors_are_uncertain_by_what_a_course_may_be_off_by_in_each_way_alone():
    """A course that is off moves the line by so much; two ways to be off have nothing to do with each other."""
    time, from_zero = np.arange(0.0, 3001.0, 30.0), {"medium": 120.0, "start": 30.0}
    line = 120.0 - 90.0 * 1.4 * 10.0 ** (-time / 1500.0)
    off = np.stack([0.001 * np.exp(-time / 1000.0), np.full(time.shape, 5e-4)])
    known = heating_factors(time, line, **from_zero)
    moved = [heating_factors(time, line + one, **from_zero) for one in off]
    by = [(abs(one.f - known.f), abs(one.j - known.j)) for one in moved]
    for k in (0, 1):
        assert_allclose(factors_uncertainty(time, line, off[[k]], (0.0,), **from_zero), by[k], rtol=0.01)
    both = factors_uncertainty(time, line, off, (0.0, 0.0), **from_zero)
    assert_allclose(both, np.hypot(*by), rtol=0.01)
    # what scatters does nothing as it is, and as much as its worst signs may
    scattered = off[[1]] * (-1.0) ** np.arange(time.size)
    (as_it_is, _), (worst, _) = (
        factors_uncertainty(time, line, scattered, (one,), **from_zero) for one in (0.0, 1.0)
    )
    assert as_it_is < 0.1 * by[1][0] < by[1][0] < worst


@pytest.mark.parametrize(("fell", "factors"), [(117.0, True), (80.0, False)])
def test_a_medium_that_falls_in_the_hold_leaves_no_factors(fell, factors):
    """It is looked at some two thousand times: the bottom of a sharp fall may be missed by a kelvin."""
    film = Film(math.inf, math.inf, math.inf)
    hold = Stage("hold", [0.0, 1000.0, 1060.0, 1120.0, 6000.0], [120.0, 120.0, fell, 120.0, 120.0], film)
    time = np.arange(0.0, 6000.0, 15.0)
    found = heating_penetration(time, np.maximum(40.0, 120.0 - 144.0 * 10 ** (-time / 1800.0)), Process((hold,)))
    assert (found.line is not None) == factors and (factors or "fell to 81 degC in the hold" in found.remark)
