"""What the bounds of a headspace say, for the terminal and for machines."""

from __future__ import annotations

from thermsim.assess.depth.bracket import Bound, Bracket


def bracket_lines(bracket: Bracket) -> list[str]:
    """The bounds as lines of text: a table, and how far things move between them."""
    probed = bracket.depth_moves is not None
    head = f"{'Headspace':24s}{'F, min':>8s}  {'least lethality at':<24s}{'slowest heating at':<24s}{'degC':>8s}"
    lines = [head + (f"{'depth, mm':>11s}" if probed else "")]
    for bound in bracket.bounds:
        least, slowest = bound.least_lethality, bound.slowest_heating
        line = (
            f"{bound.name:24s}{least.lethality / 60:8.3g}  {_place(bound, 'least_lethality'):<24s}"
            f"{_place(bound, 'slowest_heating'):<24s}{slowest.end_of_heating:8.2f}"
        )
        lines.append(line + ("" if bound.depth is None else f"{bound.depth * 1e3:11.1f}"))
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
