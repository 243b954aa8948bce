"""Rung: exact solution. Fits of straight lines and exponentials whose answers are known, and their intervals."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from thermsim.assess.curves.autocorrelation import correlation_time
from thermsim.assess.curves.fit import Parameter, fit_curve

X = np.linspace(0.0, 1.0, 200)
LEVEL = Parameter("level", 0.0, -100.0, 100.0, 0.1)
SLOPE = Parameter("slope", 0.0, -100.0, 100.0, 0.1)


def line(values):
    return values[0] + values[1] * X


def correlated(chance, size, rho, scale):
    """Noise of first order, of the given standard deviation."""
    noise = np.empty(size)
    noise[0] = chance.normal(0, scale)
    for k in range(1, size):
        noise[k] = rho * noise[k - 1] + chance.normal(0, scale * np.sqrt(1 - rho**2))
    return noise


def test_an_exact_line_is_found_exactly():
    fit = fit_curve(line, [LEVEL, SLOPE], line([3.0, -2.0]))
    assert_allclose([fit.value("level"), fit.value("slope")], [3.0, -2.0], rtol=1e-6)
    assert fit.value("offset") is None
    assert fit.converged and not fit.indistinct


def test_errors_of_a_line_are_those_of_linear_regression():
    from scipy import stats

    measured = line([3.0, -2.0]) + np.random.default_rng(7).normal(0, 0.1, X.size)
    fit = fit_curve(line, [LEVEL, SLOPE], measured)
    known = stats.linregress(X, measured)
    error = np.sqrt(fit.covariance[1, 1] / fit.correlation_time) * SLOPE.step
    assert_allclose(fit.value("slope"), known.slope, rtol=1e-5)
    assert_allclose(error, known.stderr, rtol=1e-5)


@pytest.mark.parametrize(
    "rho", [pytest.param(0.0, marks=pytest.mark.long), 0.6, pytest.param(0.9, marks=pytest.mark.long)]
)
def test_intervals_hold_the_truth_also_where_neighbours_resemble_each_other(rho):
    chance = np.random.default_rng(11)
    inside = []
    for _ in range(200):
        fit = fit_curve(line, [LEVEL, SLOPE], line([3.0, -2.0]) + correlated(chance, X.size, rho, 0.1))
        inside.append([one.low <= true <= one.high for one, true in zip(fit.estimates, (3.0, -2.0), strict=True)])
    covered = np.mean(inside, axis=0)
    # with 200 samples of which 19 resemble each other only ten are independent: the estimate of that is rough
    least = 0.90 if rho < 0.9 else 0.85
    assert (covered >= least).all() and (covered <= 0.995).all(), covered


def test_correlation_time_is_that_of_first_order_noise():
    chance = np.random.default_rng(13)
    # (1 + rho)/(1 - rho), a geometric series
    for rho, known in ((0.0, 1.0), (0.5, 3.0), (0.8, 9.0)):
        assert_allclose(correlation_time(correlated(chance, 20000, rho, 1.0)), known, rtol=0.15)


def test_parameters_that_do_the_same_are_named():
    twins = [LEVEL, Parameter("twin", 0.0, -100.0, 100.0, 0.1)]
    fit = fit_curve(
        lambda v: v[0] + v[1] * (1 + 1e-3 * X), twins, 1.0 + np.random.default_rng(1).normal(0, 0.01, X.size)
    )
    ((first, second, correlation),) = fit.indistinct
    assert (first, second) == ("level", "twin")
    assert correlation < -0.95


def test_a_bound_that_stops_the_fit_is_named():
    low = Parameter("level", 0.0, -1.0, 1.0, 0.1)
    fit = fit_curve(lambda v: np.full(X.size, v[0]), [low], np.full(X.size, 3.0))
    assert fit.estimates[0].at_bound
    assert_allclose(fit.estimates[0].value, 1.0, atol=0.01)


def test_a_relative_parameter_stays_above_zero():
    rate = Parameter("rate", 1.0, 0.1, 10.0, 0.02, relative=True)
    fit = fit_curve(lambda v: np.exp(-v[0] * X), [rate], np.exp(-2.5 * X))
    assert_allclose(fit.value("rate"), 2.5, rtol=1e-6)
    assert fit.estimates[0].low > 0
