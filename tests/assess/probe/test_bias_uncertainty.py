"""Rung: hand-worked. Uncertainty of a bias, where errors cancel in it and where its largest value is not clear."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from small_cans import small_can

from thermsim.assess.fields.curve import Curve
from thermsim.assess.probe.effect import bias_of
from thermsim.assess.probe.uncertainty import _How, _in_all, _of_bias, _of_largest


@pytest.mark.parametrize(
    ("course", "off", "known"),
    [
        ((0.0, 3.0, -1.0), 0.5, 0.5),  # the other sign is 2 K less: it cannot be the largest
        ((0.0, 3.0, -2.5), 0.5, 5.5),  # 0.5 K less, and each may be off by 0.5: it may as well be -2.5
        ((-3.0, 2.5, 0.0), 0.5, 5.5),
        ((0.0, 3.0, 2.9), 0.5, 0.5),  # as large, but of the same sign
        ((), 0.5, 0.0),
    ],
)
def test_a_largest_difference_may_as_well_be_the_one_of_the_other_sign(course, off, known):
    course = np.array(course)
    assert_allclose(_of_largest(course, np.full(course.shape, off)), known)


def test_errors_that_reading_and_place_share_do_not_count():
    case = small_can()
    time = np.linspace(0.0, case.process.end, 201)
    until = case.process.heated_until

    def curve(temperature, more):
        """At ``more`` kelvin above a steady temperature: ``10**(more / z)`` times the lethality."""
        worth = 10.0 ** (more / case.lethality.z)
        return Curve(
            "", 0.0, 0.0, 2e3 * worth, 1e3 * worth, temperature + more, time, np.full(time.shape, temperature + more)
        )

    def way(read, place):
        reading, held_to = curve(112.0, read), curve(110.0, place)
        return bias_of(reading, held_to, until), reading, held_to

    def stated(*others):
        ways = [way(0.0, 0.0), *(way(*one) for one in others)]
        return _of_bias("at", ways, dict.fromkeys(names, 0.0), _How(case, 0.0, (0.25, 1.0 / 3.0), 0.0))

    figures = (
        "lethality",
        "heating_lethality",
        "cooling_lethality",
        "temperature",
        "cooling_temperature",
        "end_of_heating",
    )
    names = [f"at.{figure}" for figure in figures]
    assert_allclose([stated((0.1, 0.1), (0.2, 0.2))[name] for name in names], 0.0, atol=1e-12)
    found = stated((0.1, 0.0), (0.0, 0.0))
    # seven tenths of a quarter of 0.1 K where it is largest; of what is gathered half a quarter, of all of it less
    assert_allclose([found["at.temperature"], found["at.cooling_temperature"]], 0.7 * 0.025, rtol=1e-9)
    assert_allclose(found["at.end_of_heating"], 0.0125, rtol=1e-9)
    worth = math.log(10.0) / case.lethality.z
    assert_allclose([found[name] for name in names[:3]], worth * 0.0125 * np.array([0.6, 1.0, 1.0]), rtol=1e-9)


def test_a_readings_lethality_in_all_is_about_as_uncertain_as_that_while_heating():
    """By four fifths; what coarser grids change of it through a jump into cooling falls fast: a fiftieth counts."""
    case = small_can()
    time = np.linspace(0.0, case.process.end, 201)
    best = Curve("", 0.0, 0.0, 2000.0, 500.0, 110.0, time, np.full(time.shape, 110.0))
    coarser = dataclasses.replace(best, lethality=2200.0)
    assert_allclose(_in_all(best, (best, best), 5.0, case), 16.0, rtol=1e-12)
    assert_allclose(_in_all(best, (coarser, best), 5.0, case), 16.0 + 2000.0 * math.log(1.1) / 50, rtol=1e-12)
    # differences over time that cancel in it count all the same, half of their root mean square: 0.2 K
    to_and_fro = np.where(np.arange(time.size) % 2, 0.2, -0.2)
    shaken = dataclasses.replace(best, temperature=best.temperature + to_and_fro)
    worth = math.log(10.0) / case.lethality.z
    assert_allclose(_in_all(best, (best, shaken), 5.0, case), 16.0 + 2000.0 * worth * 0.1 / 3, rtol=1e-9)
