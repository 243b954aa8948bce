"""Bodies under a medium that changes: Duhamel's theorem against quadrature and known limits."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import integrate

from thermsim.exact import CentredBody, FiniteCylinder, Slab
from thermsim.exact.duhamel import Medium, superpose

INF = np.inf
R, Z = np.array([0.0, 0.02, 0.0365]), np.array([0.0, 0.03, 0.11])
KNOTS = [0.0, 0.0, 600.0, 3600.0, 3700.0, 3700.0, 6000.0]
MEDIUM = [25.0, 40.0, 121.1, 121.1, 25.0, 30.0, 27.0]


def can(*films: float) -> FiniteCylinder:
    return FiniteCylinder(0.0365, 0.11, 0.5, 1040.0, 3650.0, *films)


@pytest.mark.parametrize("films", [(INF, INF, INF), (180.0, 60.0, 2000.0), (INF, 0.0, 5.0)])
@pytest.mark.parametrize("time", [2.0, 90.0, 601.0, 3650.0, 3700.5, 7000.0])
def test_ramps_and_jumps_agree_with_adaptive_quadrature(films: tuple[float, float, float], time: float) -> None:
    body, r, z = can(*films), 0.03, 0.1

    def theta(age: float) -> float:
        return float(body.unaccomplished(r, z, age)[0, 0, 0])

    expected = np.interp(time, KNOTS[1:4] + [3700.0], MEDIUM[1:4] + [25.0]) if time < 3700.0 else 0.0
    if time >= 3700.0:
        expected = 30.0 - 3.0 / 2300.0 * (min(time, 6000.0) - 3700.0)
    for instant, height in ((0.0, 40.0 - 20.0), (3700.0, 5.0)):
        expected -= height * theta(time - instant) if time >= instant else 0.0
    for start, stop, slope in ((0.0, 600.0, 81.1 / 600.0), (3600.0, 3700.0, -0.961), (3700.0, 6000.0, -3.0 / 2300.0)):
        if time > start:
            young, old = max(time - stop, 0.0), time - start
            marks = [m for m in (1.0, 10.0, 100.0, 1000.0) if young < m < old]
            expected -= slope * integrate.quad(theta, young, old, points=marks or None, epsabs=1e-9, limit=200)[0]
    found = body.temperature(r, z, time, initial=20.0, medium_time=KNOTS, medium=MEDIUM)
    # what the adaptive quadrature promises
    assert_allclose(found, [[[expected]]], rtol=0, atol=1e-8)


def test_result_does_not_depend_on_the_age_at_which_modes_take_over() -> None:
    body, course = can(180.0, 60.0, 0.0), Medium(np.array(KNOTS), np.array(MEDIUM))
    times = np.sort(np.concatenate([np.logspace(-3, 5, 40), [600.0, 3600.0, 3700.0, 3600.5]]))
    directions = (body.side.along(R), body.ends.along(Z))
    shorter, longer = (
        superpose(directions, times, split=split, initial=20.0, medium=course) for split in (30.0, 400.0)
    )
    assert_allclose(shorter, longer, rtol=0, atol=1e-11)


@pytest.mark.parametrize("film", [0.0, 1e-9, 60.0, INF])
def test_no_place_leaves_the_range_of_start_and_medium(film: float) -> None:
    field = can(film, 60.0, INF).temperature(
        np.linspace(0, 0.0365, 9),
        np.linspace(0, 0.11, 12),
        np.linspace(0.0, 9000.0, 181),
        initial=20.0,
        medium_time=KNOTS,
        medium=MEDIUM,
    )
    assert field.min() >= 20.0 - 1e-11
    assert field.max() <= 121.1 + 1e-11


def test_insulated_body_keeps_its_temperature_through_any_process() -> None:
    field = can(0.0, 0.0, 0.0).temperature(
        R, Z, [0.0, 10.0, 3650.0, 1e7], initial=33.0, medium_time=KNOTS, medium=MEDIUM
    )
    assert_allclose(field, 33.0, rtol=0, atol=1e-10)


def test_a_jump_is_the_limit_of_a_steep_ramp() -> None:
    body = can(180.0, 60.0, 2000.0)
    times = [50.0, 1000.0, 1300.0]
    jump = body.temperature(R, Z, times, initial=20.0, medium_time=[0.0, 1000.0, 1000.0], medium=[90.0, 90.0, 30.0])
    ramp = body.temperature(R, Z, times, initial=20.0, medium_time=[0.0, 1000.0, 1000.001], medium=[90.0, 90.0, 30.0])
    # half a millisecond of delay
    assert_allclose(jump, ramp, rtol=0, atol=1e-3)


def test_at_a_jump_only_a_fixed_surface_moves_at_once() -> None:
    body = can(INF, 100.0, 0.0)
    course = {"initial": 20.0, "medium_time": [0.0, 1000.0, 1000.0], "medium": [90.0, 90.0, 30.0]}
    before, at, after = body.temperature(R, Z[1:], [1000.0 - 1e-9, 1000.0, 1000.0 + 1e-9], **course)
    assert_allclose(at[:2], before[:2], rtol=0, atol=1e-9)
    assert_allclose(before[2], 90.0, rtol=0, atol=1e-9)
    assert_allclose([at[2], after[2]], 30.0, rtol=0, atol=1e-9)


def test_knots_on_a_straight_line_change_nothing() -> None:
    body, times = can(180.0, 60.0, 2000.0), np.linspace(0.0, 4000.0, 41)
    knots = np.linspace(0.0, 3000.0, 401)
    few = body.temperature(R, Z, times, initial=20.0, medium_time=[0.0, 3000.0], medium=[20.0, 120.0])
    many = body.temperature(R, Z, times, initial=20.0, medium_time=knots, medium=20.0 + knots / 30.0)
    assert_allclose(few, many, rtol=0, atol=1e-11)


def test_sinusoidal_medium_ends_in_the_known_oscillation() -> None:
    # gain and phase at the centre of a cylinder, radius 40 mm, alpha 1.5e-7, period 3600 s, fixed surface:
    # 1/I0(R sqrt(i w/alpha)); computed, mpmath, 40 digits
    gain, phase = 0.2416816437540, -2.636129624055
    body = CentredBody(0.04, 0.5, 1000.0, 0.5 / (1000.0 * 1.5e-7), film=INF, curvature=1)
    omega = 2.0 * np.pi / 3600.0
    knots = np.linspace(0.0, 36000.0, 3601)
    times = np.linspace(32400.0, 36000.0, 9)
    centre = body.temperature(0.0, times, initial=0.0, medium_time=knots, medium=np.sin(omega * knots))[:, 0]
    # straight pieces of 10 s miss the sine by up to (w dt)^2/8 = 4e-5 of the amplitude, times the gain
    assert_allclose(centre, gain * np.sin(omega * times + phase), rtol=0, atol=1e-5)


def test_order_of_times_does_not_matter() -> None:
    body, times = can(180.0, 60.0, 2000.0), np.array([5000.0, 10.0, 3650.0, 10.0])
    course = {"initial": 20.0, "medium_time": KNOTS, "medium": MEDIUM}
    mixed = body.temperature(R, Z, times, **course)
    one_by_one = np.concatenate([body.temperature(R, Z, t, **course) for t in times])
    assert_allclose(mixed, one_by_one, rtol=0, atol=1e-11)


def test_before_the_process_begins_nothing_has_happened() -> None:
    field = can(180.0, 60.0, 2000.0).temperature(
        R, Z, [-50.0, 99.0, 100.0], initial=20.0, medium_time=[100.0, 200.0], medium=[80.0, 90.0]
    )
    assert_allclose(field, 20.0, rtol=0, atol=1e-11)


def test_very_long_processes_end_at_the_medium() -> None:
    field = can(180.0, 60.0, 2000.0).temperature(
        R, Z, 1e12, initial=20.0, medium_time=[0.0, 600.0, 1e8, 1e8], medium=[20.0, 121.1, 121.1, 25.0]
    )
    assert_allclose(field, 25.0, rtol=0, atol=1e-11)


def test_heat_in_is_heat_stored_under_a_ramp() -> None:
    # d(mean T)/dt rho c V = sum of h A (medium - mean surface T); a slab has the faces as its surfaces
    slab = Slab(0.04, 0.5, 1000.0, 3500.0, film_base=300.0, film_lid=40.0)
    course = {"initial": 20.0, "medium_time": [0.0, 500.0, 2000.0], "medium": [30.0, 110.0, 110.0]}
    for time in (300.0, 501.0, 1500.0):
        step = 0.05
        before, after = slab.mean_temperature([time - step, time + step], **course)
        base, lid = slab.temperature([0.0, 0.04], time, **course)[0]
        medium = min(30.0 + 80.0 * time / 500.0, 110.0)
        flow = 300.0 * (medium - base) + 40.0 * (medium - lid)
        # central difference of a curve whose third derivative is below 1e-3 of its slope over a step squared
        assert_allclose((after - before) / (2 * step) * 1000.0 * 3500.0 * 0.04, flow, rtol=1e-5)


def test_mean_of_the_can_is_the_mean_over_its_volume() -> None:
    body, course = can(180.0, 60.0, 2000.0), {"initial": 20.0, "medium_time": KNOTS, "medium": MEDIUM}
    nodes, weights = np.polynomial.legendre.leggauss(40)
    xi, share = 0.5 * (1.0 + nodes), 0.5 * weights
    field = body.temperature(0.0365 * xi, 0.11 * xi, [1000.0, 4200.0], **course)
    mean = np.einsum("trz,r,z->t", field, 2.0 * xi * share, share)
    assert_allclose(body.mean_temperature([1000.0, 4200.0], **course), mean, rtol=0, atol=1e-9)


def test_faulty_media_are_refused() -> None:
    body = can(1.0, 1.0, 1.0)
    with pytest.raises(ValueError, match="must be of one length >= 1, got 2 and 1"):
        body.temperature(0.0, 0.0, 1.0, initial=20.0, medium_time=[0.0, 1.0], medium=[20.0])
    with pytest.raises(ValueError, match="medium_time decreases at entry 2"):
        body.temperature(0.0, 0.0, 1.0, initial=20.0, medium_time=[0.0, 2.0, 1.0], medium=[20.0, 30.0, 40.0])
    with pytest.raises(ValueError, match="medium holds a temperature that is not finite"):
        body.temperature(0.0, 0.0, 1.0, initial=20.0, medium_time=[0.0], medium=[np.nan])
