"""The answer in plain text for the terminal: the cold spots first, each figure with its numerical uncertainty."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from typing import Any

from thermsim.assess.cautions import CONDUCTION_ONLY, NO_VALIDATION
from thermsim.assess.cold_spot import Spot
from thermsim.assess.result import Result, Target
from thermsim.case.checks import plain
from thermsim.records.rounding import least_lethality_step, with_uncertainty

#: Unit of a figure, the factor from its SI unit, and the smallest uncertainty that is shown, by its last name.
UNITS: Mapping[str, tuple[str, float, float]] = {
    **dict.fromkeys(("r", "z", "distance"), ("mm", 1e3, 0.1)),
    **dict.fromkeys(("end_of_heating", "temperature"), ("degC", 1.0, 0.01)),
    **dict.fromkeys(("required_hold", "arrival"), ("min", 1.0 / 60.0, 0.1)),
    # the smallest uncertainty of a lethality goes by its size
    **dict.fromkeys(("lethality", "heating_lethality", "least"), ("min", 1.0 / 60.0, 0.0)),
}

_LABEL = 16
_WIDTH = 116


def answer(result: Result) -> list[str]:
    """What a run found out, as lines of text (ASCII, save for the user's own words).

    Parameters
    ----------
    result : Result

    Returns
    -------
    list of str
        Lines of at most about 116 characters, the least-lethality place first, the warnings last.
    """
    entries = [*_cold_spots(result), *_zone_and_arrivals(result)]
    if result.target is not None:
        entries.append(("Target", _target(result, result.target)))
    entries += [
        (
            f"Point {k + 1}",
            f'"{plain(curve.name)}", {_place(result, f"points.{k}")}: {_events(result, f"points.{k}")}',
        )
        for k, curve in enumerate(result.points)
    ]
    entries += [
        ("Numerics", _numerics(result)),
        ("Places", "z from the outside of the base, r from the axis; +- is the numerical uncertainty alone"),
        *(("Note", note) for note in result.warnings),
        ("Caution", f"{NO_VALIDATION} {CONDUCTION_ONLY}"),
    ]
    return [line for label, text in entries for line in _lines(label, text)]


def figure(result: Result, name: str) -> str:
    """A figure with its numerical uncertainty and unit, as "5.90 +- 0.01 min".

    Parameters
    ----------
    result : Result
    name : str
        Dotted name of the attribute, as in ``result.uncertainty``; its last part is one of :data:`UNITS`. The place
        of a point, which was given, stands without an uncertainty.

    Returns
    -------
    str
    """
    value: Any = result
    for step in name.split("."):
        value = value[int(step)] if isinstance(value, tuple) else getattr(value, step)
    return _shown(value, result.uncertainty.get(name), name.rpartition(".")[2])


def _shown(value: float, uncertainty: float | None, kind: str) -> str:
    unit, factor, least = UNITS[kind]
    least = least or least_lethality_step(value * factor)
    if uncertainty is None:
        return f"{value * factor + 0.0:.1f} {unit}"
    return f"{with_uncertainty(value * factor, uncertainty * factor, least=least)} {unit}"


def _lines(label: str, text: str) -> list[str]:
    lines = textwrap.wrap(
        # a no-break space keeps a figure and its uncertainty on one line
        f"{label:<{_LABEL}}{text}".replace(" +- ", "\u00a0+-\u00a0"),
        width=_WIDTH,
        subsequent_indent=" " * _LABEL,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace("\u00a0", " ") for line in lines]


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
            f"r = {zone.r_low * 1e3:.1f} to {zone.r_high * 1e3:.1f} mm, z = {zone.z_low * 1e3:.1f} to "
            f"{zone.z_high * 1e3:.1f} mm: at most {zone.margin * 100:g} % more lethality than the least, "
            f"{zone.part * 100:.2g} % of the product",
        )
    ]
    for k, (temperature, time) in enumerate(result.cold_spot.arrivals):
        if time is None:
            entries.append(("Arrival", f"the least-lethality place does not reach {temperature:g} degC"))
            continue
        # a coarser computation may not have reached it
        when = _shown(time, result.uncertainty.get(f"cold_spot.arrivals.{k}"), "arrival")
        entries.append(("Arrival", f"the least-lethality place reaches {temperature:g} degC after {when}"))
    return entries


def _target(result: Result, target: Target) -> str:
    asked = f"F = {target.lethality / 60:g} min"
    if abs(target.least - target.lethality) <= result.uncertainty["target.least"]:
        verdict = f"{asked} is neither reached nor missed by more than the numerical uncertainty"
    else:
        verdict = f"{asked} is reached" if target.reached else f"{asked} is NOT reached"
    parts = [verdict]
    if target.required_hold is not None and not target.remark:
        now = "" if target.hold is None else f" (now {target.hold / 60:g} min)"
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
