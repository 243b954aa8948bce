"""What counts as a cold spot, on fields made for the purpose and on a solved jar."""

from __future__ import annotations

import dataclasses
from types import SimpleNamespace

import numpy as np
import pytest
from bodies import GLASS
from numpy.testing import assert_allclose
from shapes import SHAPES, packed

from thermsim.assess.fields.courses import Courses
from thermsim.assess.fields.family import Fields
from thermsim.assess.fields.refinement import refine
from thermsim.assess.simulate.fineness import time_tolerance
from thermsim.assess.simulate.simulation import simulate_container
from thermsim.assess.spots.cold_spot import (
    ProductFields,
    Spot,
    cold_spots,
    least_lethality,
    reach_alike,
    stencil_at,
    track,
)
from thermsim.assess.spots.place_uncertainty import off_axis, off_level, off_surface, on_another
from thermsim.assess.spots.zone import Zone, _near, cold_zone
from thermsim.case.container import Wall
from thermsim.case.process import Film, Process
from thermsim.case.profile import Rise, straight
from thermsim.physics.materials import Material
from thermsim.solve.grid.body import body_of
from thermsim.solve.grid.grid import Grid, grid_family

R, Z = np.linspace(0.0, 0.03, 13), np.linspace(0.005, 0.105, 41)

CELLS = (R.size - 1, Z.size - 1)
GRID = Grid(
    columns=R,
    levels=Z,
    r=np.repeat(R[:, None], Z.size, axis=1),
    z=np.repeat(Z[None], R.size, axis=0),
    layer_r=np.zeros(CELLS[0], dtype=int),
    layer_z=np.zeros(CELLS[1], dtype=int),
    material=np.zeros(CELLS, dtype=int),
    product=np.ones(CELLS, dtype=bool),
    probe=np.zeros(CELLS, dtype=bool),
    initial=np.full(CELLS, 40.0),
    materials=(Material("paste", 0.5, 1000.0, 4000.0),),
)


def product(log_lethality, end=None, temperature=None):
    end = log_lethality if end is None else end
    temperature = log_lethality[None] if temperature is None else temperature
    return ProductFields.of(GRID, Fields(Courses.known(temperature), end, log_lethality, log_lethality - 1.0))


def well(z0, depth, width=0.012, r0=0.0):
    return -depth * np.exp(-((R[:, None] - r0) ** 2) / 0.01**2 - (Z - z0) ** 2 / width**2)


def test_two_minima_are_found_lowest_first_and_named_inside_or_on_the_surface():
    spots = least_lethality(product(5.0 + well(0.04, 1.0) + well(0.111, 2.5)))
    assert_allclose([spot.z for spot in spots], [0.105, 0.04], rtol=0, atol=2e-4)
    assert [spot.inside for spot in spots] == [False, True]
    assert spots[0].lethality < spots[1].lethality


def test_the_axis_is_inside_the_product():
    assert least_lethality(product(5.0 + well(0.05, 1.0)))[0].inside


def test_a_ripple_is_not_a_minimum_of_its_own():
    ripple = 2e-4 * np.cos(np.pi * np.arange(Z.size))
    assert len(least_lethality(product(5.0 + well(0.05, 1.0) + ripple))) == 1


def test_the_part_of_a_zone_is_as_uncertain_as_its_bounds():
    zone = Zone(0.1, 0.0, 0.010, 0.02, 0.06, part=0.1, resolution=(0.001, 0.002))
    # hand-worked: a tenth of the width, about the axis twice that of the part, and a twentieth of the height
    assert_allclose(zone.part_within(0.001, 0.002), 0.1 * (0.2 + 0.05), rtol=1e-12)
    ring = dataclasses.replace(zone, r_low=0.005)
    # ln F rises by ln 1.1 over 10 mm and over 20 mm, at its end twice as fast as on a straight line
    assert_allclose(zone.bounds_within(0.01), 0.01 / (2.0 * np.log(1.1)) * np.array([0.010, 0.020]), rtol=1e-12)
    assert_allclose(ring.bounds_within(0.01)[0], 0.01 / (2.0 * np.log(1.1)) * 0.0025, rtol=1e-12)
    assert_allclose([ring.part_within(0.001, 0.0), ring.part_within(0.1, 0.0)], [0.1 * 0.2, 0.1], rtol=1e-12)


def test_a_minimum_on_a_surface_may_lie_as_far_off_as_it_cannot_be_told():
    cells = GRID.product.copy()
    cells[:4] = False  # a stem of 10 mm
    lies = SimpleNamespace(grid=dataclasses.replace(GRID, product=cells))
    spot = Spot(0.010, 0.05, 1.0, 1.0, 100.0, False)
    field = 5.0 + 400.0 * R[:, None] ** 2 + np.zeros(Z.size)
    # what all nodes off the surface may be off by against it, in two parts
    beyond = np.where(R > 0.010, 1.0, 0.0)[:, None] + np.zeros(Z.size)
    some, all_of_it = (7.0 + 0.0126 * beyond, -0.005 * beyond), (1e3 * beyond,)
    # hand-worked: 400 (r^2 - 0.01^2) = 0.0176 at r = 12 mm
    assert_allclose(off_surface(lies, field, spot, some), 0.002, rtol=1e-9)
    assert_allclose(off_surface(lies, field, spot, all_of_it), R[-1] - 0.010, rtol=1e-9)
    assert off_surface(lies, field, spot, (7.0 + 0.0 * beyond,)) == 0.0
    assert off_surface(lies, field, dataclasses.replace(spot, inside=True), some) == 0.0
    # on a level surface, and on the axis
    assert off_surface(SimpleNamespace(grid=GRID), field, spot, some) == 0.0
    assert off_surface(lies, field, dataclasses.replace(spot, r=0.0), some) == 0.0


def test_a_minimum_on_a_level_surface_likewise():
    top, refined = Spot(0.010, float(Z[-1]), 1.0, 1.0, 100.0, False), SimpleNamespace(grid=GRID)
    field = 5.0 + 40.0 * (Z[-1] - Z) + np.zeros(R.size)[:, None]
    # hand-worked: 0.1 from one node to the next, 2.5 mm below it, of which half is not known
    below = np.where(Z[-1] > Z, 0.05, 0.0) + np.zeros(R.size)[:, None]
    assert_allclose(off_level(refined, field, top, (below,)), 0.00125, rtol=1e-9)
    bottom = dataclasses.replace(top, z=float(Z[0]))
    assert_allclose(off_level(refined, field[:, ::-1], bottom, (below[:, ::-1],)), 0.00125, rtol=1e-9)
    assert off_level(refined, field, dataclasses.replace(top, z=0.05), (below,)) == 0.0
    assert off_level(refined, field, dataclasses.replace(top, inside=True), (below,)) == 0.0


def test_a_minimum_on_the_axis_may_lie_off_it_where_its_bend_is_not_known():
    spot = Spot(0.0, 0.05, 1.0, 1.0, 100.0, True)
    refined, along = SimpleNamespace(grid=GRID), np.zeros(Z.size)
    field = 5.0 + 100.0 * R[:, None] ** 2 + 1e7 * R[:, None] ** 4 + along
    # hand-worked: 100 - 160 - 20 = -80, and -80 r^2 + 1e7 r^4 is least at r = 2 mm
    apart = 160.0 * R[:, None] ** 2 + along, -20.0 * R[:, None] ** 2 + along
    assert_allclose(off_axis(refined, field, spot, apart), 0.002, rtol=1e-6)
    assert off_axis(refined, field, spot, (apart[1],)) == 0.0
    assert off_axis(refined, field, dataclasses.replace(spot, r=0.01), apart) == 0.0


def test_two_places_that_cannot_be_told_from_each_other_are_as_uncertain_as_they_lie_apart():
    field = well(0.02, 2.0) + well(0.10, 2.0)
    field = field - field.min()
    fields = product(field)
    spot = Spot(0.0, 0.10, 1.0, 1.0, 100.0, True)
    by_r, by_z = reach_alike(fields, field, spot, 1e-6)
    assert by_r == 0.0
    assert_allclose(by_z, 0.08, rtol=0, atol=2e-3)
    # a place that is warmer by more than that is told from it
    assert reach_alike(fields, field + 1e-3 * (Z < 0.06), spot, 1e-6)[1] < 2e-3


def test_a_minimum_beside_the_axis_is_found():
    spot = least_lethality(product(5.0 + well(0.05, 1.0, r0=0.012)))[0]
    assert_allclose([spot.r, spot.z], [0.012, 0.05], rtol=0, atol=2e-4)


def test_slowest_heating_goes_by_the_temperature_when_heating_ends():
    spot = cold_spots([product(5.0 + well(0.09, 1.0), end=110.0 + well(0.03, 4.0))])[1][0]
    assert_allclose([spot.r, spot.z], [0.0, 0.03], rtol=0, atol=2e-4)
    assert_allclose(spot.end_of_heating, 106.0, rtol=0, atol=0.01)


def test_cold_zone_bounds_the_region_below_the_margin():
    bowl = 5.0 + (R[:, None] / 0.02) ** 2 + ((Z - 0.05) / 0.04) ** 2
    fields = product(bowl)
    zone = cold_zone(fields, least_lethality(fields)[0], np.expm1(0.25))
    # ln F is within 0.25 of the least inside an ellipse of half axes 10 mm and 20 mm
    assert_allclose([zone.r_low, zone.r_high], [0.0, 0.010], rtol=0, atol=2e-4)
    assert_allclose([zone.z_low, zone.z_high], [0.030, 0.070], rtol=0, atol=4e-4)
    ellipsoid = 4 / 3 * np.pi * 0.010**2 * 0.020
    assert_allclose(zone.part, ellipsoid / (np.pi * 0.03**2 * 0.1), rtol=0.02)


def test_the_window_of_a_cold_zone_reaches_two_nodes_beyond_all_that_lies_low():
    low = np.zeros((13, 41), dtype=bool)
    low[3:6, 20:30] = True
    assert _near(low, (R, Z), (R[4], Z[25])) == (slice(1, 8), slice(18, 32))
    assert _near(low, (R, Z), (R[9] + 1e-4, Z[10] + 1e-4)) == (slice(1, 13), slice(8, 32))  # and beyond the place
    assert _near(~low, (R, Z), (R[4], Z[25])) == (slice(0, 13), slice(0, 41))  # but never beyond the product


def test_cold_zone_is_the_connected_part_only():
    fields = product(5.0 + well(0.02, 1.0) + well(0.09, 0.99))
    zone = cold_zone(fields, least_lethality(fields)[0], 0.1)
    assert zone.z_high < 0.05


def test_track_begins_when_the_core_begins_to_move():
    time = np.array([0.0, 60.0, 120.0])
    still = np.full((R.size, Z.size), 40.0)
    temperature = np.stack([still, still + 30.0 * (Z > 0.08), 60.0 + well(0.05, 5.0)])
    found = track(product(5.0 + well(0.05, 1.0), temperature=temperature), time, initial=40.0)
    assert np.isnan(found.z[:2]).all()
    assert_allclose(found.z[2], 0.05, rtol=0, atol=2e-4)
    assert_allclose(found.temperature, [40.0, 40.0, 55.0], rtol=0, atol=0.01)


def test_track_of_a_core_that_never_moves_has_no_place():
    time = np.array([0.0, 60.0])
    still = np.full((2, R.size, Z.size), 40.0)
    found = track(product(5.0 + well(0.05, 1.0), temperature=still), time, initial=40.0)
    assert np.isnan(found.r).all()
    assert_allclose(found.temperature, 40.0, rtol=0, atol=0)


@pytest.mark.parametrize("shape", ["cone", "rounded, with a dome"])
def test_a_field_is_read_beside_the_axis_over_a_base_that_rises(shape):
    case = SHAPES[shape]
    grid = grid_family(body_of(case))[0]
    # even in r as every field is, and steep upwards: along levels that follow the base it has all powers of r
    field = 100.0 + 4e3 * (grid.z - 0.02) + 1e5 * (grid.z - 0.02) ** 2 + 1e4 * grid.r**2
    z = case.container.floor + case.container.crown + 5e-3
    block, stencil = stencil_at(grid, 1e-3, z)
    wanted = 100.0 + 4e3 * (z - 0.02) + 1e5 * (z - 0.02) ** 2 + 1e4 * 1e-6
    # a hundredth of a degree where levels climb by a kelvin; nodes mirrored at the cone's point were off by 0.2
    assert_allclose(float(stencil.value(field[block])), wanted, rtol=0, atol=0.01)


@pytest.mark.parametrize("on_the_cone", [True, False])
def test_the_coldest_place_about_the_point_of_a_cone_is_known_as_well_as_is_said(on_the_cone):
    """Across a cone's point levels have a kink. Held against grids 2.5 times as fine (computed)."""
    case = packed(straight(0.070, 0.080), rise=Rise(0.015, 0.030, "cone"), film=Film(500.0, 8.0, 500.0))
    if on_the_cone:
        stages = [("come-up", 600.0, 121.1), ("hold", 4500.0), ("cool", 0.0, 25.0), ("cool", 3000.0)]
        glass = Wall(GLASS, 0.0025)
        case = case.replace(
            container=dataclasses.replace(case.container, side=glass, base=glass),
            process=Process.of(60.0, stages, film=Film(500.0, 15.0, 500.0)),
        )
    result, _ = simulate_container(case)
    fine = refine(case, time=result.time, refinement=2.5, tolerance=time_tolerance(case))
    found, wanted = result.cold_spot.least_lethality, least_lethality(ProductFields.of(fine.grid, fine.best))[0]
    assert wanted.inside is not on_the_cone and wanted.r > 0.2e-3
    for figure in ("r", "z"):  # one was put on the point itself, one on the axis 2.6 mm away, both as if r were exact
        known = result.uncertainty[f"cold_spot.least_lethality.{figure}"]
        assert abs(getattr(found, figure) - getattr(wanted, figure)) <= known


@pytest.mark.parametrize("level", range(3))
def test_a_field_is_read_beside_the_edges_of_a_shoulder_though_the_grids_lines_bend_there(level):
    """A field that is smooth in the container is not so along lines that bend; between bends it is a polynomial."""
    case = SHAPES["shoulder"]
    grid, profile = grid_family(body_of(case))[level], case.container.profile
    field = 100.0 + 4e3 * grid.z + 1e5 * grid.r**2
    edges = [case.container.floor + height for height, _ in profile.corners[1:-1]]
    places = [(part * case.container.radius_at(z), z) for edge in edges for part in (0.0, 0.5, 0.9)
              for z in edge + np.array([-2e-3, -0.3e-3, 0.0, 0.1e-3, 1e-3]) if z < case.surface]  # fmt: skip
    assert len(places) > 12
    for r, z in places:
        block, stencil = stencil_at(grid, r, z)
        # read across a bend it was off by half a kelvin
        assert_allclose(float(stencil.value(field[block])), 100.0 + 4e3 * z + 1e5 * r**2, rtol=0, atol=1e-9)


def test_a_place_inside_may_as_well_lie_on_the_surface_where_another_computation_has_it():
    inside = Spot(0.002, 0.050, 5.0, 4.0, 100.0, True)
    above = dataclasses.replace(inside, r=0.001, z=0.053, inside=False)
    beside = dataclasses.replace(inside, r=0.004, z=0.051)
    assert_allclose(on_another([inside, above, beside]), (0.001, 0.003), rtol=1e-9)
    assert_allclose(on_another([above, inside, beside]), (0.003, 0.003), rtol=1e-9)
    assert on_another([inside, beside, beside]) == on_another([above, above]) == (0.0, 0.0)
