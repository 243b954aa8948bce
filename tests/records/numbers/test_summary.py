"""The figures for other programs and the answer for the terminal."""

import dataclasses
import json
import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from thermsim.assess.simulate.simulation import simulate
from thermsim.case.case import Case, Lethality, Point
from thermsim.case.container import Container, Wall
from thermsim.case.process import Film, Process, Stage
from thermsim.case.product import Headspace, Product
from thermsim.case.profile import straight
from thermsim.physics.materials import Material
from thermsim.quantities import LETHALITY
from thermsim.records.numbers.summary import summary
from thermsim.records.words.answer import answer
from thermsim.records.words.figure_text import figure
from thermsim.text import with_uncertainty


@pytest.fixture(scope="module")
def result():
    """A jar with a conducting headspace, a target, a place to follow, and a temperature that is never reached."""
    paste = Material("paste", 0.55, 1050.0, 3700.0)
    glass, gas = Material("glass", 1.0, 2500.0, 750.0), Material("gas", 0.1, 1.0, 1000.0)
    film = Film.everywhere(450.0)
    stages = (
        Stage("come-up", [0.0, 720.0], [40.0, 118.0], film),
        Stage("hold", [720.0, 5220.0], [118.0, 118.0], film),
        Stage("cool", [5220.0, 6420.0], [30.0, 30.0], film),
    )
    case = Case(
        "Paste, jar",
        Container(straight(0.066, 0.113), Wall(glass, 0.003), Wall(glass, 0.005)),
        Product(paste, 40.0),
        0.101,
        Headspace("fixed", gas),
        Process(stages),
        Lethality(121.1, 10.0, 360.0, reach=(100.0, 130.0)),
        points=(Point("mid-height", 0.0, 0.059),),
    )
    return simulate(case)


def leaves(tree, where=""):
    """Every number, text and None of a tree with its place."""
    if isinstance(tree, dict):
        return [leaf for key, item in tree.items() for leaf in leaves(item, f"{where}.{key}")]
    if isinstance(tree, list):
        return [leaf for k, item in enumerate(tree) for leaf in leaves(item, f"{where}.{k}")]
    return [(where, tree)]


def test_summary_has_the_agreed_keys(result):
    found = summary(result)
    assert list(found) == [
        "format",
        "program",
        "title",
        "product_flow",
        "container",
        "fill",
        "product",
        "headspace",
        "lethality",
        "cold_spot",
        "brick",
        "points",
        "probe",
        "recommended",
        "recommended_by_criterion",
        "ladder",
        "candidates",
        "hardware",
        "confirmation_mm",
        "stems",
        "given",
        "offset",
        "input_range",
        "target",
        "energy_balance",
        "numerical_uncertainty",
        "effort",
        "warnings",
        "notices",
    ]
    spot = ["r_mm", "z_mm", "lethality_min", "heating_lethality_min", "end_of_heating_C"]
    cold_spot = found["cold_spot"]
    assert list(cold_spot) == [
        "least_lethality",
        "slowest_heating",
        "distance_mm",
        "minima",
        "track",
        "zone",
        "alike",
        "arrivals",
    ]
    assert list(cold_spot["least_lethality"]) == list(cold_spot["minima"][0]) == [*spot, "inside"]
    assert list(cold_spot["track"][0]) == ["time_min", "r_mm", "z_mm", "temperature_C"]
    assert list(cold_spot["zone"]) == ["margin_percent", "r_mm", "z_mm", "height_mm", "radius_mm", "product_percent"]
    assert list(cold_spot["arrivals"][0]) == ["temperature_C", "time_min"]
    assert list(found["points"][0]) == ["name", *spot, "time_min", "temperature_C"]
    assert list(found["target"]) == [
        "lethality_min",
        "least_lethality_min",
        "reached",
        "hold_min",
        "required_hold_min",
        "remark",
    ]
    assert list(found["container"]) == [
        "straight",
        "inner_volume_ml",
        "inner_height_mm",
        "inner_diameter_base_mm",
        "inner_diameter_top_mm",
        "inner_diameter_widest_mm",
        "inner_diameter_narrowest_mm",
        "base_rise_mm",
        "side_thickness_mm",
        "base_thickness_mm",
        "lid_thickness_mm",
        "outer_diameter_mm",
        "outer_height_mm",
    ]
    assert list(found["fill"]) == [
        "product_volume_ml",
        "mass_g",
        "height_mm",
        "depth_on_axis_mm",
        "percent_of_volume",
        "headspace_mm",
        "headspace_volume_ml",
    ]
    assert list(found["energy_balance"]) == ["heat_in_J", "stored_J", "relative_defect"]
    assert list(found["effort"]) == ["nodes", "steps", "rejected_steps", "refinement", "tolerance_K", "seconds"]


def test_summary_is_json_without_loss_and_without_words_unknown_to_json(result):
    found = summary(result)
    assert json.loads(json.dumps(found, allow_nan=False)) == found
    assert {type(value) for _, value in leaves(found)} == {float, int, bool, str, type(None)}


def test_summary_is_in_mm_min_and_degC(result):
    found, spot = summary(result), result.cold_spot.least_lethality
    # one multiplication apart
    assert_allclose(found["cold_spot"]["least_lethality"]["z_mm"], 1000 * spot.z, rtol=1e-15)
    assert_allclose(found["cold_spot"]["least_lethality"]["lethality_min"], spot.lethality / 60, rtol=1e-15)
    assert found["cold_spot"]["least_lethality"]["end_of_heating_C"] == spot.end_of_heating
    assert_allclose(found["cold_spot"]["zone"]["margin_percent"], 10.0, rtol=1e-15)
    assert_allclose(found["points"][0]["time_min"][-1], 107.0, rtol=1e-15)
    assert found["target"]["hold_min"] == 75.0
    assert found["lethality"] == {"reference_C": 121.1, "z_C": 10.0}


def test_place_that_does_not_exist_yet_is_null(result):
    track = summary(result)["cold_spot"]["track"]
    assert track[0]["r_mm"] is None
    assert track[-1]["r_mm"] is not None
    assert summary(result)["cold_spot"]["arrivals"][1] == {"temperature_C": 130.0, "time_min": None}


def test_every_uncertainty_is_in_the_summary_under_its_figures_key(result):
    found = summary(result)
    shown = dict(leaves(found["numerical_uncertainty"]))
    counted = [where for where, value in shown.items() if isinstance(value, float)]
    # the zone's height and radius are sums of its bounds and add two
    assert len(counted) == len(result.uncertainty) + 2
    figures = {where for where, _ in leaves(found)}
    for where in counted:
        # uncertainties of curves are one number for the whole curve
        assert where in figures or where.endswith("temperature_C")
    known = result.uncertainty["cold_spot.slowest_heating.z"]
    assert_allclose(shown[".cold_spot.slowest_heating.z_mm"], 1000 * known, rtol=1e-15)
    known = result.uncertainty["target.required_hold"]
    assert_allclose(shown[".target.required_hold_min"], known / 60, rtol=1e-15)


def test_no_target_is_null(result):
    assert summary(dataclasses.replace(result, target=None))["target"] is None


def test_answer_begins_with_the_least_lethality_place(result):
    spot = result.cold_spot.least_lethality
    first = answer(result, full=True)[0]
    assert first.startswith(f"Least lethality F0(121.1 degC, z 10 K) = {spot.lethality / 60:.2f} +- 0.01 min at r = ")
    assert first.endswith(f"z = {spot.z * 1e3:.1f} +- 0.1 mm")


def test_answer_gives_both_places_the_zone_the_target_and_the_warnings(result):
    text = " ".join(" ".join(answer(result, full=True)).split())
    assert "Slowest heating" in text
    assert "between the two cold spots" in text
    assert "Cold zone" in text
    assert "z from the outside of the base, r from the axis" in text
    assert f"F0 = 6 min is {'reached' if result.target.reached else 'NOT reached'}; a hold of " in text
    assert "(now 75 min) just reaches it, cooling included" in text
    assert "the least-lethality place does not reach 130 degC" in text
    assert "heat in and heat stored differ by" in text
    for warning in result.warnings:
        assert warning in text


def test_answer_is_ascii_of_limited_width_and_never_parts_a_figure_from_its_uncertainty(result):
    for line in answer(result, full=True):
        assert line.isascii()
        assert len(line) <= 100
        assert not line.strip().startswith("+-")
        assert not line.endswith("+-")


def test_target_within_the_uncertainty_is_not_called_reached(result):
    close = dataclasses.replace(result.target, lethality=result.target.least - 1e-6)
    text = " ".join(answer(dataclasses.replace(result, target=close), full=True))
    assert "treat F0 = " in text and "as NOT reached" in text


def test_point_keeps_the_place_it_was_given(result):
    assert figure(result, "points.0.z") == "59.0 mm"
    assert "+-" in figure(result, "points.0.lethality")


@pytest.mark.parametrize(
    ("value", "uncertainty", "least", "text"),
    [
        # worked by hand: one digit, rounded up; two where the first is a 1 and the second is worth showing
        (5.8973, 0.163, 0.01, "5.90 +- 0.17"),
        (5.8973, 0.0163, 0.01, "5.90 +- 0.02"),
        (5.8973, 0.0201, 0.01, "5.90 +- 0.03"),
        (5.8973, 0.0099, 0.001, "5.90 +- 0.01"),
        (106.0, 0.0, 0.1, "106.0 +- 0.1"),
        (-0.01, 0.0, 0.1, "0.0 +- 0.1"),
        (5.8973, 0.3 - 0.1, 0.01, "5.9 +- 0.2"),
        (1234.5, 37.0, 0.1, "1230 +- 40"),
        (1234.5, 99.0, 0.1, "1200 +- 100"),
        (5.8973, 3.0, 0.01, "6 +- 3"),
        (5.8973, math.inf, 0.01, "5.8973 +- inf"),
    ],
)
def test_figure_has_no_more_digits_than_are_known(value, uncertainty, least, text):
    assert with_uncertainty(value, uncertainty, least=least) == text


@given(st.floats(-1e4, 1e4), st.floats(0, 1e3), st.sampled_from([0.01, 0.1, 1e-3]))
def test_shown_uncertainty_is_never_smaller_than_the_true_one_nor_over_twice_as_large(value, uncertainty, least):
    shown_value, shown = with_uncertainty(value, uncertainty, least=least).split(" +- ")
    # six digits are kept before rounding up, and no decimal number is met exactly
    assert float(shown) >= max(uncertainty, least) * (1 - 1e-5)
    assert float(shown) <= 2.0 * max(uncertainty, least)
    assert abs(float(shown_value) - value) <= float(shown) / 2 * (1 + 1e-9)
    decimals = [len(re.sub(r"^[^.]*\.?", "", number)) for number in (shown_value, shown)]
    assert decimals[0] == decimals[1]


@pytest.mark.parametrize(
    ("lethality", "step"), [(354.0, 0.01), (5.9, 0.01), (0.45, 0.001), (0.002, 0.001), (0.0, 0.001)]
)
def test_small_lethalities_are_shown_with_more_decimals(lethality, step):
    # 10 to a whole power: exact but for rounding
    assert_allclose(LETHALITY.least(60.0 * lethality), step, rtol=1e-12)
