"""Findings with the bounds of a headspace, for the terminal and for machines."""

from __future__ import annotations

from thermsim.assess.depth.bracket import Bound, Bracket
from thermsim.quantities import LENGTH, LETHALITY, mm
from thermsim.records.numbers.keys import SPOT, figures
from thermsim.records.words.screen import grid
from thermsim.systems import told, told_columns


def bracket_lines(bracket: Bracket) -> list[str]:
    """The bounds as lines of text: a table, and how far things move between them."""
    probed = bracket.depth_moves is not None
    heads = ("headspace", "lethality, min", "least lethality at", "slowest heating at", "degC")
    rows = [
        (
            bound.name,
            LETHALITY.number(bound.least_lethality.lethality),
            _place(bound, "least_lethality"),
            _place(bound, "slowest_heating"),
            f"{bound.slowest_heating.end_of_heating:.2f}",
            *(["-" if bound.depth is None else f"{mm(bound.depth):.1f}"] if probed else []),
        )
        for bound in bracket.bounds
    ]
    told_heads, told_rows = told_columns((*heads, "depth, mm") if probed else heads, rows)
    lines = grid([told_heads, *told_rows])
    moves = (
        f"Between them the least-lethality place moves by {LENGTH.text(bracket.least_lethality_moves)}, the "
        f"slowest-heating place by {LENGTH.text(bracket.slowest_heating_moves)}"
    )
    if bracket.depth_moves is not None:
        moves += f", the recommended depth by {LENGTH.text(bracket.depth_moves)}"
    lines.append(f"{moves}.")
    if bracket.outside:
        lines.append(
            "The headspace as given has its least lethality outside these two: they bound what the gap conducts, not "
            "the lethality itself."
        )
    return [*lines[: len(rows) + 1], *map(told, [*lines[len(rows) + 1 :], *bracket.assumed])]


def bracket_record(bracket: Bracket) -> dict[str, object]:
    """The bounds as a record for JSON; keys carry their units."""
    moves = LENGTH.record(
        least_lethality_moves=bracket.least_lethality_moves,
        slowest_heating_moves=bracket.slowest_heating_moves,
        depth_moves=bracket.depth_moves,
    )
    return {**moves, "assumed": list(bracket.assumed), "bounds": [_record(bound) for bound in bracket.bounds]}


def _place(bound: Bound, name: str) -> str:
    spot = getattr(bound, name)
    return f"r = {LENGTH.number(spot.r)}, z = {LENGTH.text(spot.z)}"


def _record(bound: Bound) -> dict[str, object]:
    return {
        "headspace": bound.name,
        "least_lethality": figures(bound.least_lethality, SPOT),
        "slowest_heating": figures(bound.slowest_heating, SPOT),
        **LENGTH.record(recommended_insertion=bound.depth),
        **LETHALITY.record(reading_lethality=bound.reading),
    }
