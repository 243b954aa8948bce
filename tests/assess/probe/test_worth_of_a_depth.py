"""What is said of a depth, which of several is chosen, and what the hardware at hand does about it.

Rung: hand-worked. Readings that stay the same, ladders of made-up rungs, lengths added and taken away.
"""

import dataclasses
from types import SimpleNamespace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from small_cans import LOGGER, PLASTIC, STEEL, STEM, small_can

from thermsim.assess.depth.recommendation import _as_solved, _rank
from thermsim.assess.depth.stems import STEM_CONDUCTIVITIES, STEM_SCALES, conductivity_along, other_stems
from thermsim.assess.depth.worth import recommendation
from thermsim.assess.fields.curve import Curve
from thermsim.assess.probe.advice import Rung
from thermsim.assess.probe.hardware import settings
from thermsim.assess.probe.ladder import Correction, Ladder, Step
from thermsim.assess.probe.mismatch import Truth, choose
from thermsim.case.case import Lethality
from thermsim.case.probe import Fitting, Probe, Segment, Stock

TIME = np.array([0.0, 400.0, 800.0, 1000.0])
#: At 121.1 degC, and 10 K below.
HOT, COLD = 121.1, 111.1


def step(temperature, **changes):
    rung = Rung(0.036, 900.0, 600.0, 118.0, 800.0, 480.0, 116.0)
    return Step(dataclasses.replace(rung, **changes), np.full(TIME.size, temperature))


def truth(criterion, uncertainty=0.004):
    """A place that stays 10 K below the reference until heating ends at 800 s, and after."""
    curve = Curve("cold spot", 0.0, 0.03, 750.0, 500.0, 115.0, TIME, np.full(TIME.size, COLD))
    return Truth(criterion, curve, Lethality(HOT, 10.0), 800.0, uncertainty)


@pytest.mark.parametrize(("criterion", "read", "aim"), [("least lethality", 900, 750), ("slowest heating", 600, 500)])
def test_figures_of_a_recommendation(criterion, read, aim):
    others = step(COLD, lethality=912.0, heating_lethality=612.0), step(HOT, lethality=897.0, heating_lethality=597.0)
    found = recommendation(
        truth(criterion),
        [step(HOT), *others],
        window=(0.03, 0.04),
        margin=0.02,
        tolerance=0.02,
        at_limit=True,
        needed=0.09,
    )
    # a tenth of the lethal rate is to be shown, the whole is read
    assert_allclose(found.mismatch, 9.0, rtol=1e-9)
    assert_allclose(found.truth, aim)
    assert_allclose(found.over_reading, read / aim - 1)
    assert_allclose(found.heating_over_reading, 600 / 500 - 1)
    assert_allclose(found.cooling_over_reading, 300 / 250 - 1)
    assert_allclose(found.heating_bias, 600 / 480 - 1)
    # a fifth of how far a coarser one is off, by half of 10 K all the time, and a third of a looser one, with a
    # hundredth of a tolerance of 0.02 K, at ten to the power of a tenth of the difference in K; apart from it what
    # the place leaves
    spread = read * np.log(10.0) / 2 / 5 + 3 / 3 + read * 0.0002 * np.log(10.0) / 10
    # part of which is off alike
    assert_allclose(found.uncertainty, 0.75 * np.hypot(spread, 0.004 * read) / aim)
    assert_allclose(found.reading_uncertainty, spread / read)
    assert_allclose(found.mismatch_uncertainty, 0.75 * np.hypot(9.0 / 3, 0.004))
    assert (found.depth, found.window, found.margin, found.needed_length) == (0.036, (0.03, 0.04), 0.02, 0.09)
    assert (found.lethality, found.heating_lethality, found.end_of_heating) == (900.0, 600.0, 118.0)


def test_about_a_stem_from_the_side_eleven_twentieths_count_of_what_other_grids_change():
    stem = Probe("side", "through", (Segment(3e-3, 0.05, STEEL),), insertion=0.03, sensing=2e-3, z=0.04)
    others = step(HOT, lethality=912.0), step(HOT, lethality=897.0)
    found = recommendation(
        truth("least lethality"), [step(HOT), *others], window=(0.0, 1.0), margin=0.02, tolerance=0.0, probe=stem
    )
    assert_allclose(found.reading_uncertainty, (12 * 11 / 20 + 3 / 3) / 900)
    cooler = step(COLD), step(HOT)
    found = recommendation(
        truth("least lethality"), [step(HOT), *cooler], window=(0.0, 1.0), margin=0.02, tolerance=0.0, probe=stem
    )
    assert_allclose(found.mismatch_uncertainty, 0.75 * np.hypot(9.0 * 11 / 20, 0.004))


def test_a_mismatch_that_happens_to_stay_is_not_sure_for_that():
    """By the coarser one the reading is as far on the other side of the place: as unlike it as before."""
    above, below = COLD + 10.0 * np.log10(1.5), COLD + 10.0 * np.log10(0.5)
    place = truth("least lethality")
    place = dataclasses.replace(place, others=(place, place))
    steps = [step(above, lethality=1125.0), step(below, lethality=375.0), step(above, lethality=1125.0)]
    found = recommendation(place, steps, window=(0.03, 0.04), margin=0.02, tolerance=0.0)
    assert_allclose(found.mismatch, 0.5, rtol=1e-9)
    assert_allclose(place.mismatch(steps[1].temperature), 0.5, rtol=1e-9)
    # a quarter of half the root mean square of the difference, all the time, at a tenth of ln 10 for each kelvin
    assert_allclose(found.mismatch_uncertainty, 0.25 * 1.5 * np.log(10.0) / 10.0 * (above - below) / 2.0, rtol=1e-9)


def test_good_ones_come_first_then_those_that_follow_the_place_best():
    found = recommendation(
        truth("least lethality"),
        [step(HOT)],
        window=(0.0, 1.0),
        margin=0.02,
        tolerance=0.0,
        at_limit=False,
        needed=None,
    )

    def made(mismatch, heating):
        return dataclasses.replace(found, mismatch=mismatch, heating_over_reading=heating)

    order = [made(0.01, 0.02), made(0.04, -0.3), made(0.02, 0.06), made(0.06, 0.0)]
    assert [one.good for one in order] == [True, True, False, False]
    assert sorted(order[::-1], key=_rank) == order


def test_of_depths_nearly_alike_the_one_that_over_reads_least_is_chosen():
    depths = np.linspace(0.02, 0.06, 5)
    mismatch, over = np.array([0.09, 0.030, 0.036, 0.039, 0.20]), np.array([0.2, 0.03, 0.01, 0.02, 0.0])
    for margin, depth, window in ((0.05, 0.04, (0.03, 0.05)), (0.004, 0.03, (0.03, 0.03)), (0.1, 0.04, (0.02, 0.05))):
        found = choose(depths, mismatch, over, margin)
        assert_allclose([found.depth, *found.window], [depth, *window])
    # depths that do not over-read are alike in that
    assert_allclose(choose(depths, mismatch, over - 0.1, 0.05).depth, 0.03)
    assert choose(depths[:2], mismatch[:2], over[:2], 0.05).at_limit
    assert not choose(depths, mismatch, over, 0.05).at_limit


def test_a_ladder_is_corrected_whole_by_what_a_better_solution_finds_at_one_depth():
    rungs = [step(COLD + k, depth=0.02 + 0.01 * k, lethality=800.0 + 50 * k) for k in range(4)]
    ladder = Ladder(tuple(rungs), (truth("least lethality"), truth("slowest heating")))
    best = step(COLD + 1.5, depth=0.03, lethality=850.0 * 1.02, heating_lethality=600.0 * 0.97, end_of_heating=118.4)
    correction = Correction.between(ladder.steps[1], best)
    for was, now in zip(ladder.steps, ladder.corrected(correction).steps, strict=True):
        assert_allclose(now.rung.lethality, was.rung.lethality * 1.02, rtol=1e-9)
        assert_allclose(now.rung.heating_lethality, was.rung.heating_lethality * 0.97, rtol=1e-9)
        assert_allclose(now.rung.end_of_heating, was.rung.end_of_heating + 0.4, rtol=1e-9)
        assert_allclose(now.temperature, was.temperature + 0.5, rtol=1e-9)
        assert now.rung.without_lethality == was.rung.without_lethality


def test_a_reading_is_much_the_same_as_another_that_is_near_it_all_the_time():
    one = step(COLD)
    for apart, alike in ((1.4, True), (-1.4, True), (1.6, False), (-1.6, False)):
        other = dataclasses.replace(one, temperature=one.temperature + apart * np.eye(TIME.size)[1])
        assert one.reads_as(other) is alike


def test_what_a_coarser_grid_changes_is_known_between_the_depths_that_say_so():
    depths = np.linspace(0.02, 0.06, 5)
    steps = [step(COLD, depth=float(depth)) for depth in depths]
    known = [dataclasses.replace(one, change=np.array([2.0, one.rung.depth**3])) for one in steps]
    truths = (truth("least lethality"), truth("slowest heating"))
    assert Ladder(tuple(steps), truths).change is None
    change = Ladder((*known[:2], steps[2], *known[3:]), truths).change
    assert_allclose(change(0.035), [2.0, 0.035**3], rtol=1e-9)  # cubics are followed exactly


def set_with(stock, probe, depth, window=(0.043, 0.047), limits=(0.005, 0.066)):
    return settings(stock, probe, small_can().container, depth=depth, window=window, limits=limits)


def test_probes_at_hand_are_set_as_near_as_their_fitting_lets_them():
    """Of 50 mm, sticking out 10 to 30 mm: 20 to 40 mm deep; of 80 mm: 50 to 70 mm."""
    short, long = set_with(Stock(lengths=(0.080, 0.050), travel=(0.010, 0.030)), STEM, 0.045)
    assert_allclose([short.length, short.depth, short.stick_out, short.misfit], [0.050, 0.040, 0.010, -0.005])
    assert_allclose([long.length, long.depth, long.stick_out, long.misfit], [0.080, 0.050, 0.030, 0.005])
    assert_allclose([short.travel, long.travel], [(0.020, 0.040), (0.050, 0.070)])
    assert not short.in_window and not long.in_window
    (found,) = set_with(Stock(lengths=(0.060,), travel=(0.010, 0.030)), STEM, 0.045)
    assert found.in_window and abs(found.misfit) < 1e-12
    # what the fitting holds outside cannot be pushed in
    fitted = dataclasses.replace(STEM, fitting=Fitting(0.012, 0.003, 0.018, STEEL))
    (found,) = set_with(Stock(lengths=(0.060,), travel=(0.010, 0.030)), fitted, 0.045)
    assert_allclose([found.depth, found.stick_out], [0.042, 0.018])
    assert set_with(Stock(lengths=(0.200,), travel=(0.010, 0.030)), STEM, 0.045) == ()


def test_spacers_at_hand_are_stacked_as_near_as_they_come():
    """Body and tip of 24 mm on a base of 0.2 mm, and spacers of 5 and 10 mm, two at most."""
    found = set_with(Stock(spacers=(0.005, 0.010), most_spacers=2), LOGGER, 0.036, window=(0.033, 0.037))
    stacks = [(one.spacers, round(1e3 * one.depth, 6), one.in_window) for one in found]
    assert stacks == [
        ((0.010,), 34.2, True), ((0.005, 0.005), 34.2, True), ((0.010, 0.005), 39.2, False),
        ((0.005,), 29.2, False), ((0.010, 0.010), 44.2, False), ((), 24.2, False),
    ]  # fmt: skip
    assert_allclose([one.misfit for one in found], [one.depth - 0.036 for one in found])


@pytest.mark.parametrize("tube", [False, True])
def test_other_stems_differ_in_diameter_or_in_conductivity_and_are_judged_until_heating_ends(tube):
    segment = Segment(0.003, 0.080, PLASTIC, 0.0005, STEEL) if tube else Segment(0.003, 0.080, STEEL)
    looked = []

    def steps(probe, depths):
        looked.append(probe)
        return [step(HOT, depth=depth) for depth in depths]

    climb = SimpleNamespace(case=small_can(), steps=steps)
    found = other_stems(climb, dataclasses.replace(STEM, segments=(segment,)), 0.036)
    # of a tube it is the mean over its section: 5/9 of it are wall
    own = 5 / 9 * PLASTIC.conductivity + 4 / 9 * STEEL.conductivity if tube else STEEL.conductivity
    conductivities = sorted({*STEM_CONDUCTIVITIES, own})
    wanted = [(0.003 * scale, own) for scale in STEM_SCALES] + [(0.003, one) for one in conductivities]
    assert_allclose([(one.diameter, one.conductivity) for one in found], wanted)
    for stem in found:
        assert_allclose([stem.heating_bias, stem.temperature], [600 / 480 - 1, 2.0])
    made = sorted((probe.segments[0].diameter, conductivity_along(probe.segments[0])) for probe in looked)
    assert_allclose(made, sorted(set(wanted)))  # the probe as it is stands in both, and is solved once
    if tube:
        for probe in looked:
            (one,) = probe.segments
            assert_allclose(one.wall / one.diameter, 1 / 6)
            parts = one.core.conductivity / one.material.conductivity
            assert_allclose(parts, STEEL.conductivity / PLASTIC.conductivity)


def test_stems_that_no_wire_no_metal_and_no_place_allows_are_left_out():
    climb = SimpleNamespace(case=small_can(), steps=lambda _, depths: [step(HOT, depth=depth) for depth in depths])
    copper = dataclasses.replace(STEEL, conductivity=380.0)
    for segments, hole, missing in (
        ((Segment(0.00025, 0.080, STEEL),), None, {0.000125, 0.0001875}),  # the thinnest has 0.2 mm
        ((Segment(0.003, 0.040, copper), Segment(0.003, 0.040, PLASTIC)), 0.004, {15.0, 50.0}),
        ((Segment(0.024, 0.040, STEEL), Segment(0.006, 0.040, STEEL)), None, {0.012}),
    ):
        fitting = Fitting(0.032, inside=0.002, outside=0.002, material=STEEL, hole=hole)
        found = other_stems(climb, dataclasses.replace(STEM, segments=segments, fitting=fitting), 0.036)
        told = {one for stem in found for one in (stem.diameter, stem.conductivity)}
        wanted = {segments[-1].diameter * scale for scale in STEM_SCALES} | {*STEM_CONDUCTIVITIES}
        assert wanted - told == missing


def test_what_reading_and_place_are_off_alike_by_is_no_uncertainty_of_the_over_reading():
    reference = truth("least lethality")

    def place(kelvin, lethality):
        curve = dataclasses.replace(
            reference.curve, temperature=reference.curve.temperature + kelvin, lethality=lethality
        )
        return dataclasses.replace(reference, curve=curve)

    def stated(*kelvin):
        others = [step(HOT + one, lethality=900.0 * 1.01) for one in kelvin]
        truths = tuple(place(0.1, 750.0 * 1.01) for _ in kelvin)
        known = dataclasses.replace(reference, others=truths)
        return recommendation(known, [step(HOT), *others], window=(0.03, 0.04), margin=0.02, tolerance=0.0)

    alike, unlike = stated(0.1, 0.1), stated(0.3, 0.1)
    assert_allclose([alike.uncertainty, alike.mismatch_uncertainty], 0.0, atol=1e-12)
    # hand-worked: a quarter of half of 0.2 K all the time, at a z of 10 K
    assert_allclose(unlike.uncertainty, 900.0 / 750.0 * np.log(10.0) / 10.0 * 0.2 / 2 / 4, rtol=1e-9)


@dataclasses.dataclass(frozen=True)
class Own:
    recommendations: tuple


@pytest.mark.parametrize(("by_the_whole", "times"), [(3.0, 3.0), (0.5, 1.0)])
def test_a_mismatch_is_as_much_more_uncertain_as_the_whole_solution_has_the_over_reading(by_the_whole, times):
    others = step(COLD, lethality=912.0), step(HOT, lethality=897.0)
    how = {"window": (0.03, 0.04), "margin": 0.02, "tolerance": 0.02}
    least = recommendation(truth("least lethality"), [step(HOT), *others], **how)
    result = SimpleNamespace(
        probe=SimpleNamespace(depth=least.depth, reading=SimpleNamespace(lethality=900.0)),
        uncertainty={
            "probe.at_cold_spot.lethality": by_the_whole * least.uncertainty,
            "probe.reading.lethality": 1.8,
        },
    )
    found, _ = _as_solved(Own((least, least)), result).recommendations
    assert_allclose(found.mismatch_uncertainty, times * least.mismatch_uncertainty, rtol=1e-12)
    assert_allclose([found.uncertainty, found.reading_uncertainty], [by_the_whole * least.uncertainty, 0.002])
