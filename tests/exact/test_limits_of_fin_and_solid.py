from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from thermsim.exact import fin_heat_flow, fin_temperature, semi_infinite_unaccomplished

FIN = {"conductivity": 15.0, "diameter": 0.003, "film": 200.0}
SOLID = {"conductivity": 0.55, "density": 1000.0, "specific_heat": 3800.0}


def test_very_long_fin_decays_without_overflow() -> None:
    m = np.sqrt(4.0 * 200.0 / (15.0 * 0.003))
    x = np.array([0.0, 0.01, 0.05, 100.0])
    assert_allclose(fin_temperature(x, 100.0, **FIN, tip_film=200.0), np.exp(-m * x), rtol=1e-12)


def test_heat_flow_is_the_gradient_at_the_foot() -> None:
    length, step = 0.02, 1e-7
    near = fin_temperature([0.0, step, 2 * step], length, **FIN, tip_film=50.0)
    # one-sided difference of second order
    gradient = (-1.5 * near[0] + 2.0 * near[1] - 0.5 * near[2]) / step
    area = 0.25 * np.pi * 0.003**2
    assert_allclose(fin_heat_flow(length, **FIN, tip_film=50.0), -15.0 * area * gradient, rtol=1e-7)


def test_impossible_fins_are_refused() -> None:
    with pytest.raises(ValueError, match=r"length = 0\.0 is not allowed"):
        fin_temperature(0.0, 0.0, **FIN, tip_film=0.0)
    with pytest.raises(ValueError, match=r"tip_film = -1\.0 is not allowed"):
        fin_heat_flow(0.1, **FIN, tip_film=-1.0)


def test_solid_behind_a_huge_film_is_a_fixed_surface() -> None:
    places, times = [0.0, 1e-3, 0.02], [1.0, 3600.0]
    # exp(h x/k) alone would be exp(4e8)
    huge = semi_infinite_unaccomplished(places, times, **SOLID, film=1e10)
    assert_allclose(huge, semi_infinite_unaccomplished(places, times, **SOLID, film=np.inf), rtol=0, atol=1e-6)


def test_solid_without_film_or_time_stays_as_it_is() -> None:
    assert_allclose(semi_infinite_unaccomplished([0.0, 0.01], [1.0, 1e6], **SOLID, film=0.0), 1.0, rtol=0, atol=0)
    instant = semi_infinite_unaccomplished([0.0, 0.01], [-1.0, 0.0], **SOLID, film=np.inf)
    assert_allclose(instant, [[1.0, 1.0], [0.0, 1.0]], rtol=0, atol=0)


def test_solid_has_no_inside_above_its_surface() -> None:
    with pytest.raises(ValueError, match=r"depth from -0\.1"):
        semi_infinite_unaccomplished(-0.1, 1.0, **SOLID, film=1.0)
