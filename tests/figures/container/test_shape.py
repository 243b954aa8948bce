"""Outlines of walls, product and headspace: hand-worked corners, exact volumes and circles."""

import dataclasses
import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from thermsim.case.container import Container
from thermsim.case.profile import Profile, Rise, straight
from thermsim.figures.container.shape import shape_of


def volume_of_revolution(outline):
    """Of the right half of a closed outline, exact for straight sides: frusta of cones, pi/3 dz (a^2 + a b + b^2)."""
    r, z = np.maximum(outline[:, 0], 0.0), outline[:, 1]
    b, dz = np.roll(r, -1), np.roll(z, -1) - z
    return abs(math.pi / 3 * float((dz * (r * r + r * b + b * b)).sum()))


def distance_to(line, places):
    """Least distance of each place from a line through points [mm]."""
    start, along = line[:-1], np.diff(line, axis=0)
    away = places[:, None] - start
    part = np.clip((away * along).sum(axis=-1) / (along**2).sum(axis=-1), 0.0, 1.0)
    return np.hypot(*np.moveaxis(away - part[..., None] * along, -1, 0)).min(axis=1)


def closed(outline):
    return np.concatenate([outline, outline[:1]])


def right_half(outlines):
    """Of the two halves of the side wall the one at the right."""
    return max(outlines, key=lambda outline: outline[:, 0].min())


def wall(shape, name):
    (part,) = (part for part in shape.walls if part.name == name)
    return part.outlines


def test_straight_container_is_drawn_as_rectangles(jar):
    """5 mm of base, 113 mm inside, 0.2 mm of lid; 33 mm to the side wall of 3 mm; filled to 101 mm."""
    shape = shape_of(jar.case)
    for outline, (left, right, low, high) in (
        (shape.product, (-33.0, 33.0, 5.0, 106.0)),
        (shape.headspace, (-33.0, 33.0, 106.0, 118.0)),
        (shape.inside, (-33.0, 33.0, 5.0, 118.0)),
        (*wall(shape, "lid"), (-36.0, 36.0, 118.0, 118.2)),
        (*wall(shape, "base"), (-36.0, 36.0, 0.0, 5.0)),
        (right_half(wall(shape, "side")), (33.0, 36.0, 5.0, 118.0)),
    ):
        corners = sorted(map(tuple, np.round(outline, 9)))
        assert_allclose(corners, sorted([(r, z) for r in (left, right) for z in (low, high)]), rtol=0, atol=1e-9)
    assert_allclose(shape.surface, [[-33.0, 106.0], [33.0, 106.0]], rtol=1e-12)
    assert shape.open_edges == ()


def test_halves_are_mirrored(shouldered):
    shape = shape_of(shouldered.case)
    left, right = wall(shape, "side")
    assert_allclose(left * [-1.0, 1.0], right, rtol=0, atol=1e-12)
    for outline in (shape.product, shape.headspace, *wall(shape, "base")):
        mirrored = {tuple(place) for place in np.round(outline * [-1.0, 1.0], 9) + 0.0}
        assert {tuple(place) for place in np.round(outline, 9) + 0.0} == mirrored


@pytest.mark.parametrize("name", ["tapered", "shouldered", "jar"])
def test_outlines_hold_the_exact_volumes(name, request):
    """Arcs are drawn by chords of 3 degrees and a dome by 48: together they cut off less than a millionth."""
    case = request.getfixturevalue(name).case
    shape = shape_of(case)
    assert_allclose(1e-9 * volume_of_revolution(shape.product), case.product_volume, rtol=1e-6)
    assert_allclose(1e-9 * volume_of_revolution(shape.headspace), case.headspace_volume, rtol=1e-6)
    assert_allclose(1e-9 * volume_of_revolution(shape.inside), case.container.volume, rtol=1e-6)


def test_sharp_corners_of_the_profile_are_corners_of_the_side_wall(shouldered):
    corners = ((0.0, 0.033), (0.004, 0.036), (0.062, 0.036), (0.080, 0.030), (0.095, 0.031))
    container = dataclasses.replace(shouldered.case.container, profile=Profile(corners))
    shape = shape_of(shouldered.case.replace(container=container, probe=None))
    places = [tuple(place) for place in np.round(right_half(wall(shape, "side")), 6)]
    for height, radius in corners:  # above a base of 4 mm
        assert (round(1e3 * radius, 6), round(1e3 * height + 4.0, 6)) in places
    inner = np.array([(1e3 * radius, 1e3 * height + 4.0) for height, radius in corners])
    assert (distance_to(inner, np.array(places)) < 1e-6).sum() == len(corners)


def test_rounded_corner_is_a_circle_between_its_tangents(shouldered):
    """The shoulder's lower corner: 36 mm at a height of 62 mm, then inwards by 10 mm over 18 mm, rounded to 5 mm.

    The centre of the circle lies 5 mm inside of the upright wall, at 31 mm; the tangents to it from the corner are
    5 tan(a/2) long, a the angle of the turn, atan(10/18) (plane geometry).
    """
    tangent = 5.0 * math.tan(math.atan2(10.0, 18.0) / 2)
    centre = np.array([31.0, 4.0 + 62.0 - tangent])
    inner = shape_of(shouldered.case).inside
    length = math.hypot(10.0, 18.0)
    high = 66.0 + 18.0 / length * tangent
    on_arc = inner[(inner[:, 0] > 26.5) & (inner[:, 1] >= centre[1] - 1e-6) & (inner[:, 1] <= high + 1e-6)]
    assert len(on_arc) >= 8
    assert_allclose(np.hypot(*(on_arc - centre).T), 5.0, rtol=0, atol=1e-6)


def test_leaning_wall_has_its_thickness_at_right_angles(tapered):
    """1 mm between two parallel lines that lean 10 mm over 70 mm."""
    side = right_half(wall(shape_of(tapered.case), "side"))
    (low, low_out), (high, high_out) = (sorted(map(tuple, side[np.isclose(side[:, 1], z)])) for z in (1.2, 71.2))
    assert_allclose([low, high], [(26.0, 1.2), (36.0, 71.2)], rtol=0, atol=1e-9)
    # level ends are longer than the wall is thick by the secant of the angle
    level = math.hypot(1.0, 10.0 / 70.0)
    assert_allclose([low_out[0], high_out[0]], [26.0 + level, 36.0 + level], rtol=1e-9)


def test_uneven_wall_changes_evenly_between_the_corners(shouldered):
    """The upright body is 3.5 mm thick at its lower and 2.5 mm at its upper corner, 58 mm higher: 3 mm halfway."""
    side = closed(right_half(wall(shape_of(shouldered.case), "side")))
    halfway = 4.0 + (4.0 + 62.0) / 2
    outer = side[side[:, 0] > 37.0]
    # the two ends of the outer side's straight course, on a line
    z, r = np.sort(outer[:, 1]), outer[np.argsort(outer[:, 1]), 0]
    assert_allclose(np.interp(halfway, z, r), 39.0, rtol=0, atol=1e-6, err_msg="mm")


def test_base_and_lid_end_where_the_wall_ends(tapered, shouldered):
    """Level across the wall: 1 mm and sec(atan(1/7)); 4 mm on a slope of 3 in 4, so 5 mm; 3.5 mm upright."""
    lean = math.hypot(1.0, 1.0 / 7.0)
    for case, base, lid in ((tapered.case, 26.0 + lean, 36.0 + lean), (shouldered.case, 38.0, 29.5)):
        shape = shape_of(case)
        for name, radius in (("base", base), ("lid", lid)):
            (outline,) = wall(shape, name)
            assert_allclose([outline[:, 0].min(), outline[:, 0].max()], [-radius, radius], rtol=1e-9, err_msg=name)


def test_dome_is_a_cap_of_a_sphere_on_both_sides_of_the_base(shouldered):
    """A cap of height h over a circle of radius a is of a sphere of (a^2 + h^2) / 2h: 55.083 mm for 6 and 25 mm."""
    sphere = (25.0**2 + 6.0**2) / 12.0
    (base,) = wall(shape_of(shouldered.case), "base")
    within = base[np.abs(base[:, 0]) <= 25.0 + 1e-6]
    upper = within[:, 1] > 6.0 - 1e-6
    below, above = within[within[:, 1] < 6.0 * (1 - (within[:, 0] / 25.0) ** 2) + 1.0], within[upper]
    assert len(below) > 80
    assert_allclose(np.hypot(below[:, 0], below[:, 1] - (6.0 - sphere)), sphere, rtol=0, atol=1e-6)
    assert_allclose(above[:, 1].max(), 10.0, rtol=1e-9, err_msg="6 mm and 4 mm of glass")


def test_dome_is_level_under_a_probe_that_enters_it(shouldered):
    """Within 6 mm of the axis, the radius of the fitting; its rim and its height stay."""
    case = shouldered.case
    (probed,), (bare,) = (wall(shape_of(case, probe), "base") for probe in (shouldered.probe.probe, None))
    outer = probed[(np.abs(probed[:, 0]) <= 6.0 + 1e-6) & (probed[:, 1] < 8.0)]
    assert_allclose(outer[:, 1], 6.0, rtol=0, atol=1e-9)
    assert_allclose(sorted(set(np.abs(outer[:, 0]).round(6))), [6.0], rtol=1e-9)
    for outline in (probed, bare):
        assert_allclose([outline[:, 1].min(), outline[:, 1].max()], [0.0, 10.0], rtol=0, atol=1e-9)


def test_cone_and_walls_left_out_are_drawn_by_their_corners(jar):
    """No walls: the product alone, 60 mm wide below, 68 mm at 20 mm, 60 mm at 60 mm, on a cone of 10 mm."""
    container = Container(Profile(((0.0, 0.030), (0.020, 0.034), (0.060, 0.030))), rise=Rise(0.010, 0.060, "cone"))
    shape = shape_of(jar.case.replace(container=container, fill_height=0.060, points=()))
    assert shape.walls == ()
    assert shape.headspace is None
    right = [(30.0, 0.0), (34.0, 20.0), (30.0, 60.0)]
    expected = sorted([(0.0, 10.0), *right, *((-r, z) for r, z in right)])
    assert_allclose(sorted(map(tuple, shape.product.round(9) + 0.0)), expected, rtol=0, atol=1e-9)
    edges = sorted(sorted(map(tuple, edge.round(9) + 0.0)) for edge in shape.open_edges)
    assert edges == sorted(
        [
            [(-30.0, 0.0), (0.0, 10.0), (30.0, 0.0)],
            [(-30.0, 60.0), (30.0, 60.0)],
            [(30.0, 0.0), (30.0, 60.0), (34.0, 20.0)],
            [(-34.0, 20.0), (-30.0, 0.0), (-30.0, 60.0)],
        ]
    )


def test_outlines_are_those_of_the_grid(shouldered):
    """The nodes at the ends of the product's block lie on the outline drawn: the same map, other samples."""
    grid = shouldered.grid
    product = closed(shape_of(shouldered.case).product)
    nodes = np.flatnonzero(np.isclose(grid.columns, 0.036))
    (side,) = nodes
    low, high = (int(np.abs(grid.levels - level).argmin()) for level in (0.004, 0.092))
    places = 1e3 * np.stack(
        [
            np.concatenate([grid.r[side, low : high + 1], grid.r[: side + 1, low]]),
            np.concatenate([grid.z[side, low : high + 1], grid.z[: side + 1, low]]),
        ],
        axis=-1,
    )
    assert distance_to(product, places).max() < 2e-3  # mm: the sagitta of 3 degrees at 5 mm is 0.0017 mm


def test_straight_inside_with_an_uneven_wall_is_no_rectangle(jar):
    container = dataclasses.replace(
        jar.case.container, profile=straight(0.066, 0.113), side=dataclasses.replace(
            jar.case.container.side, course=(0.003, 0.002)
        ),
    )  # fmt: skip
    side = right_half(wall(shape_of(jar.case.replace(container=container)), "side"))
    expected = [(33.0, 5.0), (33.0, 118.0), (35.0, 118.0), (36.0, 5.0)]
    assert_allclose(sorted(map(tuple, side.round(9))), expected, rtol=0, atol=1e-9)
