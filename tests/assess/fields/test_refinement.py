"""Rung: how three grids make one value: by their own algebra, and against the exact series."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from places import CASES

from thermsim import read_case
from thermsim.assess.fields.error_estimate import STILL_COARSE, USUAL, corner_of, edge_of, end_of, left_by, slowness
from thermsim.assess.fields.family import extrapolated, extrapolated_again
from thermsim.assess.fields.lethality import gathered_by_cubics, lethality_of
from thermsim.assess.fields.nesting import AGAIN
from thermsim.assess.fields.reading import reading_of
from thermsim.assess.fields.refinement import refine
from thermsim.assess.simulate.fineness import output_times
from thermsim.assess.simulate.simulation import simulate
from thermsim.assess.verify.bare_cylinder import STERILISATION, bare_cylinders
from thermsim.case.container import Wall
from thermsim.case.probe import Probe, Segment
from thermsim.case.product import Headspace


@pytest.fixture(scope="module")
def jar():
    return read_case(CASES / "jar.toml")


@pytest.fixture(scope="module")
def solved(jar):
    return refine(jar, time=output_times(jar), tolerance=0.004)


def test_the_weights_remove_errors_of_second_and_of_fourth_order():
    # hand-worked: 1 + 3 h^2 + 5 h^4 at h = 4, 2, 1; the first value leaves -20 h^4, the second nothing
    coarse, middle, fine = (np.array([1.0 + 3.0 * h**2 + 5.0 * h**4]) for h in (4.0, 2.0, 1.0))
    earlier, later = extrapolated(coarse, middle), extrapolated(middle, fine)
    assert_allclose([earlier[0], later[0]], [1.0 - 20.0 * 16.0, 1.0 - 20.0], rtol=1e-12)
    assert_allclose(extrapolated_again(earlier, later), 1.0, rtol=1e-12)


def test_a_reading_is_what_modes_say_and_lies_on_no_cubics(jar, solved):
    found, until = solved.history, jar.process.heated_until
    weights = np.zeros(solved.grid.shape)
    weights[[0, 3], [20, 30]] = 0.4, 0.6  # a mean of two nodes
    reading = reading_of(found, weights, jar.lethality, heated_until=until, time=solved.time)
    mean = (found.at(solved.time) * weights).sum(axis=(1, 2))
    assert not np.isin(found.time, solved.time).all()  # entries stand elsewhere
    smooth = ~np.isin(solved.time, [stage.start for stage in jar.process.stages])
    assert_allclose(reading.temperature[smooth], mean[smooth], rtol=0, atol=1e-9)
    assert_allclose(reading.end_of_heating, (found.reached(until) * weights).sum(), rtol=0, atol=1e-9)


def test_a_wall_that_goes_on_beside_an_insulated_headspace_makes_a_corner(jar):
    container, insulated = jar.container, jar.replace(headspace=Headspace("insulated"))
    product = insulated.product.material

    def behind(conductivity):
        wall = Wall(dataclasses.replace(product, conductivity=conductivity), 0.002)
        return insulated.replace(container=dataclasses.replace(container, side=wall))

    # hand-worked: fields go with r^(2/3) about three quarters of a turn of one material, errors with h^(4/3); with
    # r^(1/2) about half a turn of what conducts next to nothing; thin metal is no better than what conducts alike
    for conductivity in (product.conductivity, 50.0):
        assert_allclose(corner_of(behind(conductivity)), 2.0 ** (4.0 / 3.0), rtol=1e-9)
    assert_allclose(corner_of(behind(1e-9)), 2.0, rtol=1e-6)
    others = (jar, insulated.replace(container=dataclasses.replace(container, side=None)))
    assert {corner_of(case) for case in (*others, insulated.replace(fill_height=container.inner_height))} == {4.0}


def test_the_edge_of_a_tip_that_conducts_as_the_product_is_none(jar):
    # hand-worked: r^(2/3) about three quarters of a turn of product where the stem takes or gives any heat, or none
    def ended(*times):
        product = jar.product.material
        stems = [dataclasses.replace(product, conductivity=one * product.conductivity) for one in times]
        stack = tuple(Segment(2e-3, 0.09 / len(stems), stem) for stem in stems)
        return jar.replace(probe=Probe("lid", "through", stack, insertion=0.06))

    for times, ratio in ((5e3, 2.0 ** (4.0 / 3.0)), (2e-4, 2.0 ** (4.0 / 3.0)), (1.0, USUAL)):
        assert_allclose(edge_of(ended(times)), ratio, rtol=1e-3)
    # k = 3: tan(p pi/4)^2 = 6/10
    assert_allclose(edge_of(ended(3.0)), 4.0 ** (4.0 / math.pi * math.atan(math.sqrt(0.6))), rtol=1e-9)
    for alike in ((1.0 / 3.0,), (2.0, 3.0, 1.0), (3.0, 2.0)):  # of several segments that of the one least alike
        assert_allclose(edge_of(ended(*alike)), edge_of(ended(3.0)), rtol=1e-9)
    assert edge_of(jar) == USUAL


def test_at_an_end_of_a_stem_itself_errors_fall_half_as_fast_as_a_little_way_off(jar):
    # hand-worked: r^(2/3) where a stem that conducts alike leaves the product, and about the edge of one that
    # conducts far better, so errors there with h^(2/3); next to nothing bends about a tip that conducts alike
    alike, tip, radius, slow = jar.product.material, 0.05, 2e-3, 2.0 ** (2.0 / 3.0)
    top = jar.surface

    def ratio(place, *, material=alike, entry="lid", **changes):
        stack = (Segment(2.0 * radius, 0.09, material),)
        return end_of(jar.replace(probe=Probe(entry, "through", stack, insertion=0.06), **changes), place, tip)

    steel = dataclasses.replace(alike, conductivity=5e3 * alike.conductivity)
    for place in (top, top - 0.9 * radius):
        assert_allclose(ratio(place), slow, rtol=1e-9)
    for place in (tip - 0.9 * radius, tip + 0.9 * radius):
        assert_allclose(ratio(place, material=steel), slow, rtol=1e-3)
    far = (top - 1.1 * radius, tip + 1.1 * radius, tip - 1.1 * radius)
    assert {ratio(tip), *(ratio(place, material=steel) for place in far)} == {USUAL}
    # from the base no stem leaves the product upwards, nor does one where no gas is
    full = jar.container.inner_height
    assert {ratio(top, entry="base"), ratio(top, fill_height=full, points=())} == {USUAL}
    assert end_of(jar, top, tip) == USUAL


@pytest.mark.parametrize("order", [0.8, 1.0, 1.5, 2.0])
def test_where_errors_fall_slowly_the_share_that_counts_is_the_error(order):
    # hand-worked: errors of one power of the spacing, of which extrapolation as of the second leaves a part
    coarse, middle, fine = (np.array([5.0 + 0.3 * h**order, 2.0 - 0.1 * h**order]) for h in (4.0, 2.0, 1.0))
    earlier = extrapolated(coarse, middle)
    best = extrapolated_again(earlier, extrapolated(middle, fine))
    error, apart = np.abs(best - [5.0, 2.0]), np.abs(best - earlier)
    one = 2.0 ** (4.0 / 3.0)
    seen = left_by(2.0**order)
    if order < 2.0:
        assert_allclose(seen / 4.0 * apart, error, rtol=1e-9)
        assert_allclose(slowness(coarse, middle, fine, edge=one), max(seen, left_by(one)), rtol=1e-9)
    # where there is neither corner nor edge they will fall faster yet; of what a corner lets them that counts in full
    assert_allclose(slowness(coarse, middle, fine), 1.0 + STILL_COARSE * (seen - 1.0), rtol=1e-9)
    in_corner = slowness(coarse, middle, fine, corner=one)
    assert_allclose(in_corner, max(left_by(one), (left_by(one) + seen) / 2.0), rtol=1e-9)
    # where a corner is, what extrapolation leaves is its part alone, whatever falls faster, with it or against it
    mixed = [values + 0.05 * h**2 for values, h in zip((coarse, middle, fine), (4.0, 2.0, 1.0), strict=True)]
    if order == 1.5:
        assert slowness(*mixed) < slowness(coarse, middle, fine) < slowness(*mixed, corner=one)
    for beside in (0.05, -0.12):
        corner = [np.array([5.0 + 0.3 * h ** (4 / 3) + beside * h**2]) for h in (4.0, 2.0, 1.0)]
        earlier = extrapolated(*corner[:2])
        best = extrapolated_again(earlier, extrapolated(*corner[1:]))
        assert_allclose(slowness(*corner, corner=one) / 4.0 * (best - earlier), 5.0 - best, rtol=1e-9)
    # however fast they are seen to fall: errors of the other sign may hide those of the corner
    usual = [np.array([h**2, 5.0 * h**2]) for h in (4.0, 2.0, 1.0)]
    assert slowness(*usual) == 1.0
    assert_allclose(slowness(*usual, corner=one), left_by(one), rtol=1e-12)
    # beside an edge unless all figures are seen to fall as usual: one that is not is enough
    fast = [values + [0.05 * h**4, 0.0] for h, values in zip((4.0, 2.0, 1.0), usual, strict=True)]
    assert slowness(*usual, edge=one) == 1.0 < slowness(*fast, edge=one)
    # where nothing changes, nothing more counts
    assert slowness(fine, fine, fine) == 1.0


def test_the_grids_parts_sum_to_the_value_extrapolated_twice(solved):
    family = solved.family
    random = np.random.default_rng(2)
    one, two, three = (random.normal(size=(2, *grid.shape)) for grid in family.grids)
    to_middle, to_fine = family.nestings
    earlier = to_fine.carried(two + to_middle.correction(one, two))
    best = extrapolated_again(earlier, three + to_fine.correction(two, three))
    parts = sum(family.parts.whole(level, fields) for level, fields in enumerate((one, two, three)))
    assert_allclose(parts, best, rtol=0, atol=1e-13)
    # what all grids agree on stays as it is
    ones = sum(family.parts.whole(level, np.ones((1, *grid.shape))) for level, grid in enumerate(family.grids))
    assert_allclose(ones, 1.0, rtol=0, atol=1e-13)


@pytest.mark.parametrize("way", ["best", "coarser", "looser"])
def test_places_say_the_same_as_whole_fields(jar, way):
    found = refine(jar, time=output_times(jar), tolerance=0.004)
    random = np.random.default_rng(3)
    rows, columns = np.nonzero(found.grid.product_nodes)
    some = random.choice(rows.size, 40, replace=False)
    rows, columns, weights = rows[some], columns[some], random.random((40, 3))
    weights /= weights.sum(axis=0)
    courses = getattr(found, way).courses
    courses.__dict__.pop("temperature", None)
    at, mixed = courses.at(rows, columns), courses.at(rows, columns, weights)
    whole = courses.temperature
    assert_allclose(at, whole[:, rows, columns], rtol=0, atol=1e-9)
    assert_allclose(mixed, whole[:, rows, columns] @ weights, rtol=0, atol=1e-4)  # bounds of each, or of the mean
    # once they are known they are read off
    assert_allclose(courses.at(rows, columns, weights), mixed, rtol=0, atol=1e-4)  # bounds of each, or of the mean


def test_lethality_of_modes_is_that_of_cubics_through_far_more_entries(jar, solved):
    middle, looser = solved.found[1:3]
    nodes = solved.family.grids[1].product_nodes
    end = jar.process.heated_until
    closer = dataclasses.replace(middle, beside=dataclasses.replace(solved.history, tolerance=1e-7))
    cubics = gathered_by_cubics(closer.time, *closer.entries(nodes), jar.lethality)
    exact = np.log(cubics[[-1, closer.entry_before(end)]])
    own, sparse = (np.log(lethality_of(way, nodes, jar.lethality, end)) for way in (middle, looser))
    error = np.abs(own - exact).max()
    assert error < 2e-6
    assert error <= np.abs(sparse - own).max() / 3.0
    # of sums of nodes by weights likewise
    weights = np.random.default_rng(1).random((nodes.sum(), 2))
    weights /= weights.sum(axis=0)
    mixed = gathered_by_cubics(closer.time, *(one @ weights for one in closer.entries(nodes)), jar.lethality)
    found = lethality_of(middle, nodes, jar.lethality, end, weights)
    assert_allclose(found, mixed[[-1, closer.entry_before(end)]], rtol=1e-5)


@pytest.mark.parametrize("level", [0, 2])
def test_a_grid_that_no_basis_serves_is_marched_among_others_that_have_one(jar, solved, level):
    family = solved.family.copy()
    family.solvers[level].reduced = None
    best, *_ = family.courses(jar, family.followed(jar), solved.time)
    assert_allclose(best.temperature, solved.best.temperature, rtol=0, atol=0.02)


@pytest.mark.parametrize("cylinder", bare_cylinders(), ids=lambda cylinder: cylinder.name)
def test_extrapolating_twice_halves_the_error_of_lethality(cylinder):
    # against the exact series (thermsim.exact); the value of the two finer grids alone is worked out beside it
    case = cylinder.case(STERILISATION)
    found = refine(case, time=np.array([case.process.end]), tolerance=0.0005)
    spot = simulate(case).cold_spot.least_lethality
    exact = np.log(sum(cylinder.lethality(spot.r, spot.z, case.lethality)))
    from thermsim.assess.spots.cold_spot import stencil_at

    block, stencil = stencil_at(found.grid, spot.r, spot.z)
    best, earlier = (float(stencil.value(way.log_lethality[block])) for way in (found.best, found.coarser))
    once = (best + AGAIN * earlier) / (1.0 + AGAIN)
    assert abs(best - exact) < 0.5 * abs(once - exact)
