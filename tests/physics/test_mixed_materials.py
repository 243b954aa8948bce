"""Rungs: hand-worked values, bounds for all compositions; clear refusals. Materials by composition and by tables."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from mixtures import DRY, MEAT, RULE_NAMES, compositions
from numpy.testing import assert_allclose

from thermsim.errors import InputError
from thermsim.physics.composition import Composition
from thermsim.physics.mixing import material_of, mixture_properties, table_material

# -- materials -------------------------------------------------------------------------------------------------------


def worst_between(composition, rule, low, high):
    """Largest relative difference of a material's tables from the equations."""
    tabulated = material_of(composition, rule=rule, low=low, high=high).tabulated
    temperature = np.linspace(low, high, 1501)
    exact = mixture_properties(composition, temperature, rule=rule)
    k = np.interp(temperature, tabulated.temperature, tabulated.conductivity)
    capacity = np.interp(temperature, tabulated.temperature, tabulated.capacity)
    return max(np.abs(k / exact.conductivity - 1.0).max(), np.abs(capacity / exact.capacity - 1.0).max())


@given(compositions(driest=1e-4, wettest=0.9999), st.sampled_from(RULE_NAMES))
@settings(max_examples=25, deadline=None)
def test_straight_lines_between_a_materials_temperatures_are_within_a_ten_thousandth(composition, rule):
    assert worst_between(composition, rule, 0.0, 150.0) < 1e-4


@given(compositions(ice=True), st.sampled_from(RULE_NAMES))
@settings(max_examples=25, deadline=None)
def test_straight_lines_below_0_degC_are_within_a_ten_thousandth(composition, rule):
    assert worst_between(composition, rule, -40.0, -0.01) < 1e-4


def test_the_continuous_phase_does_not_change_over_as_the_food_warms():
    # by volume ice takes the lead over water somewhere between -40 and 0 degC
    even = Composition(water=0.259765625, protein=0.1, fat=0.1, carbohydrate=0.1, fibre=0.1, ash=0.1, ice=0.240234375)
    assert worst_between(even, "maxwell-eucken", -40.0, -0.01) < 1e-4


@pytest.mark.parametrize("name", DRY)
def test_straight_lines_of_pure_components_are_within_a_ten_thousandth(name):
    assert worst_between(Composition(**{name: 1.0}), "parallel", -40.0, 150.0) < 1e-4
    assert worst_between(Composition(**{name: 1.0}), "parallel", 0.0, 150.0) < 1e-4


def test_a_material_of_a_composition_covers_what_was_asked_and_no_more():
    material = material_of(MEAT, low=5.0, high=124.0, reference=100.0, name="loaf")
    tabulated = material.tabulated
    assert (tabulated.temperature[0], tabulated.temperature[-1]) == (5.0, 124.0)
    assert np.diff(tabulated.temperature).max() <= 2.5
    at = mixture_properties(MEAT, 100.0)
    assert material.name == "loaf"
    assert (material.conductivity, material.density, material.specific_heat) == (
        float(at.conductivity),
        float(at.density),
        float(at.specific_heat),
    )
    assert_allclose(material.diffusivity, at.diffusivity, rtol=1e-15)
    assert tabulated.downwards == ()


def test_a_material_of_a_composition_says_where_its_numbers_come_from():
    source = material_of(MEAT, rule="series", low=5.0, high=125.0).source
    for part in (
        "composition water 0.72, protein 0.21, fat 0.05, ash 0.02 (mass fractions)",
        "Choi and Okos (1986), stated for -40 to 150 degC",
        'rule "series"',
        "from 5 to 125 degC",
        "single numbers at 65 degC",
    ):
        assert part in source


@pytest.mark.parametrize(
    ("asked", "fault"),
    [
        ({"low": 20.0, "high": 5.0}, "product: temperatures from 20 to 5 degC; the first must be the lower one"),
        ({"low": 20.0, "high": 20.0}, "product: temperatures from 20 to 20 degC; the first must be the lower one"),
        (
            {"low": 5.0, "high": 100.0, "reference": 101.0},
            "product: reference temperature 101 degC is outside 5 to 100 degC, where the properties are given",
        ),
    ],
)
def test_temperatures_of_a_material_that_make_no_sense_are_refused(asked, fault):
    with pytest.raises(InputError) as refused:
        material_of(MEAT, **asked)
    assert str(refused.value) == fault


# -- the user's own tables -------------------------------------------------------------------------------------------


def test_tables_are_read_on_the_union_of_their_temperatures():
    # by hand: k at 60 is halfway between 0.50 and 0.54; c at 40 is a third of the way from 3600 to 3720
    paste = table_material(
        "paste",
        conductivity=[[20, 0.50], [40, 0.51], [80, 0.55], [120, 0.57]],
        specific_heat=[[20, 3600], [80, 3720], [120, 3800]],
        density=1000,
        reference=60.0,
        source="own measurement",
    )
    assert paste.tabulated.temperature == (20.0, 40.0, 80.0, 120.0)
    assert_allclose(paste.tabulated.conductivity, [0.50, 0.51, 0.55, 0.57], rtol=1e-14)
    assert_allclose(paste.tabulated.capacity, [3.60e6, 3.64e6, 3.72e6, 3.80e6], rtol=1e-14)
    assert_allclose([paste.conductivity, paste.density, paste.specific_heat], [0.53, 1000.0, 3680.0], rtol=1e-14)
    assert paste.source == "own measurement; table from 20 to 120 degC; single numbers at 60 degC"


def test_tables_count_only_where_all_of_them_reach():
    paste = table_material(
        "paste",
        conductivity=[[0, 0.48], [150, 0.63]],
        specific_heat=[[20, 3600], [120, 3800]],
        density=[[10, 1050], [110, 950]],
    )
    assert paste.tabulated.temperature == (20.0, 110.0)
    assert_allclose(paste.tabulated.conductivity, [0.50, 0.59], rtol=1e-14)
    assert_allclose(paste.tabulated.capacity, [1040.0 * 3600.0, 950.0 * 3780.0], rtol=1e-14)
    assert paste.source == "table from 20 to 110 degC; single numbers at 65 degC"


def test_a_table_of_one_property_leaves_the_others_as_they_are():
    paste = table_material("paste", conductivity=0.5, specific_heat=[[20, 3600], [120, 3800]], density=1000)
    assert paste.tabulated.conductivity == (0.5, 0.5)
    assert (paste.conductivity, paste.density, paste.specific_heat) == (0.5, 1000.0, 3700.0)


def test_without_a_table_a_material_is_constant():
    paste = table_material("paste", conductivity=0.5, specific_heat=3600, density=1000, source="own")
    assert paste.tabulated is None
    assert (paste.conductivity, paste.density, paste.specific_heat, paste.source) == (0.5, 1000.0, 3600.0, "own")


def test_tables_of_a_composition_give_the_same_courses_back():
    whole = material_of(MEAT, low=5.0, high=125.0)
    temperature = whole.tabulated.temperature
    parts = mixture_properties(MEAT, temperature)
    again = table_material(
        "again",
        conductivity=np.column_stack([temperature, parts.conductivity]),
        specific_heat=np.column_stack([temperature, parts.specific_heat]),
        density=np.column_stack([temperature, parts.density]),
    )
    assert again.tabulated.temperature == temperature
    assert_allclose(again.tabulated.capacity, whole.tabulated.capacity, rtol=1e-14)
    assert_allclose(again.tabulated.conductivity, whole.tabulated.conductivity, rtol=1e-14)


HOW = "must be a number, or two or more pairs [temperature in degC, value]"


@pytest.mark.parametrize(
    ("values", "fault"),
    [
        (0, "conductivity = 0 must be above 0"),
        (-1.5, "conductivity = -1.5 must be above 0"),
        ([[20, 0.5]], f"conductivity {HOW}, not [...]"),
        ([], f"conductivity {HOW}, not []"),
        ([20, 0.5], f"conductivity {HOW}, not [20, 0.5]"),
        ("0.5", f'conductivity {HOW}, not "0.5"'),
        ([[20, 0.5], [40, 0.5, 1]], f"conductivity {HOW}; pair no. 2 is [40, 0.5, 1]"),
        ([[20, 0.5], [40, "x"]], f'conductivity {HOW}; pair no. 2 is [40, "x"]'),
        ([[20, 0.5], [math.nan, 0.5]], f"conductivity {HOW}; pair no. 2 is [nan, 0.5]"),
        ([[40, 0.5], [20, 0.5]], "conductivity: temperatures must increase, but 20 degC follows 40 degC"),
        ([[20, 0.5], [20, 0.6]], "conductivity: temperatures must increase, but 20 degC follows 20 degC"),
        ([[20, 0.5], [40, -0.5]], "conductivity = -0.5 at 40 degC must be above 0"),
        ([[-300, 0.5], [40, 0.5]], "conductivity: temperature -300 degC is below absolute zero"),
    ],
)
def test_a_faulty_table_is_refused_in_one_line(values, fault):
    with pytest.raises(InputError) as refused:
        table_material("paste", conductivity=values, specific_heat=3600.0, density=1000.0)
    assert str(refused.value) == f"paste: {fault}"


def test_all_faults_of_a_materials_tables_are_told_at_once():
    with pytest.raises(InputError, match=r"^paste: conductivity = -1 must .*; specific_heat must .*; density must "):
        table_material("paste", conductivity=-1, specific_heat=[[20, 3600]], density="x")


def test_tables_without_a_common_range_are_refused():
    with pytest.raises(
        InputError, match=r"no range .* in common: conductivity 20 to 40 degC, specific_heat 40 to 90"
    ):
        table_material(
            "paste", conductivity=[[20, 0.5], [40, 0.6]], specific_heat=[[40, 3600], [90, 3700]], density=9
        )


def test_a_reference_outside_the_tables_is_refused():
    with pytest.raises(InputError, match="paste: reference temperature 50 degC is outside 20 to 40 degC"):
        table_material("paste", conductivity=[[20, 0.5], [40, 0.6]], specific_heat=9, density=9, reference=50.0)
