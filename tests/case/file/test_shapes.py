"""Containers of other shapes in a case file: hand-worked numbers, refusals, exact solutions round a brick."""

import math
import re
import tomllib
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose
from small_case import LOGGER, SMALL, STEM, changed, faults_of, shaped

from thermsim import case_from_text, find_material
from thermsim.case.profile import Rise
from thermsim.exact import FiniteCylinder, Slab
from thermsim.solve.grid.body import body_of

ROUNDING = {"rtol": 1e-12, "atol": 0}  # millimetres to metres and a few products
REFUSALS = tomllib.loads(Path(__file__).with_name("refused_shapes.toml").read_text("utf-8"))["refusal"]
BEHIND = {"": "", "stem": STEM, "logger": LOGGER}
SHOULDERED = "profile_mm = [[0, 33], [80, 33], [95, 26], [113, 26]]"
STRAIGHT = "inner_diameter_mm = 66\ninner_height_mm = 113"
INCH = 25.4e-3  # m, exact


@pytest.mark.parametrize("refusal", REFUSALS, ids=lambda refusal: refusal["fault"].strip()[9:70])
def test_one_fault_of_a_shape_gives_one_clear_line(refusal):
    changes = [*refusal.get("more", []), *([(refusal["old"], refusal["new"])] if "old" in refusal else [])]
    behind = BEHIND[refusal.get("with", "")]
    assert faults_of(shaped(refusal["shape"], *changes, text=SMALL + behind)) == [refusal["fault"].strip()]


def test_all_faults_of_a_shape_are_reported_at_once():
    shape = 'profile_mm = [[0, 33], [80, "33"], [95], [113, -1]]\nbase_rise_mm = 0\nbase_rise_form = "tent"'
    found = faults_of(shaped(shape, ("thickness_mm = 3.0", "thickness_mm = [1, 0]"), ("= 12.0", "= -1")))
    wanted = ["thickness_mm", "base_rise_form", "base_rise_mm", "point 2", "point 3", "point 4", "headspace_mm"]
    assert [
        re.search("point [0-9]|base_rise_[a-z]+|thickness_mm|headspace_mm", fault).group() for fault in found
    ] == wanted


# ---- tapers and profiles ----


def test_a_taper_is_read_from_the_base_to_the_lid():
    profile = case_from_text(shaped("inner_diameter_mm = [66, 80]\ninner_height_mm = 113")).container.profile
    assert_allclose(profile.corners, [(0.0, 0.033), (0.113, 0.040)], **ROUNDING)


def test_a_profile_is_read_point_by_point():
    container = case_from_text(shaped(f"{SHOULDERED}\nrounding_mm = 5")).container
    assert_allclose(
        container.profile.corners, [(0, 0.033), (0.080, 0.033), (0.095, 0.026), (0.113, 0.026)], **ROUNDING
    )
    assert_allclose(container.profile.rounding, 0.005, **ROUNDING)
    assert case_from_text(shaped(SHOULDERED)).container.profile.rounding == 0.0


def test_the_rounding_that_is_told_to_fit_does():
    profile = case_from_text(shaped(f"{SHOULDERED}\nrounding_mm = 37.2")).container.profile
    assert_allclose(profile.rounding, 0.0372, **ROUNDING)
    assert len(profile.pieces) == 5


@pytest.mark.parametrize(
    "shape",
    [
        "profile_mm = [[0, 33], [113, 33]]",
        "profile_mm = [[0, 33], [40, 33], [113, 33.0]]",
        "inner_diameter_mm = [66, 66]\ninner_height_mm = 113",
    ],
)
@pytest.mark.parametrize("fill", ["headspace_mm = 12.0", "mass_g = 300", "volume_ml = 300", "fraction = 0.8"])
@pytest.mark.parametrize("thickness", ["3.0", "[3.0, 3]"])
def test_a_straight_profile_gives_the_numbers_of_a_straight_container(shape, fill, thickness):
    if thickness != "3.0" and shape.count("[") == 4:
        thickness = "[3, 3, 3]"
    point = ("z_mm = 59.0", "z_mm = 35.9")
    case = case_from_text(
        shaped(shape, ("= 3.0", f"= {thickness}"), ("headspace_mm = 12.0", fill), point) + STEM.replace("54.0", "50")
    )
    plain = case_from_text(changed(("headspace_mm = 12.0", fill), point) + STEM.replace("54.0", "50"))
    assert case.container.is_straight
    assert (case.container.side, case.notes, case.probe) == (plain.container.side, plain.notes, plain.probe)
    numbers = [
        (c.fill_height, c.product_volume, c.headspace_volume, c.container.outer_radius, c.surface)
        for c in (case, plain)
    ]
    assert_allclose(*numbers, **ROUNDING)
    body, other = body_of(case), body_of(plain)
    assert_allclose(body.columns, other.columns, rtol=1e-12, atol=1e-15)
    assert_allclose(body.levels, other.levels, rtol=1e-12, atol=1e-15)
    assert np.array_equal(body.material, other.material)


def test_thickness_may_follow_the_profile():
    case = case_from_text(shaped(SHOULDERED, ("thickness_mm = 3.0", "thickness_mm = [4, 3.0, 3.5, 3]")))
    assert_allclose(case.container.side.course, [0.004, 0.003, 0.0035, 0.003], **ROUNDING)
    assert_allclose(case.container.side.thickness, 0.004, **ROUNDING)
    assert_allclose(case.container.outer_radius, 0.037, **ROUNDING)
    taper = case_from_text(shaped(STRAIGHT, ("thickness_mm = 3.0", "thickness_mm = [4, 3]")))
    assert_allclose(taper.container.side.course, [0.004, 0.003], **ROUNDING)


# ---- a base that rises, and the fill ----


def test_a_base_rises_as_a_dome_over_its_whole_width_unless_told_otherwise():
    assert case_from_text(shaped(f"{STRAIGHT}\nbase_rise_mm = 6")).container.rise == Rise(0.006, 0.066)
    more = 'base_rise_mm = 6\nbase_rise_form = "cone"\nbase_rise_diameter_mm = 50'
    assert case_from_text(shaped(f"{SHOULDERED}\n{more}")).container.rise == Rise(0.006, 0.050, "cone")
    assert case_from_text(SMALL).container.rise is None


# cylinder of 80 mm, frustum of the shoulder, neck; the cap of a sphere is taken off [ml]
BELOW = math.pi * 3.3**2 * 8.0
SHOULDER = math.pi / 3 * 1.5 * (3.3**2 + 3.3 * 2.6 + 2.6**2)
CAP = math.pi / 6 * 0.6 * (3 * 2.5**2 + 0.6**2)
NECK = math.pi * 2.6**2  # for each cm
WHOLE = BELOW + SHOULDER + 1.8 * NECK - CAP


@pytest.mark.parametrize(
    ("fill", "height_mm"),
    [
        ("headspace_mm = 12", 101.0),
        ("height_mm = 50.5", 50.5),
        ("volume_ml = 100", 1000 / (math.pi * 3.3**2) + 10 * CAP / (math.pi * 3.3**2)),
        (f"volume_ml = {BELOW - CAP}", 80.0),
        (f"volume_ml = {BELOW + SHOULDER - CAP}", 95.0),
        ("volume_ml = 325", 95.0 + 10 * (325 - (BELOW + SHOULDER - CAP)) / NECK),
        ("mass_g = 341.25", 95.0 + 10 * (325 - (BELOW + SHOULDER - CAP)) / NECK),  # 1.05 g/ml
        ("fraction = 0.96", 113.0 - 10 * 0.04 * WHOLE / NECK),
        ("fraction = 1", 113.0),
    ],
)
def test_every_way_of_giving_the_fill_holds_in_a_shaped_container(fill, height_mm):
    shape = f"{SHOULDERED}\nbase_rise_mm = 6\nbase_rise_diameter_mm = 50"
    case = case_from_text(shaped(shape, ("headspace_mm = 12.0", fill), ("z_mm = 59.0", "z_mm = 12")))
    assert_allclose(case.fill_height, height_mm / 1000, rtol=1e-11, atol=0)  # a root of cubic volumes
    assert_allclose(case.container.volume, WHOLE / 1e6, **ROUNDING)
    given = {"volume_ml": 1.0, "mass_g": 1 / 1.05, "fraction": WHOLE}.get(fill.split()[0])
    if given:
        assert_allclose(case.product_volume, float(fill.split()[2]) * given / 1e6, rtol=1e-11, atol=0)
    assert_allclose(case.product_volume + case.headspace_volume, WHOLE / 1e6, **ROUNDING)


@pytest.mark.parametrize(
    ("fill", "height_mm"),
    [("volume_ml = 36.87", 22), ("mass_g = 38.71", 22), ("fraction = 0.1059", 22), ("height_mm = 22", 22)],
)
def test_the_least_fill_that_is_told_is_itself_allowed(fill, height_mm):
    case = case_from_text(
        shaped(f"{STRAIGHT}\nbase_rise_mm = 20", ("headspace_mm = 12.0", fill), ("z_mm = 59.0", "z_mm = 25"))
    )
    # 22 mm of depth at the rim, 2 mm above the dome; rounded up in the fourth digit
    assert_allclose(case.fill_height, height_mm / 1000, rtol=2e-4, atol=0)
    assert case.fill_height >= 0.022 - 1e-9


def test_a_container_may_end_in_a_point_where_it_has_no_side_wall():
    cone = shaped(
        "profile_mm = [[0, 33], [113, 0]]", ('side = { material = "soda-lime glass", thickness_mm = 3.0 }', "")
    )
    case = case_from_text(cone)
    assert_allclose(case.container.volume, math.pi * 0.033**2 * 0.113 / 3, **ROUNDING)


# ---- points and probes ----


@pytest.mark.parametrize(
    ("r", "z"), [(28.9, 105), (35.9, 60), (0, 10.1), (30, 9), (36, 0), (29, 118.25), (0, 114), (26.5, 110)]
)
def test_points_within_the_outline_are_followed(r, z):
    shape = f"{SHOULDERED}\nbase_rise_mm = 10\nbase_rise_diameter_mm = 50"
    point = ("r_mm = 0.0\nz_mm = 59.0", f"r_mm = {r}\nz_mm = {z}")
    more = [('model = "insulated"', 'model = "fixed"\nmaterial = "air, dry"')]
    (read,) = case_from_text(shaped(shape, point, *more)).points
    assert_allclose((read.r, read.z), (r / 1000, z / 1000), **ROUNDING)


def test_a_probe_is_measured_from_the_face_of_a_raised_base():
    case = case_from_text(shaped(f"{SHOULDERED}\nbase_rise_mm = 10\nbase_rise_diameter_mm = 50") + LOGGER)
    # 10 mm of rise, 5 mm of base, 20 + 22 + 10 mm of logger
    assert_allclose(case.probe.tip(case.container), 0.067, **ROUNDING)
    assert body_of(case).probe.any()


@pytest.mark.parametrize(("deep", "allowed"), [("102.25", True), ("102.3", False)])
def test_a_tip_from_the_lid_keeps_clear_of_a_raised_base(deep, allowed):
    # 118.25 mm less 5 mm of base, 10 mm of rise and 1 mm
    text = shaped(f"{STRAIGHT}\nbase_rise_mm = 10", text=SMALL + STEM)
    text = changed(
        ("insertion_mm = 54.0", f"insertion_mm = {deep}"), ("length_mm = 94.0", "length_mm = 120"), text=text
    )
    if allowed:
        assert_allclose(case_from_text(text).probe.insertion, float(deep) / 1000, **ROUNDING)
    else:
        assert len(faults_of(text)) == 1


def test_a_probe_goes_through_the_neck_of_a_jar():
    case = case_from_text(shaped(SHOULDERED) + STEM)
    assert_allclose(case.probe.tip(case.container), 0.06425, **ROUNDING)
    assert body_of(case).probe.any()


def test_a_probe_goes_into_a_can_by_its_size():
    case = case_from_text(shaped('size = "307x409"') + STEM)
    # 5 mm of base, 4 9/16 in less 8 mm, 0.25 mm of lid; less 54 mm
    assert_allclose(case.probe.tip(case.container), 0.005 + 4.5625 * INCH - 0.008 + 0.00025 - 0.054, **ROUNDING)


# ---- sizes of cans: inches and sixteenths over the seams, allowances common practice, no source ----


@pytest.mark.parametrize(
    ("size", "wide", "high"),
    [
        ("307x409", 3 + 7 / 16, 4 + 9 / 16),
        ("211 X 400", 2 + 11 / 16, 4.0),
        ("603\\u00d7700", 6 + 3 / 16, 7.0),
        ("1010x1215", 10 + 10 / 16, 12 + 15 / 16),
    ],
)
def test_sizes_are_inches_and_sixteenths_less_allowances(size, wide, high):
    profile = case_from_text(shaped(f'size = "{size}"')).container.profile
    radius = (wide * INCH - 0.003) / 2
    assert_allclose(profile.corners, [(0, radius), (high * INCH - 0.008, radius)], **ROUNDING)
    less = case_from_text(
        shaped(f'size = "{size}"\nseam_allowance_mm = 3.4\ncountersink_allowance_mm = 6.6')
    ).container.profile
    assert_allclose([2 * less.widest, less.height], [wide * INCH - 0.0034, high * INCH - 0.0066], **ROUNDING)


def test_a_size_says_what_was_taken():
    notes = case_from_text(shaped('size = "307x409"')).notes
    assert notes[:2] == (
        # 3.4375 and 4.5625 times 25.4 mm
        "Size 307x409: 87.3 mm wide and 115.9 mm high over the seams; less 3 mm for the seam (common practice, no "
        "source) and 8 mm for the countersinks of both ends (common practice, no source) it is taken as 84.3 mm wide "
        "and 107.9 mm high inside. Measure a can and correct the allowances.",
        "A headspace gauged from the top of the seam (gross headspace) is larger than headspace_mm, which counts "
        "from the inside of the lid, by the lid's countersink: about 4 mm, half the allowance.",
    )
    given = case_from_text(shaped('size = "307x409"\ncountersink_allowance_mm = 6.6')).notes
    assert (
        "3 mm for the seam (common practice, no source) and 6.6 mm for the countersinks of both ends (as given)"
        in given[0]
    )
    assert "about 3.3 mm" in given[1]


# ---- bricks and pouches: a cylinder round them ----


def test_a_brick_is_enclosed_by_a_cylinder_and_says_what_that_means():
    case = case_from_text(shaped("brick_mm = [165, 95, 80]"))
    assert_allclose(
        case.container.profile.corners,
        [(0, math.hypot(0.165, 0.095) / 2), (0.080, math.hypot(0.165, 0.095) / 2)],
        **ROUNDING,
    )
    said = " ".join(case.notes)
    for part in (
        "190.4 mm wide and 80 mm high",
        "lower bound",
        "whole process is no bound",
        "inner_diameter_mm = 95,",
    ):
        assert part in said


@pytest.mark.parametrize("fill", ["fraction = 0.9", "volume_ml = 1128.6", "mass_g = {mass}"])
def test_a_brick_holds_what_a_brick_holds_however_its_fill_is_given(fill):
    density = case_from_text(shaped("brick_mm = [165, 95, 80]")).product.material.density
    fill = fill.format(mass=16.5 * 9.5 * 7.2 * density / 1e3)
    case = case_from_text(shaped("brick_mm = [165, 95, 80]", ("headspace_mm = 12.0", fill)))
    assert_allclose(case.fill_height, 0.072, **ROUNDING)
    assert_allclose([case.product_volume, case.headspace_volume], [1128.6e-6, 125.4e-6], rtol=1e-9)


@pytest.mark.parametrize("sides", [(165, 95, 64), (120, 120, 40), (100, 60, 60), (200, 60, 20)])
def test_while_heating_a_brick_lies_between_the_two_cylinders_and_above_the_slab(sides):
    # brick: product of three slabs; held surfaces; theta = 1 at the start, 0 at the medium's temperature
    length, width, thickness = (side / 1000 for side in sides)
    paste = find_material("water")
    properties = {"conductivity": paste.conductivity, "density": paste.density, "specific_heat": paste.specific_heat}
    container = case_from_text(
        shaped(f"brick_mm = {list(sides)}", ("headspace_mm = 12.0", "fraction = 1"), ("z_mm = 59.0", "z_mm = 9"))
    ).container
    held = {"film_side": math.inf, "film_base": math.inf, "film_lid": math.inf}
    around = FiniteCylinder(container.profile.widest, container.inner_height, **properties, **held)
    within = FiniteCylinder(min(length, width) / 2, thickness, **properties, **held)

    def slab(side):
        return Slab(side, **properties, film_base=math.inf, film_lid=math.inf)

    # from an eighth to twice the time in which the heat crosses half the thickness
    time = np.array([0.125, 0.25, 0.5, 1.0, 2.0]) * (thickness / 2) ** 2 / around.diffusivity
    parts = np.array([0.5, 0.3, 0.1])
    for part_x in parts:
        for part_y in parts:
            away = math.hypot((part_x - 0.5) * length, (part_y - 0.5) * width)
            brick = (
                slab(length).unaccomplished([part_x * length], time)
                * slab(width).unaccomplished([part_y * width], time)
                * slab(thickness).unaccomplished(parts * thickness, time)
            )
            larger = around.unaccomplished([away], parts * thickness, time)[:, 0, :]
            ordered = [slab(thickness).unaccomplished(parts * thickness, time), larger, brick]
            if away < within.radius:
                ordered.append(within.unaccomplished([away], parts * thickness, time)[:, 0, :])
            for colder, warmer in zip(ordered[:-1], ordered[1:], strict=True):
                # before the heat from the side arrives they are alike but for the solutions' errors, about 1e-13
                assert (colder > warmer - 1e-12).all()
                assert (colder[-1] > warmer[-1]).all()
