from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from thermsim.exact import observed_order

SIZES = np.array([0.4, 0.2, 0.1, 0.05])


@pytest.mark.parametrize("order", [1.0, 2.0, 3.5])
def test_order_of_a_power_law(order: float) -> None:
    assert_allclose(observed_order(SIZES, 7.0 * SIZES**order), order, rtol=1e-12)


def test_sign_of_the_errors_does_not_matter() -> None:
    assert_allclose(observed_order(SIZES, [-1.6, 0.4, -0.1, 0.025]), 2.0, rtol=1e-12)


def test_wrong_data_do_not_show_second_order() -> None:
    first_order, stagnating, growing = SIZES, np.full(4, 0.3), 1.0 / SIZES**2
    for errors in (first_order, stagnating, growing):
        assert not 1.9 < observed_order(SIZES, errors) < 2.1
    # arguments exchanged, cell counts in place of widths
    assert not 1.9 < observed_order(SIZES**2, SIZES) < 2.1
    assert not 1.9 < observed_order(1.0 / SIZES, SIZES**2) < 2.1


def test_a_floor_under_the_errors_lowers_the_order() -> None:
    assert observed_order(SIZES, SIZES**2 + 0.05) < 1.5


@pytest.mark.parametrize(
    ("sizes", "errors", "message"),
    [
        ([1.0, 2.0], [1.0], "must be of one length"),
        ([1.0], [1.0], "at least two different values"),
        ([1.0, 1.0], [1.0, 2.0], "at least two different values"),
        ([1.0, -2.0], [1.0, 2.0], "sizes must be positive"),
        ([1.0, 2.0], [0.0, 2.0], "errors must be finite and not zero"),
        ([1.0, 2.0], [np.nan, 2.0], "errors must be finite and not zero"),
    ],
)
def test_data_without_an_order_are_refused(sizes: list[float], errors: list[float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        observed_order(sizes, errors)
