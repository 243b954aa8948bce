"""Fit of a probe in its container: where its tip may be, how wide it may be, what its fitting leaves free."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator
from dataclasses import dataclass

from thermsim.case.container import Container
from thermsim.case.keys.tables import EDGES
from thermsim.case.outline import narrowest_between
from thermsim.case.probe import Fitting, Probe, Segment
from thermsim.case.rules import ROUNDING
from thermsim.errors import WHOLE, Fault
from thermsim.text import in_mm

# A tip from the lid keeps this distance from a base that rises [m]: levels between them are drawn together.
CLEAR_OF_RISE = 1e-3
#: Product that must be left above and below a probe from the side [m].
CLEAR_OF_ENDS = 2e-3
#: A probe from the side is at most this part of the inner radius wide: beyond it is no slender body in the product.
WIDEST = 0.6


@dataclass(frozen=True)
class Reach:
    """Depths below the outer face of the entered wall [m]; NaN where container or fill are at fault.

    ``wall`` is where that wall ends, ``product`` the range that the product takes, ``opposite`` the inner face of
    the wall on the other side.
    """

    wall: float
    product: tuple[float, float]
    opposite: float


def reach_of(container: Container, filled: float, probe: Probe) -> Reach:
    """Places where a probe meets what, by the wall it enters; ``filled`` is the product's depth [m]."""
    if probe.entry == "side":
        wall = probe.wall_thickness(container)
        across = wall + 2 * container.halves(probe.edge)[0]
        return Reach(wall, (wall, across), across)
    surface, bottom = container.floor + filled, container.floor + container.crown
    if probe.entry == "lid":
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
    """The room that is too narrow for a part of a probe of that diameter [m], or else the narrowest.

    ``part`` are the heights z of its lower and upper end [m]; None where they are not known yet.
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
    return next((room for room in found if diameter >= room.diameter - ROUNDING), found[-1])


def _parts(probe: Probe, container: Container) -> list[tuple[float, float] | None]:
    """Heights z of the segments' ends [m], the outer end's or the foot's first; None where they are not known."""
    if probe.depth(container) is None:
        return [None] * len(probe.segments)
    return [(low, high) for _, low, high in [*probe.placed(container)][::-1]]


def mounting_faults(probe: Probe, path: str, container: Container, filled: float) -> Iterator[Fault]:
    """Faults of a probe with at least one segment that does not fit a container filled to a depth [m]."""
    if probe.entry == "side":
        found = [*side_faults(probe, path, container, container.floor + filled)]
        yield from found
        if any(fault.path != path or "change with temperature" not in fault.rule for fault in found):
            return
    reach = reach_of(container, filled, probe)
    yield from _tip_faults(probe, path, reach)
    if container.profile.narrowest == 0.0:
        rule = "the profile ends in a point on the axis, where a probe cannot be computed; let it end at a radius "
        yield Fault(path, WHOLE, f"{rule}above the probe's")
        return
    yield from _rise_faults(probe, path, container, reach)
    yield from _width_faults(probe, path, container)
    if probe.fitting:
        yield from _fitting_faults(probe, f"{path}.fitting", probe.fitting, container, reach)
    last = probe.segments[-1].length
    if probe.sensing > last + ROUNDING:
        rule = f"is more than the length of the last segment, {in_mm(last)} mm"
        yield Fault(f"{path}.sensing", probe.sensing, rule, "m")


def _tip_faults(probe: Probe, path: str, reach: Reach) -> Iterator[Fault]:
    """Faults of a tip that is not in the product."""
    if probe.mount == "inside":
        yield from _stack_faults(probe, path, reach)
    elif probe.length <= reach.product[0] + ROUNDING:
        rule = (
            f"segments are {in_mm(probe.length)} mm long together and do not come into the product, which begins "
            f"{in_mm(reach.product[0])} mm from the outer face of the {probe.entry}; give longer ones"
        )
        yield Fault(path, WHOLE, rule)
    elif probe.insertion is not None:
        rule = _insertion_rule(probe, probe.insertion, reach)
        if rule:
            yield Fault(f"{path}.insertion", probe.insertion, rule, "m")


def _insertion_rule(probe: Probe, insertion: float, reach: Reach) -> str:
    """The rule that an insertion breaks whose tip is not in the product, or whose outer end is in the container."""
    first, last = reach.product
    most = min(depth for depth in (last, reach.opposite, probe.length, math.inf) if not math.isnan(depth))
    allowed = f"it must be above {in_mm(first)} and at most {in_mm(most)} mm"
    if insertion > reach.opposite + ROUNDING:
        opposite = {"lid": "base", "base": "lid", "side": "side wall opposite"}[probe.entry]
        return f"puts the tip beyond the inside of the {opposite}; at most {in_mm(most)} mm are possible"
    if insertion > last + ROUNDING:
        return f"puts the tip into the headspace, where it measures no product; {allowed}"
    if insertion <= first + ROUNDING:
        place = f"the {probe.entry}" if insertion <= reach.wall + ROUNDING else "the headspace"
        return f"leaves the tip in {place}, where it measures no product; {allowed}"
    if insertion > probe.length + ROUNDING:
        return (
            f"is more than the length of all segments, {in_mm(probe.length)} mm: the probe would not reach out of "
            "the container; give longer segments or less insertion"
        )
    return ""


def _stack_faults(probe: Probe, path: str, reach: Reach) -> Iterator[Fault]:
    """Faults of the tip of a stack that stands or hangs inside but not in the product."""
    first, last = (depth - reach.wall for depth in reach.product)
    room = reach.opposite - reach.wall
    shown = f"segments are {in_mm(probe.length)} mm long together"
    if probe.length > room + ROUNDING:
        walls = "inside the side wall" if probe.entry == "side" else "between base and lid"
        yield Fault(path, WHOLE, f"{shown}, more than the {in_mm(room)} mm {walls}; give shorter ones")
    elif not first + ROUNDING < probe.length <= last + ROUNDING and not math.isnan(first + last + probe.length):
        rule = (
            f"{shown}, which puts the tip into the headspace, where it measures no product; it must be above "
            f"{in_mm(first)} and at most {in_mm(last)} mm"
        )
        yield Fault(path, WHOLE, rule)


def _rise_faults(probe: Probe, path: str, container: Container, reach: Reach) -> Iterator[Fault]:
    """Faults where a base that rises does not carry the probe, or leaves the tip of one from the lid no room."""
    if container.rise is None:
        return
    wide, depth = container.rise.diameter, probe.depth(container)
    if probe.entry == "base" and probe.widest >= wide - ROUNDING:
        rule = (
            f"the probe with its fitting and gap is {in_mm(probe.widest)} mm wide; it must be narrower than the rise "
            f"of the base that it stands on or passes, {in_mm(wide)} mm"
        )
        yield Fault(path, WHOLE, rule)
    elif probe.entry == "lid" and depth is not None:
        last = reach.product[1] - CLEAR_OF_RISE
        if last + ROUNDING < depth <= reach.product[1] + ROUNDING:
            rule = (
                f"the tip, {in_mm(depth)} mm from the outer face of the lid, is too near to the base, which rises "
                f"towards it; at most {in_mm(last)} mm are handled by this version"
            )
            yield Fault(path, WHOLE, rule)


def _width_faults(probe: Probe, path: str, container: Container) -> Iterator[Fault]:
    """Faults where no product is left beside a segment, its gap included."""
    gap = probe.gap.thickness if probe.gap else 0.0
    for place, (segment, part) in enumerate(zip(probe.segments, _parts(probe, container), strict=True)):
        room = room_for(segment.diameter, probe, container, part)
        if segment.diameter >= room.diameter - ROUNDING:
            yield Fault(
                f"{path}.segments[{place}].diameter", segment.diameter, f"must be less than {room.where}", "m"
            )
            continue
        room = room_for(segment.diameter + 2 * gap, probe, container, part)
        if segment.diameter + 2 * gap >= room.diameter - ROUNDING:
            rule = (
                f"round a segment of {in_mm(segment.diameter)} mm fills {room.where}; it must be less than "
                f"{in_mm((room.diameter - segment.diameter) / 2)} mm"
            )
            yield Fault(f"{path}.gap.thickness", gap, rule, "m")


def _fitting_faults(probe: Probe, path: str, fitting: Fitting, container: Container, reach: Reach) -> Iterator[Fault]:
    """Faults where the fitting does not fit the container, lets no stem through or does not leave the tip free."""
    hole = room_for(fitting.diameter, probe, container, probe.fitted(container))
    if fitting.diameter >= hole.diameter - ROUNDING:
        yield Fault(f"{path}.diameter", fitting.diameter, f"must be less than {hole.where}", "m")
    stem = _widest_in(probe, fitting, container, reach)
    if stem is not None and stem.diameter >= fitting.diameter - ROUNDING:
        rule = f"must be more than that of the stem in it, {in_mm(stem.diameter)} mm"
        yield Fault(f"{path}.diameter", fitting.diameter, rule, "m")
    if probe.insertion is not None:
        left = probe.length - probe.insertion
        if -ROUNDING <= left < fitting.outside - ROUNDING:
            rule = (
                f"does not fit under the stick-out: with this insertion {in_mm(left)} mm of the probe are left "
                "outside; give a longer probe, less insertion or a lower fitting"
            )
            yield Fault(f"{path}.outside", fitting.outside, rule, "m")
    if fitting.hole is not None:
        if fitting.hole > fitting.diameter + ROUNDING:
            rule = f"must be at most the fitting's own diameter, {in_mm(fitting.diameter)} mm"
            yield Fault(f"{path}.hole", fitting.hole, rule, "m")
        elif stem is not None and fitting.hole < stem.diameter - ROUNDING:
            rule = f"lets no stem through, which is {in_mm(stem.diameter)} mm thick"
            yield Fault(f"{path}.hole", fitting.hole, rule, "m")
    rule = _inside_rule(probe, fitting, reach, probe.depth(container))
    if rule:
        yield Fault(f"{path}.inside", fitting.inside, rule, "m")


def _inside_rule(probe: Probe, fitting: Fitting, reach: Reach, depth: float | None) -> str:
    """The rule that a fitting breaks which reaches too far inside; ``depth`` is the tip's [m], where it is known."""
    room = reach.opposite - reach.wall
    if fitting.inside >= room - ROUNDING:
        walls = "inside the side wall" if probe.entry == "side" else "between base and lid"
        return f"must be less than the {in_mm(room)} mm {walls}"
    if depth is None:
        for deepest in (probe.length - reach.wall, reach.product[1] - reach.wall):
            if deepest > 0.0 and fitting.inside >= deepest - ROUNDING:
                return (
                    f"leaves no place for the tip, which can be {in_mm(deepest)} mm from the inside of the "
                    f"{probe.entry} at most"
                )
    elif depth > reach.wall + ROUNDING and fitting.inside >= depth - reach.wall - ROUNDING:
        return (
            f"reaches to the tip or beyond it; it must be less than {in_mm(depth - reach.wall)} mm, the distance "
            f"from the inside of the {probe.entry} to the tip"
        )
    return ""


def passes(segment: Segment, fitting: Fitting) -> bool:
    """Tell whether a segment goes through a fitting and the hole that is drilled for it."""
    hole = fitting.diameter if fitting.hole is None else fitting.hole
    return segment.diameter < fitting.diameter - ROUNDING and segment.diameter <= hole + ROUNDING


def _widest_in(probe: Probe, fitting: Fitting, container: Container, reach: Reach) -> Segment | None:
    """The widest segment that stands in the fitting; with the insertion unknown the narrowest of all."""
    depth = probe.depth(container)
    if depth is None:
        return min(probe.segments, key=lambda segment: segment.diameter)
    inside = []
    end = depth
    for segment in reversed(probe.segments):
        start, tipward = end - segment.length, end
        if start < reach.wall + fitting.inside - ROUNDING and tipward > -fitting.outside + ROUNDING:
            inside.append(segment)
        end = start
    return max(inside, key=lambda segment: segment.diameter, default=None)


# ---- from the side: straight containers and bricks, and product all round ----


def heights_for(probe: Probe, container: Container, surface: float) -> tuple[float, float]:
    """Lowest and highest z of the axis of a probe from the side [m]; ``surface`` is the product's z [m]."""
    clear = probe.widest / 2 + CLEAR_OF_ENDS
    return container.floor + clear, surface - clear


def most_width(probe: Probe, container: Container) -> float:
    """Largest diameter of a probe from the side that is handled [m]."""
    return WIDEST * container.halves(probe.edge)[1]


def at_height(probe: Probe, z: float, container: Container, surface: float) -> Probe:
    """A probe from the side whose height is left open, at that height [m] or the nearest possible; others as is.

    One into a brick says then which edge it enters.
    """
    if probe.entry == "side" and container.brick is not None and not probe.edge:
        probe = dataclasses.replace(probe, edge=EDGES[0])
    if probe.entry != "side" or probe.z is not None:
        return probe
    low, high = heights_for(probe, container, surface)
    return probe.at_height(min(max(z, low), high))


def side_faults(probe: Probe, path: str, container: Container, surface: float) -> Iterator[Fault]:
    """Reasons why a probe from the side cannot be computed where the product ends at z = ``surface`` [m]."""
    unfit = ""
    if probe.edge and container.brick is None:
        yield Fault(f"{path}.edge", probe.edge, "has a meaning only in a brick; leave it out")
    if container.stands_in and container.brick is None:
        unfit = "a probe from the side is not handled where a cylinder stands in for what is packed"
    elif not container.is_straight:
        unfit = (
            "a probe from the side is handled in straight containers with a level base and an even side wall alone"
        )
    if unfit:
        yield Fault(f"{path}.entry", probe.entry, f": {unfit}; take the lid or the base")
        return
    low, high = heights_for(probe, container, surface)
    most = most_width(probe, container)
    wide = f"the probe with its fitting and gap is {in_mm(probe.widest)} mm wide"
    if probe.widest > most + ROUNDING:
        rule = f"{wide}; from the side at most {in_mm(most)} mm are handled in this container"
        yield Fault(path, WHOLE, rule)
    elif low > high:
        rule = (
            f"{wide}: with the {in_mm(CLEAR_OF_ENDS)} mm of product that must be left above and below it, it does "
            "not fit the product from the side"
        )
        yield Fault(path, WHOLE, rule)
    elif probe.z is not None and not low - ROUNDING <= probe.z <= high + ROUNDING:
        rule = (
            f"does not leave {in_mm(CLEAR_OF_ENDS)} mm of product above and below the probe; it must be from "
            f"{in_mm(low)} to {in_mm(high)} mm"
        )
        yield Fault(f"{path}.z", probe.z, rule, "m")
