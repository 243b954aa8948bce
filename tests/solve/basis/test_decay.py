"""Rung: closed forms. Modes that decay while the medium follows a ramp."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from thermsim.solve.basis.decay import decay, follow


@pytest.mark.parametrize("rate", [0.0, 1e-12, 1e-5, 2e-3, 0.5, 300.0])
def test_a_mode_decays_as_the_closed_form_says(rate):
    # da/dt = -rate a - ones s on one ramp of slope s: a = (a0 + ones s/rate) e^(-rate t) - ones s/rate
    knots, medium, ones, start = np.array([0.0, 40.0, 100.0]), np.array([20.0, 30.0, 45.0]), 0.7, 5.0
    at_knots, gathered = decay(np.array([rate]), np.array([ones]), knots, medium, np.array([start]))
    slope, end = 0.25, 100.0
    if rate * end < 1e-6:
        expected, area = start - ones * slope * end, start * end - ones * slope * end**2 / 2
    else:
        level = ones * slope / rate
        expected = (start + level) * np.exp(-rate * end) - level
        area = (start + level) * -np.expm1(-rate * end) / rate - level * end
    # the closed form itself loses digits where rate x time is small: 1e-16 / 1e-3 twice
    assert_allclose(at_knots[-1, 0], expected, rtol=1e-8, atol=1e-9)
    assert_allclose(gathered[0], area, rtol=1e-7, atol=1e-6)


@pytest.mark.parametrize("rate", [1e-12, 1e-5, 0.5])
def test_digits_are_kept_on_a_slope_as_steep_as_a_jump(rate):
    # 80 K within a microsecond: the mode falls by ones times 80 K
    rates, ones, climb = np.array([rate]), np.array([0.7]), np.array([80.0 / 1e-6])
    found, _ = follow(rates, ones, np.array([1e-6]), climb, np.array([[5.0]]), np.inf)
    assert_allclose(found, 5.0 - 0.7 * 80.0, rtol=0, atol=1e-4 * rate + 1e-13)
