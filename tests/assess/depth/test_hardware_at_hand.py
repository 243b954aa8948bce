"""Stock as it is: how far it reaches, what each length reads, what a longer one would bring; lengths by hand.

Rung: another path of the program (single simulations), and arithmetic by hand. The can is 70 mm high inside, its lid
0.2 mm thick.
"""

from __future__ import annotations

import dataclasses
import re

import numpy as np
import pytest
from numpy.testing import assert_allclose
from probed import advised_by_few
from small_cans import STEEL, STEM, small_can

from thermsim.assess.depth.limits import allowed_depths, reachable_depths
from thermsim.assess.simulate.simulation import simulate
from thermsim.case.probe import Fitting, Segment, Stock
from thermsim.errors import CaseError
from thermsim.figures.bench.setting import bench_of
from thermsim.figures.bench.words import blocks
from thermsim.records.words.answer import answer

FITTING = Fitting(0.012, 0.003, 0.010, STEEL, hole=0.0115, thread="thread A")
#: Drawn as a probe of 36 mm, which with 10 mm of fitting outside reaches 26 mm deep.
SHORT = dataclasses.replace(STEM, segments=(Segment(0.003, 0.036, STEEL),), fitting=FITTING, insertion=0.024)
#: The longer one at hand reaches 58 - 14 = 44 mm.
AT_HAND = Stock(lengths=(0.040, 0.058), travel=(0.014, 0.030))


@pytest.fixture(scope="module")
def short():
    return advised_by_few(small_can(probe=SHORT, stock=AT_HAND), rungs=(4, 2, 1))


@pytest.fixture(scope="module")
def alone():
    return advised_by_few(small_can(probe=dataclasses.replace(SHORT, insertion=None)), rungs=(3, 0, 0))


def rows(result):
    return {row.label: row.value for _, found in blocks(result, bench_of(result)) for row in found}


def test_the_ladder_reaches_as_far_as_the_longest_at_hand(short, alone):
    case = short.case
    assert_allclose(reachable_depths(case, SHORT)[1], 0.058 - 0.014, rtol=0, atol=1e-12)
    assert_allclose(allowed_depths(case, SHORT)[1], 0.036 - 0.010, rtol=0, atol=1e-12)
    assert_allclose(short.advice.own.ladder[-1].depth, 0.044, rtol=0, atol=1e-12)
    assert_allclose(alone.advice.own.ladder[-1].depth, 0.026, rtol=0, atol=1e-12)
    # what is deeper than the probe as drawn is solved with a longer one, not with one inside its fitting
    assert short.advice.own.recommended("least lethality").depth > 0.026


def test_what_must_stay_outside_stays_outside_of_the_probes_own_length_too():
    bare = dataclasses.replace(SHORT, fitting=None, segments=(Segment(0.003, 0.036, STEEL),))
    case = small_can(probe=bare, stock=Stock(travel=(0.010, 0.020)))
    assert_allclose(reachable_depths(case, bare)[1], 0.036 - 0.010, rtol=0, atol=1e-12)
    # nothing at hand is longer: the probe as it is, less what sticks out
    shorter = small_can(probe=bare, stock=Stock(lengths=(0.030,), travel=(0.010, 0.020)))
    assert_allclose(reachable_depths(shorter, bare)[1], 0.036 - 0.010, rtol=0, atol=1e-12)


def test_each_length_at_hand_is_solved_as_itself(short):
    by_length = {setting.length: setting for setting in short.advice.settings}
    assert by_length.keys() == {0.040, 0.058}
    place = short.spots[0]
    time = place.time
    true = 10 ** ((place.temperature - short.case.lethality.reference) / short.case.lethality.z)
    for length, setting in by_length.items():
        assert_allclose(setting.stick_out, length - setting.depth, rtol=0, atol=1e-12)
        assert 0.014 - 1e-12 <= setting.stick_out <= 0.030 + 1e-12
        probe = dataclasses.replace(SHORT, segments=(Segment(0.003, length, STEEL),), insertion=setting.depth)
        read = simulate(short.case.replace(probe=probe, stock=None)).probe.reading
        assert_allclose(setting.worth.lethality, read.lethality, rtol=2e-3)
        rate = 10 ** ((read.temperature - short.case.lethality.reference) / short.case.lethality.z)
        mismatch = np.trapezoid(np.abs(rate - true), time) / np.trapezoid(true, time)
        assert_allclose(setting.worth.mismatch, mismatch, rtol=0, atol=0.004)


def test_confirmation_depths_can_be_set_with_the_probe_of_the_sheet(short):
    bench = bench_of(short)
    assert short.advice.confirmation
    for depth in short.advice.confirmation:
        assert 0.014 - 1e-9 <= bench.probe.length - depth <= 0.030 + 1e-9


def test_the_tolerance_is_no_more_than_the_fitting_travels(short):
    bench = bench_of(short)
    low, high = bench.recommended.window
    less, more = bench.tolerance
    length = bench.setting.length
    assert_allclose(less, bench.depth - max(low, length - 0.030), rtol=0, atol=1e-9)
    assert_allclose(more, min(high, length - 0.014) - bench.depth, rtol=0, atol=1e-9)
    tight = dataclasses.replace(bench, travel=(bench.depth - 0.0005, bench.depth + 0.0002))
    assert_allclose(tight.tolerance, (0.0005, 0.0002), rtol=0, atol=1e-9)


def test_a_given_insertion_is_held_against_the_recommended_one(short):
    chosen, given = short.advice.own.recommended("least lethality"), short.advice.given
    assert given.depth == 0.024
    alone = simulate(short.case.replace(probe=SHORT, stock=None))
    assert_allclose(given.lethality, alone.probe.reading.lethality, rtol=2e-3)
    said = " ".join(" ".join(answer(short)).split())
    off = 1e3 * (chosen.depth - 0.024)
    assert f"As given the insertion of 24 mm: {off:.1f} mm less deep than recommended" in said
    assert f"mismatch {100 * given.mismatch:.1f} +- " in said.split("As given")[1]
    # without a recommendation the mismatch at that depth is said, and where to ask for the best
    solved = " ".join(" ".join(answer(alone)).split())
    (told,) = re.findall(r"at this depth: mismatch ([\d.]+) % of lethality", solved)
    assert_allclose(float(told), 100 * given.mismatch, rtol=2e-3)
    assert "a recommendation (thermsim depth) finds the best" in solved


@pytest.mark.long
def test_the_length_that_would_be_needed_is_said_for_every_criterion_and_entry(alone):
    free = advised_by_few(small_can(probe=dataclasses.replace(STEM, fitting=FITTING)))
    ended = 0
    (notice,) = [notice for notice in alone.notices if notice.code == "depth-at-limit"]
    assert notice.pressing == alone.advice.own.recommended(alone.advice.criterion).at_limit
    assert notice.text.startswith(notice.short)
    for candidate in alone.advice.candidates:
        (other,) = [one for one in free.advice.candidates if one.probe.entry == candidate.probe.entry]
        for criterion in ("least lethality", "slowest heating"):
            one, best = candidate.recommended(criterion), other.recommended(criterion)
            if best.depth < 0.025:
                continue
            ended += 1
            assert one.at_limit
            # the same depth with a long probe, and 10 mm of fitting outside; four rungs lie beyond the end
            assert_allclose(one.needed_length, best.depth + 0.010, rtol=0, atol=2e-3)
            assert f"needs a probe of {1e3 * one.needed_length:.1f} mm" in notice.text
    assert ended >= 2
    chosen = alone.advice.own.recommended("least lethality")
    assert f"needs a probe of {1e3 * chosen.needed_length:.1f} mm" in rows(alone)["for least lethality"]


def test_the_sheet_gives_the_drill_and_the_thread_and_guesses_neither(short):
    found = rows(short)
    assert (found["drill"], found["thread"]) == ("⌀ 11.5 mm", "thread A")
    for fitting, said in (
        (dataclasses.replace(FITTING, hole=None, thread=""), "as the fitting's maker says"),
        (None, "as the maker of its seal says; the stem is ⌀ 3.0 mm"),
    ):
        own = dataclasses.replace(short.advice.own, probe=dataclasses.replace(SHORT, fitting=fitting))
        made = dataclasses.replace(short, advice=dataclasses.replace(short.advice, candidates=(own,), chosen=0))
        assert rows(made)["drill"] == said
        assert "thread" not in rows(made)


def test_nothing_large_contradicts_the_hardware(short):
    bench = bench_of(short)
    big = [row.value for _, found in blocks(short, bench) for row in found if row.big]
    assert big == [f"{1e3 * short.advice.settings[0].depth:.1f} mm"]
    none = dataclasses.replace(short, advice=dataclasses.replace(short.advice, settings=()))
    big = [row.value for _, found in blocks(none, bench_of(none)) for row in found if row.big]
    assert big == ["none at hand"]


def test_a_fitting_higher_than_the_hardware_lets_stick_out_is_refused():
    with pytest.raises(CaseError, match=r"probe.fitting.outside = 0.01 m does not fit .* stick out 8 mm at most"):
        small_can(probe=SHORT, stock=Stock(lengths=(0.058,), travel=(0.002, 0.008)))
    with pytest.raises(CaseError, match=r"outside = 0.01 m does not fit under the stick-out: .* 6 mm of the probe"):
        small_can(probe=dataclasses.replace(SHORT, insertion=0.030))
