"""Containers by what is measured of them, outside, over the seams or brimful; hand-worked numbers and refusals.

The small case's side wall is 3 mm thick, its base 5 mm, its lid 0.25 mm; of the can all walls are 0.2 mm.
"""

import math

import pytest
from numpy.testing import assert_allclose
from small_case import SMALL, faults_of, shaped

from thermsim import case_from_text

ROUNDING = {"rtol": 1e-11, "atol": 0}  # millimetres to metres, a root to 1e-13
CAN = [(f"thickness_mm = {old}", "thickness_mm = 0.2") for old in ("3.0", "5.0", "0.25")]


def inside(shape, *changes):
    profile = case_from_text(shaped(shape, *changes)).container.profile
    return [2000 * profile.corners[0][1], 2000 * profile.corners[-1][1], 1000 * profile.height]


@pytest.mark.parametrize(
    ("shape", "base", "lid", "high"),
    [
        # 72 - 2 * 3 mm wide, 118.25 - 5 - 0.25 mm high
        ("outer_diameter_mm = 72\nouter_height_mm = 118.25", 66.0, 66.0, 113.0),
        ("outer_diameter_mm = 72\ninner_height_mm = 100", 66.0, 66.0, 100.0),
        ("inner_diameter_mm = [60, 66]\nouter_height_mm = 118.25", 60.0, 66.0, 113.0),
        # both given: the inner ones count where the outer agree within 0.5 mm
        (
            "outer_diameter_mm = 72.4\ninner_diameter_mm = 66\nouter_height_mm = 118\ninner_height_mm = 113",
            66,
            66,
            113,
        ),
    ],
)
def test_outside_less_walls_is_inside(shape, base, lid, high):
    assert_allclose(inside(shape), [base, lid, high], **ROUNDING)


def test_the_wall_of_a_taper_is_measured_at_right_angles():
    # the inside widens by (78 - 70)/2 mm in 113 mm, as the outside does: level, the wall is that much thicker
    level = 3.0 * math.hypot(1.0, 4.0 / 113.0)
    found = inside("outer_diameter_mm = [70, 78]\ninner_height_mm = 113")
    assert_allclose(found, [70.0 - 2 * level, 78.0 - 2 * level, 113.0], **ROUNDING)
    # and the container made of it is as wide outside as was measured
    case = case_from_text(shaped("outer_diameter_mm = [70, 78]\ninner_height_mm = 113"))
    assert_allclose(2000 * case.container.outer_radius, 78.0, **ROUNDING)


@pytest.mark.parametrize(
    ("shape", "wide", "high", "seam"),
    [
        # 76.4 - 3.4 mm; 113 - 2 * 3.8 - 0.4 mm
        (
            "diameter_over_seams_mm = 76.4\nseam_allowance_mm = 3.4\n"
            "height_over_seams_mm = 113\ncountersink_mm = 3.8",
            73.0,
            105.0,
            (38.2, 3.8, 3.8, False),
        ),
        (
            "inner_diameter_mm = 73\nheight_over_seams_mm = 113\ncountersink_mm = [4.2, 3.4]",
            73.0,
            105.0,
            (None, 4.2, 3.4, False),
        ),
        # usual allowances: 3 mm, and 8 mm for both ends, walls included
        ("diameter_over_seams_mm = 76\nheight_over_seams_mm = 113", 73.0, 105.0, (38.0, 3.8, 3.8, True)),
        # the seams follow from both: 76.4 mm wide, (113 - 105.4)/2 mm high
        (
            "outer_diameter_mm = 73.4\nouter_height_mm = 105.4\n"
            "diameter_over_seams_mm = 76.4\nheight_over_seams_mm = 113",
            73.0,
            105.0,
            (38.2, 3.8, 3.8, False),
        ),
        # 3 7/16 in and 4 9/16 in: 87.3125 - 3 mm, 115.8875 - 2 * 3.5 - 0.4 mm
        ('size = "307x409"\ncountersink_mm = 3.5', 84.3125, 108.4875, (43.65625, 3.5, 3.5, False)),
    ],
)
def test_a_can_is_measured_over_its_seams(shape, wide, high, seam):
    container = case_from_text(shaped(shape, *CAN)).container
    assert_allclose([2000 * container.profile.widest, 1000 * container.inner_height], [wide, high], **ROUNDING)
    radius, base, lid, assumed = seam
    assert_allclose([1000 * container.seam.base, 1000 * container.seam.lid], [base, lid], rtol=1e-9)
    assert container.seam.assumed is assumed
    assert container.seam.radius is None if radius is None else math.isclose(1000 * container.seam.radius, radius)


def test_what_has_no_seam_has_none():
    assert case_from_text(SMALL).container.seam is None


# ---- brimful ----


@pytest.mark.parametrize(
    ("shape", "wide", "high"),
    [
        ("inner_diameter_mm = 66\nbrimful_ml = 380", 66.0, 380e3 / (math.pi * 33.0**2)),
        ("inner_height_mm = 113\nbrimful_ml = 380", math.sqrt(4 * 380e3 / (math.pi * 113.0)), 113.0),
        ("outer_height_mm = 118.25\nbrimful_ml = 380", math.sqrt(4 * 380e3 / (math.pi * 113.0)), 113.0),
        # measures that would hold 386.59 ml: heights stay
        (
            "inner_diameter_mm = 66\ninner_height_mm = 113\nbrimful_ml = 400",
            math.sqrt(4e2 * 4e3 / (math.pi * 113)),
            113,
        ),
        # a dome of 6 mm over the whole base takes pi/6 h (3 a^2 + h^2)
        (
            "inner_diameter_mm = 66\nbase_rise_mm = 6\nbrimful_ml = 380",
            66.0,
            (380e3 + math.pi / 6 * 6 * (3 * 33.0**2 + 36)) / (math.pi * 33.0**2),
        ),
    ],
)
def test_a_brimful_volume_gives_what_is_left_out_or_scales(shape, wide, high):
    container = case_from_text(shaped(shape)).container
    assert_allclose([2000 * container.profile.widest, 1000 * container.inner_height], [wide, high], **ROUNDING)
    wanted = 400.0 if "400" in shape else 380.0
    assert_allclose(1e6 * container.volume, wanted, **ROUNDING)


def test_what_is_measured_outside_stays_where_a_brimful_volume_scales_the_inside():
    """72 mm outside less 3 mm of side twice: 66 mm inside."""
    container = case_from_text(shaped("outer_diameter_mm = 72\ninner_height_mm = 113\nbrimful_ml = 360")).container
    assert container.scaled < 0.97 and container.outer_radius < 0.0353
    assert_allclose(container.measured(container.outer_radius, container.profile.widest), 0.036, **ROUNDING)


def test_a_profile_is_scaled_to_its_brimful_volume():
    shape = "profile_mm = [[0, 33], [80, 33], [95, 26], [113, 26]]\nbrimful_ml = "
    # two cylinders and a frustum between them
    holds = math.pi * (80 * 33**2 + 15 / 3 * (33**2 + 33 * 26 + 26**2) + 18 * 26**2) / 1e3
    case = case_from_text(shaped(f"{shape}{1.04 * holds!r}"))
    scale = math.sqrt(1.04)
    assert_allclose(
        [1000 * radius for _, radius in case.container.profile.corners],
        [33 * scale, 33 * scale, 26 * scale, 26 * scale],
        **ROUNDING,
    )
    (said,) = [note for note in case.notes if "brimful" in note]
    assert f"scaled by {scale:.4f}, to {66 * scale:.1f} mm at the widest" in said


def test_what_was_assumed_of_the_inside_is_said():
    notes = case_from_text(shaped("outer_diameter_mm = 72\nbrimful_ml = 380")).notes
    assert any("inner height is solved for: 111.1 mm, with which the inside holds 380 ml" in note for note in notes)
    notes = case_from_text(shaped("outer_diameter_mm = 72\nouter_height_mm = 118.25")).notes
    wanted = "66 mm wide and 113 mm high, from outer_diameter_mm = 72 and outer_height_mm = 118.25 less walls."
    assert any(wanted in note for note in notes)
    notes = case_from_text(shaped("diameter_over_seams_mm = 76\nheight_over_seams_mm = 113", *CAN)).notes
    assert any("seam is taken to stand 3.8 mm above the outer face of the lid's panel" in note for note in notes)


# ---- contradictions ----


@pytest.mark.parametrize(
    ("shape", "fault"),
    [
        (
            "inner_diameter_mm = 66\nouter_diameter_mm = 75\ninner_height_mm = 113",
            "inner_diameter_mm = 66 and outer_diameter_mm = 75 contradict each other: the outside less 3 mm of side "
            "leaves 69 mm inside, not 66 mm; correct one of them or leave it out",
        ),
        (
            "inner_diameter_mm = 66\ninner_height_mm = 113\nouter_height_mm = 113",
            "inner_height_mm = 113 and outer_height_mm = 113 contradict each other: the outside less base and lid, "
            "5.25 mm, leaves 107.75 mm inside, not 113 mm; correct one of them or leave it out",
        ),
        (
            "inner_diameter_mm = 66\ninner_height_mm = 113\nheight_over_seams_mm = 125\ncountersink_mm = 3",
            "inner_height_mm = 113 and height_over_seams_mm = 125 contradict each other: the height over the seams "
            "less countersinks, base and lid, 11.25 mm, leaves 113.75 mm inside, not 113 mm; correct one of them or "
            "leave it out",
        ),
        (
            "inner_diameter_mm = 66\ndiameter_over_seams_mm = 64\ninner_height_mm = 113",
            "inner_diameter_mm = 66 and diameter_over_seams_mm = 64 contradict each other: they leave -2 mm for the "
            "seams, and 0 to 20 mm are possible; correct one of them or leave it out",
        ),
        (
            "inner_diameter_mm = 66\ninner_height_mm = 113\nbrimful_ml = 330",
            "brimful_ml = 330 and inner_diameter_mm = 66 and inner_height_mm = 113 contradict each other: by these "
            "it holds 386.6 ml; they may differ by 10 % at most. Correct one of them, or give its shape by "
            "profile_mm",
        ),
        (
            "inner_height_mm = 113\nbrimful_ml = 0.38",
            "brimful_ml = 0.38 gives no inner diameter from 3 to 2000 mm with inner_height_mm = 113",
        ),
        ("brimful_ml = 380", "brimful_ml alone is no size; give a diameter or a height beside it, or profile_mm"),
        ("brick_mm = [165, 95, 80]\nbrimful_ml = 380", "brimful_ml has no meaning beside brick_mm; leave it out"),
        (
            "inner_diameter_mm = 66\nouter_height_mm = 7",
            "outer_height_mm = 7 leaves an inner height of 1.75 mm; at least 3 mm are needed",
        ),
        (
            "inner_diameter_mm = 66\nheight_over_seams_mm = 120\ncountersink_mm = [3, 3, 3]",
            "countersink_mm = [3, 3, 3] must be one number, or [of the base, of the lid]",
        ),
        (
            "inner_diameter_mm = 66\nheight_over_seams_mm = 120\ncountersink_mm = 3\ncountersink_allowance_mm = 7",
            "countersink_mm and countersink_allowance_mm are given together; give one of them",
        ),
        (
            'size = "307x409"\ndiameter_over_seams_mm = 87',
            "diameter_over_seams_mm, size are given together; give exactly one of a diameter with a height "
            "(inner_diameter_mm, inner_height_mm), profile_mm, size or brick_mm",
        ),
    ],
)  # fmt: skip
def test_measures_that_contradict_each_other_give_one_line_with_both_numbers(shape, fault):
    assert faults_of(shaped(shape)) == [f"jar.toml [container]: {fault}"]


def test_a_wall_that_is_at_fault_is_the_one_fault():
    shape = "outer_diameter_mm = 72\nouter_height_mm = 118"
    (fault,) = faults_of(shaped(shape, ("thickness_mm = 3.0", "thickness_mm = -3")))
    assert "thickness_mm = -3 must be at least 0.02" in fault
