"""The search for a hold, on curves whose roots are known. Rung: hand-worked."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from small_cans import small_can

from thermsim.assess.fields.error_estimate import left_by
from thermsim.assess.fields.refinement import COUNTED
from thermsim.assess.simulate.simulation import simulate
from thermsim.assess.spots.hold import NO_NEED, TOO_LONG, hold_by, power_of_hold, required_hold
from thermsim.case.process import Film, Process, Stage

FILM = Film.everywhere(500.0)
PROCESS = Process(
    (
        Stage("hold", np.array([0.0, 600.0]), np.array([120.0, 120.0]), FILM),
        Stage("cool", np.array([600.0, 900.0]), np.array([20.0, 20.0]), FILM),
    )
)


def line(root, slope=1.3):
    return lambda log_hold: slope * (log_hold - math.log(root))


@pytest.mark.parametrize("root", [70.0, 600.0, 40_000.0])
def test_the_finer_curves_root_is_found_and_what_counts_of_the_difference_said(root):
    found = hold_by(PROCESS, line(root), line(1.01 * root))
    assert_allclose(found.hold, 1.01 * root, rtol=1e-4)
    assert_allclose(found.uncertainty, 0.01 * root, rtol=0.05)
    found = hold_by(PROCESS, line(root), line(1.01 * root), again=0.1, counted=0.5)
    assert_allclose([found.hold, found.uncertainty], [1.011 * root, 0.0055 * root], rtol=0.02)
    # where F goes with hold^1.3 a hold is uncertain by 10 % if F is by 13 %
    found = hold_by(PROCESS, line(root), line(1.01 * root), unsure=0.13)
    assert_allclose(found.uncertainty, 0.101 * root, rtol=0.02)
    # where both curves are the same the root is known as closely as it is looked for
    assert_allclose(hold_by(PROCESS, line(root), line(root)).uncertainty, 1e-5 * root, rtol=0.05)


@pytest.mark.parametrize(("root", "near"), [(612.0, True), (610.0, True), (700.0, False), (590.0, True)])
def test_next_to_a_hold_that_is_solved_the_better_curve_is_asked_for_that_alone(root, near):
    asked = []

    def better(log_hold):
        asked.append(log_hold)
        return line(root)(log_hold)

    # it is known at 600 s, and there above the rough one as it is at the root
    found = hold_by(PROCESS, line(0.995 * root), better, counted=0.5, power=1.25)
    assert_allclose(found.hold, root, rtol=2e-5)
    assert_allclose(found.uncertainty, 0.0025 * root, rtol=0.05)
    assert set(asked) == {math.log(600.0)} if near else len(set(asked)) == 2


@pytest.mark.parametrize("power", [0.0, -1.0, math.nan])
def test_a_power_that_says_nothing_does_no_harm(power):
    found = hold_by(PROCESS, line(620.0), line(625.0), power=power)
    assert_allclose(found.hold, 625.0, rtol=2e-5)


@pytest.mark.parametrize("root", [600.3, 601.4, 598.0])
def test_a_power_that_is_a_third_too_large_leads_to_the_root_all_the_same(root):
    """Of steps that are too short to show a slope the power was believed: 0.2 s of half an hour were left."""
    found = hold_by(PROCESS, line(root, slope=6.7), line(root, slope=6.7), power=8.7)
    assert_allclose(found.hold, root, rtol=1.1e-5)


def test_the_power_of_a_hold_is_that_of_its_neighbours():
    case = small_can()
    stage = case.process.stages[case.process.hold]
    hold = stage.end - stage.start
    shorter, now, longer = (
        simulate(case.replace(process=case.process.with_hold(hold * part))).spots[0] for part in (0.98, 1.0, 1.02)
    )
    rise = math.log(longer.lethality / shorter.lethality) / math.log(1.02 / 0.98)
    assert_allclose(
        power_of_hold(case, now), rise, rtol=0.1
    )  # what is warmer in cooling does not stay as much warmer


def test_a_slope_that_misleads_does_not_lead_out_of_the_search():
    def steep(log_hold):
        assert 0.0 <= log_hold <= math.log(172800.0), "no such hold is looked at"
        return 4.0 * math.tanh(3.0 * (log_hold - math.log(80.0)))

    assert_allclose(hold_by(PROCESS, line(95.0, slope=0.02), steep).hold, 80.0, rtol=1e-2)


def test_what_is_never_or_always_reached_is_said():
    assert hold_by(PROCESS, lambda _: -1.0, lambda _: -1.0).remark == TOO_LONG
    always = hold_by(PROCESS, lambda _: 1.0, lambda _: 1.0)
    assert (always.hold, always.remark) == (0.0, NO_NEED)
    # the rough curve has a root, the fine one has none
    assert hold_by(PROCESS, line(600.0), lambda _: 0.3).remark == NO_NEED
    assert hold_by(PROCESS, line(600.0), lambda _: -0.3).remark == TOO_LONG


@pytest.mark.parametrize(("ratio", "times"), [(4.0, 1.0), (2.0 ** (4.0 / 3.0), 1.0), (2.3, left_by(2.3))])
def test_beside_a_corner_with_plastic_more_counts_of_what_grids_differ_by(monkeypatch, ratio, times):
    told = []
    monkeypatch.setattr("thermsim.assess.spots.hold.corner_of", lambda _: ratio)
    monkeypatch.setattr("thermsim.assess.spots.hold.hold_by", lambda *_, **how: told.append(how))
    required_hold(small_can(), 300.0, tolerance=0.02, unsure=0.02)
    # two thirds of that, and of what the lethality is uncertain by
    assert_allclose([told[0]["counted"], told[0]["unsure"]], [0.65 * COUNTED[0] * times, 0.65 * 0.02], rtol=1e-12)
