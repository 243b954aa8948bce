"""Rungs: exact solution of the discrete system, order in time, conservation, what the interface promises."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from bodies import INSULATED, cylinder, heat_and_cool, jar
from discrete import FILM, exact_discrete, ramp
from numpy.testing import assert_allclose

from thermsim.case.process import Film, Process, Stage
from thermsim.case.rules import collecting
from thermsim.errors import NumericalError
from thermsim.exact import observed_order
from thermsim.solve.grid.grid import grid_family
from thermsim.solve.grid.operator import operator_of
from thermsim.solve.march import march as march_module
from thermsim.solve.march.constant import ConstantStepper
from thermsim.solve.march.march import _calmed, march


def test_a_fixed_step_is_taken_again_after_shorter_ones_that_a_jump_asked_for_and_none_is_longer():
    history = march(operator_of(grid_family(jar())[0]), heat_and_cool(400.0), tolerance=0.02, fixed_step=60.0)
    steps = np.diff(history.time)
    assert history.rejected > 0 and steps[0] == 30.0
    assert steps.max() == pytest.approx(60.0) and np.isclose(steps, 60.0).sum() > 0.8 * history.steps


@pytest.mark.parametrize("body", [cylinder(), cylinder(radius=0.05, height=0.02), jar(3)], ids=["can", "flat", "jar"])
def test_march_follows_the_exact_solution_of_the_discrete_system(body):
    operator = operator_of(grid_family(body)[0])
    history = march(operator, ramp(), tolerance=1e-6)
    expected = exact_discrete(operator, FILM, 1200.0, 0.05, 30.0)
    assert_allclose(history.temperature[-1], expected, rtol=0, atol=1e-4)  # some steps of 1e-6 K each add up


def test_error_in_time_falls_with_the_fourth_power_of_the_step():
    operator = operator_of(grid_family(cylinder())[0])
    expected = exact_discrete(operator, FILM, 1200.0, 0.05, 30.0)
    steps = np.array([300.0, 150.0, 75.0, 37.5])
    errors = []
    for step in steps:
        history = march(operator, ramp(), tolerance=np.inf, fixed_step=step)
        assert history.steps == 1200.0 / step
        errors.append(np.abs(history.temperature[-1] - expected).max())
    assert 3.5 < observed_order(steps, np.array(errors)) < 4.6


def test_error_follows_the_tolerance():
    operator = operator_of(grid_family(cylinder())[0])
    expected = exact_discrete(operator, FILM, 1200.0, 0.05, 30.0)
    errors = [
        np.abs(march(operator, ramp(), tolerance=tolerance).temperature[-1] - expected).max()
        for tolerance in (1e-1, 1e-3, 1e-5)
    ]
    assert errors[0] > 5 * errors[1] > 25 * errors[2]


def test_after_a_step_that_was_refused_steps_grow_twofold_at_most(monkeypatch):
    tried = []

    class Narrow(ConstantStepper):
        """Steps that would settle, but for those longer than 3 s in half a minute of the course."""

        now = 0.0

        def attempt(self, length):
            super().attempt(length)
            refused, self.length = self.now < 230.0 and self.now + length > 200.0 and length > 3.0, length
            tried.append((length, refused))
            return np.inf if refused else 1e-9

        def accept(self, medium):
            self.now += self.length
            return super().accept(medium)

    monkeypatch.setattr(march_module, "ConstantStepper", Narrow)
    operator = operator_of(grid_family(cylinder())[0])
    history = march(operator, ramp(), tolerance=1.0)
    refusals = [k for k, (_, refused) in enumerate(tried) if refused]
    assert history.rejected == len(refusals) >= 3
    for k in refusals:
        taken = next(j for j in range(k, len(tried)) if not tried[j][1])
        assert tried[taken + 1][0] <= 2.0 * tried[taken][0] * (1.0 + 1e-9)
    # far from it they grow fourfold
    assert any(two[0] > 3.9 * one[0] for one, two in itertools.pairwise(tried) if not one[1])


def test_a_march_begins_as_short_as_films_and_medium_change_a_node_at_once():
    """By the films: W/K over J/K of the node that is the quickest, times what the medium is hotter there."""
    operator = operator_of(grid_family(cylinder(radius=0.02, height=0.05))[0])
    start = float(operator.initial.max())

    def first_steps(hotter, films, climb=0.0, tolerance=0.01):
        stages = (
            Stage("come-up", np.array([0.0, 6000.0]), start + hotter + climb * np.array([0.0, 6000.0]), films[0]),
            Stage("hold", np.array([6000.0, 7000.0]), start + hotter + climb * np.array([6000.0, 7000.0]), films[1]),
        )
        steps = np.diff(march(operator, Process(stages), tolerance=tolerance).time)
        return steps[[0, np.flatnonzero(steps == 0.0)[0] + 1]]

    exchange = 40.0 * sum((operator.side, operator.base, operator.lid))
    quickest = float((exchange / operator.capacity).max())
    same = Film.everywhere(40.0), Film.everywhere(40.0)
    assert_allclose(first_steps(60.0, same)[0], 0.5 / (quickest * 60.0), rtol=1e-6)
    # far above the shortest step, which is kept where a film is steam's
    assert first_steps(60.0, (Film.everywhere(1e6),) * 2, tolerance=100.0)[0] == 0.02
    # at rest in a medium that begins to climb by 0.01 K/s: half a kelvin off its course
    assert_allclose(first_steps(0.0, same, climb=0.01)[0], 50.0, rtol=1e-6)
    # a film that changes where all is as warm as the medium changes nothing
    changed = Film.everywhere(900.0), Film.everywhere(890.0)
    assert first_steps(60.0, changed)[1] > 100.0
    # and little where all climbs as the medium does
    assert first_steps(0.0, changed, climb=0.01)[1] > 100.0


def test_asking_for_more_output_changes_nothing_in_the_march():
    history = march(operator_of(grid_family(jar(3))[0]), heat_and_cool(400.0), tolerance=0.01)
    few, many = history.at(np.array([0.0, 1000.0])), history.at(np.linspace(0.0, 4200.0, 1051))
    assert np.array_equal(few[1], many[250])


def test_history_meets_every_knot_of_the_process_and_jumps_there():
    history = march(operator_of(grid_family(cylinder())[0]), heat_and_cool(np.inf), tolerance=0.01)
    for knot in (0.0, 600.0, 3000.0, 3600.0, 4200.0):
        assert knot in history.time
    before = history.entry_before(600.0)
    # the held surface is at 118 as the come-up ends and at 119 as the hold begins
    assert history.temperature[before, -1, 3] == 118.0
    assert history.at(np.array([600.0]))[0, -1, 3] == 119.0


def test_interpolated_temperatures_are_as_good_as_the_steps():
    operator = operator_of(grid_family(cylinder())[0])
    history = march(operator, ramp(), tolerance=1e-3)
    time = 777.0
    assert time not in history.time
    expected = exact_discrete(operator, FILM, time, 0.05, 30.0)
    assert_allclose(history.at(np.array([time]))[0], expected, rtol=0, atol=1e-2)


@pytest.mark.parametrize("headspace", [3, INSULATED], ids=["gas", "insulated"])
@pytest.mark.parametrize("film", [250.0, np.inf, Film(800.0, 60.0, np.inf)], ids=["film", "fixed", "mixed"])
def test_heat_in_equals_heat_stored(headspace, film):
    history = march(operator_of(grid_family(jar(headspace))[1]), heat_and_cool(film), tolerance=0.01)
    assert abs(history.stored) > 100.0
    assert abs(history.energy_defect) < 1e-8


def test_insulated_rooms_keep_out_of_the_march():
    grid = grid_family(jar(INSULATED))[0]
    history = march(operator_of(grid), heat_and_cool(250.0), tolerance=0.01)
    assert np.isfinite(history.temperature).all()
    assert np.ptp(history.temperature[-1][grid.active]) > 0.1


def test_a_medium_that_is_not_a_number_is_reported_with_its_time():
    with collecting():  # whatever the nouns refuse
        process = Process((Stage("hold", np.array([0.0, 60.0]), np.array([100.0, np.nan]), FILM),))
    with pytest.raises(NumericalError, match=r"the march stopped at 0\.000 min") as caught:
        march(operator_of(grid_family(cylinder())[0]), process, tolerance=0.01)
    assert caught.value.evidence["time_s"] == 0.0


def test_a_tolerance_below_rounding_is_reported():
    with pytest.raises(NumericalError, match="steps became too small"):
        march(operator_of(grid_family(cylinder())[0]), heat_and_cool(250.0), tolerance=1e-300)


def test_a_rate_right_after_a_jump_does_not_carry_the_first_step_away():
    """A wire's end at 2 000 000 K/s through a step of 0.02 s, in which it rises by 20 K; and a node that stays."""
    time, temperature = np.array([0.0, 0.02, 1.02]), np.array([[20.0, 30.0], [40.0, 30.0], [41.0, 30.0]])
    rate = np.array([[2e6, 0.0], [6e3, 0.0], [0.5, 0.0]])
    expected = [[(3 * 20 + 20) / 0.02, 0.0], [3 * 1 + 20, 0.0], [0.5, 0.0]]
    assert_allclose(_calmed(time, temperature, rate), expected, rtol=1e-12)
