"""The answer in plain text for the terminal: what to do first, each figure with its numerical uncertainty."""

from __future__ import annotations

import re
from collections.abc import Sequence

from thermsim.assess.simulate.cautions import CONDUCTION_ONLY, NO_VALIDATION
from thermsim.assess.simulate.result import Result, Target
from thermsim.assess.spots.cold_spot import Spot
from thermsim.physics.convection import NOT_HELD
from thermsim.quantities import LENGTH, TIME, minutes, percent
from thermsim.records.words.depth import advice_sentences
from thermsim.records.words.figure_text import figure
from thermsim.records.words.geometry import geometry_sentences
from thermsim.records.words.input_range import MEANING, input_range_sentences
from thermsim.records.words.labelled import labelled
from thermsim.records.words.probe import effect_sentences
from thermsim.text import plain, share

#: Two words in capitals.
_LOUD = re.compile(r"[A-Z]{2,} [A-Z]{2,}\b")


def answer(result: Result) -> list[str]:
    """What a run found out, as lines of text (ASCII, save for the user's own words).

    Parameters
    ----------
    result : Result

    Returns
    -------
    list of str
        Lines of at most about 116 characters: how deep the probe should go where that was asked, the least-lethality
        place and what else was found, the warnings last.
    """
    entries = [] if result.advice is None else advice_sentences(result, result.advice)
    entries += [*_cold_spots(result), *_input_range(result), *_zone_and_arrivals(result)]
    if result.target is not None:
        entries.append(("Target", _target(result, result.target)))
    if result.probe is not None:
        entries += effect_sentences(result, result.probe)
    elif result.case.probe is not None:
        entries.append(("Probe", f'"{plain(result.case.probe.name)}" is left out: its insertion is not given'))
    entries += [
        (
            f"Point {k + 1}",
            f'"{plain(curve.name)}", {_place(result, f"points.{k}")}: {_events(result, f"points.{k}")}',
        )
        for k, curve in enumerate(result.points)
    ]
    loud, others = loud_first(result.warnings)
    first, loud = map_first(loud)
    entries = [*(("WARNING", warning) for warning in first), *entries]
    rim = "" if result.case.container.rise is None else " at its rim"
    entries += [
        *geometry_sentences(result.case),
        ("Numerics", _numerics(result)),
        ("Places", f"z from the outside of the base{rim}, r from the axis; +- is the numerical uncertainty alone"),
        *(("WARNING", warning) for warning in loud),
        *(("Note", note) for note in others),
        ("Caution", f"{NO_VALIDATION} {CONDUCTION_ONLY}"),
    ]
    return [line for label, text in entries for line in labelled(label, text)]


def loud_first(warnings: Sequence[str]) -> tuple[list[str], list[str]]:
    """The warnings that begin with words in capitals, and the others."""
    loud = [warning for warning in warnings if _LOUD.match(warning)]
    return loud, [warning for warning in warnings if warning not in loud]


def map_first(warnings: Sequence[str]) -> tuple[list[str], list[str]]:
    """The warnings that the map does not, or may not, hold, which are said before any number; and the others."""
    first = [warning for warning in warnings if warning.startswith(NOT_HELD)]
    return first, [warning for warning in warnings if warning not in first]


def _cold_spots(result: Result) -> list[tuple[str, str]]:
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


def _input_range(result: Result) -> list[tuple[str, str]]:
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


def _zone_and_arrivals(result: Result) -> list[tuple[str, str]]:
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


def _target(result: Result, target: Target) -> str:
    asked = f"F = {minutes(target.lethality):g} min"
    if abs(target.least - target.lethality) <= result.uncertainty["target.least"]:
        verdict = f"{asked} is neither reached nor missed by more than the numerical uncertainty"
    else:
        verdict = f"{asked} is reached" if target.reached else f"{asked} is NOT reached"
    parts = [verdict]
    if target.required_hold is not None and not target.remark:
        now = "" if target.hold is None else f" (now {minutes(target.hold):g} min)"
        parts.append(f"a hold of {figure(result, 'target.required_hold')}{now} just reaches it, cooling included")
    if target.remark:
        parts.append(target.remark)
    return "; ".join(parts)


def _numerics(result: Result) -> str:
    effort = result.effort
    compiling = f", and {effort.compiling:.1f} s for compiling once" if effort.compiling > 1.0 else ""
    return (
        f"heat in and heat stored differ by {abs(result.energy.relative_defect):.0e} of the heat; "
        f"{effort.nodes} nodes, {effort.steps} steps, {effort.seconds:.1f} s{compiling}"
    )
