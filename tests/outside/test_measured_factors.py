"""Rung: exact solution. Factors fitted to exact heating curves against the first mode's, and lethality of samples.

The classical j of the centre of a finite cylinder, 2.0397, and the off-centre values come from the series of
``thermsim.exact`` (held against tables elsewhere); C. O. Ball and F. C. W. Olson, Sterilization in Food Technology,
1957 (from memory). That 42 % of the come-up is credited is common practice, no source.
"""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from thermsim.assess.curves.general_method import general_method
from thermsim.assess.curves.heat_penetration import cooling_penetration, heating_penetration
from thermsim.case.case import Lethality
from thermsim.case.process import Film, Process, Stage
from thermsim.exact import (
    FiniteCylinder,
    heating_factor_f,
    lag_factor_j,
    lethality_of_exponential_heating,
    lethality_of_ramp,
)

INF, F0 = np.inf, Lethality(121.1, 10.0)
#: 307x409, nominal outside dimensions; diffusivity 1.5e-7 m2/s.
CAN = FiniteCylinder(
    radius=0.0873125 / 2,
    height=0.1158875,
    conductivity=0.5,
    density=1000.0,
    specific_heat=0.5 / 1.5e-4,
    film_side=INF,
    film_base=INF,
    film_lid=INF,
)
F_CAN = heating_factor_f(CAN)
TIME = np.arange(0.0, 14400.1, 30.0)


def held(medium=121.1, *, end=14400.0):
    return Process((Stage("hold", [0.0, end], [medium, medium], Film.everywhere(INF)),))


def curve(r, z, medium=121.1, start=20.0):
    left = np.concatenate([[1.0], CAN.unaccomplished(r, z, TIME[1:]).ravel()])
    return medium - (medium - start) * left


@pytest.mark.parametrize("fraction_r", [0.0, 0.25, 0.5, 0.75, 0.9])
@pytest.mark.parametrize("fraction_z", [0.0, 0.25, 0.5, 0.75])
def test_f_and_j_of_an_exact_heating_curve_are_the_first_modes(fraction_r, fraction_z):
    r, z = fraction_r * CAN.radius, CAN.height / 2 * (1 + fraction_z)
    found = heating_penetration(TIME, curve(r, z), held(), floor=0.02).line
    j = lag_factor_j(CAN, r, z).item()
    assert_allclose([found.f, found.j], [F_CAN, j], rtol=0.005)
    if fraction_r == fraction_z == 0.0:
        # computed: 8/(pi beta1 J1(beta1))
        assert_allclose(j, 2.03969753, rtol=1e-8)
    assert found.automatic and not found.early and not found.bends


@pytest.mark.parametrize("fraction_r", [0.75, 0.9])
def test_near_the_corner_a_later_straight_part_gives_f_and_j_of_the_first_mode(fraction_r):
    """There the second mode is small but slow to go: what is found by itself is 0.6 % off at 0.9."""
    r, z = fraction_r * CAN.radius, CAN.height / 2 * 1.9
    found = heating_penetration(TIME, curve(r, z), held(), floor=1e-4, part=(2.3 * F_CAN, 3.5 * F_CAN)).line
    assert_allclose([found.f, found.j], [F_CAN, lag_factor_j(CAN, r, z).item()], rtol=0.005)
    itself = heating_penetration(TIME, curve(r, z), held(), floor=0.02).line
    assert_allclose([itself.f, itself.j], [F_CAN, lag_factor_j(CAN, r, z).item()], rtol=0.008)


def test_f_and_j_of_an_exact_cooling_curve_are_the_first_modes():
    process = Process(
        (
            Stage("hold", [0.0, 600.0], [110.0, 110.0], Film.everywhere(INF)),
            Stage("cool", [600.0, 15000.0], [20.0, 20.0], Film.everywhere(INF)),
        )
    )
    cooled = curve(0.0, CAN.height / 2, medium=20.0, start=110.0)
    found = cooling_penetration(TIME + 600.0, cooled, process, floor=0.02).line
    assert_allclose([found.f, found.j], [F_CAN, 2.03969753], rtol=0.005)


def test_the_come_up_moves_the_zero_by_what_is_not_credited():
    film = Film.everywhere(INF)
    process = Process(
        (Stage("come-up", [0.0, 600.0], [20.0, 121.1], film), Stage("hold", [600.0, 14400.0], [121.1, 121.1], film))
    )
    temperature = curve(0.0, CAN.height / 2)
    usual, whole, none = (
        heating_penetration(TIME, temperature, process, floor=0.02, credit=credit) for credit in (0.42, 1.0, 0.0)
    )
    assert_allclose([usual.zero, whole.zero, none.zero], [348.0, 0.0, 600.0], rtol=1e-12)
    # the same line, its lag factor read off at another zero
    assert_allclose(usual.line.f, whole.line.f, rtol=1e-3)
    assert_allclose(usual.line.j / whole.line.j, 10 ** (-348.0 / whole.line.f), rtol=5e-3)


def test_a_straight_part_that_is_given_is_taken():
    found = heating_penetration(TIME, curve(0.0, CAN.height / 2), held(), part=(6000.0, 9000.0)).line
    assert (found.start, found.end, found.automatic, found.samples) == (6000.0, 9000.0, False, 101)


@pytest.mark.long
def test_intervals_of_f_hold_the_true_slope_in_most_noisy_curves():
    chance = np.random.default_rng(5)
    exact = curve(0.0, CAN.height / 2)
    lines = [
        heating_penetration(TIME, exact + chance.normal(0, 0.1, TIME.size), held(), part=(5400.0, 9000.0)).line
        for _ in range(200)
    ]
    slope = heating_penetration(TIME, exact, held(), part=(5400.0, 9000.0)).line.f
    inside = np.mean([line.f_low <= slope <= line.f_high for line in lines])
    assert 0.90 <= inside <= 0.99


def broken(f_before, f_after, when):
    left = np.where(when > TIME, -TIME / f_before, -when / f_before - (TIME - when) / f_after)
    return 121.1 - 101.1 * 10.0**left


@pytest.mark.parametrize(("before", "after"), [(1500.0, 4500.0), (4500.0, 1500.0)])
def test_broken_heating_is_found_with_both_slopes(before, after):
    temperature = broken(before, after, 2400.0) + np.random.default_rng(2).normal(0, 0.1, TIME.size)
    found = heating_penetration(TIME, temperature, held()).broken
    assert found.clear
    # the grid of breaks is some minutes wide
    assert_allclose([found.before, found.after, found.time], [before, after, 2400.0], rtol=0.08)


def test_conduction_at_the_centre_is_not_broken():
    noisy = curve(0.0, CAN.height / 2) + np.random.default_rng(3).normal(0, 0.1, TIME.size)
    assert not heating_penetration(TIME, noisy, held()).broken.clear


def test_a_curve_that_ends_early_or_starts_at_the_medium_has_no_factors():
    early = heating_penetration(TIME[:20], curve(0.0, CAN.height / 2)[:20], held(end=570.0))
    assert early.line is None and "before its straight part" in early.remark
    warm = heating_penetration(TIME, curve(0.0, CAN.height / 2, start=120.5), held())
    assert warm.line is None and "too close" in warm.remark


@pytest.mark.parametrize(("step", "trapezoid"), [(60.0, 0.004913), (120.0, 0.01959)])
def test_the_trapezoidal_error_on_a_ramp_is_estimated(step, trapezoid):
    """Ramp 100 to 121.1 degC in 20 min: trapezoids over-read by the parts given (computed, closed form)."""
    time = np.arange(0.0, 1200.0 + step / 2, step)
    found = general_method(time, 100.0 + 21.1 * time / 1200.0, F0, heated_until=1200.0)
    exact = lethality_of_ramp(100.0, 121.1, duration=1200.0, reference=121.1, z=10.0)
    assert_allclose(found.lethality, exact, rtol=1e-12)
    assert_allclose(found.trapezoids / exact - 1, trapezoid, rtol=2e-3)
    # the estimate neglects the fourth power of the interval
    assert_allclose(found.trapezoidal_error / exact, trapezoid, rtol=0.03)


def test_lethality_of_a_sampled_exponential_heating_is_the_closed_form():
    time = np.arange(0.0, 5401.0, 30.0)
    found = general_method(time, 121.1 - 101.1 * np.exp(-time / 1200.0), F0, heated_until=2700.0)
    exact = [
        lethality_of_exponential_heating(
            121.1, 101.1, time_constant=1200.0, start=0.0, stop=stop, reference=121.1, z=10.0
        )
        for stop in (5400.0, 2700.0)
    ]
    # computed, exponential integrals: 20.3606260174925 min
    assert_allclose(exact[0] / 60, 20.3606260174925, rtol=1e-12)
    # straight lines between samples 30 s apart, where the curve bends
    assert_allclose([found.lethality, found.heating], exact, rtol=2e-3)


def test_lag_factor_is_that_of_the_series_product():
    beta = 2.404825557695773
    first = 1 / (math.pi * beta) * 8 / 0.519147497289467  # J1(beta1), computed
    assert_allclose(first, 2.03969753379392, rtol=1e-12)
