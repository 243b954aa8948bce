"""The march of a brick whose properties change with temperature.

Rungs: exact solutions (constant properties written as tables; by Kirchhoff's variable a product of three slabs where
conductivity and capacity grow alike), conservation, and another path of the program (a layer heated from below and
above alone is a can that no heat enters from the side).
"""

import dataclasses
import math

import numpy as np
import pytest
from job_cases import HOT, START, bare
from numpy.testing import assert_allclose

from thermsim.assess.fields.refinement import refine
from thermsim.assess.spots.brick import brick_hold, brick_spots
from thermsim.assess.spots.brick_field import (
    COARSE,
    FINE,
    BrickField,
    brick_field,
    course_of,
    time_uncertainty,
    unsolved,
)
from thermsim.case.container import Container, Wall
from thermsim.case.process import Film, Process
from thermsim.case.product import Headspace
from thermsim.case.profile import straight
from thermsim.exact import Slab
from thermsim.physics.gap import GasGap
from thermsim.physics.materials import Material, Tabulated

SIDES = (120, 90, 40)
#: Times [s]: while heating, at its end, and while cooling.
TIMES = np.array([300.0, 1200.0, 2400.0, 2700.0, 3300.0])


def changing(case, conductivity, capacity, at=(0.0, 150.0)):
    """The case with a product whose properties are such parts of what they were at temperatures."""
    of = case.product.material
    tabulated = Tabulated(
        at, tuple(of.conductivity * part for part in conductivity), tuple(of.capacity * part for part in capacity)
    )
    material = dataclasses.replace(of, tabulated=tabulated)
    return case.replace(product=dataclasses.replace(case.product, material=material))


def places(case, *parts):
    """Places of a brick at parts of its half length, half width and depth."""
    sizes = np.array([SIDES[0] / 2, SIDES[1] / 2, 1e3 * case.fill_height]) / 1e3
    return np.array(parts) * sizes + np.array([0.0, 0.0, case.container.floor])


def climbing(case):
    """The case with a medium that climbs for ten minutes, and falls in cooling."""
    heating, cooling = case.process.stages
    up = dataclasses.replace(heating, time=np.array([0.0, 600.0, 2400.0]), medium=np.array([START, HOT, HOT]))
    return case.replace(process=Process((up, dataclasses.replace(cooling, medium=np.array([HOT, 30.0])))))


@pytest.mark.parametrize(("film", "process"), [(400.0, climbing), (np.inf, lambda case: case)])
def test_constant_properties_written_as_tables_are_followed_like_the_exact_ones(film, process):
    exact = process(bare(SIDES, (film, film)))
    as_tables = changing(exact, (1.0, 1.0), (1.0, 1.0))
    there = places(exact, (0.0, 0.0, 0.5), (0.6, 0.3, 0.4), (0.8, 0.0, 0.8), (0.0, 1.0, 0.5))
    one, other = (brick_field(case, fine=True) for case in (exact, as_tables))
    # some 80 steps of a thousandth of a kelvin each, of which most is forgotten
    assert_allclose(other.temperature_at(there, TIMES), one.temperature_at(there, TIMES), rtol=0, atol=0.01)
    assert_allclose(other.end_at(there), one.end_at(there), rtol=0, atol=2e-3)
    # a tenth of a percent beside held faces, where cooling at once cuts off what is gathered
    assert_allclose(other.logs_at(there), one.logs_at(there), rtol=0, atol=1e-3)
    # as its cold spots are looked for
    alone, marched = (course_of(case, *COARSE) for case in (exact, as_tables))
    middle = tuple(edge.length * np.array([0.0, 0.5]) for edge in alone.edges)
    assert_allclose(marched.end_of_heating(middle), alone.end_of_heating(middle), rtol=0, atol=5e-3)


def test_steps_in_time_leave_a_thousandth_of_a_kelvin_where_properties_change_alone():
    case = bare(SIDES, (400.0, 400.0))
    assert (time_uncertainty(case), time_uncertainty(changing(case, (1.0, 1.1), (1.0, 1.0)))) == (0.0, 0.001)


def test_where_conductivity_and_capacity_grow_alike_kirchhoffs_variable_is_a_product_of_slabs():
    grows = 1.6  # from 0 to 150 degC
    case = changing(bare(SIDES, (np.inf, np.inf)), (1.0, grows), (1.0, grows))
    of = case.product.material
    of_food = {"conductivity": of.conductivity, "density": of.density, "specific_heat": of.specific_heat}

    def potential(temperature):
        return temperature + (grows - 1.0) / 300.0 * temperature**2

    def temperature(value):
        slope = (grows - 1.0) / 300.0
        return (np.sqrt(1.0 + 4.0 * slope * value) - 1.0) / (2.0 * slope)

    there, heating = places(case, (0.0, 0.0, 0.5), (0.6, 0.3, 0.4), (0.95, 0.0, 0.9)), TIMES[:3]
    at = np.stack([there[:, 0] + SIDES[0] / 2e3, there[:, 1] + SIDES[1] / 2e3, there[:, 2]])
    left = math.prod(
        np.asarray(Slab(side / 1e3, **of_food, film_base=np.inf, film_lid=np.inf).unaccomplished(x, heating))
        for side, x in zip(SIDES, at, strict=True)
    )
    expected = temperature(potential(HOT) + (potential(START) - potential(HOT)) * left)
    found = brick_field(case, fine=True).temperature_at(there, heating)
    assert_allclose(found, expected.reshape(found.shape), rtol=0, atol=0.01)
    # conductivity at the start alone would be far off
    plain = brick_field(bare(SIDES, (np.inf, np.inf)), fine=True).temperature_at(there, heating)
    assert np.abs(plain - expected.reshape(found.shape)).max() > 0.3


def test_what_a_brick_stored_is_kept_where_nothing_leaves_it():
    case = changing(bare((60, 60, 60), (800.0, 1e-9), minutes=8.0, cooling=4000.0), (0.8, 1.3), (0.7, 1.3))
    field = BrickField(case, *FINE)
    course = field._gathered
    nodes, weights = np.polynomial.legendre.leggauss(40)
    along = tuple(edge.length * (nodes + 1.0) / 2.0 for edge in course.edges)
    ended = course.end_of_heating(along)
    of = case.product.material.tabulated

    def stored(temperature):
        c, d = of.capacity[0], (of.capacity[1] - of.capacity[0]) / 150.0
        return c * temperature + d * temperature**2 / 2.0

    held = np.einsum("ijk,i,j,k->", stored(ended), *[weights / 2.0] * 3)
    even = field.temperature_at(np.array([[0.0, 0.0, 0.030]]), np.array([case.process.end]))[0, 0]
    assert ended.max() - ended.min() > 20.0
    assert_allclose(stored(even), held, rtol=1e-4)


GAP = 0.005
GASES = {
    "insulated": Headspace("insulated"),
    "a lid that is not wet": Headspace.of_gas(GasGap("humid", GAP, 0.92, 0.85, sealed_at=60.0), (30.0, HOT)),
    "a wet lid": Headspace.of_gas(GasGap("humid", GAP, 0.92, 0.85, sealed_at=60.0, lid_wet=True), (30.0, HOT)),
    "air": Headspace.of_gas(GasGap("air", GAP, 0.92, 0.85), (30.0, HOT)),
}


@pytest.mark.parametrize(
    "gas",
    [pytest.param(gas, marks=[] if gas == "a lid that is not wet" else pytest.mark.long) for gas in GASES],
)
def test_a_layer_under_gas_is_a_can_that_no_heat_enters_from_the_side(gas):
    case = changing(bare(SIDES, (800.0, 300.0)), (0.8, 1.2), (0.95, 1.1))
    stages = tuple(
        dataclasses.replace(stage, film=Film(1e-9, stage.film.base, stage.film.lid)) for stage in case.process.stages
    )
    case = case.replace(
        process=Process(stages), headspace=GASES[gas], fill_height=case.container.ceiling - case.container.floor - GAP
    )
    assert unsolved(case) == ""
    there = places(case, *((0.0, 0.0, part) for part in (0.0, 0.5, 0.85, 1.0)))
    found = brick_field(case, fine=True).temperature_at(there, TIMES)
    can = case.replace(container=Container(straight(0.02, case.container.ceiling - case.container.floor)))
    solved = refine(can, time=TIMES, tolerance=0.004)
    expected = [np.interp(there[:, 2], solved.grid.z[0], field[0]) for field in solved.best.temperature]
    # straight lines between the can's nodes, and what the gas stores counts as the product's here, which shows in the
    # first minutes
    assert_allclose(found[1:], np.array(expected)[1:], rtol=0, atol=0.03)


def test_walls_have_the_properties_at_the_highest_temperature_met():
    case = bare(SIDES, (800.0, 300.0))
    growing = Material("film", 0.1, 900.0, 1900.0, "", Tabulated((0.0, HOT), (0.05, 0.2), (1.6e6, 1.8e6)))
    there, middle = growing.at(HOT), np.array([[0.0, 0.0, 0.020]])
    assert there.conductivity == 0.2
    first, second = (
        case.replace(container=dataclasses.replace(case.container, **dict.fromkeys(("side", "base", "lid"), wall)))
        for wall in (Wall(growing, 2e-4), Wall(there, 2e-4))
    )
    one, other = (brick_field(walled, fine=False).end_at(middle)[0] for walled in (first, second))
    assert_allclose(one, other, rtol=1e-12)
    assert brick_field(case, fine=False).end_at(middle)[0] - one > 0.5


@pytest.mark.long
def test_what_is_stated_of_a_changing_brick_holds_against_much_finer_elements_and_steps():
    case = changing(bare(SIDES, (800.0, 300.0)), (0.75, 1.3), (0.9, 1.15))
    spots, unsure = brick_spots(case)
    better = BrickField(case, (14, 9), 40)
    for kind in ("least_lethality", "slowest_heating"):
        spot = getattr(spots, kind)
        place = np.array([[spot.x, spot.y, spot.z]])
        gathered = np.exp(better.logs_at(place))[:, 0]
        assert abs(spot.lethality - gathered[0]) <= unsure[f"{kind}.lethality"]
        assert abs(spot.heating_lethality - gathered[1]) <= unsure[f"{kind}.heating_lethality"]
        assert abs(spot.end_of_heating - better.end_at(place)[0]) <= unsure[f"{kind}.end_of_heating"]


@pytest.mark.long
def test_the_hold_that_is_found_of_a_changing_brick_reaches_the_target():
    case = changing(bare((90, 60, 36), (800.0, 800.0)), (0.8, 1.2), (0.95, 1.1))
    found = brick_hold(case, 360.0, unsure=1e-4)
    held = case.replace(process=case.process.with_hold(found.hold))
    assert_allclose(brick_spots(held)[0].least_lethality.lethality, 360.0, rtol=2e-3)
