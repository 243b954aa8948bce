"""Rung: hand-worked. Rayleigh numbers and what is said of them; the creeping flow by a solution of its own."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from thermsim.errors import InputError
from thermsim.physics.convection import (
    CONDUCTS,
    CONVECTS,
    LOWER_BAND,
    TRADE_BAND,
    constant_viscosity,
    find_thickness,
    flow_notices,
    flow_of,
    rayleigh_number,
    thickness_classes,
    viscosity_from_table,
    water_expansion,
)
from thermsim.physics.materials import Material

#: What the fastest creeping flow between plates is slower than g beta D L^2/nu, in closed form.
CREEP = 72.0 * math.sqrt(3.0)
FOOD = Material("food", 0.5, 1000.0, 4000.0)
CAN = {"radius": 0.04, "depth": 0.1, "initial": 40.0, "medium": 120.0}


def flow(viscosity, **other):
    return flow_of(FOOD, viscosity, **{**CAN, "expansion": 5e-4, **other})


def test_the_rayleigh_number_by_hand():
    # g beta D L^3/(nu alpha) = 9.80665 x 5e-4 x 80 x 6.4e-5/(1e-3 x 1.25e-7) = 200840.2
    found = flow(constant_viscosity(1.0))
    assert_allclose(found.rayleigh, [200840.2, 200840.2], rtol=1e-6)
    # g beta rho D L = 9.80665 x 5e-4 x 1000 x 80 x 0.04, and a twelfth of it over the viscosity
    assert_allclose(found.stress, 15.69064, rtol=1e-6)
    assert_allclose(found.shear, 15.69064 / 12, rtol=1e-6)


def test_the_length_is_the_lesser_of_radius_and_depth():
    wide = flow(constant_viscosity(1.0), radius=0.1, depth=0.02)
    assert wide.length == 0.02
    assert_allclose(wide.rayleigh, 200840.2 / 8, rtol=1e-6)


def test_cooling_counts_as_heating():
    cooled = flow(constant_viscosity(1.0), initial=120.0, medium=40.0)
    assert cooled.rayleigh == flow(constant_viscosity(1.0)).rayleigh


@pytest.mark.parametrize(
    ("rayleigh", "verdict"),
    [
        (0.99 * CONDUCTS, "conduction"),
        (1.01 * CONDUCTS, "in between"),
        (0.99 * CONVECTS, "in between"),
        (1.01 * CONVECTS, "convection"),
    ],
)
def test_the_verdict_turns_at_the_stated_numbers(rayleigh, verdict):
    viscosity = 200840.2 / rayleigh
    found = flow(constant_viscosity(viscosity))
    assert found.verdict == verdict
    assert f"{rayleigh:.2g}" in flow_notices(found, depth=0.1)[0].text


def test_a_verdict_needs_both_ends_of_a_range():
    # conduction by its thickest, in between by its thinnest; in between by its thickest, convection by its thinnest
    assert flow(viscosity_from_table([40, 120], [1e6, 5e3], low=40, high=120)).verdict == "in between"
    assert flow(viscosity_from_table([40, 120], [1e3, 1e-3], low=40, high=120)).verdict == "in between"


@given(st.floats(1e-4, 1e6), st.floats(1.01, 100.0), st.floats(0.005, 0.1), st.floats(0.005, 0.3))
def test_a_thicker_product_never_convects_more(viscosity, factor, radius, depth):
    order = ["conduction", "in between", "convection"]
    thin, thick = (flow(constant_viscosity(v), radius=radius, depth=depth) for v in (viscosity, factor * viscosity))
    assert order.index(thick.verdict) <= order.index(thin.verdict)
    assert_allclose(thin.rayleigh[0], factor * thick.rayleigh[0], rtol=1e-12)


def test_a_can_of_each_class_gets_the_verdict_of_experience():
    # common practice, no source: thin products convect, gels do not, pastes are doubtful
    verdicts = {name: flow(viscosity).verdict for name, viscosity in thickness_classes().items()}
    assert verdicts == {
        "water-like": "convection",
        "thin sauce": "convection",
        "thick sauce": "convection",
        "paste": "in between",
        "gel/solid": "conduction",
    }


def test_classes_lie_one_on_another():
    classes = list(thickness_classes().values())
    for thin, thick in zip(classes[:-2], classes[1:-1], strict=True):
        assert thin.thinnest < thin.thickest == thick.thinnest
    assert classes[-1].thinnest == math.inf


def test_an_unknown_class_offers_the_nearest_or_all():
    with pytest.raises(InputError, match='thickness "thick sauces" is unknown; did you mean "thick sauce"'):
        find_thickness("thick sauces")
    with pytest.raises(InputError, match='thickness "42" is unknown; known are "water-like" or "thin sauce" or'):
        find_thickness("42")


def test_a_table_gives_what_the_product_meets():
    # logarithms on a straight line: 10^-1 at 60, 10^-2 at 80 degC
    found = viscosity_from_table([40.0, 60.0, 120.0], [1.0, 0.1, 1e-4], low=60.0, high=80.0)
    assert_allclose([found.thickest, found.thinnest], [0.1, 0.01], rtol=1e-12)
    # starch that thickens on heating: the thickest lies between
    found = viscosity_from_table([20.0, 70.0, 120.0], [0.5, 20.0, 2.0], low=20.0, high=120.0)
    assert_allclose([found.thickest, found.thinnest], [20.0, 0.5], rtol=1e-12)


def test_a_table_that_does_not_reach_is_refused():
    with pytest.raises(InputError, match="given from 20 to 80 degC, but the product meets 20 to 121 degC"):
        viscosity_from_table([20.0, 80.0], [1.0, 0.1], low=20.0, high=121.0)
    for temperature, viscosity in (([20.0], [1.0]), ([20.0, 20.0], [1.0, 2.0]), ([20.0, 80.0], [1.0])):
        with pytest.raises(InputError, match="two or more increasing temperatures"):
            viscosity_from_table(temperature, viscosity, low=20.0, high=20.0)


def test_the_creeping_flow_between_plates_is_as_fast_and_shears_as_much_as_said():
    # nu u'' = -g beta D (x - 1/2) with u = 0 at 0 and 1, in units of L, nu and g beta D; solved by differences
    n = 2000
    x = np.linspace(0.0, 1.0, n + 1)
    matrix = np.diag(np.full(n - 1, -2.0)) + np.diag(np.ones(n - 2), 1) + np.diag(np.ones(n - 2), -1)
    speed = np.zeros(n + 1)
    speed[1:-1] = np.linalg.solve(matrix, -(x[1:-1] - 0.5) / n**2)
    # second differences are exact for a cubic; the fastest node lies within 1/n of the fastest place
    assert_allclose(speed.max() * CREEP, 1.0, rtol=1e-5)
    # the wall's slope by three nodes: of second order
    assert_allclose(abs(4 * speed[1] - speed[2]) * n / 2 * 12, 1.0, rtol=1e-5)


def test_thresholds_are_the_shares_of_the_length_that_their_comment_tells():
    assert_allclose([CONDUCTS / CREEP, CONVECTS / CREEP], [0.08, 80.0], rtol=5e-3)


def test_the_rayleigh_number_of_water_in_a_can_is_that_of_a_convecting_product():
    viscosity = constant_viscosity(2.3e-4)
    found = flow_of(FOOD, viscosity, **CAN)
    assert found.verdict == "convection"
    # 60 mm, 80 K: the default expansion is water's at 80 degC
    by_hand = rayleigh_number(80 * water_expansion(80.0), 0.04, viscosity=2.3e-7, diffusivity=1.25e-7)
    assert_allclose(found.rayleigh, by_hand, rtol=1e-12)


def test_remarks_on_a_convecting_can_tell_where_its_cold_spot_lies():
    notice, caveat = flow_notices(flow(find_thickness("water-like")), depth=0.1)
    said = notice.text
    assert (notice.code, notice.severity) == ("product-convects", "danger")
    assert "on the axis, 10 to 15 % of the height, 10 to 15 mm, above the base (from memory)" in said
    assert "1/2 to 2 inch, 13 to 51 mm" in said
    assert "its cold spot does not hold" in said
    assert "several probes at different heights" in said
    assert "thicker in slow shear" in caveat.text
    assert_allclose(TRADE_BAND, [0.0127, 0.0508], rtol=1e-15)
    assert LOWER_BAND == (0.10, 0.15)


def test_remarks_on_a_doubtful_product_ask_for_several_probes():
    notice, caveat = flow_notices(flow(find_thickness("paste")), depth=0.1)
    said = notice.text
    assert (notice.code, notice.severity) == ("product-may-convect", "danger")
    assert notice.brief.startswith("MAY NOT HOLD: ")
    assert "may convect" in said
    assert "several probes at different heights" in said
    assert "yield stress above 16 Pa" in caveat.text


def test_remarks_on_a_solid_warn_of_gels_that_melt():
    (said,) = flow_notices(flow(find_thickness("gel/solid")), depth=0.1)
    assert "a gel that melts on heating" in said.text
    assert said.severity == "note"
