"""Sizes, shapes and fills as they are told: numbers worked by hand, and the words about them.

Rung: hand-worked. Frustum of a cone of diameters D, d and height h: pi h (D^2 + D d + d^2)/12; cone: pi h d^2/12.
"""

import dataclasses
import json
import math

import pytest
from small_cans import LOGGER, PLASTIC, SHOULDERED, STEM, TAPERED, TIN, small_can

from thermsim.case.container import Container, Wall
from thermsim.case.profile import Profile, straight
from thermsim.records.numbers.geometry import container_record, fill_record, inner_diameters, side_thickness
from thermsim.records.numbers.probe import tip_at
from thermsim.records.numbers.summary import summary
from thermsim.records.report.page import report_html
from thermsim.records.words.answer import answer
from thermsim.records.words.geometry import diameters_text, geometry_sentences, thickness_text

#: Some multiplications and a subtraction.
EXACT = 1e-12


def test_volume_mass_and_share_of_a_tapered_cup_are_those_worked_by_hand():
    found = fill_record(small_can(container=TAPERED, fill_height=0.060))
    # base 50 mm, lid 70 mm at 80 mm: 65 mm at 60 mm; the cone of the base, 6 mm high and 30 mm wide, is taken off
    cone = math.pi * 6 * 30**2 / 12
    whole = math.pi * 80 * (50**2 + 50 * 70 + 70**2) / 12 - cone
    product = math.pi * 60 * (50**2 + 50 * 65 + 65**2) / 12 - cone
    assert found["product_volume_ml"] == pytest.approx(product / 1000, rel=EXACT)
    assert found["mass_g"] == pytest.approx(1.05 * product / 1000, rel=EXACT)
    assert found["percent_of_volume"] == pytest.approx(100 * product / whole, rel=EXACT)
    assert found["headspace_volume_ml"] == pytest.approx((whole - product) / 1000, rel=EXACT)
    assert found["height_mm"] == pytest.approx(60.0, rel=EXACT)
    assert found["depth_on_axis_mm"] == pytest.approx(54.0, rel=EXACT)
    assert found["headspace_mm"] == pytest.approx(20.0, rel=EXACT)


def test_record_of_a_shaped_container_has_its_sizes():
    found = container_record(SHOULDERED)
    assert found.pop("straight") is False
    assert found.pop("side_thickness_mm") == pytest.approx([0.3, 0.4], rel=EXACT)
    assert found.pop("inner_volume_ml") == pytest.approx(1e6 * SHOULDERED.volume, rel=EXACT)
    assert found == pytest.approx(
        {
            "inner_height_mm": 70.0,
            "inner_diameter_base_mm": 40.0,
            "inner_diameter_top_mm": 40.0,
            "inner_diameter_widest_mm": 52.0,
            "inner_diameter_narrowest_mm": 40.0,
            "base_rise_mm": 6.0,
            "base_thickness_mm": 0.3,
            "lid_thickness_mm": 0.2,
            # the wall is 0.3 mm thick where it is upright
            "outer_diameter_mm": 52.6,
            "outer_height_mm": 70.5,
        },
        rel=EXACT,
    )


def test_record_of_a_straight_container_has_the_same_keys():
    found = container_record(Container(straight(0.052, 0.070)))
    assert list(found) == list(container_record(SHOULDERED))
    assert found["straight"] is True
    assert found["inner_volume_ml"] == pytest.approx(math.pi / 4 * 5.2**2 * 7.0, rel=EXACT)
    assert found["base_rise_mm"] == 0.0
    assert found["side_thickness_mm"] is found["base_thickness_mm"] is found["lid_thickness_mm"] is None
    assert {value for key, value in found.items() if "diameter" in key} == {52.0}


def test_widest_diameter_is_that_of_the_rounding_not_of_the_corner():
    # a belly that turns by 2 atan(6/20) in its corner: a rounding R stays R (1/cos(atan(6/20)) - 1) inside of it
    belly = Container(Profile(((0.0, 0.020), (0.020, 0.026), (0.040, 0.020)), rounding=0.010))
    found = inner_diameters(belly)
    assert found.widest == pytest.approx(2 * (0.026 - 0.010 * (math.hypot(1, 6 / 20) - 1)), rel=EXACT)
    assert found.narrowest == pytest.approx(0.040, rel=EXACT)
    waist = Container(Profile(((0.0, 0.026), (0.020, 0.020), (0.040, 0.026)), rounding=0.010))
    found = inner_diameters(waist)
    assert found.narrowest == pytest.approx(2 * (0.020 + 0.010 * (math.hypot(1, 6 / 20) - 1)), rel=EXACT)


@pytest.mark.parametrize(
    ("corners", "text"),
    [
        (((0.0, 0.025), (0.08, 0.035)), "50.0 mm at the base, 70.0 mm at the top"),
        (
            ((0.0, 0.02), (0.02, 0.026), (0.04, 0.018)),
            "40.0 mm at the base, 36.0 mm at the top, 52.0 mm where it is widest",
        ),
        (
            ((0.0, 0.02), (0.02, 0.016), (0.04, 0.02)),
            "40.0 mm at the base, 40.0 mm at the top, 32.0 mm where it is narrowest",
        ),
    ],
)
def test_diameters_are_told_at_the_ends_and_where_they_are_beyond(corners, text):
    assert diameters_text(Container(Profile(corners))) == text


def test_thickness_is_a_range_only_where_it_varies():
    assert side_thickness(Container(straight(0.05, 0.05))) is None
    assert thickness_text(*side_thickness(TAPERED)) == "1"
    assert thickness_text(*side_thickness(SHOULDERED)) == "0.3 to 0.4"


def test_fill_of_a_straight_can_is_one_line():
    # pi/4 52^2 70 mm3 = 148.66 ml, 1.05 g/ml
    assert geometry_sentences(small_can()) == [
        ("Fill", "148.7 ml, 156.1 g, 70.0 mm high: 100.0 % of the inner volume; no headspace")
    ]
    # pi/4 52^2 8 mm3 = 16.99 ml
    (entry,) = geometry_sentences(small_can(fill_height=0.062, probe=STEM))
    assert entry == (
        "Fill",
        "131.7 ml, 138.3 g, 62.0 mm high: 88.6 % of the inner volume (what the probe takes up is not taken off); "
        "headspace 8.0 mm, 17.0 ml for vacuum or gas",
    )


def test_shape_is_told_before_the_fill():
    entries = geometry_sentences(small_can(container=SHOULDERED, fill_height=0.062))
    assert [label for label, _ in entries] == ["Container", "Fill"]
    assert entries[0][1] == (
        "inner diameter 40.0 mm at the base, 40.0 mm at the top, 52.0 mm where it is widest; base rises 6.0 mm; side "
        f"wall 0.3 to 0.4 mm; holds {1e6 * SHOULDERED.volume:.1f} ml"
    )


def test_answer_and_summary_tell_the_geometry(shaped, probed):
    told = " ".join(" ".join(answer(shaped, full=True)).split())
    case = shaped.case
    for entry in geometry_sentences(case):
        assert " ".join(entry) in told
    assert "z from the outside of the base at its rim, r from the axis" in told
    assert "Container" not in "".join(answer(probed, full=True))
    assert "z from the outside of the base, r from the axis" in " ".join(answer(probed, full=True))
    found = summary(shaped)
    assert found["container"] == container_record(case.container)
    assert found["fill"] == fill_record(case)
    assert json.loads(json.dumps(found, allow_nan=False)) == found


def test_report_echoes_the_shape(shaped):
    page = report_html(shaped, {}, program="p", when="w", case_name="c")
    assert "40.0 mm at the base, 40.0 mm at the top, 52.0 mm where it is widest" in page
    assert "6 mm on the axis, 30 mm across, a dome" in page
    assert "tin, 0.3 to 0.4 mm" in page
    assert "rounded to 4 mm" in page
    assert '<th scope="row">60</th><td>40</td><td>0.3</td>' in page
    assert f"62 mm high, {1e6 * shaped.case.product_volume:.1f} ml" in page
    assert "Depth on the axis" in page
    assert f"8 mm, {1e6 * shaped.case.headspace_volume:.1f} ml for vacuum or gas" in page


def test_report_of_a_straight_container_has_no_corners(probed):
    page = report_html(probed, {}, program="p", when="w", case_name="c")
    assert "52 × 70 mm" in page
    assert "Corners of the inside" not in page
    assert "Depth on the axis" not in page


@pytest.mark.parametrize(
    ("entry", "container", "height"),
    [
        # outer height 80 mm and 1 mm of base; 36 mm below the top
        ("lid", TAPERED, 0.081 - 0.036),
        # the base's outside stands 6 mm above its rim on the axis
        ("base", TAPERED, 0.006 + 0.036),
        ("base", small_can().container, 0.036),
        ("lid", small_can().container, 0.0704 - 0.036),
    ],
)
def test_tip_at_a_depth_counts_from_the_crown_of_a_base_that_rises(entry, container, height):
    probe = dataclasses.replace(STEM, entry=entry)
    assert tip_at(0.036, probe, container) == pytest.approx(height, rel=EXACT)


def test_tip_of_a_logger_on_a_cone_is_told_from_the_rim(standing):
    # 6 mm of cone, 1 mm of base, 10 + 16 + 8 mm of stack
    assert LOGGER.length == pytest.approx(0.034, rel=EXACT)
    assert summary(standing)["probe"]["tip"]["z_mm"] == pytest.approx(41.0, rel=EXACT)
    assert tip_at(0.035, LOGGER, TAPERED) == pytest.approx(0.041, rel=EXACT)


def test_one_wall_of_one_thickness_is_no_range():
    walled = Container(straight(0.05, 0.05), Wall(PLASTIC, 0.002), Wall(TIN, 0.001))
    assert container_record(walled)["side_thickness_mm"] == pytest.approx([2.0, 2.0], rel=EXACT)
