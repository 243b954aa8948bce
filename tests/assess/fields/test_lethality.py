"""Rung: closed forms. Lethality of curves whose integral is known."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.integrate import quad

from thermsim.assess.fields.lethality import gathered_by_cubics, gathered_course, gathered_lethality, lethal_rate
from thermsim.assess.fields.reading import Course, reading_along
from thermsim.assess.simulate.simulation import simulate
from thermsim.assess.verify.bare_cylinder import STERILISATION, bare_cylinders
from thermsim.case.case import Lethality
from thermsim.exact import lethality_of_exponential_heating, lethality_of_ramp

F0 = Lethality(reference=121.1, z=10.0)


def test_lethal_rate_is_one_at_the_reference_and_ten_z_above():
    assert_allclose(lethal_rate(np.array([121.1, 131.1, 111.1]), F0), [1.0, 10.0, 0.1], rtol=1e-14)


def test_straight_pieces_are_integrated_exactly():
    # 20 to 121.1 degC in 10 min, 30 min hold, back in 10 min: 30.8591384408893 min (computed, closed form)
    time = np.array([0.0, 600.0, 2400.0, 3000.0])
    temperature = np.array([20.0, 121.1, 121.1, 20.0])
    assert_allclose(gathered_lethality(time, temperature, F0)[-1] / 60, 30.8591384408893, rtol=1e-12)


def test_two_samples_of_a_ramp_are_as_good_as_two_thousand():
    few = gathered_lethality(np.array([0.0, 1200.0]), np.array([100.0, 121.1]), F0)[-1]
    many = gathered_lethality(np.linspace(0, 1200, 2000), np.linspace(100.0, 121.1, 2000), F0)[-1]
    assert_allclose(few, lethality_of_ramp(100.0, 121.1, duration=1200.0, reference=121.1, z=10.0), rtol=1e-12)
    assert_allclose(many, few, rtol=1e-9)


@settings(max_examples=50, deadline=None, derandomize=True)
@given(st.floats(60.0, 2000.0), st.floats(5.0, 100.0))
def test_sampled_exponential_curve_approaches_the_closed_form(tau, excess):
    time = np.linspace(0.0, 5 * tau, 4001)
    temperature = 121.1 - excess * np.exp(-time / tau)
    exact = lethality_of_exponential_heating(
        121.1, excess, time_constant=tau, start=0.0, stop=5 * tau, reference=121.1, z=10.0
    )
    # chords of a concave curve lie below it: (dt^2/8 T'') ln10/z of the rate, at most a few 1e-5 here
    assert_allclose(gathered_lethality(time, temperature, F0)[-1], exact, rtol=2e-4)


def test_course_between_coarse_output_times_ends_at_what_was_computed():
    result = simulate(bare_cylinders()[0].case(STERILISATION).replace(output_every=99.0))
    curve = result.spots[0]
    course = gathered_course(curve, result.case)
    assert abs(gathered_lethality(curve.time, curve.temperature, F0)[-1] / curve.lethality - 1) > 0.005
    assert_allclose(course[-1], curve.lethality, rtol=1e-12)
    assert_allclose(course[curve.time == 3600.0], curve.heating_lethality, rtol=1e-12)
    assert np.all(np.diff(course) >= 0.0)


def test_the_lethal_rate_of_a_cubic_is_integrated():
    time = np.array([0.0, 600.0, 600.0, 900.0])
    temperature = np.array([[100.0, 60.0], [115.0, 118.0], [115.0, 118.0], [121.0, 90.0]])
    rate = np.array([[0.01, 0.2], [0.03, 0.0], [0.05, -0.01], [0.0, -0.1]])
    total = gathered_by_cubics(time, temperature, rate, Lethality(121.1, 10.0))
    for column in range(2):
        expected = 0.0
        for k in (0, 2):
            h = time[k + 1] - time[k]

            def lethal_rate(t, k=k, h=h, column=column):
                x = (t - time[k]) / h
                y = 1 - x
                value = (
                    y * y * (1 + 2 * x) * temperature[k, column]
                    + x * x * (1 + 2 * y) * temperature[k + 1, column]
                    + h * x * y * (y * rate[k, column] - x * rate[k + 1, column])
                )
                return 10 ** ((value - 121.1) / 10)

            expected += quad(lethal_rate, time[k], time[k + 1], epsabs=0, epsrel=1e-11)[0]
        # 1e-4: four Gauss points a decade, on a curve that spans several decades in one step of 10 min
        assert_allclose(total[3, column], expected, rtol=1e-4)
        assert total[2, column] == total[1, column]  # nothing gathers in no time


def test_a_reading_ends_heating_at_its_own_entry_not_at_the_next():
    """Straight from 100 to 121.1 degC in 600 s, then to 80 degC; at the knot there is one entry, or there are two."""
    slopes = (21.1 / 600.0, -41.1 / 300.0)
    for doubled in (False, True):
        time = np.array([0.0, 600.0, 600.0, 900.0])
        value = np.array([100.0, 121.1, 121.1, 80.0])
        rate = np.array([slopes[0], slopes[0], slopes[1], slopes[1]])
        if not doubled:
            time, value, rate = (np.delete(one, 2) for one in (time, value, rate))
        reading = reading_along(Course(time, value, rate), F0, heated_until=600.0, time=time)
        assert_allclose(reading.end_of_heating, 121.1, rtol=1e-12)
        ramp = lethality_of_ramp(100.0, 121.1, duration=600.0, reference=121.1, z=10.0)
        assert_allclose(np.exp(reading.log_heating), ramp, rtol=1e-6)


def test_course_of_a_process_without_cooling_ends_when_heating_does():
    """It is stretched to what was computed while heating, 700 s; of cooling there is nothing to stretch."""
    time, temperature = np.array([0.0, 600.0, 1200.0]), np.array([110.0, 121.1, 121.1])
    curve = SimpleNamespace(time=time, temperature=temperature, lethality=700.0, heating_lethality=700.0)
    case = SimpleNamespace(lethality=F0, process=SimpleNamespace(heated_until=1200.0))
    chords = gathered_lethality(time, temperature, F0)
    assert_allclose(gathered_course(curve, case), 700.0 * chords / chords[-1], rtol=1e-12)
