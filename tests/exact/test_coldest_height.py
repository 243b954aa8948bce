from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from thermsim.exact import Slab, coldest_height, long_time_coldest_fraction


def slab(base: float, lid: float) -> Slab:
    return Slab(0.1, 0.5, 1000.0, 3500.0, film_base=base, film_lid=lid)


def test_coldest_height_is_where_theta_is_largest() -> None:
    body, time = slab(900.0, 12.0), 5000.0
    found = coldest_height(body, time)
    z = np.linspace(found - 1e-3, found + 1e-3, 201)
    theta = body.unaccomplished(z, time)[0]
    # the parabola through the samples has its top there
    a, b, _ = np.polyfit(z - found, theta, 2)
    assert a < 0.0
    assert_allclose(-b / (2.0 * a), 0.0, rtol=0, atol=1e-6)


def test_coldest_height_tends_to_the_first_mode_without_underflow() -> None:
    body = slab(900.0, 12.0)
    assert_allclose(coldest_height(body, 1e9) / 0.1, long_time_coldest_fraction(*body.biots), rtol=1e-12)


def test_insulated_end_is_the_coldest() -> None:
    assert long_time_coldest_fraction(50.0, 0.0) == 1.0
    assert long_time_coldest_fraction(0.0, 50.0) == 0.0
    assert coldest_height(slab(100.0, 0.0), 5000.0) == 0.1
    assert coldest_height(slab(0.0, 100.0), 5000.0) == 0.0


def test_poorer_film_draws_the_cold_point_near() -> None:
    heights = [coldest_height(slab(np.inf, lid), 4000.0) for lid in (np.inf, 500.0, 50.0, 5.0)]
    assert_allclose(heights[0], 0.05, rtol=1e-12)
    assert heights == sorted(heights)


def test_no_coldest_point_without_gradient() -> None:
    with pytest.raises(ValueError, match="both ends are insulated"):
        long_time_coldest_fraction(0.0, 0.0)
    with pytest.raises(ValueError, match="both ends are insulated"):
        coldest_height(slab(0.0, 0.0), 5000.0)
    with pytest.raises(ValueError, match=r"time = 1\.0 s is too early"):
        coldest_height(slab(10.0, 20.0), 1.0)
