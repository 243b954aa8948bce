"""What the bounds of a headspace say, for the terminal and for machines."""

from __future__ import annotations

from thermsim.assess.depth.bracket import Bound, Bracket
from thermsim.records.words.screen import grid


def bracket_lines(bracket: Bracket) -> list[str]:
    """The bounds as lines of text: a table, and how far things move between them."""
    probed = bracket.depth_moves is not None
    heads = ("headspace", "F, min", "least lethality at", "slowest heating at", "degC")
    rows = [
        (
            bound.name,
            f"{bound.least_lethality.lethality / 60:.3g}",
            _place(bound, "least_lethality"),
            _place(bound, "slowest_heating"),
            f"{bound.slowest_heating.end_of_heating:.2f}",
            *(["-" if bound.depth is None else f"{bound.depth * 1e3:.1f}"] if probed else []),
        )
        for bound in bracket.bounds
    ]
    lines = grid([(*heads, "depth, mm") if probed else heads, *rows])
    moves = (
        f"Between them the least-lethality place moves by {bracket.least_lethality_moves * 1e3:.1f} mm, the "
        f"slowest-heating place by {bracket.slowest_heating_moves * 1e3:.1f} mm"
    )
    if bracket.depth_moves is not None:
        moves += f", the recommended depth by {bracket.depth_moves * 1e3:.1f} mm"
    lines.append(f"{moves}.")
    if bracket.outside:
        lines.append(
            "The headspace as given has its least lethality outside these two: they bound what the gap conducts, not "
            "F itself."
        )
    return [*lines, *bracket.assumed]


def bracket_record(bracket: Bracket) -> dict[str, object]:
    """The bounds as a record for JSON; keys carry their units."""
    moves: dict[str, object] = {
        "least_lethality_moves_mm": bracket.least_lethality_moves * 1e3,
        "slowest_heating_moves_mm": bracket.slowest_heating_moves * 1e3,
        "depth_moves_mm": None if bracket.depth_moves is None else bracket.depth_moves * 1e3,
    }
    return {**moves, "assumed": list(bracket.assumed), "bounds": [_record(bound) for bound in bracket.bounds]}


def _place(bound: Bound, name: str) -> str:
    spot = getattr(bound, name)
    return f"r = {spot.r * 1e3:.1f}, z = {spot.z * 1e3:.1f} mm"


def _record(bound: Bound) -> dict[str, object]:
    spots = {
        name: {
            "r_mm": spot.r * 1e3,
            "z_mm": spot.z * 1e3,
            "lethality_min": spot.lethality / 60,
            "heating_lethality_min": spot.heating_lethality / 60,
            "end_of_heating_C": spot.end_of_heating,
        }
        for name, spot in (("least_lethality", bound.least_lethality), ("slowest_heating", bound.slowest_heating))
    }
    return {
        "headspace": bound.name,
        **spots,
        "recommended_insertion_mm": None if bound.depth is None else bound.depth * 1e3,
        "reading_lethality_min": None if bound.reading is None else bound.reading / 60,
    }
