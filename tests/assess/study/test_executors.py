"""Who makes the runs of a study changes nothing of what they are: runs one after another are the reference."""

from __future__ import annotations

import os
import signal
from concurrent.futures import Future, ProcessPoolExecutor, ThreadPoolExecutor

import numpy as np
import pytest
from study_scenes import BARE, SMALL_SCAN, STEM, Here, series, study_case

from thermsim.assess.fields.cache import SolutionCache
from thermsim.assess.study import one_run as study_run
from thermsim.assess.study.all_runs import Lanes, finished_runs, groups_of
from thermsim.assess.study.sampling import plan_of
from thermsim.errors import ThermsimError
from thermsim.records.study.running import run_study

LETHALITY = """
[study]
kind = "scan"
vary = [{ key = "lethality.z_C", values = [8, 10] }, { key = "lethality.reference_C", values = [110, 121.1] }]
"""


def same(one, other):
    return one.failures == other.failures and all(
        np.array_equal(one.figures[name], other.figures[name], equal_nan=True) for name in one.figures
    )


@pytest.fixture(scope="module")
def in_turn():
    return run_study(study_case(SMALL_SCAN), executor=Here())


@pytest.mark.long
@pytest.mark.parametrize("workers", [1, 2])
def test_workers_of_its_own_give_the_same(in_turn, workers):
    assert same(run_study(study_case(SMALL_SCAN), workers=workers), in_turn)


@pytest.mark.parametrize(
    "kind", [lambda: ThreadPoolExecutor(1), pytest.param(lambda: ThreadPoolExecutor(2), marks=pytest.mark.long)]
)
def test_any_executor_gives_the_same(in_turn, kind):
    with kind() as executor:
        assert same(run_study(study_case(SMALL_SCAN), executor=executor), in_turn)


def test_a_run_that_cannot_be_made_is_kept_with_its_reason(in_turn):
    # each fourth film is -5 W/m2K
    assert sorted(in_turn.failures) == [0, 4, 8]
    for reason in in_turn.failures.values():
        assert "bare.toml [process]: film_W_m2K = -5" in reason
        assert "\n" not in reason
    assert np.isnan(in_turn.figures["least_lethality"][[0, 4, 8]]).all()
    assert np.isfinite(np.delete(in_turn.figures["least_lethality"], [0, 4, 8])).all()
    assert list(in_turn.good) == [k % 4 > 0 for k in range(12)]


def test_what_is_raised_by_accident_is_kept_too():
    def broken(task):
        raise ZeroDivisionError("over\nthere") if task.index == 3 else KeyError("x") if task.index == 4 else OSError

    result = run_study(study_case(SMALL_SCAN), executor=Here(), compute=broken)
    assert len(result.failures) == 12
    assert result.failures[3] == "ZeroDivisionError: over; there"


def test_a_lost_worker_is_said_and_what_was_finished_is_kept(tmp_path):
    with (
        ProcessPoolExecutor(1) as executor,
        pytest.raises(ThermsimError, match=r"a worker was lost \(BrokenProcessPool.*run again to go on"),
    ):
        run_study(study_case(SMALL_SCAN), executor=executor, compute=lost_at_seven, journal=tmp_path / "j")
    made = []

    def counted(task):
        made.append(task.index)
        return series(task)

    run_study(study_case(SMALL_SCAN), executor=Here(), compute=counted, journal=tmp_path / "j")
    assert 7 in made
    assert len(made) < 12


@pytest.mark.parametrize("workers", [1, pytest.param(2, marks=pytest.mark.long)])
def test_a_lost_worker_of_its_own_is_said_too(workers, tmp_path):
    with pytest.raises(ThermsimError, match=r"a worker was lost \(BrokenProcessPool.*with fewer workers"):
        run_study(study_case(SMALL_SCAN), workers=workers, compute=lost_at_seven, journal=tmp_path / "j")


def lost_at_seven(task):
    if task.index == 7:
        os._exit(1)
    return series(task)


def test_no_more_than_so_many_runs_are_given_out_at_a_time():
    case = study_case(SMALL_SCAN)
    plan = plan_of(case)
    waiting, most = [], []

    class Slow(Here):
        def submit(self, function, /, *arguments, **named):
            future = Future()
            waiting.append((future, function, arguments))
            most.append(len(waiting))
            if len(waiting) == 3:
                for one, work, values in waiting:
                    one.set_result(work(*values))
                waiting.clear()
            return future

    runs = finished_runs(
        plan, study_run.setup_of(case, plan), np.zeros(12, bool), executors=[Slow()], compute=series, ahead=3
    )
    assert sorted(run.index for some in runs for run in some) == list(range(12))
    assert max(most) == 3


def test_an_interrupt_stops_a_study_between_runs_and_what_was_finished_is_kept(tmp_path):
    made = []

    def interrupted(task):
        made.append(task.index)
        if task.index == 4:
            signal.raise_signal(signal.SIGINT)
        return series(task)

    with pytest.raises(KeyboardInterrupt):
        run_study(study_case(SMALL_SCAN), executor=Here(), compute=interrupted, journal=tmp_path / "j")
    assert made == [0, 1, 2, 3, 4]
    assert (tmp_path / "j").read_bytes().count(b"\n") == 1 + 5
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_a_second_interrupt_does_not_wait():
    def twice(task):
        signal.raise_signal(signal.SIGINT)
        signal.raise_signal(signal.SIGINT)
        raise AssertionError("the second one was not raised")

    with pytest.raises(KeyboardInterrupt):
        run_study(study_case(SMALL_SCAN), executor=Here(), compute=twice)
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_groups_share_what_is_no_process_and_no_lethality():
    plan = plan_of(study_case(SMALL_SCAN))  # the product's start is of the body, the film is not
    none = np.zeros(12, bool)
    assert groups_of(plan, none) == [[0, 1, 2, 3], [4, 5, 6, 7], [8, 9, 10, 11]]
    assert groups_of(plan, np.arange(12) != 6) == [[6]]
    across = plan_of(
        study_case(SMALL_SCAN.replace("product.initial_C", "lethality.z_C").replace("20, 30, 40", "8, 9, 10"))
    )
    # one body; runs of one film together
    assert groups_of(across, none) == [[0, 4, 8, 1, 5, 9, 2, 6, 10, 3, 7, 11]]


def test_lanes_take_groups_and_then_half_of_what_another_still_has():
    lanes = Lanes([[0, 1, 2, 3, 4], [5]], 2)
    assert [lanes.next(0), lanes.next(1), lanes.next(0)] == [0, 5, 1]
    assert [lanes.next(1), lanes.next(1), lanes.next(0), lanes.next(1)] == [3, 4, 2, None]
    assert lanes.next(0) is None


@pytest.mark.long
def test_runs_that_differ_in_lethality_alone_follow_their_process_once(monkeypatch):
    case = study_case(LETHALITY, BARE + STEM + "insertion_mm = 50.0\n")
    kept = SolutionCache()
    monkeypatch.setattr(study_run, "kept_here", lambda: kept)
    shared = run_study(case, executor=Here())
    assert shared.failures == {}
    # the container and the container with its probe, in the three runs after the first
    assert kept.taken["processes"] >= 6
    monkeypatch.setattr(study_run, "kept_here", lambda: None)
    assert same(run_study(case, executor=Here()), shared)


@pytest.mark.long
def test_runs_that_differ_in_the_process_share_grids_and_matrices(monkeypatch):
    kept = SolutionCache()
    monkeypatch.setattr(study_run, "kept_here", lambda: kept)
    shared = run_study(study_case(SMALL_SCAN), executor=Here())
    # of four films one fails, so there are three runs a body
    assert kept.taken["processes"] == 0
    assert kept.taken["families"] == 6
    monkeypatch.setattr(study_run, "kept_here", lambda: None)
    assert same(run_study(study_case(SMALL_SCAN), executor=Here()), shared)


def test_what_is_kept_stays_small():
    from thermsim.assess.fields import cache as module
    from thermsim.assess.fields.refinement import refine

    kept = SolutionCache()
    cases = [
        study_case(SMALL_SCAN, BARE.replace("initial_C = 30", f"initial_C = {start}")) for start in range(20, 28)
    ]
    for case in cases:
        refine(case, time=np.array([0.0, 3600.0]), tolerance=0.1, kept=kept)
    assert len(kept._families) == module.MOST_BODIES
    assert len(kept._followed) == module.MOST_PROCESSES


@pytest.mark.long
def test_runs_that_differ_in_the_hold_share_factors(monkeypatch):
    """A factor made for one run serves the next; what is found is the same to the last bit."""
    case = study_case(
        SMALL_SCAN.replace("product.initial_C", "process.stage.hold.minutes").replace("20, 30, 40", "60, 65, 68")
    )
    kept = SolutionCache()
    monkeypatch.setattr(study_run, "kept_here", lambda: kept)
    shared = run_study(case, executor=Here())
    (family,) = kept._families.values()
    made = [set(system.solvers) for solver in family.solvers for system in solver.first.systems.values()]
    # three films that work, in three runs each, on three grids: as many factors as one run makes, which has the
    # shifts from the longest stage's rate to 1/s, the same for all, and at most three beyond them
    assert len(made) == 9
    common = set.intersection(*made)
    assert 2 <= len(common) <= 5
    assert all(len(shifts - common) <= 3 for shifts in made)
    monkeypatch.setattr(study_run, "kept_here", lambda: None)
    assert same(run_study(case, executor=Here()), shared)
