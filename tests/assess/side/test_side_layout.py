"""What a case becomes about a stem from the side: parts, what they store and conduct, and what is behind.

Rung: closed form. Volumes of cylinders and rings, resistances in series, a straight profile through a wall.
"""

import dataclasses
import functools
import math
from types import SimpleNamespace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from probed import POLYMER, STEEL, TIN, probed_can
from scipy import integrate
from small_jars import BRASS, GAS

from thermsim.assess.fields.reading import Course
from thermsim.assess.fields.refinement import refine
from thermsim.assess.side import effect
from thermsim.assess.side.background import RoundBackground
from thermsim.assess.side.field import _driving, about_side, interpolation
from thermsim.case.container import Wall
from thermsim.case.probe import Fitting, Gap, Probe, Segment
from thermsim.case.process import Film
from thermsim.case.product import Headspace
from thermsim.solve.grid.body import body_of
from thermsim.solve.grid.grid import grid_family
from thermsim.solve.stem.disturbance import Behind, _System
from thermsim.solve.stem.stem_grid import stem_grids
from thermsim.solve.stem.stem_operator import _nodes_of, stem_operator

#: Half of 60 mm, a wall of 0.2 mm; a stem of 3 mm, 50 mm long, its tip 20 mm below the outer face.
INNER, WALL, RADIUS, LENGTH, DEPTH = 0.030, 2e-4, 1.5e-3, 0.05, 0.020
SOLID = Segment(2 * RADIUS, LENGTH, STEEL)
TUBE = Segment(2 * RADIUS, LENGTH, POLYMER, 0.5e-3, STEEL)


def laid_out(case, **parts):
    """The coarser grid about a stem and its matrices."""
    parts.setdefault("segments", (SOLID,))
    probe = Probe("side", "through", insertion=DEPTH, sensing=2e-3, z=0.040, **parts)
    about = about_side(case, probe, DEPTH)
    grid = stem_grids(about.layers, about.parts, about.surrounds, about.lines)[0]
    return about, stem_operator(grid, about.ends)


def ring(inner, outer, within, wall, outside, part, of):
    """What a ring round the stem's axis adds in place of product and wall; lengths in each and outside [m]."""
    there = getattr(probed_can().product.material, of) * within + getattr(TIN, of) * wall
    return math.pi * (outer**2 - inner**2) * (getattr(part, of) * (within + wall + outside) - there)


def test_a_field_that_is_even_or_straight_is_read_as_it_is_beside_the_ends_of_every_material():
    """In product and walls, a tenth of a millimetre within the ends of each; what is mirrored is the axis alone."""
    case = probed_can()
    thick = Wall(TIN, 5e-3)
    case = case.replace(container=dataclasses.replace(case.container, side=thick, base=thick, lid=thick))
    grid = grid_family(body_of(case.replace(probe=None)))[1]
    bottom, outer = 5e-3, case.container.outer_radius
    r = np.array([0.0, 1e-4, INNER - 1e-4, INNER + 1e-4, outer - 1e-4])
    z = np.array([1e-4, bottom - 1e-4, bottom + 1e-4, 0.040, case.container.outer_height - 1e-4])
    at_r, at_z = (places.ravel() for places in np.meshgrid(r, z))
    found = interpolation(grid, at_r, at_z) @ (3.0 + grid.z - 2.0 * grid.r**2).ravel()
    assert_allclose(found, 3.0 + at_z - 2.0 * at_r**2, rtol=0, atol=1e-12)


def test_what_is_coldest_among_nodes_is_uncertain_by_half_of_what_lies_next_to_it():
    """A stem that changes cooling alone, in a field with its least lethality 10 mm off the axis, 35 mm up."""
    case = probed_can()
    about, operator = laid_out(case)
    time = np.array([0.0, case.process.heated_until, case.process.end])

    def logs_at(_, places, way):
        r, z = about.section(places)
        return way + np.stack([5.0 + 1e3 * (r - 0.010) ** 2 + 3e3 * (z - 0.035) ** 2, 4.0 + r + z])

    def even(places):
        return Course(time, np.full((3, len(places)), 100.0), np.zeros((3, len(places))))

    still, late = np.zeros((3, operator.count)), np.array([0.0, 0.0, 1.0])[:, None] * np.ones(operator.count)
    around = effect._fields(
        SimpleNamespace(
            case=case,
            logs_at=logs_at,
            end_at=lambda _, places, way: 100.0 + 1e3 * places[:, 2] + way,
            course_at=lambda _, places: even(places),
        ),
        about,
        operator,
        SimpleNamespace(time=time, difference=late, rate=still),
    )
    places = operator.of_nodes_many(operator.grid.places())
    r, z = about.section(places)
    assert abs(around.least.r - 0.010) < 3e-3
    assert abs(around.least.z - 0.035) < 3e-3
    least = int(np.hypot(r - around.least.r, z - around.least.z).argmin())
    near = effect._beside(operator, least, np.flatnonzero(operator.product_nodes))
    whole, heating = np.exp(logs_at(about, places[least], 0))  # by the best way
    ends = 100.0 + 1e3 * places[least, 2]
    assert_allclose([around.least.heating_lethality, around.least.end_of_heating], [heating, ends], rtol=1e-9)
    assert whole * 1.01 < around.least.lethality < whole * 10.0 ** (1.0 / case.lethality.z)
    assert near.size <= 6  # up and down, in and out, and round the stem
    up, out = (float(np.abs(values[near] - values[least]).max()) / 2.0 for values in (z, r))
    assert abs(up - out) > 1e-5
    found = [around.between[name] for name in ("r", "z", "end_of_heating")]
    assert_allclose(found, [out, up, 1e3 * up], rtol=1e-9)


@pytest.mark.parametrize("of", ["capacity", "conductivity"])
@pytest.mark.parametrize("what", ["solid", "tube", "gap", "fitting"])
def test_parts_store_and_conduct_what_their_cylinders_hold(what, of):
    solid = (DEPTH - WALL, WALL, LENGTH - DEPTH)
    expected, parts = ring(0.0, RADIUS, *solid, STEEL, of), {}
    if what == "tube":
        core = RADIUS - TUBE.wall
        parts = {"segments": (TUBE,)}
        expected = ring(0.0, core, *solid, STEEL, of) + ring(core, RADIUS, *solid, POLYMER, of)
    elif what == "gap":
        parts = {"gap": Gap(0.5e-3, GAS)}
        expected += ring(RADIUS, RADIUS + 0.5e-3, DEPTH - WALL, 0.0, 0.0, GAS, of)
    elif what == "fitting":
        parts = {"fitting": Fitting(0.008, 0.003, 0.010, BRASS)}
        expected += ring(RADIUS, 0.004, 0.003, WALL, 0.010, BRASS, of)
    _, operator = laid_out(probed_can(), **parts)
    if of == "capacity":
        found = (operator.capacity - operator.capacity_without).sum()
    else:
        # of a slope of 1 K/m along the stem the matrices give conductivity times volume
        along = operator.of_nodes_many(operator.grid.places())[:, 0]
        found = along @ (operator.stiffness - operator.stiffness_without) @ along
    # half of it, the plane of symmetry in between; faces across the stem follow the side wall's curve
    assert_allclose(found, expected / 2, rtol=5e-3, atol=0)


def test_a_stem_changes_nothing_at_the_start_but_where_it_is():
    """Walls begin at 15 degC, the product at 30, the probe at 50: beside the probe all is as without it."""
    case = probed_can()
    case = case.replace(container=dataclasses.replace(case.container, initial=15.0), probe=None)
    solved = refine(case, time=np.array([0.0]), tolerance=0.1)
    about, operator = laid_out(case, initial=50.0)
    driven, start = _driving(case, operator, functools.partial(RoundBackground.of(case, solved).course_at, about))
    without = driven.temperature[0]
    assert {15.0, 30.0} <= set(without.round(6))
    # where the probe borders on product or wall, by the part of the heat that is stored in the probe
    steel, sectors = STEEL.capacity * operator.grid.probe, operator.grid.angles.size - 1
    stored = np.zeros(operator.count)
    cells = np.repeat(operator.grid.probe[:, :, None], sectors, axis=2)
    np.add.at(stored, _nodes_of(operator.number)[cells], (steel[:, :, None, None] * operator.volumes)[cells])
    share = (stored / operator.capacity)[driven.nodes]
    assert share.min() < 0.5 and share.max() == pytest.approx(1.0)
    assert_allclose(start[driven.nodes], share * (50.0 - without), rtol=0, atol=1e-9)
    assert not start[np.setdiff1d(np.arange(operator.count), driven.nodes)].any()


def test_places_about_a_stem_are_places_of_the_container():
    """Along the stem, aside of it and above it: 3, 4 and 12 mm."""
    about, _ = laid_out(probed_can())
    places = np.array([[3e-3, 4e-3, 12e-3]])
    r, z = about.section(places)
    assert_allclose([r[0], z[0]], [5e-3, 40e-3 + 12e-3], rtol=1e-12)
    # of a stem on the axis what is along it is the height
    r, z = dataclasses.replace(about, height=None).section(places)
    assert_allclose([r[0], z[0]], [math.hypot(4e-3, 12e-3), 3e-3], rtol=1e-12)
    for lengthwise, wanted in ((True, [3e-3, 4e-3, 52e-3]), (False, [4e-3, 3e-3, 52e-3])):
        assert_allclose(dataclasses.replace(about, lengthwise=lengthwise).in_brick(places)[0], wanted, rtol=1e-12)


def test_the_sensors_mean_is_over_its_own_length_and_of_none_over_the_tips_face():
    about, operator = laid_out(probed_can())
    along = operator.of_nodes_many(operator.grid.places())[:, 0]
    for length in (0.0, 2e-3):
        mean = operator.mean(about.tip, about.tip + length, RADIUS)
        assert_allclose(mean.sum(), 1.0, rtol=1e-12)
        # lines across the stem follow the wall's curve: at its flank by less than a part in a thousand
        assert_allclose(mean @ along, INNER + WALL - DEPTH + length / 2, rtol=1e-3)


def test_above_the_product_headspace_and_lid_resist_one_after_the_other():
    case = probed_can()
    lid = Wall(POLYMER, 1e-3)
    case = dataclasses.replace(case, container=dataclasses.replace(case.container, lid=lid))
    full, filled = case, case.replace(fill_height=0.070)
    film, alone = 300.0, 1e-3 / POLYMER.conductivity
    for made, resistance, sheet in (
        (full, alone, 1e-3 * POLYMER.conductivity),
        (
            filled.replace(headspace=Headspace("fixed", GAS)),
            alone + 0.010 / GAS.conductivity,
            0.010 * GAS.conductivity,
        ),
    ):
        above = laid_out(made)[0].behind["above"]
        assert_allclose(above.towards(Film(1.0, 2.0, film)), 1.0 / (1.0 / film + resistance), rtol=1e-12)
        assert_allclose(above.sheet, sheet, rtol=1e-12)
    above, below = (laid_out(filled)[0].behind[name] for name in ("above", "below"))
    assert above.towards(Film.everywhere(film)) == 0.0
    assert_allclose(below.towards(Film(1.0, film, 2.0)), 1.0 / (1.0 / film + WALL / TIN.conductivity), rtol=1e-12)


def test_a_wall_behind_stores_and_conducts_by_the_square_of_a_straight_profile():
    """Its energy for a product at 1 K: what it stores times the mean square of the temperature across it."""
    _, operator = laid_out(probed_can())
    behind = Behind(0.004, 5e3, 0.7, "lid")
    film = dataclasses.replace(Film(1.0, 2.0, 300.0), probe=5.0)
    none = _System(operator, film, {})
    system = _System(operator, film, {"above": behind})
    # the film's share of the whole resistance is what is left at the outer face
    outer = (1.0 / 300.0) / (1.0 / 300.0 + 0.004)
    mean, _ = integrate.quad(lambda x: (1.0 - (1.0 - outer) * x) ** 2, 0.0, 1.0)
    edges = operator.edges["above"]
    assert_allclose(system.capacity - none.capacity, 5e3 * mean * edges, rtol=1e-9, atol=1e-12)
    assert_allclose(system.exchange - none.exchange, edges / (1.0 / 300.0 + 0.004), rtol=1e-9, atol=1e-15)
    sheet = (system.matrix - none.matrix).toarray() - np.diag(system.exchange - none.exchange)
    assert_allclose(sheet, 0.7 * mean * operator.sheets["above"].toarray(), rtol=0, atol=1e-12)
