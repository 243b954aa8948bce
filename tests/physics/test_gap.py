"""Rung: hand-worked. The gas gap under the lid, part by part; what holds for any gap by random ones."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_less

from thermsim.errors import InputError
from thermsim.physics.gap import (
    ATMOSPHERE,
    CRITICAL_RAYLEIGH,
    EMISSIVITIES,
    GAS_CONSTANT,
    KELVIN,
    WATER_MOLE,
    GasGap,
    air_conductivity,
    diffusivity_of_vapour,
    gap_capacity,
    gap_faults,
    gap_material,
    gap_parts,
    gap_rayleigh,
    gap_remarks,
    radiation_between,
    rayleigh_notice,
    saturation,
)

DRY = GasGap("air", 0.01, 0.9, 0.1)
SEALED = GasGap("humid", 0.01, 0.9, 0.1, sealed_at=60.0)
OPEN = GasGap("humid", 0.01, 0.9, 0.1)

GAPS = st.builds(
    GasGap,
    st.sampled_from(["air", "humid"]),
    st.floats(1e-3, 0.05),
    st.floats(0.02, 1.0),
    st.floats(0.02, 1.0),
    # 200 kPa: more than saturated vapour has at the hottest temperature tried
    pressure=st.floats(2.1e5, 5e5),
    sealed_at=st.one_of(st.none(), st.floats(5.0, 95.0)),
    lid_wet=st.booleans(),
)
TEMPERATURES = st.floats(1.0, 120.0)


def test_black_faces_exchange_4_sigma_t_cubed():
    # 4 x 5.670374419e-8 x 300^3 = 6.12400437
    assert_allclose(radiation_between(300.0 - KELVIN, 1.0, 1.0), 6.12400437, rtol=1e-9)


def test_grey_faces_exchange_less_by_hand():
    # 1/0.9 + 1/0.1 - 1 = 10.111...: 91 ninths
    assert_allclose(radiation_between(300.0 - KELVIN, 0.9, 0.1), 6.12400437 * 9 / 91, rtol=1e-9)


def test_a_dry_gap_conducts_by_gas_and_radiation_over_its_thickness():
    parts = gap_parts(DRY, [100.0])
    assert_allclose(parts.dry, air_conductivity(100.0) + 0.01 * radiation_between(100.0, 0.9, 0.1), rtol=1e-15)
    assert_allclose(parts.wet, parts.dry, rtol=0)
    assert_allclose(parts.vapour, 0.0, atol=0)


def test_a_dry_gap_conducts_the_same_at_any_pressure():
    other = dataclasses.replace(DRY, pressure=3e5)
    assert_allclose(gap_parts(other, [20.0, 120.0]).wet, gap_parts(DRY, [20.0, 120.0]).wet, rtol=0)


def test_vapour_carries_the_product_of_its_factors():
    # 60 degC, 101.325 kPa, factors printed with four digits: L = 2357.7 kJ/kg, D = 3.153e-5 m2/s,
    # M/(RT) = 6.504e-6 kg/m3Pa, p/(p - p_v) = 101.325/(101.325 - 19.946) = 1.2451, dp_v/dT = 923.1 Pa/K
    by_hand = 2.3577e6 * 3.153e-5 * 6.504e-6 * 1.2451 * 923.1
    # five factors of four digits each
    assert_allclose(gap_parts(OPEN, [60.0]).vapour, by_hand, rtol=5e-4)


def test_vapour_spreads_half_as_fast_under_twice_the_pressure():
    assert_allclose(
        diffusivity_of_vapour(80.0, 2 * ATMOSPHERE), diffusivity_of_vapour(80.0, ATMOSPHERE) / 2, rtol=1e-15
    )


def test_a_sealed_gap_keeps_its_dry_gas():
    # closed at 60 degC under 101.325 kPa with 19.946 kPa of vapour: 81.379 kPa of dry gas, at 121.1 degC
    # 81.379 x 394.25/333.15 = 96.304 kPa; vapour there 205.695 kPa
    parts = gap_parts(SEALED, [60.0, 121.1])
    # vapour pressures of six digits
    assert_allclose(parts.pressure, [101325.0, 301999.0], rtol=3e-5)
    dry = parts.pressure - parts.vapour_pressure
    assert_allclose(dry[1] / dry[0], 394.25 / 333.15, rtol=1e-12)


def test_heat_flows_downwards_without_vapour():
    tabulated = gap_material(SEALED, low=20.0, high=121.0).tabulated
    parts = gap_parts(SEALED, tabulated.temperature)
    assert_allclose(tabulated.conductivity, parts.wet, rtol=0)
    assert_allclose(tabulated.downwards, parts.dry, rtol=0)
    # at 121 degC a factor of hundred: what the two bounds are apart
    assert tabulated.conductivity[-1] > 50 * tabulated.downwards[-1]


@pytest.mark.parametrize("gap", [DRY, dataclasses.replace(SEALED, lid_wet=True)], ids=["air", "lid wet"])
def test_some_gaps_conduct_alike_both_ways(gap):
    assert gap_material(gap, low=20.0, high=121.0).tabulated.downwards == ()


def test_a_gap_at_a_pressure_at_which_it_would_boil_is_refused():
    with pytest.raises(
        InputError, match=r"a gap at a constant 101.3 kPa boils below 121 degC, .*saturated vapour: 205 kPa.*sealed"
    ):
        gap_material(OPEN, low=20.0, high=121.0)
    assert list(gap_faults(dataclasses.replace(OPEN, pressure=2.5e5), 121.0)) == []
    assert list(gap_faults(dataclasses.replace(OPEN, model="air"), 121.0)) == []


def test_a_gap_that_was_closed_boiling_is_refused():
    vacuum = dataclasses.replace(SEALED, pressure=15e3)
    with pytest.raises(
        InputError, match=r"a gap closed at 60 degC under 15 kPa boils: saturated vapour .* 19.95 kPa"
    ):
        gap_parts(vacuum, [20.0])


def test_temperatures_that_do_not_grow_are_refused():
    with pytest.raises(InputError, match="not from 60 to 60 degC"):
        gap_material(DRY, low=60.0, high=60.0)


def test_near_boiling_the_correction_for_vapour_is_held_at_ten():
    # saturated vapour has 0.9 of an atmosphere near 97 degC, and 0.98 at 99.5 degC
    parts = gap_parts(OPEN, [99.5])
    assert parts.vapour_pressure > 0.9 * parts.pressure
    water = saturation(99.5)
    still = diffusivity_of_vapour(99.5, ATMOSPHERE) * WATER_MOLE / (GAS_CONSTANT * (99.5 + KELVIN))
    assert_allclose(parts.vapour, 10.0 * water.latent_heat * still * water.slope, rtol=1e-12)


def test_where_the_correction_is_held_the_gap_conducts_far_better_than_food():
    # 0.7 W/mK: more than water, and so than any wet food
    for pressure, temperature in ((ATMOSPHERE, 97.0), (2.5e5, 124.5), (3e4, 67.0)):
        gap = dataclasses.replace(OPEN, pressure=pressure)
        assert gap_parts(gap, [temperature]).vapour > 4 * 0.7


def test_a_humid_gap_below_freezing_has_the_vapour_of_ice_water():
    parts = gap_parts(OPEN, [-18.0, 0.01])
    assert_allclose(parts.vapour_pressure[0], parts.vapour_pressure[1], rtol=0)
    assert 0.0 < parts.vapour[0] < 2 * parts.vapour[1]


def test_a_humid_gap_stores_the_latent_heat_of_staying_saturated():
    # the vapour's density by central differences over 0.02 K, of an ideal gas
    at = np.array([24.99, 25.01, 99.99, 100.01])
    density = saturation(at).pressure * WATER_MOLE / (GAS_CONSTANT * (at + KELVIN))
    latent = np.diff(density)[::2] / 0.02 * saturation([25.0, 100.0]).latent_heat
    stored = gap_capacity(SEALED, [25.0, 100.0])
    # without the latent heat a gas of 1 to 2 kg/m3 and 1 to 2 kJ/kgK is left
    assert_array_less(stored - latent, 2500.0)
    assert_array_less(700.0, stored - latent)
    # an open one is full of steam at 100 degC: about 0.59 kg/m3 as an ideal gas, of 1.89 kJ/kgK (by hand)
    steam = gap_capacity(OPEN, [100.0])[0] - latent[1]
    assert_allclose(steam, 0.59 * 1890.0, rtol=0.05)


def test_a_gap_stores_next_to_nothing():
    # 3e6 J/m3K: less than most wet foods
    assert_array_less(gap_capacity(SEALED, [20.0, 121.0]) / 3e6, 0.03)
    # dry air at 25 degC: 1.184 kg/m3 of 1007 J/kgK
    assert_allclose(gap_capacity(DRY, [25.0]), 1.184 * 1007.0, rtol=1e-3)


@pytest.mark.parametrize(
    ("gap", "high", "share", "rtol"),
    # as the tables' spacing promises: 1e-3 while vapour is less than 0.7 of the pressure, 2 % nearer to boiling
    [(DRY, 150.0, 1.0, 1e-3), (SEALED, 150.0, 0.7, 1e-3), (OPEN, 99.5, 0.7, 1e-3), (OPEN, 99.5, 1.0, 0.02)],
)
def test_straight_lines_between_the_courses_follow_the_curve(gap, high, share, rtol):
    tabulated = gap_material(gap, low=1.0, high=high).tabulated
    temperature = np.linspace(1.0, high, 3001)
    parts = gap_parts(gap, temperature)
    near = parts.vapour_pressure <= share * parts.pressure
    between = np.interp(temperature, tabulated.temperature, tabulated.conductivity)
    assert_allclose(between[near], parts.wet[near], rtol=rtol)
    assert_allclose(
        np.interp(temperature, tabulated.temperature, tabulated.capacity), gap_capacity(gap, temperature), rtol=1e-3
    )


def test_the_materials_single_numbers_are_those_in_the_middle_and_its_source_says_so():
    material = gap_material(SEALED, low=20.0, high=120.0)
    parts = gap_parts(SEALED, [70.0])
    assert_allclose(material.conductivity, parts.wet, rtol=1e-15)
    assert_allclose(material.capacity, gap_capacity(SEALED, [70.0]), rtol=1e-15)
    assert "(at 70 degC)" in material.source
    assert material.name == "humid air and radiation"
    # moist air: a little lighter than dry air, of 104.7 kPa x 0.02896/(R 343.15 K) = 1.06 kg/m3 and more
    assert 0.8 < material.density < 1.15


@given(GAPS, TEMPERATURES)
def test_any_gap_conducts_better_the_blacker_its_faces(gap, temperature):
    blacker = dataclasses.replace(
        gap,
        emissivity_product=min(1.0, 1.1 * gap.emissivity_product),
        emissivity_lid=min(1.0, 1.1 * gap.emissivity_lid),
    )
    assert gap_parts(blacker, [temperature]).dry >= gap_parts(gap, [temperature]).dry


@given(GAPS, TEMPERATURES)
def test_any_thicker_gap_lets_less_heat_pass_though_its_conductivity_is_more(gap, temperature):
    thicker = dataclasses.replace(gap, thickness=1.1 * gap.thickness)
    thin, thick = gap_parts(gap, [temperature]).wet, gap_parts(thicker, [temperature]).wet
    assert thick > thin
    assert thick / thicker.thickness < thin / gap.thickness


@given(GAPS, TEMPERATURES)
def test_any_gap_conducts_better_the_hotter_it_is(gap, temperature):
    low, high = gap_parts(gap, [temperature, temperature + 0.5]).wet
    assert high > low > 0.0


@given(GAPS)
def test_any_gap_is_a_material_whose_properties_are_positive(gap):
    material = gap_material(gap, low=1.0, high=120.0)
    assert min(material.conductivity, material.density, material.specific_heat) > 0.0
    assert (
        min(*material.tabulated.conductivity, *material.tabulated.capacity, *(material.tabulated.downwards or (1.0,)))
        > 0
    )
    assert np.all(np.diff(material.tabulated.temperature) > 0.0)
    assert (material.tabulated.temperature[0], material.tabulated.temperature[-1]) == (1.0, 120.0)


def test_the_gas_turns_over_only_over_a_hotter_product():
    assert gap_rayleigh(DRY, below=40.0, above=100.0) < 0.0
    assert gap_rayleigh(SEALED, below=40.0, above=100.0) < 0.0
    assert gap_rayleigh(DRY, below=70.0, above=70.0) == 0.0
    # air of 60 degC: nu = 1.897e-5, alpha = 2.697e-5 m2/s, rho = 1.060 kg/m3; beta D = 1/(300 + 33.15) x 40 K by
    # densities 353.1/T: (353.1/313.15 - 353.1/353.15)/1.060 = 0.1205; 9.80665 x 0.1205 x 1e-6/(5.116e-10) = 2310
    assert_allclose(gap_rayleigh(DRY, below=80.0, above=40.0), 2310.0, rtol=5e-3)
    # moist gas is lighter at the hot face, also because vapour is lighter than air
    assert gap_rayleigh(SEALED, below=80.0, above=40.0) > 1.3 * gap_rayleigh(DRY, below=80.0, above=40.0)


def test_the_rayleigh_number_grows_with_the_cube_of_the_thickness():
    thick = dataclasses.replace(SEALED, thickness=0.02)
    assert_allclose(
        gap_rayleigh(thick, below=80.0, above=40.0), 8 * gap_rayleigh(SEALED, below=80.0, above=40.0), rtol=1e-12
    )


def test_a_gap_that_turns_over_is_remarked_on_and_no_other():
    assert gap_rayleigh(DRY, below=80.0, above=40.0) > CRITICAL_RAYLEIGH
    assert "Rayleigh number of 2.3e+03, above the 1708" in rayleigh_notice(DRY, below=80.0, above=40.0).text
    assert rayleigh_notice(DRY, below=60.0, above=40.0) is None
    assert rayleigh_notice(DRY, below=40.0, above=80.0) is None


def test_remarks_say_what_is_assumed():
    assert len(gap_remarks(DRY, low=20.0, high=121.0)) == 1
    said = " ".join(gap_remarks(SEALED, low=20.0, high=121.0))
    assert "closed at 60 degC under 101.3 kPa" in said
    assert "bound with less heating" in said
    said = " ".join(gap_remarks(dataclasses.replace(OPEN, lid_wet=True), low=20.0, high=98.0))
    assert "at a constant 101.3 kPa" in said
    assert "bound with more heating" in said
    assert "At 98 degC vapour makes up 93 % of the gas's pressure" in said


def test_usual_emissivities_are_possible_ones():
    for low, high in EMISSIVITIES.values():
        assert 0.0 < low < high <= 1.0
