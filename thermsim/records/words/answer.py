"""The answer of solve and depth: what to do first, each figure with its numerical uncertainty."""

from __future__ import annotations

from collections.abc import Sequence

from thermsim.assess.simulate.cautions import CONDUCTION_ONLY, NO_VALIDATION
from thermsim.assess.simulate.result import Result
from thermsim.assess.spots.brick import BrickSpot
from thermsim.assess.spots.cold_spot import Spot
from thermsim.case.case import Case
from thermsim.notice import Notice
from thermsim.quantities import LENGTH, TIME, minutes, percent
from thermsim.records.words.depth import (
    advice_details,
    candidates_table,
    recommended,
    setting_entries,
    worth_in_a_sentence,
)
from thermsim.records.words.figure_text import figure, millimetres
from thermsim.records.words.geometry import geometry_sentences
from thermsim.records.words.input_range import MEANING, input_range_sentence
from thermsim.records.words.parts import (
    Entry,
    Notices,
    Picture,
    Section,
    details,
    facts,
    flow_first,
    input_first,
    noticed,
)
from thermsim.records.words.probe import effect_sentences, reading_sentences
from thermsim.records.words.screen import DEPTH_ROOM, ROOM, brief_of, screen_of
from thermsim.text import plain, share

#: A place nearer to the axis than this is on it [m].
ON_AXIS = 0.05e-3
#: What the full screen says last.
CAUTION = ("Caution", f"{NO_VALIDATION} {CONDUCTION_ONLY}")
#: What the "+-" beside a figure stands for, and what it does not.
UNCERTAINTY = ("Uncertainty", "+- is the numerical one alone; conductivity, films and fill usually leave more open")


def answer(result: Result, *, full: bool = False) -> list[str]:
    """Findings of a run as lines of text (ASCII, save for the user's own words).

    Parameters
    ----------
    result : Result
    full : bool, optional
        Everything, not what fits a screen alone.

    Returns
    -------
    list of str
        Lines of at most about 100 characters: verdict, what to set, what else was found, the notes last.
    """
    rim = "" if result.case.container.rise is None else " at its rim"
    entries = [
        *([] if result.brick else _zone_and_arrivals(result)),
        *([] if result.probe is None else effect_sentences(result, result.probe)),
        *(
            (
                f"Point {k + 1}",
                f'"{plain(curve.name)}", {_place(result, f"points.{k}")}: {_events(result, f"points.{k}")}',
            )
            for k, curve in enumerate(result.points)
        ),
        *geometry_sentences(result.case),
        ("Numerics", _numerics(result)),
        *([] if result.input_range is None else [("Input range", MEANING)]),
        ("Places", f"z from the outside of the base{rim}, r from the axis"),
    ]
    sections = [
        *verdict_sections(result),
        *bench_sections(result),
        *more_of_the_first(result),
        *details(entries),
        *notes_of(result),
        *details([CAUTION]),
    ]
    return screen_of(sections, full=full, room=ROOM if result.advice is None else DEPTH_ROOM)


def in_short(result: Result) -> list[str]:
    """Verdict, dangers, the target and what presses, as lines: what is said of each of several cases."""
    target = _target(result)
    pressing = tuple(one for one in input_first(result.notices)[1] if one.pressing and one.severity == "warning")
    return brief_of(
        [
            *verdict_sections(result),
            *([Section("", (facts(target),))] if target else []),
            *([Section("", (Notices(pressing),))] if pressing else []),
        ]
    )


def in_sentences(result: Result) -> list[str]:
    """The answer in one to three sentences: where the cold spot is, what reaches the target, what a probe is worth.

    That the product convects is not among them; it is said before (:func:`~thermsim.records.words.parts.flow_first`).
    """
    name, symbol = f"{result.body}.least_lethality", result.case.lethality.symbol
    if result.brick is not None:
        where = f"at {_in_brick(result, name)}"
    else:
        spot = result.cold_spot.least_lethality
        away = "on the axis" if spot.r < ON_AXIS else f"{LENGTH.text(spot.r)} from the axis"
        below = LENGTH.text(result.case.container.outer_height - spot.z)
        where = f"{_where(spot)} {away}, {LENGTH.text(spot.z)} above the base and {below} below the top (outside)"
    target = _target(result)
    told = target[0][1] if target else "no target is given"
    return [
        f"The cold spot lies {where}.",
        f"It gathers {symbol} = {figure(result, f'{name}.lethality')}; {told}.",
        *worth_in_a_sentence(result),
    ]


def verdict_sections(result: Result) -> list[Section]:
    """Verdict, what to do, and every danger; that the product convects, or the input is doubtful, comes first."""
    flows, others = flow_first(_heeded(result))
    doubts, others = input_first(others)
    if result.advice is None:
        least = [*_least_lethality(result), *_valley(result), _events_of_least(result)]
        told = facts([*least, *_target(result)], framed=True)
        verdict = Section("The answer", (told,))
    else:
        verdict = Section("How deep the probe should go", (recommended(result, result.advice),))
    return [*flows, *doubts, verdict, *noticed("Danger", others, "danger")]


def bench_sections(result: Result, *drawing: Picture) -> list[Section]:
    """Settings, which a page shows beside a drawing, and the places of the cold spots."""
    slowest, more = _slowest_heating(result), [*_input_range(result), UNCERTAINTY]
    if result.advice is None:
        told = facts([*slowest, *_probe(result), *more], framed=True)
        return [Section("The cold spots", (told,))]
    settings = facts(setting_entries(result, result.advice), framed=True)
    compared = len(result.advice.candidates) > 1 and not result.case.product.convects
    candidates = [candidates_table(result.advice)] if compared else []
    cold_spot = facts([*_least_lethality(result), *_target(result), *slowest, *more], framed=True)
    return [
        Section("How to set it", (*drawing, settings), "beside"),
        *(Section("Probes and entries compared", (table,)) for table in candidates),
        Section("The cold spot", (cold_spot,)),
    ]


def more_of_the_first(result: Result) -> list[Section]:
    """Explanations of the first sections, and additions to them."""
    entries = [
        ("Slowest heating", _events_of_slowest(result)),
        ("Distance", f"{figure(result, 'cold_spot.distance')} between the two cold spots"),
    ]
    if result.brick is not None:
        entries = [("Of the cylinder", text) for text in (_events_of_slowest(result), entries[1][1])]
    if result.advice is None:
        return details(entries, "More of the cold spots")
    least = ("Cold spot", _events_of_least(result)[1])
    told = [*advice_details(result, result.advice), least, *_valley(result), *entries, *_probe(result)]
    return details(told, "More of the depth and the cold spots")


def notes_of(result: Result) -> list[Section]:
    """Assumptions, and what is to be minded beside the dangers."""
    return noticed("Warnings and notes", input_first(_heeded(result))[1], "warning", "note")


def _heeded(result: Result) -> Sequence[Notice]:
    """All notices, but those of a depth by conduction where the product flows: there is none to heed them at."""
    gone = result.advice is not None and result.case.product.convects
    return [notice for notice in result.notices if not (gone and notice.topic in ("probe", "depth"))]


def _least_lethality(result: Result) -> list[Entry]:
    spot, lethality = result.cold_spot.least_lethality, result.case.lethality
    name = "cold_spot.least_lethality"
    if result.brick is not None:
        name = "brick.least_lethality"
        told = f"{lethality.function} = {figure(result, f'{name}.lethality')} at {_in_brick(result, name)}"
        return [("Least lethality", told), ("", _from_faces(result.case, result.brick.least_lethality))]
    below = millimetres(result.case.container.outer_height - spot.z)
    return [
        (
            "Least lethality",
            f"{lethality.function} = {figure(result, f'{name}.lethality')} at {_place(result, name)}",
        ),
        ("", f"{_where(spot)}, {millimetres(spot.z)} mm above the base, {below} mm below the top (outside)"),
    ]


def _valley(result: Result) -> list[Entry]:
    """Extent in which the lethality cannot be told from the least, if that reaches far."""
    zone = result.cold_spot.valley
    if zone is None or result.brick is not None:
        return []
    spot = result.cold_spot.least_lethality
    found = f"r = {LENGTH.number(spot.r)}, z = {LENGTH.text(spot.z)}"
    return [("", f"all as cold within the uncertainty; the least was found at {found}")]


def _events_of_least(result: Result) -> Entry:
    name = f"{result.body}.least_lethality"
    return (
        "",
        f"{figure(result, f'{name}.heating_lethality')} before heating ends, "
        f"{figure(result, f'{name}.end_of_heating')} when it ends",
    )


def _slowest_heating(result: Result) -> list[Entry]:
    name = f"{result.body}.slowest_heating"
    ends, place = figure(result, f"{name}.end_of_heating"), _place if result.brick is None else _in_brick
    return [("Slowest heating", f"{ends} when heating ends at {place(result, name)}")]


def _events_of_slowest(result: Result) -> str:
    name, symbol = "cold_spot.slowest_heating", result.case.lethality.symbol
    return (
        f"{_where(result.cold_spot.slowest_heating)}; {symbol} = {figure(result, f'{name}.lethality')}, "
        f"{figure(result, f'{name}.heating_lethality')} before heating ends"
    )


def _input_range(result: Result) -> list[Entry]:
    """Figures that the ranges of named media's film coefficients leave open."""
    sentence = input_range_sentence(result)
    return [("Input range", sentence)] if sentence else []


def _in_brick(result: Result, name: str) -> str:
    """A place in a brick, from its middle and above its base."""
    x, y, z = (f"{axis} = {figure(result, f'{name}.{axis}')}" for axis in "xyz")
    return f"{x}, {y} from the middle, {z}"


def _from_faces(case: Case, spot: BrickSpot) -> str:
    """Distances of a place in a brick from the outside of each face, for an entry through any of them."""
    length, width = (side / 2.0 for side in case.container.brick_outside)
    low, high = spot.z, case.container.outer_height - spot.z
    return (
        f"from the outside: {millimetres(length - spot.x)} mm from an end, {millimetres(width - spot.y)} mm from a "
        f"long edge, {millimetres(low)} mm from the lower face, {millimetres(high)} mm from the upper"
    )


def _place(result: Result, name: str) -> str:
    """A place and how well it is known; or how far that reaches from which none can be told."""
    zone = result.cold_spot.valley
    if zone is not None and name == "cold_spot.least_lethality":
        heights = f"z = {LENGTH.number(zone.z_low)} to {LENGTH.text(zone.z_high)}"
        return f"{heights}, r up to {LENGTH.text(zone.r_high)}"
    return f"r = {figure(result, f'{name}.r')}, z = {figure(result, f'{name}.z')}"


def _where(spot: Spot) -> str:
    return "inside the product" if spot.inside else "on the product's surface"


def _events(result: Result, name: str) -> str:
    return (
        f"{result.case.lethality.symbol} = {figure(result, f'{name}.lethality')}, "
        f"{figure(result, f'{name}.heating_lethality')} before heating ends, "
        f"{figure(result, f'{name}.end_of_heating')} when it ends"
    )


def _zone_and_arrivals(result: Result) -> list[Entry]:
    zone = result.cold_spot.zone
    entries = [
        (
            "Cold zone",
            f"r = {LENGTH.number(zone.r_low)} to {LENGTH.text(zone.r_high)}, z = {LENGTH.number(zone.z_low)} to "
            f"{LENGTH.text(zone.z_high)}: at most {percent(zone.margin):g} % more lethality than the least, "
            f"{share(zone.part)} of the product",
        )
    ]
    for k, (temperature, time) in enumerate(result.cold_spot.arrivals):
        if time is None:
            entries.append(("Arrival", f"the least-lethality place does not reach {temperature:g} degC"))
            continue
        # a coarser computation may not have reached it
        when = TIME.text(time, result.uncertainty.get(f"cold_spot.arrivals.{k}"))
        entries.append(("Arrival", f"the least-lethality place reaches {temperature:g} degC after {when}"))
    return entries


def _target(result: Result) -> list[Entry]:
    """Tell whether the target is reached, and the hold that would just reach it."""
    target = result.target
    if target is None:
        return []
    asked = f"{result.case.lethality.symbol} = {minutes(target.lethality):g} min"
    parts = [f"{asked} is {'reached' if target.reached else 'NOT reached'}"]
    if abs(target.least - target.lethality) <= result.uncertainty["target.least"]:
        # why, a warning says
        parts = [f"treat {asked} as NOT reached"]
    if target.required_hold is not None and not target.remark:
        now = "" if target.hold is None else f" (now {minutes(target.hold):g} min)"
        parts.append(f"a hold of {figure(result, 'target.required_hold')}{now} just reaches it, cooling included")
    if target.remark:
        parts.append(target.remark)
    return [("Target", "; ".join(parts))]


def _probe(result: Result) -> list[Entry]:
    """Reading of the case's probe, or that it is left out."""
    if result.probe is not None:
        return reading_sentences(result, result.probe)
    if result.case.probe is None:
        return []
    return [("Probe", f'"{plain(result.case.probe.name)}" is left out: its insertion is not given')]


def _numerics(result: Result) -> str:
    effort = result.effort
    return (
        f"heat in and heat stored differ by {abs(result.energy.relative_defect):.0e} of the heat; "
        f"{effort.nodes} nodes, {effort.steps} steps, {effort.seconds:.1f} s"
    )
