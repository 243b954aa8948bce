"""Depths that are possible for a probe: by the product, by its fitting, by its length and by what is at hand."""

from __future__ import annotations

import dataclasses
import math

from thermsim.case.case import Case
from thermsim.case.mounting import passes, reach_of
from thermsim.case.probe import Entry, Fitting, Probe

#: The tip keeps this distance from the product's surface and from the opposite wall [m].
CLEAR = 2.0e-3


def allowed_depths(case: Case, probe: Probe, length: float | None = None) -> tuple[float, float] | None:
    """Shallowest and deepest insertion with the whole sensing length in the product [m]; None if there is none.

    Of the probe as it is, or of one through the wall that is ``length`` [m] long.
    """
    container = case.container
    reach = reach_of(container, case.fill_height, probe)
    shallow, deep = reach.product[0] + probe.sensing + CLEAR, reach.product[1] - CLEAR
    if probe.mount == "through":
        deep = min(deep, (probe.length if length is None else length) - held_outside(probe))
        if probe.fitting:
            thin, thick = _in_fitting(probe, probe.fitting)
            inner = reach.wall + probe.fitting.inside
            shallow, deep = max(shallow, inner + max(thin, probe.sensing + CLEAR)), min(deep, thick)
    elif any(segment.spacer for segment in probe.segments):
        shallow = max(shallow, reach.wall + probe.fixed_length)
    else:
        depth = probe.depth(container)
        return None if depth is None else (depth, depth)
    return (shallow, deep) if deep > shallow else None


def _in_fitting(probe: Probe, fitting: Fitting) -> tuple[float, float]:
    """Length at the tip too thick for the fitting [m], and the deepest insertion that leaves out what is thicker."""
    thin = along = 0.0
    for segment in reversed(probe.segments):
        end = along + segment.length
        if not passes(segment, fitting):
            if along > thin:
                return thin, along - fitting.outside
            thin = end
        along = end
    return thin, math.inf


def reachable_depths(case: Case, probe: Probe) -> tuple[float, float] | None:
    """The same as far as the longest of the probe and of those in stock reaches, with what must stay outside."""
    if case.stock is None or probe.mount != "through":
        return allowed_depths(case, probe)
    longest = max(probe.length, *case.stock.lengths, 0.0)
    return allowed_depths(case, probe, longest - least_outside(case, probe) + held_outside(probe))


def held_outside(probe: Probe) -> float:
    """Length of a probe that its fitting holds outside [m]: it stays there."""
    return probe.fitting.outside if probe.fitting else 0.0


def least_outside(case: Case, probe: Probe) -> float:
    """Least stick-out that the fitting, and the hardware at hand if any, leave a probe through the wall [m]."""
    return case.stock.stick_out(probe, probe.length)[0] if case.stock else held_outside(probe)


def set_to(case: Case, probe: Probe, depth: float) -> Probe:
    """The probe at a depth [m]; where its own length does not reach that, one just so long that it does."""
    needed = depth + held_outside(probe)
    if probe.mount == "through" and needed > probe.length:
        probe = probe.of_length(needed)
    return probe.at_depth(depth, case.container)


def other_entries(case: Case, probe: Probe, z: float, *, side: bool) -> list[Probe]:
    """The same probe at the other walls; none for a logger, which is not just turned over.

    Parameters
    ----------
    case : Case
    probe : Probe
    z : float
        Height of the cold spot, at which one from the side enters [m].
    side : bool
        Whether the side counts among the other walls.
    """
    if probe.mount == "inside":
        return []
    if case.container.brick is not None and probe.entry == "side":
        edge = "long" if probe.edge != "long" else "short"
        return [case.at_height(dataclasses.replace(probe, edge=edge, insertion=None, z=None), z)]
    ends: tuple[Entry, ...] = ("lid", "base", "side") if side else ("lid", "base")
    others = [
        dataclasses.replace(probe, entry=entry, insertion=None, z=None, edge="")
        for entry in ends
        if entry != probe.entry
    ]
    return [case.at_height(other, z) for other in others]
