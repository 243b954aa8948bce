"""Heating factors f and j of conduction packs against the classical constants and computed values.

The classical constants 0.398, 0.427, 0.933, 0.233 and j = 2.04, 1.60, 1.27, 2.0: C. O. Ball and F. C. W. Olson,
Sterilization in Food Technology, 1957, and every later canning text (from memory). Their 15 digits and the tables
below: computed, mpmath with 40 digits. Trade sizes: diameter x height in whole inches and sixteenths, nominal outside
dimensions (can makers' public size lists, read); 307x113 from memory.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from thermsim.exact import CentredBody, FiniteCylinder, Slab, heating_factor_f, lag_factor_j

INF = np.inf
DIFFUSIVITY = 1.5e-7
CAN_307X409 = (0.08731250, 0.11588750)


def can(diameter: float, height: float, *, film: float = INF) -> FiniteCylinder:
    return FiniteCylinder(
        radius=diameter / 2,
        height=height,
        conductivity=0.5,
        density=1000.0,
        specific_heat=0.5 / (1000.0 * DIFFUSIVITY),
        film_side=film,
        film_base=film,
        film_lid=film,
    )


# curvature, f alpha/L^2, j at the centre, the classical two or three digits of both
CONSTANTS = [
    (0, 0.933202588237436, 1.27323954473516, 0.933, 1.27),
    (1, 0.398151660303999, 1.60197469692805, 0.398, 1.60),
    (2, 0.233300647059359, 2.0, 0.233, 2.0),
]


@pytest.mark.parametrize(("curvature", "f", "j", "classical_f", "classical_j"), CONSTANTS)
def test_factors_of_slab_cylinder_sphere(
    curvature: int, f: float, j: float, classical_f: float, classical_j: float
) -> None:
    body = CentredBody(1.0, 1.0, 1.0, 1.0, film=INF, curvature=curvature)
    assert_allclose(heating_factor_f(body), f, rtol=1e-14)
    assert_allclose(lag_factor_j(body, 0.0), [j], rtol=1e-14)
    # the last digit the trade prints
    assert_allclose(heating_factor_f(body), classical_f, rtol=0, atol=5e-4)
    assert_allclose(lag_factor_j(body, 0.0), [classical_j], rtol=0, atol=5e-3)


# D [mm], H [mm], f [min] at alpha = 1.5e-7 m2/s, f [min] of the classical form 0.398/((1/a^2 + 0.427/b^2) alpha)
CANS = [
    (53.975, 73.025, 26.12992927, 26.11594),
    (68.2625, 101.6, 43.21322612, 43.19106),
    (87.3125, 46.0375, 33.26483229, 33.23569),
    (87.3125, 115.8875, 67.87527764, 67.8386),
    (107.95, 177.8, 111.3667318, 111.3119),
    (157.1625, 177.8, 204.8793096, 204.7594),
]


@pytest.mark.parametrize(("diameter_mm", "height_mm", "f_min", "classical_f_min"), CANS)
def test_f_of_trade_sizes(diameter_mm: float, height_mm: float, f_min: float, classical_f_min: float) -> None:
    f = heating_factor_f(can(diameter_mm * 1e-3, height_mm * 1e-3)) / 60.0
    # printed with ten digits
    assert_allclose(f, f_min, rtol=1e-9)
    # the classical constants are rounded to three digits
    assert_allclose(f, classical_f_min, rtol=1e-3)


# r/R, then j at z/L = 0, 0.25, 0.5, 0.75, 0.9 from mid-height
J_OFF_CENTRE = [
    (0.0, [2.03969753379, 1.88443480399, 1.44228395772, 0.780558453219, 0.319078992543]),
    (0.25, [1.85950795020, 1.71796133573, 1.31487068126, 0.711602884894, 0.290891131428]),
    (0.5, [1.36645403642, 1.26243891637, 0.966228915334, 0.522919320827, 0.213760506190]),
    (0.9, [0.265719309067, 0.245492631040, 0.187891925333, 0.101686377239, 0.0415676579647]),
]


@pytest.mark.parametrize(("fraction", "expected"), J_OFF_CENTRE)
def test_j_off_the_centre(fraction: float, expected: list[float]) -> None:
    body = can(*CAN_307X409)
    z = 0.5 * body.height * (1.0 + np.array([0.0, 0.25, 0.5, 0.75, 0.9]))
    # printed with twelve digits
    assert_allclose(lag_factor_j(body, fraction * body.radius, z), [expected], rtol=1e-11)


# film [W/m2K], f [s], j at the centre; 307x409, k = 0.5 W/mK
FILMS = [
    (50.0, 6104.45089140, 1.84921752414),
    (250.0, 4441.18831728, 2.02618104316),
    (1000.0, 4162.20253285, 2.03876562264),
    (5000.0, 4090.31276120, 2.03965932491),
    (INF, 4072.51665817, 2.03969753379),
]


@pytest.mark.parametrize(("film", "f", "j"), FILMS)
def test_f_and_j_behind_a_film(film: float, f: float, j: float) -> None:
    body = can(*CAN_307X409, film=film)
    assert_allclose(heating_factor_f(body), f, rtol=1e-11)
    assert_allclose(lag_factor_j(body, 0.0, body.height / 2), [[j]], rtol=1e-11)


# time [s], exact theta at the centre, the straight line j 10^(-t/f) there
STRAIGHT_LINE = [
    (900.0, 0.943928955504, 1.22623074135),
    (1800.0, 0.674371754500, 0.737188630241),
    (3600.0, 0.262566271941, 0.266435129500),
]


@pytest.mark.parametrize(("time", "theta", "line"), STRAIGHT_LINE)
def test_heating_curve_joins_its_straight_line_late(time: float, theta: float, line: float) -> None:
    body = can(*CAN_307X409)
    centre = (0.0, body.height / 2)
    assert_allclose(body.unaccomplished(*centre, time), [[[theta]]], rtol=1e-11)
    assert_allclose(lag_factor_j(body, *centre) * 10.0 ** (-time / heating_factor_f(body)), [[line]], rtol=1e-11)


def test_unequal_ends_have_one_straight_line_too() -> None:
    slab = Slab(0.1, 0.5, 1000.0, 3500.0, film_base=1000.0, film_lid=10.0)
    time = 3.0 * heating_factor_f(slab)
    line = lag_factor_j(slab, 0.07) * 10.0 ** (-time / heating_factor_f(slab))
    # after 3 f the second mode is below 1e-12 of the first
    assert_allclose(slab.unaccomplished(0.07, time)[0], line, rtol=1e-10)
