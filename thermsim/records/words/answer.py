"""The answer of solve and depth: what to do first, each figure with its numerical uncertainty."""

from __future__ import annotations

from thermsim.assess.simulate.cautions import CONDUCTION_ONLY, NO_VALIDATION
from thermsim.assess.simulate.result import Result
from thermsim.assess.spots.cold_spot import Spot
from thermsim.quantities import LENGTH, TIME, minutes, percent
from thermsim.records.words.depth import advice_parts
from thermsim.records.words.figure_text import figure
from thermsim.records.words.geometry import geometry_sentences
from thermsim.records.words.input_range import MEANING, input_range_sentences
from thermsim.records.words.parts import Entry, Section, facts, noticed
from thermsim.records.words.probe import effect_sentences, reading_sentences
from thermsim.records.words.screen import lines_of
from thermsim.text import plain, share

#: What the terminal says last.
CAUTION = ("Caution", f"{NO_VALIDATION} {CONDUCTION_ONLY}")


def answer(result: Result) -> list[str]:
    """What a run found out, as lines of text (ASCII, save for the user's own words).

    Parameters
    ----------
    result : Result

    Returns
    -------
    list of str
        Lines of at most about 116 characters: :func:`first_sections`, then what else was found, the notes last.
    """
    entries = _zone_and_arrivals(result)
    if result.probe is not None:
        entries += effect_sentences(result, result.probe)
    entries += [
        (
            f"Point {k + 1}",
            f'"{plain(curve.name)}", {_place(result, f"points.{k}")}: {_events(result, f"points.{k}")}',
        )
        for k, curve in enumerate(result.points)
    ]
    rim = "" if result.case.container.rise is None else " at its rim"
    entries += [
        *geometry_sentences(result.case),
        ("Numerics", _numerics(result)),
        ("Places", f"z from the outside of the base{rim}, r from the axis; +- is the numerical uncertainty alone"),
    ]
    return lines_of(
        [
            *first_sections(result),
            Section("", (facts(entries),)),
            *notes_of(result),
            Section("", (facts([CAUTION]),)),
        ]
    )


def first_sections(result: Result) -> list[Section]:
    """What to do and how good it is, every danger, and where the cold spots lie.

    That the product convects comes before any number.
    """
    convects = [notice for notice in result.notices if notice.topic == "convection"]
    others = [notice for notice in result.notices if notice.topic != "convection"]
    found = noticed("The product convects", convects, "danger")
    spots = facts([*_cold_spots(result), *_input_range(result), *_target(result), *_probe(result)], framed=True)
    dangers = noticed("Danger", others, "danger")
    if result.advice is None:
        return [*found, Section("The answer", (spots,)), *dangers]
    advised = advice_parts(result, result.advice)
    return [
        *found,
        Section("How deep the probe should go", advised),
        *dangers,
        Section("The cold spot", (spots,)),
    ]


def notes_of(result: Result) -> list[Section]:
    """What was assumed, and what is to be minded beside the dangers."""
    return noticed("Warnings and notes", result.notices, "warning", "note")


def _cold_spots(result: Result) -> list[Entry]:
    cold_spot, lethality = result.cold_spot, result.case.lethality
    least, slowest = "cold_spot.least_lethality", "cold_spot.slowest_heating"
    function = f"F({lethality.reference:g} degC, z {lethality.z:g})"
    return [
        ("Least lethality", f"{function} = {figure(result, f'{least}.lethality')} at {_place(result, least)}"),
        (
            "",
            f"{_where(cold_spot.least_lethality)}; {figure(result, f'{least}.heating_lethality')} before heating "
            f"ends, {figure(result, f'{least}.end_of_heating')} when it ends",
        ),
        (
            "Slowest heating",
            f"{figure(result, f'{slowest}.end_of_heating')} when heating ends at {_place(result, slowest)}",
        ),
        (
            "",
            f"{_where(cold_spot.slowest_heating)}; F = {figure(result, f'{slowest}.lethality')}, "
            f"{figure(result, f'{slowest}.heating_lethality')} before heating ends",
        ),
        ("Distance", f"{figure(result, 'cold_spot.distance')} between the two"),
    ]


def _input_range(result: Result) -> list[Entry]:
    """What the ranges of named media's film coefficients leave open."""
    first, *more = input_range_sentences(result) or [""]
    return [("Input range", f"{first} ({MEANING})"), *(("", sentence) for sentence in more)] if first else []


def _place(result: Result, name: str) -> str:
    return f"r = {figure(result, f'{name}.r')}, z = {figure(result, f'{name}.z')}"


def _where(spot: Spot) -> str:
    return "inside the product" if spot.inside else "on the product's surface"


def _events(result: Result, name: str) -> str:
    return (
        f"F = {figure(result, f'{name}.lethality')}, {figure(result, f'{name}.heating_lethality')} before heating "
        f"ends, {figure(result, f'{name}.end_of_heating')} when it ends"
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
    """Whether the target is reached, and the hold that would just reach it."""
    target = result.target
    if target is None:
        return []
    asked = f"F = {minutes(target.lethality):g} min"
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
    """What the case's probe reads, or that it is left out."""
    if result.probe is not None:
        return reading_sentences(result, result.probe)
    if result.case.probe is None:
        return []
    return [("Probe", f'"{plain(result.case.probe.name)}" is left out: its insertion is not given')]


def _numerics(result: Result) -> str:
    effort = result.effort
    compiling = f", and {effort.compiling:.1f} s for compiling once" if effort.compiling > 1.0 else ""
    return (
        f"heat in and heat stored differ by {abs(result.energy.relative_defect):.0e} of the heat; "
        f"{effort.nodes} nodes, {effort.steps} steps, {effort.seconds:.1f} s{compiling}"
    )
