"""Rung: hand-worked. What columns share: a mean that outliers do not draw, and fits that hold it."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from thermsim.assess.curves.fit import Parameter, fit_curve
from thermsim.assess.measured.shared import (
    OUTLYING,
    Known,
    flag_of_second_clock,
    on_second_clock,
    robust_mean,
    sharing,
    told_by,
)

TIME = np.linspace(0.0, 10.0, 60)
LINE = (Parameter("start", 0.0, -50.0, 50.0, 0.1), Parameter("slope", 0.0, -50.0, 50.0, 0.1))


def line(values):
    return values[0] + values[1] * TIME


def noisy(start, slope, seed):
    return line((start, slope)) + np.random.default_rng(seed).normal(0.0, 0.3, TIME.size)


def test_columns_that_share_a_slope_are_fitted_as_if_at_once():
    """Straight lines of one slope and starts of their own: least squares over all of them in closed form."""
    measured = [noisy(1.0, 0.5, 1), noisy(2.0, 0.5, 2), noisy(-1.0, 0.5, 3)]
    fits = [fit_curve(line, LINE, one) for one in measured]
    known = Known(*(np.mean([fit.value("slope") for fit in fits]) / 0.1, 0.2))
    centred = TIME - TIME.mean()
    at_once = sum(centred @ one for one in measured) / (3 * centred @ centred)
    assert_allclose(0.1 * known.value, at_once, rtol=1e-6)
    for fit, one in zip(fits, measured, strict=True):
        held = sharing(fit, LINE, {"slope": known}, line, one)
        assert_allclose(held.value("slope"), at_once, rtol=1e-6)
        assert_allclose(held.value("start"), one.mean() - at_once * TIME.mean(), rtol=1e-6)
        assert_allclose(held.residuals, one - line((held.value("start"), at_once)), rtol=0, atol=1e-7)
        # fits end within 1e-6 of the least squares; what is not known of the slope is not known of the start
        slope = held.estimates[1]
        assert_allclose((slope.high - slope.low) / 2, held.quantile * 0.2 * 0.1, rtol=1e-9)
        assert held.estimates[0].high - held.estimates[0].low > 2 * held.quantile * 0.2 * 0.1 * TIME.mean() * 0.99


def test_what_several_fits_tell_is_surer_than_what_one_does():
    fits = [fit_curve(line, LINE, noisy(0.0, 0.5, seed)) for seed in range(5)]
    known = told_by(fits, LINE, "slope")
    assert_allclose(0.1 * known.value, 0.5, rtol=0, atol=0.04)
    assert known.error < np.sqrt(fits[0].covariance[1, 1])


def test_one_column_that_does_not_agree_does_not_draw_the_mean():
    values, errors = [0.6, 0.9, 0.3, 0.7, 0.5, 23.7], [0.5] * 6
    known = robust_mean(values, errors)
    assert_allclose(known.value, np.mean(values[:5]), rtol=0, atol=0.1)
    assert 0.5 / np.sqrt(5) <= known.error < 0.5
    assert OUTLYING * 0.5 < 23.0


def test_what_nobody_tells_is_not_known():
    assert robust_mean([], []).error == np.inf
    assert robust_mean([3.0], [0.2]).value == 3.0


@pytest.mark.parametrize(("offsets", "second"), [
    ([2.0, 92.0, 4.0, 91.0], [1, 3]), ([-60.0, -61.0, 0.0, 1.0], [0, 1]),
    ([2.0, 15.0, 4.0, 16.0], []),  # not far apart
    ([2.0, 92.0, 4.0], []), ([2.0, 3.0, 4.0, 90.0], []),  # one alone has a clock of its own
    ([0.0, 30.0, 90.0, 120.0], []),  # those of one logger agree
])  # fmt: skip
def test_a_second_clock_is_that_of_two_columns_or_more_farther_from_the_mediums(offsets, second):
    assert on_second_clock(offsets, 20.0) == second


def test_who_is_on_a_second_clock_is_named_with_how_far_it_is_off():
    flag = flag_of_second_clock(["C", "D"], -91.0)
    assert flag.text.startswith('"C", "D" ARE ON ANOTHER CLOCK than the other probes, 91 s behind')
