"""The shape of the inside against closed forms, hand-worked numbers and quadrature of a general-purpose library.

Volumes of cone, frustum, cap and zone of a sphere are those of any table of solids (from memory).
"""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.integrate import quad

from thermsim import find_material
from thermsim.case.container import Container, Wall
from thermsim.case.profile import Profile, Rise, height_of, straight
from thermsim.case.rules import collecting

EXACT = {"rtol": 1e-12, "atol": 0}  # a few dozen roundings
GLASS = find_material("soda-lime glass")
SHOULDERED = Profile(((0.0, 0.035), (0.084, 0.035), (0.093, 0.026), (0.112, 0.026)))
# heights grow by 2 to 30 mm, radii of 8 to 40 mm: slopes to both sides, steep and flat
STEPS = st.lists(st.tuples(st.floats(2.0, 30.0), st.floats(8.0, 40.0)), min_size=2, max_size=6)


def profile_of(steps, rounding=0.0):
    """A profile from (growth of the height, radius) in mm."""
    heights = np.cumsum([0.0, *(growth for growth, _ in steps[1:])]) / 1000
    radii = [radius / 1000 for _, radius in steps]
    return Profile(tuple(zip(heights.tolist(), radii, strict=True)), rounding)


def roundest(profile):
    """A radius to which all corners can be rounded [m]: each takes less than half of the lines beside it."""
    sides = [math.dist(low, high) for low, high in zip(profile.corners[:-1], profile.corners[1:], strict=True)]
    turns = [
        abs(math.atan2(r2 - r1, z2 - z1) - math.atan2(r1 - r0, z1 - z0))
        for (z0, r0), (z1, r1), (z2, r2) in zip(
            profile.corners[:-2], profile.corners[1:-1], profile.corners[2:], strict=True
        )
    ]
    return min(sides) / 2.1 / max(1e-3, *(math.tan(turn / 2) for turn in turns), 1e-3)


def sphere_zone(low, high):
    """Profile whose one corner is rounded to a sphere of 40 mm about a centre on the axis.

    It follows tangents of the sphere, from latitude ``low`` to ``high`` [rad]; also where the sphere begins and ends.
    """
    radius = 0.040
    touches = [(radius * math.sin(latitude), radius * math.cos(latitude)) for latitude in (low, high)]
    away, middle = radius / math.cos((high - low) / 2), (high + low) / 2
    corner = (away * math.sin(middle), away * math.cos(middle))
    # the tangents go on beyond the sphere by as much again
    start, end = ((2 * z - corner[0], 2 * r - corner[1]) for z, r in touches)
    corners = tuple((z - start[0], r) for z, r in (start, corner, end))
    return Profile(corners, radius), touches[0][0] - start[0], touches[1][0] - start[0]


def test_a_straight_profile_holds_a_cylinder():
    profile = straight(0.066, 0.113)
    assert profile.is_straight
    assert (profile.height, profile.widest, profile.narrowest, profile.bends) == (0.113, 0.033, 0.033, ())
    assert_allclose(profile.volume(0.113), math.pi * 0.033**2 * 0.113, **EXACT)
    assert_allclose(profile.volume(0.05), math.pi * 0.033**2 * 0.05, **EXACT)
    assert_allclose(profile.radius([0.0, 0.05, 0.113]), 0.033, **EXACT)
    assert_allclose(profile.slope([0.0, 0.05, 0.113]), 0.0, rtol=0, atol=0)


def test_a_taper_holds_the_difference_of_two_cones():
    # 30 mm at the base and 37.5 mm 70 mm above it: the cone's point lies 280 mm below the base
    profile = Profile(((0.0, 0.030), (0.070, 0.0375)))
    cones = math.pi / 3 * (0.0375**2 * 0.350 - 0.030**2 * 0.280)
    assert_allclose(profile.volume(0.070), cones, **EXACT)
    assert not profile.is_straight
    assert_allclose(profile.radius([0.0, 0.028, 0.070, 0.2]), [0.030, 0.033, 0.0375, 0.0375], **EXACT)
    assert_allclose(profile.slope([0.0, 0.05]), 7.5 / 70, **EXACT)


@pytest.mark.parametrize("corners", [((0.0, 0.0), (0.06, 0.03)), ((0.0, 0.03), (0.06, 0.0))])
def test_a_profile_that_ends_in_a_point_holds_a_cone(corners):
    assert_allclose(Profile(corners).volume(0.06), math.pi / 3 * 0.03**2 * 0.06, **EXACT)


def test_a_double_cone_holds_two():
    profile = Profile(((0.0, 0.0), (0.05, 0.02), (0.08, 0.0)))
    assert_allclose(profile.volume(0.08), math.pi / 3 * 0.02**2 * 0.08, **EXACT)


def test_a_rounding_about_a_place_on_the_axis_holds_the_zone_of_a_sphere():
    for latitudes in ((-0.5, 0.3), (0.1, 0.9), (-1.2, -0.4)):
        profile, begins, ends = sphere_zone(*latitudes)
        (arc,) = [piece for piece in profile.pieces if piece.centre is not None]
        assert_allclose([arc.low[0], arc.high[0]], [begins, ends], rtol=0, atol=1e-15)
        assert_allclose(arc.centre[1], 0.0, rtol=0, atol=1e-15)
        a, b, h = (*(0.040 * math.cos(latitude) for latitude in latitudes), ends - begins)
        zone = math.pi * h / 6 * (3 * a**2 + 3 * b**2 + h**2)
        assert_allclose(profile.volume(ends) - profile.volume(begins), zone, rtol=1e-11, atol=0)  # a difference


def test_rounding_a_waist_leaves_the_ring_of_a_torus_out():
    # a waist of 90 degrees about a circle of 10 mm radius whose centre is 50 mm from the axis: quarter of the circle
    reach = 0.010 * math.sqrt(2)
    waist = 0.050 - reach  # the corner is where the tangents at 45 degrees meet
    profile = Profile(((0.0, waist + 0.03), (0.03, waist), (0.06, waist + 0.03)), 0.010)
    (arc,) = [piece for piece in profile.pieces if piece.centre is not None]
    assert arc.outwards
    assert_allclose(arc.centre, (0.03, 0.050), **EXACT)
    half = 0.010 / math.sqrt(2)
    assert_allclose((arc.low[0], arc.high[0]), (0.03 - half, 0.03 + half), **EXACT)

    def disc(height):
        return math.pi * (0.050 - math.sqrt(0.010**2 - (height - 0.03) ** 2)) ** 2

    between, _ = quad(disc, 0.03 - half, 0.03 + half, epsabs=0, epsrel=1e-13)
    assert_allclose(profile.volume(0.03 + half) - profile.volume(0.03 - half), between, rtol=1e-11, atol=0)
    assert_allclose(profile.radius(0.03), 0.040, **EXACT)


def test_a_shoulder_is_rounded_along_tangents():
    # both corners turn by 45 degrees: 6 mm tan(22.5 deg) of each line go; the centres lie 6 mm inside and outside
    cut = 0.006 * math.tan(math.pi / 8)
    profile = Profile(SHOULDERED.corners, 0.006)
    below, shoulder, slope, neck, above = profile.pieces
    assert [piece.outwards for piece in (shoulder, neck)] == [False, True]
    assert_allclose(shoulder.low, (0.084 - cut, 0.035), **EXACT)
    assert_allclose(shoulder.centre, (0.084 - cut, 0.029), **EXACT)
    assert_allclose(neck.high, (0.093 + cut, 0.026), **EXACT)
    assert_allclose(neck.centre, (0.093 + cut, 0.032), **EXACT)
    assert (below.high, slope.low, slope.high, above.low) == (shoulder.low, shoulder.high, neck.low, neck.high)
    heights = np.linspace(0.084 - cut, shoulder.high[0], 7)
    assert_allclose(np.hypot(heights - shoulder.centre[0], profile.radius(heights) - 0.029), 0.006, **EXACT)


def test_bends_are_where_the_wall_turns_sharply():
    assert SHOULDERED.bends == (0.084, 0.093)
    cut = 0.006 * math.tan(math.pi / 8)
    rounded = Profile(SHOULDERED.corners, 0.006)
    assert_allclose(
        rounded.bends, [0.084 - cut, 0.084 + cut / math.sqrt(2), 0.093 - cut / math.sqrt(2), 0.093 + cut], **EXACT
    )
    # a turn by 2 degrees is part of a smooth course
    assert Profile(((0.0, 0.03), (0.05, 0.03), (0.1, 0.03 + 0.05 * math.tan(math.radians(2))))).bends == ()


def test_corner_without_room_for_its_rounding_is_named():
    (fault,) = Profile(SHOULDERED.corners, 0.020).faults("profile")
    assert str(fault) == (
        "profile.rounding = 0.02 m does not fit between point 2 = [84, 35] and point 3 = [93, 26]; there is room for "
        "15.3 mm at most"
    )


@settings(max_examples=25, deadline=None)
@given(STEPS, st.floats(0.1, 1.0))
def test_rounded_profiles_are_smooth_and_hold_what_quadrature_says(steps, part):
    sharp = profile_of(steps)
    profile = Profile(sharp.corners, part * roundest(sharp))
    joints = [piece.high[0] for piece in profile.pieces[:-1]]
    assert all(low < high for low, high in zip(joints[:-1], joints[1:], strict=True))
    for lower, upper in zip(profile.pieces[:-1], profile.pieces[1:], strict=True):
        at = np.asarray(lower.high[0])
        assert_allclose(lower.radius(at), upper.radius(at), rtol=1e-9, atol=0)  # roots of small differences
        assert_allclose(np.arctan(lower.slope(at)), np.arctan(upper.slope(at)), rtol=0, atol=1e-5)
    # the roundings are arcs: quadrature between the joints has no kinks to cross
    whole = sum(
        quad(lambda z: math.pi * float(profile.radius(z)) ** 2, low, high, epsabs=1e-16, epsrel=1e-11)[0]
        for low, high in zip([0.0, *joints], [*joints, profile.height], strict=True)
    )
    assert_allclose(profile.volume(profile.height), whole, rtol=1e-9, atol=0)  # roots at upright ends of arcs


@settings(max_examples=25, deadline=None)
@given(STEPS, st.floats(0.0, 0.9), st.floats(0.01, 1.0))
def test_the_height_of_a_volume_is_where_the_profile_holds_it(steps, rounding, part):
    sharp = profile_of(steps)
    radius = rounding * roundest(sharp)
    profile = Profile(sharp.corners, radius)
    height = part * profile.height
    # both ways round off: 1e-12 of the longest length in them, which may be an arc's radius far beyond the container
    longest = max(profile.height, radius)
    assert_allclose(height_of(profile.volume(height), profile), height, rtol=1e-12, atol=1e-12 * longest)


@given(STEPS, st.floats(0.05, 0.95))
def test_a_further_point_on_a_straight_line_changes_nothing(steps, part):
    profile = profile_of(steps)
    (low, high), heights = profile.corners[:2], np.linspace(0.0, profile.height, 23)
    between = tuple(one + part * (other - one) for one, other in zip(low, high, strict=True))
    more = Profile((low, between, *profile.corners[1:]))
    assert_allclose(more.radius(heights), profile.radius(heights), rtol=1e-9, atol=0)
    assert_allclose(more.volume(profile.height), profile.volume(profile.height), **EXACT)
    assert more.bends == profile.bends


def test_more_than_the_container_holds_has_no_height():
    profile = straight(0.066, 0.113)
    with pytest.raises(ValueError, match=r"the container holds 386\.595 ml"):
        height_of(387e-6, profile)
    assert height_of(profile.volume(0.113), profile) == 0.113
    assert height_of(SHOULDERED.volume(0.112), SHOULDERED) == 0.112


@pytest.mark.parametrize("form", ["dome", "cone"])
@pytest.mark.parametrize("high", [0.001, 0.006, 0.028])
def test_the_volume_under_a_rise_is_that_of_a_cap_or_a_cone(form, high):
    rise = Rise(high, 0.056, form)
    if form == "cone":
        volume = math.pi * 0.028**2 * high / 3
    else:
        sphere = (0.028**2 + high**2) / (2 * high)
        volume = math.pi * high**2 * (3 * sphere - high) / 3
    assert_allclose(rise.volume, volume, **EXACT)
    shells, _ = quad(lambda r: 2 * math.pi * r * float(rise.at(r)), 0.0, 0.028, epsabs=1e-20, epsrel=1e-10)
    assert_allclose(rise.volume, shells, rtol=1e-8, atol=0)  # half a sphere is upright at its rim


@pytest.mark.parametrize("form", ["dome", "cone"])
def test_a_rise_stands_highest_at_the_axis_and_ends_at_its_rim(form):
    rise = Rise(0.006, 0.056, form)
    assert_allclose(rise.at([0.0, 0.028, 0.035]), [0.006, 0.0, 0.0], rtol=0, atol=1e-17)
    assert (np.diff(rise.at(np.linspace(0.0, 0.028, 20))) < 0).all()
    under = rise.at(np.array([0.0, 0.004, 0.008, 0.02, 0.028]), level=0.008)
    assert_allclose(under[[0, 1, 2, 4]], [0.006, 0.006, 0.006, 0.0], rtol=0, atol=1e-17)
    assert under[3] > rise.at(0.02)


def test_a_dome_is_part_of_a_sphere():
    # 8 mm high and 48 mm wide: a sphere of (24^2 + 8^2)/16 = 40 mm; 20 mm away it stands 40 - sqrt(40^2 - 20^2) lower
    rise = Rise(0.008, 0.048)
    assert_allclose(rise.at(0.020), 0.008 - (0.040 - math.sqrt(0.040**2 - 0.020**2)), **EXACT)


def test_a_raised_base_takes_its_volume_off():
    rise = Rise(0.006, 0.056)
    container = Container(SHOULDERED, rise=rise)
    # cylinder, frustum of the shoulder (26 and 35 mm, 9 mm high), neck
    parts = math.pi * np.array(
        [0.035**2 * 0.084, 0.009 / 3 * (0.035**2 + 0.035 * 0.026 + 0.026**2), 0.026**2 * 0.019]
    )
    cap = math.pi * 0.006 / 6 * (3 * 0.028**2 + 0.006**2)
    assert_allclose(container.volume, parts.sum() - cap, **EXACT)
    assert_allclose(container.volume_below(0.050), math.pi * 0.035**2 * 0.050 - cap, **EXACT)
    assert container.crown == 0.006


def test_the_outside_of_a_tapered_wall_is_its_thickness_away():
    container = Container(Profile(((0.0, 0.030), (0.070, 0.0375))), side=Wall(GLASS, 0.003))
    r, z = container.outside(np.array([0.0, 0.035, 0.070]))
    # level at the ends, at right angles to the slope of 7.5 in 70 between
    length = math.hypot(7.5, 70)
    assert_allclose([r[0], r[2]], [0.030 + 0.003 * length / 70, 0.0375 + 0.003 * length / 70], **EXACT)
    assert_allclose([z[0], z[2]], [0.0, 0.070], rtol=0, atol=1e-17)
    away = ((r - 0.030) * 70 - z * 7.5) / length
    assert_allclose(away, 0.003, **EXACT)


def test_thickness_along_the_profile_changes_evenly():
    container = Container(straight(0.066, 0.1), side=Wall(GLASS, 0.004, (0.002, 0.004)))
    assert not container.is_straight
    r, z = container.outside(np.array([0.0, 0.025, 0.1]))
    assert_allclose(r, [0.035, 0.0355, 0.037], **EXACT)
    assert_allclose(z, [0.0, 0.025, 0.1], **EXACT)


def test_a_wall_thicker_than_the_rounding_of_a_neck_folds():
    rounded = Profile(SHOULDERED.corners, 0.006)
    assert Container(rounded, side=Wall(GLASS, 0.0059)).fold is None
    with collecting():
        fold = Container(rounded, side=Wall(GLASS, 0.0061)).fold
    arc = rounded.pieces[3]
    assert fold == (arc.low[0], arc.high[0])
