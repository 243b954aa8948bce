"""Rung: hand-worked. The moment from which a column is no record of food any more."""

import numpy as np
import pytest

from thermsim.assess.measured.doubts.failure import failure_of
from thermsim.case.process import Film, Process, Stage

FILM = Film.everywhere(1000.0)
PROCESS = Process(
    (
        Stage("come-up", np.array([0.0, 600.0]), np.array([40.0, 121.0]), FILM),
        Stage("hold", np.array([600.0, 4200.0]), np.array([121.0, 121.0]), FILM),
        Stage("cool", np.array([4200.0, 6000.0]), np.array([25.0, 25.0]), FILM),
    )
)
TIME = np.arange(0.0, 6001.0, 30.0)
#: A curve as food has it: it lags, heats by an exponential, and turns some minutes after cooling begins.
HEATED = 121.0 - 81.0 * np.minimum(1.0, 1.6 * np.exp(-np.maximum(TIME - 300.0, 0.0) / 1500.0))
CURVE = np.where(
    TIME > 4500.0, 25.0 + (np.interp(4500.0, TIME, HEATED) - 25.0) * np.exp((4500.0 - TIME) / 1800.0), HEATED
)
NOISY = np.round(CURVE + np.random.default_rng(1).normal(0.0, 0.05, TIME.size), 2)


def found(time, temperature, others=TIME):
    keep = np.searchsorted(TIME, time)
    return failure_of(time, temperature, CURVE[keep], others, PROCESS)


def test_a_sound_column_does_not_fail():
    assert found(TIME, NOISY) is None
    # whole degrees stay the same for minutes, at the start and at the turn, and are no frozen probe
    assert found(TIME, np.round(NOISY, 0)) is None


def test_a_product_that_heats_otherwise_does_not_fail():
    slower = np.interp(0.85 * TIME, TIME, NOISY)
    assert found(TIME, slower) is None


@pytest.mark.parametrize("after", [0.0, 25.0, 150.0, 121.0])
def test_a_probe_that_dies_half_way_jumps_there(after):
    broken = np.where(TIME > 2580.0, after, NOISY)
    failure = found(TIME, broken)
    assert (failure.kind, failure.time, failure.returns) == ("jumps", 2580.0, False)
    assert failure.words == "jumps at 43.0 min"


def test_a_probe_that_comes_back_is_said_to_return():
    broken = np.where((TIME > 2000.0) & (TIME < 3000.0), 25.0, NOISY)
    failure = found(TIME, broken)
    assert failure.kind == "jumps" and failure.returns and 1950.0 < failure.time <= 2000.0
    assert failure.words.endswith("and returns")


def test_a_column_that_ends_before_the_others_ends():
    failure = found(TIME[TIME <= 2580.0], NOISY[TIME <= 2580.0])
    assert (failure.kind, failure.time) == ("ends", 2580.0)


def test_a_gap_that_other_columns_do_not_have_is_a_drop_out():
    keep = (TIME < 1500.0) | (TIME > 2100.0)
    assert found(TIME[keep], NOISY[keep]).kind == "drops out"
    # where no column has samples the logger paused
    assert found(TIME[keep], NOISY[keep], others=TIME[keep]) is None


def test_a_frozen_reading_fails_from_its_first_sample_on():
    frozen = np.where(TIME > 1800.0, NOISY[60], NOISY)
    failure = found(TIME, frozen)
    assert (failure.kind, failure.time) == ("freezes", 1800.0)


@pytest.mark.parametrize("lag", [0.0, 20.0])
def test_a_probe_in_the_medium_is_known_by_it(lag):
    medium = PROCESS.medium_at(np.maximum(TIME - lag, 0.0))
    failure = found(TIME, medium + np.random.default_rng(2).normal(0.0, 0.2, TIME.size))
    assert failure.kind == "reads the medium"
    assert "not in the product" in failure.words


@pytest.mark.parametrize(("behind", "fails"), [(40.0, False), (600.0, True)])
def test_food_that_is_near_the_medium_throughout_is_not_taken_for_it(behind, fails):
    """A thin pouch lags by less than a minute: what reads like the medium is what should be read there."""
    medium = PROCESS.medium_at(TIME)
    lagging = medium.copy()
    for k in range(1, TIME.size):
        lagging[k] = medium[k] + (lagging[k - 1] - medium[k]) * np.exp(-(TIME[k] - TIME[k - 1]) / behind)
    reading = medium + np.random.default_rng(3).normal(0.0, 0.2, TIME.size)
    failure = failure_of(TIME, reading, lagging, TIME, PROCESS)
    assert (failure is not None and failure.kind == "reads the medium") == fails
