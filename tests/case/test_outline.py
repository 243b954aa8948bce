"""How wide a container is where something is put into it: hand-worked numbers."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from thermsim import find_material
from thermsim.case.container import Container, Wall
from thermsim.case.outline import lies_outside, narrowest_between, outer_radius_at, underside
from thermsim.case.profile import Profile, Rise, straight
from thermsim.solve.grid.coordinates import Coordinates

EXACT = {"rtol": 1e-9, "atol": 0}  # a root found to the last digit or two
GLASS = find_material("soda-lime glass")
SHOULDERED = Profile(((0.0, 0.033), (0.080, 0.033), (0.095, 0.026), (0.113, 0.026)))
JAR = Container(SHOULDERED, Wall(GLASS, 0.003), Wall(GLASS, 0.005), Wall(GLASS, 0.002), rise=Rise(0.006, 0.050))


def test_beside_upright_walls_the_outer_radius_is_a_thickness_more():
    assert_allclose([outer_radius_at(JAR, z) for z in (0.0, 0.004, 0.02, 0.08)], 0.036, **EXACT)
    assert_allclose([outer_radius_at(JAR, z) for z in (0.105, 0.118, 0.119, 0.12)], 0.029, **EXACT)


def test_beside_a_slope_the_outer_radius_is_measured_level():
    # the shoulder falls 7 mm on 15 mm: level, the wall is sqrt(7^2 + 15^2)/15 times as thick
    level = 0.003 * math.hypot(7, 15) / 15
    assert_allclose(outer_radius_at(JAR, 0.005 + 0.089), 0.033 - 7 / 15 * 0.009 + level, **EXACT)


def test_without_a_side_wall_the_outside_is_the_inside():
    bare = Container(SHOULDERED)
    assert_allclose([outer_radius_at(bare, z) for z in (0.05, 0.0875, 0.113)], [0.033, 0.0295, 0.026], **EXACT)


@pytest.mark.parametrize(
    ("r", "z", "outside"),
    [
        (0.0, 0.0059, True),  # under the punt
        (0.0, 0.0061, False),
        (0.025, 0.0, False),  # its rim
        (0.036, 0.0, False),
        (0.0361, 0.02, True),
        (0.029, 0.12, False),  # the edge of the lid
        (0.0, 0.1201, True),
        (0.0291, 0.12, True),
        (0.0320, 0.0945, True),  # beside the shoulder, 28.57 mm wide inside, its wall 3.31 mm when measured level
        (0.0318, 0.0945, False),
    ],
)
def test_a_place_is_outside_beside_the_wall_above_the_lid_or_under_the_base(r, z, outside):
    assert lies_outside(JAR, r, z) == outside


@settings(max_examples=25, deadline=None)
@given(st.floats(0.0, 1.02), st.floats(0.0, 1.0))
def test_what_lies_inside_is_within_the_reference_section_and_only_that(part, height):
    coordinates = Coordinates(JAR, 0.0, 0.1)
    z = height * JAR.outer_height
    edge = outer_radius_at(JAR, z)
    column, level = coordinates.reference(part * edge, z)
    beside = part > 1.0 + 1e-8
    if z < underside(JAR, part * edge) - 1e-8 and not beside:
        assert lies_outside(JAR, part * edge, z)
        assert level < 0.0
    elif abs(part - 1.0) > 1e-8:
        assert lies_outside(JAR, part * edge, z) == beside
        assert (column > coordinates.outside) == beside


def test_the_narrowest_place_between_two_heights():
    assert narrowest_between(SHOULDERED, 0.0, 0.05) == (0.033, 0.0)
    assert narrowest_between(SHOULDERED, 0.02, 0.0875) == (pytest.approx(0.0295, rel=1e-12), 0.0875)
    assert narrowest_between(SHOULDERED, 0.02, 0.113) == (0.026, 0.095)
    # a waist rounded about a circle of 10 mm whose centre is 50 mm from the axis
    waist = 0.050 - 0.010 * math.sqrt(2)
    rounded = Profile(((0.0, waist + 0.03), (0.03, waist), (0.06, waist + 0.03)), 0.010)
    radius, height = narrowest_between(rounded, 0.0, 0.06)
    assert_allclose([radius, height], [0.040, 0.03], **EXACT)


def test_a_rise_as_wide_as_the_base_needs_a_wall_that_does_not_lean_in():
    assert Rise(0.033, 0.066).beyond(straight(0.066, 0.1)) is None
    # a cone of 45 degrees in a wall of 30 degrees from the upright: it stays within; the other way round it does not
    leaning = Profile(((0.0, 0.033), (0.033, 0.033 - 0.033 * math.tan(math.radians(30)))))
    assert Rise(0.033, 0.066, "cone").beyond(leaning) is None
    steeper = Rise(0.066, 0.066, "cone")
    height, rise, wall = steeper.beyond(leaning)
    assert rise > wall
    assert_allclose([rise, wall], [0.033 - height / 2, leaning.radius(height)], **EXACT)
    assert Rise(0.004, 0.050).beyond(SHOULDERED) is None


def test_the_underside_of_a_level_base_is_level():
    assert underside(Container(SHOULDERED), 0.01) == 0.0
    assert_allclose(underside(JAR, 0.0), 0.006, **EXACT)
    assert np.isclose(underside(JAR, 0.025), 0.0, rtol=0, atol=1e-15)
