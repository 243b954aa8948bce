"""Rungs: the march as another code, the exact solution of the discrete system, conservation; on drawn bodies too."""

from __future__ import annotations

import numpy as np
import pytest
from bodies import INSULATED, STEEL, cylinder, heat_and_cool, jar
from discrete import FILM, exact_discrete, ramp
from drawn_bodies import FEW, bodies, processes
from hypothesis import given
from numpy.testing import assert_allclose
from shapes import SHAPES, packed

from thermsim.case.process import Film, Process, Stage
from thermsim.case.profile import Profile
from thermsim.case.rules import collecting
from thermsim.errors import NumericalError
from thermsim.solve.basis.basis import Basis
from thermsim.solve.basis.evolution import Evolution
from thermsim.solve.basis.reduced import LAST_ROUND, RESOLVED, Reduced, Solver
from thermsim.solve.grid.body import body_of
from thermsim.solve.grid.grid import grid_family
from thermsim.solve.grid.operator import operator_of
from thermsim.solve.march.history import History, hermite_weights
from thermsim.solve.march.march import march
from thermsim.solve.matrix.numbering import Numbering
from thermsim.solve.matrix.system import system_of

TOLERANCE = 0.002
FREE, HELD = Film.everywhere(250.0), Film.everywhere(np.inf)


def with_films(heating, cooling):
    """The process of the march's tests with films of its own for heating and for cooling."""
    up, hold, down = heat_and_cool(heating).stages
    return Process((up, hold, Stage("cool", down.time, down.medium, cooling)))


def resolved_times(process):
    """Times from a second after each jump on."""
    spans = [(stage.start, stage.end) for stage in process.stages]
    return np.unique(
        np.concatenate([start + np.geomspace(RESOLVED, 0.9999 * (end - start), 15) for start, end in spans])
    )


def largest_difference(operator, process, tolerance=TOLERANCE):
    """Between the basis and a march that is a hundred times as accurate, over all nodes that conduct [K]."""
    evolution = Reduced(operator, tolerance=tolerance).evolve(process)
    history = march(operator, process, tolerance=tolerance / 100)
    time = resolved_times(process)
    return np.abs(evolution.at(time) - history.at(time))[:, operator.capacity > 0].max()


@pytest.mark.parametrize(
    "process",
    [
        with_films(FREE, Film.everywhere(125.0)),
        with_films(Film.everywhere(5000.0), Film.everywhere(2500.0)),
        with_films(HELD, HELD),
        with_films(FREE, HELD),
        with_films(HELD, FREE),
        with_films(Film(800.0, 60.0, np.inf), Film(400.0, np.inf, 30.0)),
    ],
    ids=["films", "strong films", "held", "then held", "then free", "mixed"],
)
@pytest.mark.parametrize("headspace", [3, INSULATED], ids=["gas", "insulated"])
def test_basis_follows_the_march(process, headspace):
    operator = operator_of(grid_family(jar(headspace))[1])
    # twice what the last round may have changed the answer by
    assert largest_difference(operator, process) < 2 * LAST_ROUND * TOLERANCE


@FEW
@given(bodies(), processes())
def test_basis_follows_the_march_in_any_body(body, process):
    operator = operator_of(grid_family(body)[0])
    found = Reduced(operator, tolerance=0.005).evolve(process)
    assert found is not None
    assert abs(found.energy_defect) < 1e-8
    assert largest_difference(operator, process, tolerance=0.005) < 2 * LAST_ROUND * 0.005


@pytest.mark.parametrize("size", [1.0, 1e-9, 1e-150, 1e-161, 1e-162, 1e-200])
def test_a_basis_stays_orthonormal_however_small_the_field_it_begins_with(size):
    operator = operator_of(grid_family(jar(3))[0])
    numbering = Numbering(operator.capacity > 0.0)
    basis = Basis(system_of(operator, FREE, numbering), (1e-3, 1e-1), numbering.vector(operator.initial))
    basis.begin(np.ones(numbering.count))
    # the square of 1e-161 has hardly a digit left
    basis.begin(size * np.cos(np.arange(numbering.count)))
    basis.grow()
    vectors = basis.vectors[: basis.count]
    assert_allclose(vectors @ vectors.T, np.eye(basis.count), rtol=0, atol=1e-12)


@pytest.mark.parametrize("name", SHAPES)
def test_basis_follows_the_march_on_skewed_grids(name):
    case = SHAPES[name]
    operator = operator_of(grid_family(body_of(case))[0])
    assert largest_difference(operator, case.process) < 2 * LAST_ROUND * TOLERANCE


@pytest.mark.parametrize("body", [cylinder(), cylinder(STEEL, 0.05, 0.02), jar(3)], ids=["can", "flat steel", "jar"])
def test_basis_follows_the_exact_solution_of_the_discrete_system(body):
    operator = operator_of(grid_family(body)[0])
    found = Reduced(operator, tolerance=1e-5).evolve(ramp())
    expected = exact_discrete(operator, FILM, 1200.0, 0.05, 30.0)
    assert_allclose(found.at(np.array([1200.0]))[0], expected, rtol=0, atol=4e-5)  # LAST_ROUND tolerances


def test_a_sharper_tolerance_makes_a_larger_basis_and_a_smaller_error():
    operator = operator_of(grid_family(jar(3))[0])
    process, sizes, errors = heat_and_cool(400.0), [], []
    time = resolved_times(process)
    exact = march(operator, process, tolerance=1e-7).at(time)
    for tolerance in (1e-1, 1e-3, 1e-5):
        reduced = Reduced(operator, tolerance=tolerance)
        errors.append(np.abs(reduced.evolve(process).at(time) - exact).max())
        sizes.append(sum(basis.count for basis in reduced.bases.values()))
    assert sizes[0] <= sizes[1] < sizes[2]
    assert errors[0] > errors[2]
    assert errors[2] < 2 * LAST_ROUND * 1e-5


@pytest.mark.parametrize("film", [250.0, np.inf, Film(800.0, 60.0, np.inf)], ids=["film", "held", "mixed"])
def test_heat_in_equals_heat_stored(film):
    operator, process = operator_of(grid_family(jar(3))[1]), heat_and_cool(film)
    found = Reduced(operator, tolerance=TOLERANCE).evolve(process)
    assert abs(found.energy_defect) < 1e-8
    # 0.01 K of the whole body: both are good to the tolerance
    assert_allclose(found.stored, march(operator, process, tolerance=1e-4).stored, rtol=0, atol=0.01 * found.capacity)


def test_between_entries_a_cubic_is_within_the_tolerance():
    operator, process = operator_of(grid_family(jar(3))[0]), heat_and_cool(400.0)
    found = Reduced(operator, tolerance=TOLERANCE).evolve(process)
    time = resolved_times(process)
    w, first = hermite_weights(found.time, time)
    w = w[:, :, None, None]
    t, d = found.temperature, found.rate
    cubic = w[0] * t[first] + w[1] * t[first + 1] + w[2] * d[first] + w[3] * d[first + 1]
    # the bound goes by the fourth derivative at both ends of an interval, which is not quite its largest
    assert np.abs(cubic - found.at(time)).max() < 2 * TOLERANCE


def test_a_mean_is_what_modes_say_and_at_a_jump_what_is_reached():
    operator, process = operator_of(grid_family(jar(3))[0]), heat_and_cool(400.0)
    found = Reduced(operator, tolerance=1.0).evolve(process)
    nodes = operator.capacity > 0.0
    weights = operator.capacity[nodes] / operator.capacity.sum()
    time = resolved_times(process)
    # cubics between the entries of so loose a tolerance are off by tenths of a kelvin
    assert_allclose(found.mean(nodes, weights, time), found.at(time)[:, nodes] @ weights, rtol=0, atol=1e-9)
    knots = np.array([600.0, 3000.0, 3600.0])
    reached = [found.reached(knot)[nodes] @ weights for knot in knots]
    assert_allclose(found.mean(nodes, weights, knots), reached, rtol=0, atol=1e-9)


def test_nothing_swings_out_behind_a_jump_at_a_held_surface():
    # the ball's cells are tiny at its poles: nodes there change at a thousand times their value a second
    angle = np.linspace(0.0, np.pi, 41)
    z, r = 0.03 * (1.0 - np.cos(angle)), 0.03 * np.sin(angle)
    r[[0, -1]] = 0.0
    ball = packed(Profile(tuple(zip(z.tolist(), r.tolist(), strict=True))), walls=False)
    operator = operator_of(grid_family(body_of(ball))[2])
    process = with_films(HELD, HELD)
    found = Reduced(operator, tolerance=TOLERANCE).evolve(process)
    low, high = min(process.medium_range[0], operator.initial.min()), process.medium_range[1]
    t, d = found.entries(operator.capacity > 0)
    assert t.min() >= low
    assert t.max() <= high
    middle = ((found.time[1:] + found.time[:-1]) / 2)[np.diff(found.time) > 0]
    w, first = hermite_weights(found.time, middle)
    w = w[:, :, None]
    cubic = w[0] * t[first] + w[1] * t[first + 1] + w[2] * d[first] + w[3] * d[first + 1]
    # a kelvin: within the first second surfaces are known less well, see RESOLVED
    assert cubic.min() > low - 1.0
    assert cubic.max() < high + 1.0


def test_entries_stand_on_both_sides_of_a_jump():
    process = heat_and_cool(np.inf)
    found = Reduced(operator_of(grid_family(cylinder())[0]), tolerance=0.01).evolve(process)
    for knot in (0.0, 600.0, 3000.0, 3600.0, 4200.0):
        assert knot in found.time
    # the held surface is at 118 as the come-up ends and at 119 as the hold begins
    assert found.reached(600.0)[-1, 3] == 118.0
    assert found.temperature[found.entry_before(600.0), -1, 3] == 118.0
    assert found.at(np.array([600.0]))[0, -1, 3] == 119.0


def test_what_is_over_at_once_counts_as_over_at_the_entries(monkeypatch):
    found = Reduced(operator_of(grid_family(cylinder())[1]), tolerance=TOLERANCE).evolve(heat_and_cool(1e5))
    nodes = found.conducting
    span = 119.0 - 25.0
    # surfaces begin to follow a jump at tens of kelvins a second
    assert np.abs(found.entries(nodes)[1]).max() > span
    # what decays within a second is left out: no mode that is left can change faster than the whole span in one
    monkeypatch.setattr("thermsim.solve.basis.evolution.FASTEST", 1.0)
    assert np.abs(found.entries(nodes)[1]).max() < span


def test_another_process_on_known_bases_is_as_good_as_on_new_ones():
    operator = operator_of(grid_family(jar(3))[1])
    reduced = Reduced(operator, tolerance=TOLERANCE)
    reduced.evolve(heat_and_cool(400.0))
    other = heat_and_cool(400.0, hot=95.0, cold=10.0).with_hold(300.0)
    time = resolved_times(other)
    exact = march(operator, other, tolerance=TOLERANCE / 100).at(time)
    for trusted in (True, False):
        found = reduced.evolve(other, trusted=trusted)
        assert np.abs(found.at(time) - exact).max() < 2 * LAST_ROUND * TOLERANCE


def test_bases_grow_for_a_start_that_they_do_not_hold():
    operator = operator_of(grid_family(jar(3))[0])
    reduced = Reduced(operator, tolerance=TOLERANCE)
    reduced.evolve(heat_and_cool(400.0))
    # the cooling film first: its basis has never begun with the cold container
    cooling = Film.everywhere(200.0)
    process = Process((Stage("hold", np.array([0.0, 1200.0]), np.array([120.0, 120.0]), cooling),))
    assert cooling in reduced.bases
    time = resolved_times(process)
    exact = march(operator, process, tolerance=TOLERANCE / 100).at(time)
    assert np.abs(reduced.evolve(process).at(time) - exact).max() < 2 * LAST_ROUND * TOLERANCE


def test_a_round_earlier_is_less_good_but_near():
    operator, process = operator_of(grid_family(jar(3))[0]), heat_and_cool(400.0)
    reduced = Reduced(operator, tolerance=TOLERANCE)
    best = reduced.evolve(process)
    time = resolved_times(process)
    difference = np.abs(reduced.looser(process).at(time) - best.at(time)).max()
    assert 0.0 < difference < 2 * LAST_ROUND * TOLERANCE


def test_where_no_basis_is_good_enough_the_march_serves(monkeypatch):
    monkeypatch.setattr("thermsim.solve.basis.reduced.MOST_ROUNDS", 1)
    operator, process = operator_of(grid_family(jar(3))[0]), heat_and_cool(np.inf)
    found = Solver(operator, tolerance=1e-6).follow(process)
    assert isinstance(found, History)
    assert np.array_equal(found.temperature, march(operator, process, tolerance=1e-6).temperature)
    assert isinstance(Solver(operator, tolerance=0.1).follow(process), Evolution)


def test_a_medium_that_is_not_a_number_is_reported_with_its_time():
    with collecting():  # whatever the nouns refuse
        process = Process((Stage("hold", np.array([0.0, 60.0]), np.array([100.0, np.nan]), FILM),))
    with pytest.raises(NumericalError, match=r"stopped at 0\.000 min") as caught:
        Solver(operator_of(grid_family(cylinder())[0]), tolerance=0.01).follow(process)
    assert caught.value.evidence["time_s"] == 0.0


STILL = Process(
    (
        Stage("hold", np.array([0.0, 3000.0]), np.array([118.0, 118.0]), FREE),
        Stage("cool", np.array([3000.0, 4200.0]), np.array([25.0, 25.0]), Film.everywhere(125.0)),
    )
)


@pytest.mark.parametrize("process", [STILL, heat_and_cool(400.0)], ids=["medium that stays", "medium that changes"])
def test_a_basis_for_one_process_is_as_good_as_one_for_any(process):
    operator = operator_of(grid_family(jar(3))[1])
    once, any_process = (Reduced(operator, tolerance=TOLERANCE, once=kind) for kind in (True, False))
    time = resolved_times(process)
    exact = march(operator, process, tolerance=TOLERANCE / 100).at(time)
    found = once.evolve(process)
    assert np.abs(found.at(time) - exact).max() < 2 * LAST_ROUND * TOLERANCE
    assert abs(found.energy_defect) < 1e-8
    any_process.evolve(process)
    sizes, others = ([basis.count for basis in each.bases.values()] for each in (once, any_process))
    # the jar begins with one temperature: it is the second basis that has two fields to begin with, or one
    assert sizes[1] < 0.7 * others[1] if process is STILL else sizes == others
    # and what comes later all the same is no worse
    later = process.with_hold(300.0)
    exact = march(operator, later, tolerance=TOLERANCE / 100).at(resolved_times(later))
    assert np.abs(once.evolve(later).at(resolved_times(later)) - exact).max() < 2 * LAST_ROUND * TOLERANCE


def test_a_basis_for_one_process_stands_where_all_is_as_warm_as_the_medium():
    operator = operator_of(grid_family(cylinder())[0])
    start = float(operator.initial[0, 0])
    process = Process((Stage("hold", np.array([0.0, 600.0]), np.full(2, start), FREE),))
    found = Reduced(operator, tolerance=TOLERANCE, once=True).evolve(process)
    assert_allclose(found.at(np.array([0.0, 600.0])), start, rtol=0, atol=1e-12)
