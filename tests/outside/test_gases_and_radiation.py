"""Rung: other codes. Gas gaps and free convection against the property package CoolProp and the library ht."""

from __future__ import annotations

import ht
import numpy as np
import pytest
from numpy.testing import assert_allclose

from thermsim.physics.films import air, free_film
from thermsim.physics.gap import GasGap, air_conductivity, gap_parts, saturation

SEALED = GasGap("humid", 0.01, 0.9, 0.9, sealed_at=60.0)


@pytest.mark.parametrize(
    ("temperature", "pressure", "conductivity"),
    [
        # moist gap, both faces wet, closed at 60 degC and 101.325 kPa, no radiation (computed: vapour pressure and
        # latent heat by CoolProp, diffusivity in the form of Marrero and Mason, from memory; gas at constant volume)
        (25.0, 76.00e3, 0.1431),
        (40.0, 83.88e3, 0.2682),
        (60.0, 101.33e3, 0.5845),
        (80.0, 133.68e3, 1.1664),
        (100.0, 192.57e3, 2.1340),
        (115.0, 264.00e3, 3.1890),
        (121.1, 302.00e3, 3.7123),
    ],
)
def test_a_sealed_moist_gap_conducts_as_computed_elsewhere(temperature, pressure, conductivity):
    parts = gap_parts(SEALED, temperature)
    assert_allclose(parts.pressure, pressure, rtol=0.005)
    assert_allclose(parts.gas + parts.vapour, conductivity, rtol=0.02)


@pytest.mark.parametrize(
    ("temperature", "grey", "bare"),
    # 4 sigma T^3/(1/e1 + 1/e2 - 1) for e 0.9 and 0.9, and for 0.9 and 0.1 (computed)
    [(25.0, 4.918, 0.595), (60.0, 6.862, 0.829), (100.0, 9.642, 1.166), (121.1, 11.372, 1.375)],
)
def test_radiation_between_the_faces_is_that_of_grey_plates(temperature, grey, bare):
    for emissivity, coefficient in ((0.9, grey), (0.1, bare)):
        parts = gap_parts(GasGap("air", 0.01, 0.9, emissivity), temperature)
        assert_allclose(parts.radiation / 0.01, coefficient, rtol=1e-3)


@pytest.mark.long  # loading the package takes seconds
def test_air_and_saturated_water_are_those_of_coolprop():
    from CoolProp.CoolProp import PropsSI

    for celsius in (5.0, 25.0, 60.0, 100.0, 121.1, 140.0):
        kelvin = celsius + 273.15
        assert_allclose(air_conductivity(celsius), PropsSI("L", "T", kelvin, "P", 101325.0, "Air"), rtol=2e-3)
        water = saturation(celsius)
        assert_allclose(water.pressure, PropsSI("P", "T", kelvin, "Q", 1, "Water"), rtol=1e-3)
        latent = PropsSI("H", "T", kelvin, "Q", 1, "Water") - PropsSI("H", "T", kelvin, "Q", 0, "Water")
        assert_allclose(water.latent_heat, latent, rtol=5e-3)


def test_still_air_on_a_wall_and_a_disc_has_the_nusselt_numbers_of_ht():
    fluid, height, difference = air(45.0), 0.116, 40.0
    grashof = 9.80665 * fluid.expansion * difference * height**3 / fluid.viscosity**2
    wall = free_film(fluid, difference, size=height, facing="side")
    assert_allclose(wall.nusselt, ht.Nu_vertical_plate_Churchill(Pr=fluid.prandtl, Gr=grashof), rtol=1e-3)
    disc = free_film(fluid, difference, size=0.2, facing="up")
    grashof = 9.80665 * fluid.expansion * difference * 0.05**3 / fluid.viscosity**2
    expected = ht.Nu_horizontal_plate_McAdams(Pr=fluid.prandtl, Gr=grashof, buoyancy=True)
    assert_allclose(disc.nusselt, expected, rtol=1e-3)
    assert np.isfinite(disc.film)
