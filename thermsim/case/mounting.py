"""Whether a probe fits its container: where its tip may be, how wide it may be, what its fitting leaves free."""

from __future__ import annotations

import math
from dataclasses import dataclass

from thermsim.case.container import Container
from thermsim.case.outline import narrowest_between
from thermsim.case.probe import Entry, Probe
from thermsim.text import in_mm

# A tip from the lid keeps this distance from a base that rises [m]: levels between them are drawn together.
CLEAR_OF_RISE = 1e-3
_ROUNDING = 1e-9  # m; what turning millimetres into metres and back may leave over


@dataclass(frozen=True)
class Reach:
    """Depths below the outer face of the entered wall [m]; NaN where container or fill are at fault.

    ``wall`` is where that wall ends, ``product`` the range that the product takes, ``opposite`` the inner face of
    the wall on the other side.
    """

    wall: float
    product: tuple[float, float]
    opposite: float


def reach_of(container: Container, filled: float, entry: Entry) -> Reach:
    """Where a probe that enters by a wall meets what; ``filled`` is the product's depth [m]."""
    if entry == "side":
        wall = container.side.thickness if container.side else 0.0
        across = wall + 2 * container.profile.narrowest
        return Reach(wall, (wall, across), across)
    surface, bottom = container.floor + filled, container.floor + container.crown
    if entry == "lid":
        top = container.outer_height
        return Reach(top - container.ceiling, (top - surface, top - bottom), top - bottom)
    face = container.crown
    return Reach(container.floor, (container.floor, surface - face), container.ceiling - face)


@dataclass(frozen=True)
class Room:
    """The inner diameter [m] that a part of a probe must stay below, and where that is."""

    diameter: float
    where: str


def room_for(diameter: float, probe: Probe, container: Container, part: tuple[float, float] | None) -> Room:
    """The room that is too narrow for a part of a probe, or else the narrowest.

    Parameters
    ----------
    diameter : float
        Of the part [m].
    probe : Probe
    container : Container
    part : pair of float or None
        Heights z of the part's lower and upper end [m]; None where they are not known yet.
    """
    profile, floor = container.profile, container.floor
    if profile.is_straight or math.isnan(profile.height + profile.narrowest):
        return Room(2 * profile.narrowest, f"the container's inner diameter, {in_mm(2 * profile.narrowest)} mm")
    top = profile.height
    if part is not None and math.isnan(part[0] + part[1] + floor):
        part = None
    low, high = (top, top) if part is None else (min(max(z - floor, 0.0), top) for z in part)
    lowest = min(profile.corners, key=lambda corner: corner[1])
    places = []
    if part is not None and low < high:
        places.append((narrowest_between(profile, low, high), "where it is", ""))
    if probe.entry == "lid" or probe.mount == "inside":
        places.append((narrowest_between(profile, low, top), "where it has to pass", ""))
    # columns as wide as the probe are upright from the base to the lid
    places.append(((lowest[1], lowest[0]), "at its narrowest", "; this version needs that even where no probe is"))
    found = [
        Room(
            2 * radius,
            f"the container's inner diameter {how}, {in_mm(2 * radius)} mm at z = {in_mm(floor + height)} mm{more}",
        )
        for (radius, height), how, more in places
    ]
    return next((room for room in found if diameter >= room.diameter - _ROUNDING), found[-1])


def _parts(probe: Probe, container: Container) -> list[tuple[float, float] | None]:
    """Heights z of the segments' ends [m], the outer end's or the foot's first; None where they are not known."""
    if probe.depth(container) is None:
        return [None] * len(probe.segments)
    placed = list(probe.placed(container))
    return [(low, high) for _, low, high in reversed(placed)]
