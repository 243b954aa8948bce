"""The ladder, the recommended depth, and the hardware that can reach it."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from probed import POLYMER, logger_can, probed_can
from scipy.optimize import brentq
from small_jars import ROUGH

from thermsim.assess.depth.limits import allowed_depths, other_entries
from thermsim.assess.depth.recommendation import recommend
from thermsim.assess.fields.curve import Curve
from thermsim.assess.probe.advice import Rung
from thermsim.assess.probe.hardware import settings
from thermsim.assess.probe.ladder import Ladder, Step, confirmation_depths, interpolated
from thermsim.assess.probe.mismatch import Truth, choose, window_round
from thermsim.assess.simulate.simulation import simulate
from thermsim.case.case import Lethality
from thermsim.case.probe import Fitting, Probe, Segment, Stock
from thermsim.errors import InputError

#: A medium of 60 s steps that heats for 50 min and cools for 30, and a place that follows it.
TIME = np.linspace(0.0, 4800.0, 81)
HEATING_END = 3000.0
PLACE = 110.0 + 8.0 * np.sin(np.pi * TIME / 4800.0)
CREDIT = Lethality(121.1, 10.0)


def lethality_by_hand(temperature, until=4800.0):
    counted = until >= TIME
    return np.trapezoid(10.0 ** ((temperature[counted] - 121.1) / 10.0), TIME[counted])


def truth(criterion="least lethality", temperature=PLACE):
    curve = Curve(
        "place", 0.0, 0.04, lethality_by_hand(temperature), lethality_by_hand(temperature, HEATING_END), 115.0,
        TIME, temperature,
    )  # fmt: skip
    return Truth(criterion, curve, CREDIT, HEATING_END)


def ladder_of(offsets, depths):
    """A ladder whose readings are off by so much [K] while heating and in cooling."""
    steps = []
    for depth, (heating, cooling) in zip(depths, offsets, strict=True):
        read = PLACE + np.where(TIME <= HEATING_END, heating, cooling)
        total, until = lethality_by_hand(read), lethality_by_hand(read, HEATING_END)
        end = 100.0 + ((depth - 0.047) / 0.02) ** 2
        steps.append(Step(Rung(float(depth), total, until, end, total, until, 100.0), read))
    return Ladder(tuple(steps), (truth(), truth("slowest heating")))


def test_mismatch_is_the_integral_of_the_unsigned_difference_of_lethal_rates():
    read = PLACE + np.where(TIME <= HEATING_END, 1.0, -2.0)
    # finely, by hand
    fine = np.linspace(0.0, 4800.0, 100_001)
    place = 10.0 ** ((110.0 + 8.0 * np.sin(np.pi * fine / 4800.0) - 121.1) / 10.0)
    factor = np.where(fine <= HEATING_END, 10.0**0.1 - 1.0, 1.0 - 10.0**-0.2)
    expected = np.trapezoid(factor * place, fine) / np.trapezoid(place, fine)
    # the readings are known at 81 times and jump between two of them
    assert_allclose(truth().mismatch(read), expected, rtol=0.02)
    assert_allclose(truth("slowest heating").mismatch(read), 10.0**0.1 - 1.0, rtol=1e-3)
    assert truth().mismatch(PLACE) == 0.0


@given(st.lists(st.floats(-6.0, 6.0), min_size=5, max_size=5))
def test_mismatch_bounds_the_error_in_all_and_of_each_phase_as_a_part_of_the_whole(offsets):
    read = PLACE + np.interp(TIME, np.linspace(0.0, 4800.0, 5), offsets)
    mismatch = float(truth().mismatch(read))
    whole = lethality_by_hand(PLACE)
    apart = lethality_by_hand(read) - whole
    heating = lethality_by_hand(read, HEATING_END) - lethality_by_hand(PLACE, HEATING_END)
    # the sums by hand take fewer times than the integrals: a thousandth
    slack = 1.001 * mismatch + 1e-3
    assert abs(apart) / whole <= slack
    assert abs(heating) / whole <= slack
    assert abs(apart - heating) / whole <= slack


def test_errors_that_cancel_are_not_recommended():
    # at 40 mm heating and cooling cancel in the whole, at 60 mm the reading nearly follows the place
    depths = np.array([0.02, 0.04, 0.06, 0.08])

    def off(cooling):
        return lethality_by_hand(PLACE + np.where(TIME <= HEATING_END, 1.2, cooling)) - lethality_by_hand(PLACE)

    cancels = brentq(off, -10.0, 0.0)
    ladder = ladder_of([(4.0, 1.0), (1.2, cancels), (0.1, 0.3), (1.0, 1.5)], depths)
    left = [abs(rung.lethality / truth().aim - 1.0) for rung in ladder.rungs]
    assert left[1] < 1e-9 < left[2]
    assert abs(ladder.choice("least lethality", 0.02).depth - 0.06) < 0.006


def test_among_depths_within_a_point_the_least_over_reading_while_heating_is_chosen():
    depths = np.linspace(0.0, 0.1, 101)
    mismatch = 0.05 + ((depths - 0.05) / 0.05) ** 2
    over = 0.10 - depths
    found = choose(depths, mismatch, over, 0.02)
    # (d/50 mm)^2 <= 0.01 up to 5 mm deeper, where the over-reading is least
    assert_allclose(found.depth, 0.055, rtol=0, atol=1e-9)
    half = 0.05 * np.sqrt(0.02)
    assert_allclose(found.window, (0.05 - half, 0.05 + half), rtol=0, atol=1.01e-3)
    assert not found.at_limit
    # depths that do not over-read are alike: then the mismatch decides
    assert choose(depths, mismatch, over - 0.2, 0.02).depth == depths[mismatch.argmin()]


def test_best_depth_at_the_end_of_the_ladder_is_marked():
    depths = np.linspace(0.02, 0.08, 9)
    found = ladder_of([(5.0 - d / 0.02, 0.1) for d in depths], depths).choice("least lethality", 0.02)
    assert (found.depth, found.at_limit) == (0.08, True)


def test_the_window_is_connected_with_the_depth():
    depths = np.linspace(0.0, 0.1, 1001)
    mismatch = 0.05 + np.minimum(((depths - 0.03) / 0.05) ** 2, 0.005 + ((depths - 0.08) / 0.05) ** 2)
    low, high = window_round(depths, mismatch, 0.02, 0.03)
    half = 0.05 * np.sqrt(0.02)
    assert_allclose([low, high], [0.03 - half, 0.03 + half], rtol=0, atol=2e-4)
    # and holds it where a better solution has since moved what is within
    beside = depths[depths < low][-1]
    assert window_round(depths, mismatch, 0.02, beside) == (beside, high)


LADDER = [
    Rung(float(d), 1.0, 1.0, 105.0 + ((d - 0.047) / 0.02) ** 2, 1.0, 1.0, 100.0) for d in np.linspace(0.02, 0.08, 9)
]


def test_confirmation_depths_differ_by_more_than_the_sensor_can_tell():
    found = confirmation_depths(LADDER, 0.047, 0.3)
    assert len(found) == 4
    ends = [((depth - 0.047) / 0.02) ** 2 for depth in found]
    assert_allclose(sorted(ends), [0.6, 0.6, 1.2, 1.2], rtol=0, atol=0.03)
    assert found == tuple(sorted(found))


def test_allowed_depths_keep_the_sensor_in_the_product():
    case = probed_can()
    shallow, deep = allowed_depths(case, case.probe)
    # lid 0.2 + sensing 2 + 2 clear; opposite: 80.4 - 0.2 - 2 clear
    assert_allclose([shallow, deep], [4.2e-3, 78.2e-3], rtol=0, atol=1e-9)
    fitted = dataclasses.replace(case.probe, fitting=Fitting(0.012, 0.010, 0.01, POLYMER))
    assert_allclose(allowed_depths(case, fitted)[0], 14.2e-3, rtol=0, atol=1e-9)
    short = dataclasses.replace(case.probe, segments=(Segment(3e-3, 0.05, POLYMER),))
    assert_allclose(allowed_depths(case, short)[1], 0.05, rtol=0, atol=1e-9)
    too_short = dataclasses.replace(case.probe, segments=(Segment(3e-3, 0.003, POLYMER),))
    assert allowed_depths(case, too_short) is None
    thin, thick = Segment(3e-3, 0.04, POLYMER), Segment(6e-3, 0.04, POLYMER)
    gland = Fitting(0.012, 0.002, 0.01, POLYMER, hole=0.004)
    # what does not go through the hole stays outside of the fitting, or beyond it: 10 mm outside, 0.2 + 2 mm inside
    for segments, expected in (((thick, thin), (6.2e-3, 0.03)), ((thin, thick), (42.2e-3, 0.07)), ((thick,), None)):
        found = allowed_depths(case, dataclasses.replace(case.probe, segments=segments, fitting=gland))
        assert found == (None if expected is None else pytest.approx(expected, abs=1e-9)), segments


def test_the_other_entry_is_tried_for_a_stem_and_not_for_a_logger():
    case = probed_can()
    (other,) = other_entries(case, case.probe, 0.04, side=False)
    assert (other.entry, other.insertion, other.z) == ("base", None, None)
    assert [(one.entry, one.z) for one in other_entries(case, case.probe, 0.04, side=True)] == [
        ("base", None),
        ("side", 0.04),
    ]
    assert other_entries(case, logger_can().probe, 0.04, side=True) == []


@pytest.fixture(scope="module")
def advised():
    thin = Probe("lid", "through", (Segment(1.5e-3, 0.08, POLYMER),), sensing=2e-3, name="thin")
    case = probed_can(insertion=None).replace(probes=(thin,), stock=Stock(lengths=(0.06, 0.08), travel=(0.02, 0.05)))
    return case, recommend(case)


def test_reading_at_the_recommended_depth_is_the_full_simulations(advised):
    case, result = advised
    chosen = result.advice.own.recommended("least lethality")
    full = simulate(case.replace(probe=case.probe.at_depth(chosen.depth, case.container)))
    assert_allclose(chosen.lethality, full.probe.reading.lethality, rtol=1e-9)
    assert_allclose(chosen.truth, full.cold_spot.least_lethality.lethality, rtol=1e-6)
    assert_allclose(chosen.over_reading, full.probe.at_cold_spot.lethality, rtol=0, atol=1e-6)


def test_no_rung_has_less_mismatch_than_the_recommended_depth_by_more_than_a_point(advised):
    _, result = advised
    for candidate in result.advice.candidates:
        for criterion in ("least lethality", "slowest heating"):
            chosen = candidate.recommended(criterion)
            at_rungs = [candidate.profile.at(rung.depth, criterion) for rung in candidate.ladder]
            assert chosen.mismatch <= min(at_rungs) + 0.01 + 1e-3
            assert chosen.window[0] <= chosen.depth <= chosen.window[1]


def test_candidates_are_sorted_good_first_and_hold_both_entries_of_both_probes(advised):
    _, result = advised
    found = [(candidate.probe.name, candidate.probe.entry) for candidate in result.advice.candidates]
    assert sorted(found) == [("probe", "base"), ("probe", "lid"), ("thin", "base"), ("thin", "lid")]
    chosen = [candidate.recommended("least lethality") for candidate in result.advice.candidates]
    ranks = [(not one.good, one.mismatch) for one in chosen]
    assert ranks == sorted(ranks)
    for one in chosen:
        assert one.good == (one.mismatch <= 0.05 and one.heating_over_reading <= 0.05)
    assert (result.advice.own.probe.name, result.advice.own.probe.entry) == ("probe", "lid")


def test_a_thinner_less_conducting_stem_is_less_wrong_while_heating(advised):
    _, result = advised
    bias = {
        (candidate.probe.name, candidate.probe.entry): candidate.recommended("slowest heating").heating_bias
        for candidate in result.advice.candidates
    }
    assert bias["thin", "lid"] < 0.3 * bias["probe", "lid"]


def test_other_stems_grow_more_wrong_with_diameter_and_conductivity(advised):
    _, result = advised
    stems = result.advice.stems
    own = result.case.probe.segments[-1]
    by_diameter = [stem.heating_bias for stem in stems if stem.conductivity == own.material.conductivity]
    by_conductivity = [stem.heating_bias for stem in stems if stem.diameter == own.diameter][1:]
    assert len(by_diameter) >= 5
    assert by_conductivity == sorted(by_conductivity)


def test_settings_put_the_tip_as_near_as_the_stock_can(advised):
    case, result = advised
    chosen = result.advice.own.recommended("least lethality")
    for setting in result.advice.settings:
        assert_allclose(setting.depth + setting.stick_out, setting.length, rtol=0, atol=1e-12)
        assert 0.02 - 1e-12 <= setting.stick_out <= 0.05 + 1e-12
        assert setting.in_window == (chosen.window[0] <= setting.depth <= chosen.window[1])
    misfits = [abs(setting.misfit) for setting in result.advice.settings]
    assert misfits == sorted(misfits)


def test_spacers_are_stacked_to_come_nearest():
    case = logger_can()
    stock = Stock(spacers=(0.005, 0.012), most_spacers=2)
    limits = allowed_depths(case, case.probe)
    found = settings(stock, case.probe, case.container, depth=0.0472, window=(0.046, 0.048), limits=limits)
    # base 0.2 mm and 30 mm of body and stem: 17 mm are wanted
    assert found[0].spacers == (0.012, 0.005)
    assert_allclose(found[0].misfit, 0.0, rtol=0, atol=1e-12)
    assert found[0].in_window
    assert {len(setting.spacers) for setting in found} == {0, 1, 2}


def test_a_case_without_a_probe_is_refused():
    with pytest.raises(InputError, match=r"the case has no \[probe\]"):
        recommend(probed_can().replace(probe=None))


def test_a_probe_that_cannot_reach_the_product_is_refused():
    short = Probe("lid", "through", (Segment(3e-3, 0.003, POLYMER),), sensing=2e-3)
    with pytest.raises(InputError, match="no depth is possible"):
        recommend(probed_can().replace(probe=short))


def test_a_logger_without_a_spacer_is_judged_where_it_stands():
    case = logger_can()
    fixed = dataclasses.replace(
        case.probe, segments=tuple(dataclasses.replace(segment, spacer=False) for segment in case.probe.segments)
    )
    case = case.replace(accuracy=ROUGH)
    result = recommend(case.replace(probe=fixed))
    chosen = result.advice.own.recommended("least lethality")
    assert_allclose(chosen.depth, 0.0402, rtol=0, atol=1e-12)
    assert chosen.window == (chosen.depth, chosen.depth)
    assert len(result.advice.own.ladder) == 1
    assert_allclose(chosen.lethality, simulate(case.replace(probe=fixed)).probe.reading.lethality, rtol=1e-9)


def test_confirmation_depths_are_those_that_the_stock_can_set():
    possible = np.array([0.030, 0.047, 0.0655])
    assert confirmation_depths(LADDER, 0.047, 0.3, possible) == (0.030, 0.0655)


@pytest.mark.long
def test_confirmation_depths_and_windows_are_as_good_as_a_full_simulation(advised):
    case, result = advised
    own = result.advice.own
    chosen = own.recommended("least lethality")
    for depth in (*result.advice.confirmation, *chosen.window):
        full = simulate(case.replace(probe=case.probe.at_depth(depth, case.container))).probe.reading
        read = interpolated(own.ladder, depth)
        # 0.5 % of F and a third of the sensor's 0.3 K: what the bench sheet says there is told apart by the sensor
        assert_allclose(read.lethality, full.lethality, rtol=0.005)
        assert_allclose(read.end_of_heating, full.end_of_heating, rtol=0, atol=0.1)
        least, most = case.stock.travel
        if depth in result.advice.confirmation:
            assert any(least - 1e-9 <= length - depth <= most + 1e-9 for length in case.stock.lengths)


def test_probes_that_are_only_compared_are_within_what_is_stated_of_their_own_solution(advised):
    """They are corrected as the case's own probe is; held against a whole solution of each (computed)."""
    case, result = advised
    for candidate in result.advice.candidates:
        if candidate is result.advice.own:
            continue
        found = candidate.recommended("least lethality")
        placed = candidate.probe.at_depth(found.depth, case.container)
        read = simulate(case.replace(probe=placed, probes=())).probe.reading
        assert_allclose(found.lethality, read.lethality, rtol=2.0 * found.reading_uncertainty)
        assert_allclose(found.end_of_heating, read.end_of_heating, atol=0.05)
        assert found.reading_uncertainty < 0.02
