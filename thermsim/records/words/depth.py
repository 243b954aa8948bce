"""Depth of a probe in plain text for the terminal, and the settings for a family of cases."""

from __future__ import annotations

from collections.abc import Iterator

from thermsim.assess.probe.advice import Advice, Candidate, Recommendation, Setting
from thermsim.assess.simulate.probe_cautions import OFF_HEIGHT
from thermsim.assess.simulate.result import Result
from thermsim.case.probe import Probe
from thermsim.case.study import CRITERIA, Criterion
from thermsim.quantities import LENGTH, PART, mm, percent
from thermsim.records.numbers.probe import correction_factor, phase_factors
from thermsim.records.words.figure_text import (
    bias,
    figure,
    measured,
    millimetres,
    over_reading,
    true_name,
)
from thermsim.records.words.geometry import seam_sentence
from thermsim.records.words.hardware import fits, hardware, spacers_needed
from thermsim.records.words.parts import Entry, Facts, Table, facts, table
from thermsim.text import plain

#: So many settings of the hardware at hand are told.
SETTINGS = 2
#: What a mismatch is, in a line.
MISMATCH = "how far the reading's history is from that of the cold spot, in per cent of lethality: nothing cancels"
#: Depths that differ by less are one [m].
ALIKE = 0.1e-3
_NAME = 22
#: What is recommended where the product convects.
NO_DEPTH = (
    "none: the product flows, and a depth by conduction does not hold. Measure at several heights, the lowest some "
    "millimetres above the base: the bench sheet (--out FOLDER) names them"
)


def recommended(result: Result, advice: Advice) -> Facts:
    """The depth for the case's own probe, and how good the reading there is; none where the product flows."""
    if result.case.product.convects:
        return facts([("Recommended", NO_DEPTH)], framed=True)
    chosen = advice.own.recommended(advice.criterion)
    first = [
        ("Recommended", f'{how_to_set(advice.own, chosen)}: "{plain(advice.own.probe.name, _NAME)}"'),
        *_from_seam(result, advice.own, chosen),
    ]
    return facts([*first, *_worth(result, chosen), *given_depth(advice, chosen)], framed=True)


def setting_entries(result: Result, advice: Advice) -> Iterator[Entry]:
    """Settings: the hardware at hand, the depths that confirm, and the depth for the other cold spot.

    None where the product flows: there is no depth to set.
    """
    if result.case.product.convects:
        return
    own = advice.own
    for k, setting in enumerate(advice.settings[:SETTINGS]):
        yield "" if k else "Hardware", setting_sentence(setting, own.probe, result.case.lethality.symbol)
    if result.case.stock is not None and not advice.settings:
        yield "Hardware", "nothing at hand brings the tip to a depth that is possible"
    if len(own.ladder) > 1:
        yield "Confirm", confirmation_sentence(advice)
    for other in other_criteria(advice):
        one, place = own.recommended(other), elsewhere(result, other)
        depth = f"{millimetres(one.depth)} mm (window {window(one)} mm) from the same face"
        yield "Or, to show", f"the {other}: {depth if place is None else not_through(place)}"


def advice_details(result: Result, advice: Advice) -> Iterator[Entry]:
    """Explanations of the recommended depth."""
    if result.case.product.convects:
        return
    own = advice.own
    chosen = own.recommended(advice.criterion)
    depths = depths_as_cold(result, own.probe)
    if depths:
        yield "As cold", f"{depths} deep a tip is at the cold spot: no place there can be told from the coldest"
    yield "Mismatch", f"{MISMATCH}; within the window it grows by at most {percent(chosen.margin):g} points"
    yield (
        "Probe's own bias",
        f"{heating_bias(result, chosen)} of lethality until heating ends, against its place without it",
    )
    if advice.confirmation:
        yield (
            "To confirm",
            "when heating ends the readings at the further depths differ from that at the recommended one by at "
            f"least twice, or four times, the sensor's {advice.sensor_accuracy:g} K",
        )
    for other in other_criteria(advice):
        if elsewhere(result, other) is not None:
            continue
        one = own.recommended(other)
        yield f"At {millimetres(one.depth)} mm", f"to show the {other}"
        yield from _worth(result, one)
        yield "", f"the probe's own bias until heating ends: {heating_bias(result, one)} of lethality"


def worth_in_a_sentence(result: Result) -> list[str]:
    """Error of a probe's reading in both phases; of an advice also the depth, and what is at hand."""
    advice, effect, probe = result.advice, result.probe, result.case.probe
    if advice is not None and result.case.product.convects:
        return [f"The depth that is recommended is {NO_DEPTH}."]
    if advice is not None:
        one = advice.own.recommended(advice.criterion)
        found = _too(one.heating_over_reading, one.cooling_over_reading)
        setting = advice.settings[0] if advice.settings else None
        hand = f"; at hand: {hardware(setting, probe.wall)}, {fits(setting)}" if setting and probe else ""
        verdict = "good" if one.good else "NOT GOOD"
        return [f"{how_to_set(advice.own, one)}, which is {verdict}: the probe reads {found}{hand}."]
    if effect is not None:
        bias, depth = effect.at_cold_spot, millimetres(effect.depth)
        found = _too(bias.heating_lethality, bias.cooling_lethality)
        return [f"The probe, {depth} mm from the outer face of the {effect.probe.wall} to its tip, reads {found}."]
    return [] if probe is None else ["The probe is left out, as its depth is not given."]


def _too(heating: float, cooling: float) -> str:
    """An over-reading in both phases, as "8.7 % too high until heating ends, and 7.5 % too high in cooling"."""

    def told(one: float) -> str:
        size = f"{abs(percent(one)):.1f} %"
        return f"{size} off" if size == "0.0 %" else f"{size} too {'high' if one > 0 else 'low'}"

    until, after = told(heating), told(cooling)
    return f"{until} until heating ends" + (f" and {after} in cooling" if cooling != 0.0 else "")


def elsewhere(result: Result, criterion: Criterion) -> float | None:
    """Height z [m] of the place that a criterion looks for, where the hole of a probe from the side is off it.

    None where it is not, and for the criterion that was chosen: the depth then is the best through this hole.
    """
    advice, least = result.advice, criterion == "least lethality"
    if advice is None:
        return None
    hole = advice.own.probe.z
    if advice.own.probe.entry != "side" or hole is None or criterion == advice.criterion:
        return None
    spot = result.spots_beside[0 if least else 1]
    off = result.off_height(hole) if least else spot.z - hole
    return spot.z if abs(off) > max(OFF_HEIGHT, result.case.accuracy.place) else None


def not_through(z: float) -> str:
    """That a place at a height z [m] is not reached through the hole of a probe from the side."""
    return f"not through this hole; z = {LENGTH.text(z)}"


def given_depth(advice: Advice, chosen: Recommendation) -> list[Entry]:
    """The insertion that the case gives, beside the recommended one."""
    one = advice.given
    if one is None:
        return []
    off, said = one.depth - chosen.depth, f"the insertion of {mm(one.depth):g} mm"
    if abs(off) < ALIKE / 2:
        return [("As given", f"{said} is the recommended depth")]
    low, high = chosen.window
    than = f"{millimetres(abs(off))} mm {'deeper' if off > 0 else 'less deep'} than recommended"
    place = "in" if low <= one.depth <= high else "OUTSIDE"
    return [("As given", f"{said}: {than}, {place} the window; {mismatch(one)}, {by_phase(one)}")]


def other_criteria(advice: Advice) -> list[Criterion]:
    """The criteria beside the chosen one that ask for another depth."""
    depth = advice.own.recommended(advice.criterion).depth
    return [other for other in CRITERIA if abs(advice.own.recommended(other).depth - depth) > ALIKE]


def how_to_set(candidate: Candidate, one: Recommendation) -> str:
    """The depth and its window, as "Insert 37.3 mm (window 32.6 to 46.4 mm) from the outer face of the lid"."""
    probe = candidate.probe
    if len(candidate.ladder) == 1:
        return f"The tip is {millimetres(one.depth)} mm from {_face(probe)} and cannot be set"
    verb = "Insert" if probe.mount == "through" else "Set the tip"
    return f"{verb} {millimetres(one.depth)} mm (window {window(one)} mm) from {_face(probe)}"


def _from_seam(result: Result, own: Candidate, one: Recommendation) -> Iterator[Entry]:
    """The depth from the seam's edge, of a can with seams."""
    said = seam_sentence(result.case.container, own.probe, one.depth)
    if said:
        yield "", said


def depths_as_cold(result: Result, probe: Probe) -> str:
    """Depths at which the tip stands where no place can be told from the coldest, as "63.7 to 238.3 mm"; or ""."""
    valley, container = result.cold_spot.valley, result.case.container
    if valley is None or probe.entry == "side" or result.brick is not None:
        return ""
    face = container.outer_height if probe.entry == "lid" else container.crown
    ends = sorted(abs(face - z) for z in (valley.z_low, valley.z_high))
    return f"{millimetres(ends[0])} to {millimetres(ends[1])} mm"


def _face(probe: Probe) -> str:
    """Origin of depths, and how high a probe from the side enters."""
    height = "" if probe.z is None else f", its axis at z = {millimetres(probe.z)} mm"
    return f"the outer face of the {probe.wall}{height}"


def window(one: Recommendation) -> str:
    """The window's bounds in mm, as "32.6 to 46.4"."""
    return " to ".join(millimetres(bound) for bound in one.window)


def _worth(result: Result, one: Recommendation) -> Iterator[Entry]:
    """Worth of the reading at a recommended depth."""
    yield "", f"{'good' if one.good else 'NOT GOOD'}: {mismatch(one)}; {by_phase(one)}"
    yield "", reads(result, one)
    yield "", f"correct by {correction(one)}"


def mismatch(one: Recommendation) -> str:
    """Mismatch of the reading's history with its place's, as "mismatch 8.1 +- 0.2 %"."""
    return f"mismatch {percent(one.mismatch):.1f} +- {max(0.1, percent(one.mismatch_uncertainty)):.1f} %"


def by_phase(one: Recommendation) -> str:
    """Over-reading in both phases, as "reads +8.7 % until heating ends, +7.5 % in cooling"."""
    cooling = "" if one.cooling_over_reading == 0.0 else f", {percent(one.cooling_over_reading):+z.1f} % in cooling"
    return f"reads {percent(one.heating_over_reading):+z.1f} % until heating ends{cooling}"


def correction(one: Recommendation) -> str:
    """The factor of correction, for this process alone; one for each phase where these ask for different ones."""
    factor, phases = correction_factor(one), phase_factors(one)
    if factor is not None:
        return f"x {factor:.3f}: holds for this process alone"
    return (
        f"x {phases['heating']:.3f} until heating ends, x {phases['cooling']:.3f} in cooling: no single factor does"
    )


def until(one: Recommendation) -> str:
    """Part that the figure leaves out which the criterion compares."""
    return "" if one.criterion == "least lethality" else " until heating ends"


def reads(result: Result, one: Recommendation) -> str:
    """Reading at a recommended depth, what it should be, and what is left of the error."""
    symbol = result.case.lethality.symbol
    should = figure(result, true_name(result, one))
    return f"reads {symbol} = {measured(one)}{until(one)}, should read {should}: {over_reading(one)}"


def heating_bias(result: Result, one: Recommendation) -> str:
    """Effect of the probe itself at a recommended depth until heating ends, as "+47.9 +- 0.1 %"."""
    if result.probe is not None and result.probe.depth == one.depth:
        return bias(result, "probe.at_place.heating_lethality")
    return PART.text(one.heating_bias, signed=True)


def entry_name(probe: Probe) -> str:
    """The wall that a probe enters, in a word or two: of a brick which edge."""
    return probe.wall if probe.edge else probe.entry


def entry_text(probe: Probe) -> str:
    """The wall that a probe enters, from the side with the height of its axis."""
    return entry_name(probe) + ("" if probe.z is None else f", z = {millimetres(probe.z)} mm")


def candidates_table(advice: Advice) -> Table:
    """The probes and entries compared, the good ones first."""
    heads = ("probe", "entry", "depth, mm", "window, mm", "mismatch, %", "heating, %", "in all, %", "good")
    return table(heads, [_candidate(advice, one) for one in advice.candidates])


def _candidate(advice: Advice, candidate: Candidate) -> tuple[str, ...]:
    one, probe = candidate.recommended(advice.criterion), candidate.probe
    return (
        f"{plain(probe.name, _NAME)}{' (own)' if candidate is advice.own else ''}",
        entry_name(probe) if probe.z == advice.own.probe.z else entry_text(probe),
        millimetres(one.depth),
        window(one),
        f"{percent(one.mismatch):.1f}",
        f"{percent(one.heating_over_reading):+z.1f}",
        f"{percent(one.over_reading):+z.1f}",
        "yes" if one.good else "NO",
    )


def setting_sentence(setting: Setting, probe: Probe, symbol: str) -> str:
    """Setting of the hardware at hand, how far off its depth is, what it reads, and whether that is good."""
    one = setting.worth
    worth = "" if one is None else f"; {symbol} = {measured(one)}{until(one)}, {mismatch(one)}"
    return f"{hardware(setting, probe.wall)}: {fits(setting, spacers_needed(setting))}{worth}"


def confirmation_sentence(advice: Advice) -> str:
    """Further places to measure, so that the prediction can be wrong and show it."""
    accuracy = f"{advice.sensor_accuracy:g} K"
    if not advice.confirmation:
        return f"no other depth differs by enough for a sensor good to {accuracy}"
    depths = ", ".join(millimetres(depth) for depth in advice.confirmation)
    return f"measure at {depths} mm too: a sensor good to {accuracy} tells the difference"
