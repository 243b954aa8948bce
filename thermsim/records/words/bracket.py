"""Findings with the bounds of a headspace, for readers and for machines."""

from __future__ import annotations

from thermsim.assess.depth.bracket import Bound, Bracket
from thermsim.assess.spots.cold_spot import Spot
from thermsim.quantities import LENGTH, LETHALITY, TEMPERATURE
from thermsim.records.numbers.keys import SPOT, figures
from thermsim.records.words.parts import Section, paragraphs, table


def bracket_section(bracket: Bracket) -> Section:
    """The bounds as a table, and how far things move between them."""
    probed = bracket.depth_moves is not None
    heads = ("headspace", "lethality, min", "least lethality at", "slowest heating at", "heated to, degC")
    rows = [
        (
            bound.name,
            LETHALITY.number(bound.least_lethality.lethality),
            _place(bound.least_lethality),
            _place(bound.slowest_heating),
            TEMPERATURE.number(bound.slowest_heating.end_of_heating),
            *([LENGTH.number(bound.depth) if bound.depth is not None else "-"] if probed else []),
        )
        for bound in bracket.bounds
    ]
    moves = (
        f"Between them the least-lethality place moves by {LENGTH.text(bracket.least_lethality_moves)}, the "
        f"slowest-heating place by {LENGTH.text(bracket.slowest_heating_moves)}"
    )
    if bracket.depth_moves is not None:
        moves += f", the recommended depth by {LENGTH.text(bracket.depth_moves)}"
    told = [f"{moves}."]
    if bracket.outside:
        told.append(
            "The headspace as given has its least lethality outside these two: they bound what the gap conducts, not "
            "the lethality itself."
        )
    found = table((*heads, "depth, mm") if probed else heads, rows)
    return Section("Bounds of the headspace", (found, paragraphs([*told, *bracket.assumed])))


def bracket_record(bracket: Bracket) -> dict[str, object]:
    """The bounds as a record for JSON; keys carry their units."""
    moves = LENGTH.record(
        least_lethality_moves=bracket.least_lethality_moves,
        slowest_heating_moves=bracket.slowest_heating_moves,
        depth_moves=bracket.depth_moves,
    )
    return {**moves, "assumed": list(bracket.assumed), "bounds": [_record(bound) for bound in bracket.bounds]}


def _place(spot: Spot) -> str:
    return f"r = {LENGTH.number(spot.r)}, z = {LENGTH.text(spot.z)}"


def _record(bound: Bound) -> dict[str, object]:
    return {
        "headspace": bound.name,
        "least_lethality": figures(bound.least_lethality, SPOT),
        "slowest_heating": figures(bound.slowest_heating, SPOT),
        **LENGTH.record(recommended_insertion=bound.depth),
        **LETHALITY.record(reading_lethality=bound.reading),
    }
