"""Rungs: hand-worked values, exact solution (coated spheres), bounds for all compositions; clear refusals."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from mixtures import MEAT, RULE_NAMES, compositions
from numpy.testing import assert_allclose
from scipy.optimize import brentq

from thermsim.errors import InputError
from thermsim.physics.composition import (
    COMPONENTS,
    HIGHEST,
    LOWEST,
    Composition,
    component_properties,
    composition_faults,
    composition_of,
)
from thermsim.physics.mixing import (
    RULES,
    conductivity_range,
    embedded,
    geometric,
    material_of,
    mixture_properties,
    parallel,
    series,
)

# -- compositions ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("total", [0.995, 1.0, 1.005])
def test_fractions_that_miss_one_by_rounding_are_brought_to_one(total):
    composition = Composition(water=total - 0.3, protein=0.3)
    assert_allclose(sum(composition.shares.values()), 1.0, rtol=1e-15)
    assert_allclose(composition.shares["protein"], 0.3 / total, rtol=1e-15)


def test_a_composition_rounded_alike_has_the_same_properties():
    exact = Composition(water=0.8, protein=0.2)
    rounded = Composition(water=0.8 * 1.004, protein=0.2 * 1.004)
    for name in ("conductivity", "density", "specific_heat"):
        one, other = (getattr(mixture_properties(c, 60.0), name) for c in (exact, rounded))
        assert_allclose(one, other, rtol=1e-14)


REFUSED = [
    ({"water": 0.9}, "mass fractions add up to 0.9, must be 1 within 0.005"),
    ({"water": 0.9, "fat": 0.1051}, "mass fractions add up to 1.0051, must be 1 within 0.005"),
    ({}, "mass fractions add up to 0, must be 1 within 0.005"),
    (
        {"water": 72, "protein": 21, "fat": 5, "ash": 2},
        "mass fractions add up to 100, must be 1 within 0.005; these look like percentages: divide each by 100",
    ),
    ({"water": 1.01, "fat": -0.01}, "fat = -0.01 must be at least 0"),
    ({"water": math.nan}, "water = nan is not a finite number; a mass fraction from 0 to 1 is needed"),
    ({"water": math.inf}, "water = inf is not a finite number; a mass fraction from 0 to 1 is needed"),
    ({"water": True}, "water = true is not a finite number; a mass fraction from 0 to 1 is needed"),
    ({"water": "0.7"}, 'water = "0.7" is not a finite number; a mass fraction from 0 to 1 is needed'),
    ({"watr": 1.0}, 'unknown component "watr"; did you mean "water"?'),
    ({"fiber": 1.0}, 'unknown component "fiber"; did you mean "fibre"?'),
    ({"Starch": 1.0}, 'unknown component "Starch"; here it counts as "carbohydrate"'),
    ({"air": 1.0}, "air is not supported; give tables of the aerated food's own properties"),
    ({"zzz": 1.0}, 'unknown component "zzz"; allowed here: water, protein, fat, carbohydrate, fibre, ash, ice'),
]


@pytest.mark.parametrize(("fractions", "fault"), REFUSED)
def test_a_faulty_composition_is_refused_in_one_line(fractions, fault):
    assert composition_faults(fractions) == [fault]
    with pytest.raises(InputError) as refused:
        composition_of(fractions)
    assert str(refused.value) == f"composition: {fault}"


def test_all_faults_of_a_composition_are_told_at_once():
    with pytest.raises(InputError, match=r'^composition: unknown component "watr";.*; fat = -1 must be at least 0$'):
        composition_of({"watr": 0.5, "fat": -1})


def test_a_composition_built_in_python_is_checked_too():
    with pytest.raises(InputError, match="composition: mass fractions add up to 0.5, must be 1 within 0.005"):
        Composition(water=0.5)
    assert composition_of({"water": 0.72, "protein": 0.21, "fat": 0.05, "ash": 0.02}) == MEAT


# -- component equations ---------------------------------------------------------------------------------------------


def test_component_equations_are_summed_by_hand():
    # protein at 100 degC: 0.17881 + 0.11958 - 0.027178; 1329.9 - 51.84; 2.0082 + 0.12089 - 0.013129 kJ/kgK
    protein = component_properties("protein", 100.0)
    # rounding of double precision
    assert_allclose(protein.conductivity, 0.271212, rtol=1e-12)
    assert_allclose(protein.density, 1278.06, rtol=1e-12)
    assert_allclose(protein.specific_heat, 2115.961, rtol=1e-12)
    assert_allclose(protein.diffusivity, 0.271212 / (1278.06 * 2115.961), rtol=1e-12)


def test_fat_conducts_little_and_little_worse_when_hot():
    # a slip in print gives 2.7604e-3 for the slope: negative above 65 degC
    fat = component_properties("fat", np.linspace(LOWEST, HIGHEST, 39)).conductivity
    assert np.all((fat > 0.13) & (fat < 0.195))
    assert np.all(np.diff(fat) < 0.0)


def test_fats_specific_heat_rises_by_a_twelfth_from_0_to_150_degC():
    # by hand: 1.9842 + 0.220995 - 0.108018; a slip in print has the slope ten times too small, which makes it fall
    assert_allclose(component_properties("fat", [0.0, 150.0]).specific_heat, [1984.2, 2097.177], rtol=1e-12)


def test_fibres_specific_heat_is_not_the_misprint():
    # a slip in print begins with 1.8549 instead of 1.8459, half a percent away
    assert_allclose(component_properties("fibre", 0.0).specific_heat, 1845.9, rtol=1e-12)


def test_waters_specific_heat_rises_from_20_to_150_degC():
    # with both signs flipped, a slip in print, it falls
    rising = component_properties("water", np.linspace(20.0, 150.0, 27)).specific_heat
    assert np.all(np.diff(rising) > 0.0)
    assert_allclose(component_properties("water", 0.0).specific_heat, 4176.2, rtol=1e-12)


def test_unfrozen_waters_specific_heat_rises_as_it_cools_below_0_degC():
    # by hand at -20 degC: 4.0817 + 0.106124 + 0.398064 kJ/kgK; a flipped sign of the first power gives 4.3736
    assert_allclose(component_properties("water", -20.0).specific_heat, 4585.888, rtol=1e-12)


def test_ice_conducts_as_ice_does():
    # a slip in print has the slope ten times too big; by hand at -20 degC: 2.2196 + 0.124978 + 0.040616
    assert_allclose(component_properties("ice", -20.0).conductivity, 2.385194, rtol=1e-12)


@pytest.mark.parametrize("name", COMPONENTS)
def test_components_keep_the_shape_of_what_is_asked(name):
    asked = np.array([[-30.0, -20.0], [-10.0, -1.0]])
    found, single = component_properties(name, asked), component_properties(name, -10.0)
    for what in ("conductivity", "density", "specific_heat"):
        values = getattr(found, what)
        assert values.shape == (2, 2)
        assert np.all(values > 0.0)
        assert_allclose(values[1, 0], getattr(single, what), rtol=1e-15)


@pytest.mark.parametrize("temperature", [-40.001, 150.001, math.nan, math.inf])
def test_a_temperature_beyond_the_equations_is_refused(temperature):
    for refuse in (
        lambda: component_properties("protein", [20.0, temperature]),
        lambda: mixture_properties(MEAT, [20.0, temperature]),
        lambda: conductivity_range(MEAT, [20.0, temperature]),
    ):
        with pytest.raises(InputError, match=r"temperature .* degC is outside -40 to 150 degC, where the component"):
            refuse()


def test_the_ends_of_the_range_are_allowed():
    oil = Composition(fat=1.0)
    assert mixture_properties(oil, [LOWEST, HIGHEST], rule="parallel").conductivity.shape == (2,)
    assert mixture_properties(MEAT, [0.0, HIGHEST]).conductivity.shape == (2,)


def test_a_temperature_in_degF_is_recognised():
    with pytest.raises(InputError, match=r"temperature 250 degC .*; did you mean degF \(121.1 degC\)\?"):
        mixture_properties(MEAT, 250.0)


# -- freezing --------------------------------------------------------------------------------------------------------


def test_ice_is_refused_where_it_would_melt():
    frozen = Composition(water=0.1, ice=0.65, protein=0.25)
    for temperature in (0.0, 5.0):
        with pytest.raises(
            InputError, match=rf"ice 0.65: at {temperature:g} degC the ice would melt, .* below 0 degC"
        ):
            mixture_properties(frozen, [-10.0, temperature])
        with pytest.raises(InputError, match=r"^ice: at .* degC the ice would melt"):
            component_properties("ice", temperature)
    assert mixture_properties(frozen, [-40.0, -0.1]).conductivity.shape == (2,)


def test_water_without_ice_is_refused_where_it_would_freeze():
    with pytest.raises(InputError, match=r"at -0.5 degC the water would freeze, .*must be at least 0 degC"):
        mixture_properties(MEAT, [-0.5, 20.0])
    with pytest.raises(InputError, match="the water would freeze"):
        material_of(MEAT, low=-1.0, high=120.0)


def test_a_frozen_material_says_that_its_ice_stays_ice():
    frozen = material_of(Composition(water=0.1, ice=0.65, protein=0.25), low=-30.0, high=-5.0)
    assert frozen.source.endswith("; the ice is taken as constant, its melting is not supported")
    assert "ice" not in material_of(MEAT, low=5.0, high=125.0).source


# -- mixing ----------------------------------------------------------------------------------------------------------


def test_a_mixture_of_two_is_worked_by_hand():
    # 0.9 water and 0.1 fat at 0 degC. rho: 1/(0.9/997.18 + 0.1/925.59) = 989.526; volume of fat 0.1 rho/925.59
    # = 0.106908; c 0.9 x 4176.2 + 0.1 x 1984.2 = 3957.00; parallel 0.893092 x 0.57109 + 0.106908 x 0.18071
    # = 0.529355; series 1/(0.893092/0.57109 + 0.106908/0.18071) = 0.463944; w of fat 3 x 0.57109/(2 x 0.57109 +
    # 0.18071) = 1.295085: (0.510036 + 0.138455 x 0.18071)/(0.893092 + 0.138455) = 0.518693
    composition = Composition(water=0.9, fat=0.1)
    k = {rule: float(mixture_properties(composition, 0.0, rule=rule).conductivity) for rule in RULES}
    found = mixture_properties(composition, 0.0)
    # six digits were carried
    assert_allclose(found.density, 989.526, rtol=2e-6)
    assert_allclose(found.specific_heat, 3957.0, rtol=1e-12)
    assert_allclose(k["parallel"], 0.529355, rtol=3e-6)
    assert_allclose(k["series"], 0.463944, rtol=3e-6)
    assert_allclose(k["maxwell-eucken"], 0.518693, rtol=3e-6)
    assert_allclose(k["geometric"], 0.57109 * (0.18071 / 0.57109) ** 0.106908, rtol=3e-6)


@pytest.mark.parametrize("rule", RULE_NAMES)
@pytest.mark.parametrize("name", ["water", "ice"])
def test_a_pure_component_has_its_own_properties(rule, name):
    temperature = -10.0 if name == "ice" else 60.0
    alone, mixed = (
        component_properties(name, temperature),
        mixture_properties(Composition(**{name: 1.0}), temperature, rule=rule),
    )
    for what in ("conductivity", "density", "specific_heat"):
        assert_allclose(getattr(mixed, what), getattr(alone, what), rtol=1e-14)


def neutral(core, share, shell):
    """Conductivity of the surroundings that a sphere with a coat of conductivity ``shell`` leaves undisturbed.

    Exact, from the potentials r, A r + B/r^2 and C r (cos theta) in surroundings, coat and core: temperature and
    flow continuous at the core's radius a, a^3 = share, and at 1. Linear in (A, B, C), k of the surroundings is what
    the flow at 1 comes to.
    """
    a = share ** (1.0 / 3.0)
    equations = [[1.0, 1.0, 0.0], [a, a**-2, -a], [shell, -2.0 * shell * a**-3, -core]]
    slope, dipole, _ = np.linalg.solve(equations, [1.0, 0.0, 0.0])
    return shell * (slope - 2.0 * dipole)


@pytest.mark.parametrize(("core", "shell"), [(0.2, 0.6), (2.2, 0.6), (0.15, 0.7), (0.45, 0.65)])
@pytest.mark.parametrize("share", [0.05, 0.4, 0.9])
def test_grains_in_water_conduct_as_coated_spheres_do(core, shell, share):
    found = embedded(np.array([shell, core]), np.array([1.0 - share, share]), np.array(shell))
    assert_allclose(found, neutral(core, share, shell), rtol=1e-12)
    two_phase = 2 * shell + core
    form = shell * (two_phase - 2 * share * (shell - core)) / (two_phase + share * (shell - core))
    assert_allclose(found, form, rtol=1e-12)


def test_grains_of_several_kinds_conduct_as_coated_spheres_of_several_kinds_do():
    # three kinds of cores, coats such that every sphere is neutral in the same surroundings: any packing of them is
    # an exact solution
    shell, cores, packed = 0.65, (0.15, 0.25, 0.30), (0.5, 0.2, 0.3)
    target = neutral(cores[0], 0.3, shell)
    shares = [brentq(lambda f, core=core: neutral(core, f, shell) - target, 1e-6, 0.99, xtol=1e-15) for core in cores]
    volume = np.array([p * f for p, f in zip(packed, shares, strict=True)])
    found = embedded(np.array([*cores, shell]), np.append(volume, 1.0 - volume.sum()), np.array(shell))
    # the roots' tolerance
    assert_allclose(found, target, rtol=1e-11)


@given(compositions(), st.floats(0.0, 150.0))
@settings(max_examples=40, deadline=None)
def test_every_rule_lies_between_series_and_parallel(composition, temperature):
    k = {rule: float(mixture_properties(composition, temperature, rule=rule).conductivity) for rule in RULES}
    assert_between(k)
    bounds = conductivity_range(composition, temperature)
    slack = 1e-13  # rounding
    assert bounds.series <= bounds.isotropic_low * (1 + slack)
    assert bounds.isotropic_low <= k["maxwell-eucken"] * (1 + slack)
    assert k["maxwell-eucken"] <= bounds.isotropic_high * (1 + slack)
    assert bounds.isotropic_high <= bounds.parallel * (1 + slack)
    # water conducts best of all components above 0 degC, so grains in water are the best mixture without direction
    assert_allclose(bounds.isotropic_high, k["maxwell-eucken"], rtol=1e-13)
    assert 0.004 < bounds.scatter < 0.06


@given(compositions(ice=True), st.floats(-40.0, -0.01))
@settings(max_examples=40, deadline=None)
def test_every_rule_lies_between_series_and_parallel_with_ice(composition, temperature):
    assert_between(
        {rule: float(mixture_properties(composition, temperature, rule=rule).conductivity) for rule in RULES}
    )


def assert_between(k):
    for rule in RULES:
        assert k["series"] * (1 - 1e-13) <= k[rule] <= k["parallel"] * (1 + 1e-13), rule


@given(st.lists(st.tuples(st.floats(0.01, 100.0), st.floats(0.0, 1.0)), min_size=2, max_size=7), st.integers(0, 6))
@settings(max_examples=40, deadline=None)
def test_grains_in_any_phase_conduct_between_series_and_parallel(phases, which):
    k, volume = np.array(phases).T
    volume = (volume + 1e-3) / (volume + 1e-3).sum()
    low, high = series(k, volume), parallel(k, volume)
    for found in (embedded(k, volume, k[which % len(k)]), geometric(k, volume)):
        assert low * (1 - 1e-12) <= found <= high * (1 + 1e-12)


@given(compositions(), st.floats(0.0, 150.0))
@settings(max_examples=40, deadline=None)
def test_a_mixture_is_as_heavy_and_as_warm_as_its_parts(composition, temperature):
    found = mixture_properties(composition, temperature)
    parts = {name: component_properties(name, temperature) for name in composition.shares}
    volume = sum(share / parts[name].density for name, share in composition.shares.items())
    heat = sum(share * parts[name].specific_heat for name, share in composition.shares.items())
    assert_allclose(found.density * volume, 1.0, rtol=1e-13)
    assert_allclose(found.capacity * volume, heat, rtol=1e-13)  # J/K of one kg


def test_ice_is_the_continuous_phase_where_there_is_more_of_it():
    icy, wet = Composition(water=0.2, ice=0.5, protein=0.3), Composition(water=0.5, ice=0.2, protein=0.3)
    for composition, most in ((icy, "isotropic_high"), (wet, None)):
        k = mixture_properties(composition, -10.0).conductivity
        bounds = conductivity_range(composition, -10.0)
        if most:  # ice conducts best of all
            assert_allclose(k, getattr(bounds, most), rtol=1e-13)
        else:
            assert bounds.isotropic_low < k < bounds.isotropic_high


def test_grains_in_water_are_refused_without_water():
    with pytest.raises(
        InputError, match='"maxwell-eucken" needs water .*; use "parallel" or "series" or "geometric"'
    ):
        mixture_properties(Composition(fat=1.0), 50.0)


def test_an_unknown_rule_offers_the_nearest():
    for refuse in (
        lambda: mixture_properties(MEAT, 50.0, rule="paralel"),
        lambda: material_of(MEAT, rule="paralel", low=5.0, high=120.0),
    ):
        with pytest.raises(InputError, match='mixing rule "paralel" is unknown; did you mean "parallel"?'):
            refuse()


def test_every_rule_names_its_source():
    for name, rule in RULES.items():
        assert "from memory" in rule.source, name


def test_scatter_about_the_equations_is_that_of_the_original_table():
    """Standard errors [%] of conductivity, density and specific heat: Choi and Okos (1986), table, from memory."""
    printed = {
        "water": (0.45, 0.22, 0.38), "protein": (5.91, 3.07, 5.57), "fat": (1.95, 0.47, 1.16),
        "carbohydrate": (5.42, 5.98, 5.96), "fibre": (5.55, 0.64, 1.66), "ash": (2.15, 0.09, 2.47),
        "ice": (0.79, 0.06, 0.07),
    }  # fmt: skip
    for name, component in COMPONENTS.items():
        scatter = component.scatter
        # kept to two digits
        found = (scatter.conductivity, scatter.density, scatter.specific_heat)
        assert_allclose(found, np.array(printed[name]) / 100, rtol=0.035, atol=1e-9, err_msg=name)
