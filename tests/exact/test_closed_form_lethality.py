"""Closed forms of lethality. Numbers: computed, mpmath with 40 digits, confirmed by quadrature to 1e-25."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from thermsim.exact import lethal_rate, lethality_of_exponential_heating, lethality_of_ramp

F0 = {"reference": 121.1, "z": 10.0}
PASTEURISATION = {"reference": 60.0, "z": 7.0}
COOK = {"reference": 100.0, "z": 33.1}
# printed with 15 digits
RTOL = 1e-13


@pytest.mark.parametrize(
    ("temperature", "minutes", "conditions", "expected"),
    [
        (121.1, 10.0, F0, 10.0),
        (250.0 * 5 / 9 - 160.0 / 9, 10.0, F0, 10.0256170345056),
        (115.0, 30.0, F0, 7.36412674705509),
        (111.1, 1.0, F0, 0.1),
        (62.0, 15.0, PASTEURISATION, 28.9604659332488),
        (121.1, 60.0, COOK, 260.383515389675),
    ],
)
def test_hold(temperature: float, minutes: float, conditions: dict[str, float], expected: float) -> None:
    assert_allclose(minutes * lethal_rate(temperature, **conditions), expected, rtol=RTOL)


@pytest.mark.parametrize(
    ("start", "stop", "minutes", "conditions", "expected"),
    [
        (100.0, 121.1, 20.0, F0, 4.08458088634882),
        (20.0, 121.1, 10.0, F0, 0.429569220444649),
        (121.1, 80.0, 15.0, F0, 1.58489332087342),
        (20.0, 65.0, 25.0, PASTEURISATION, 8.74773057610807),
    ],
)
def test_ramp(start: float, stop: float, minutes: float, conditions: dict[str, float], expected: float) -> None:
    found = lethality_of_ramp(start, stop, duration=60.0 * minutes, **conditions) / 60.0
    assert_allclose(found, expected, rtol=RTOL)


def test_level_ramp_is_a_hold() -> None:
    assert_allclose(lethality_of_ramp(115.0, 115.0, duration=90.0, **F0), 90.0 * lethal_rate(115.0, **F0), rtol=1e-15)


def test_trapezoid_of_ramp_hold_ramp() -> None:
    ramps = sum(lethality_of_ramp(a, b, duration=600.0, **F0) for a, b in ((20.0, 121.1), (121.1, 20.0)))
    assert_allclose(ramps / 60.0 + 30.0 * lethal_rate(121.1, **F0), 30.8591384408893, rtol=RTOL)


@pytest.mark.parametrize(
    ("medium", "deficit", "tau", "start", "stop", "conditions", "expected"),
    [
        (121.1, 101.1, 20.0, 0.0, 90.0, F0, 20.3606260174925),
        (121.1, 2.04 * 61.1, 50.0 / np.log(10.0), 30.0, 120.0, F0, 36.9815606738485),
        (65.0, 60.0, 8.0, 0.0, 45.0, PASTEURISATION, 88.4758405181660),
        (121.1, 101.1, 20.0, 0.0, 90.0, COOK, 177.815303893833),
    ],
)
def test_exponential_heating(
    medium: float,
    deficit: float,
    tau: float,
    start: float,
    stop: float,
    conditions: dict[str, float],
    expected: float,
) -> None:
    found = lethality_of_exponential_heating(
        medium, deficit, time_constant=60.0 * tau, start=60.0 * start, stop=60.0 * stop, **conditions
    )
    assert_allclose(found / 60.0, expected, rtol=RTOL)


def test_z_must_be_positive() -> None:
    with pytest.raises(ValueError, match="z = 0 is not allowed"):
        lethal_rate(100.0, reference=121.1, z=0)
