"""The points of a case file's profile_mm, heights and radii of the side wall's inside, and its rounded corners."""

from __future__ import annotations

import math

from thermsim.case.keys.checks import Table, number
from thermsim.case.keys.plausible import slip
from thermsim.case.profile import Profile, turn_at
from thermsim.text import in_mm, printed

Corners = tuple[tuple[float, float], ...]

MOST_POINTS = 200
CLOSEST = 0.1e-3  # m; heights of points nearer to each other are a slip of the pen
_ROUNDING = 1e-9  # m; what turning millimetres into metres and back may leave over
_WRITTEN = "[[0, radius], [height, radius], ...], heights above the inside of the base"
# Part of what is left of a straight line that roundings may take: none is to shrink to nothing.
_MOST_ROUNDED = 0.999


def corner_points(table: Table) -> Corners | None:
    """Heights above the inside of the base and radii [m] of profile_mm; ``None`` where it is at fault."""
    value = table.entries["profile_mm"]
    if not isinstance(value, list) or not all(isinstance(point, list) for point in value):
        table.fault(f"profile_mm = {printed(value)} is not a list of points; write {_WRITTEN}")
        return None
    if not 2 <= len(value) <= MOST_POINTS:
        table.fault(f"profile_mm holds {len(value)} points; it must hold 2 to {MOST_POINTS}: {_WRITTEN}")
        return None
    before = len(table.faults)
    for place, point in enumerate(value):
        fault = _fault_of(point, within=0 < place < len(value) - 1)
        if fault:
            table.fault(f"profile_mm: {_named(value, place)} {fault}")
    if len(table.faults) == before:
        _check_order(table, value)
    if len(table.faults) == before:
        _check_sizes(table, value)
    if len(table.faults) > before:
        return None
    return tuple((height / 1000, radius / 1000) for height, radius in value)


def _named(points: list[list[float]], place: int) -> str:
    return f"point {place + 1} = {printed(points[place])}"


def _fault_of(point: list[object], *, within: bool) -> str:
    """What is wrong with a point by itself; "" if nothing is. ``within``: it is not at an end of the profile."""
    if len(point) != 2 or any(isinstance(value, bool) or not isinstance(value, int | float) for value in point):
        return "must be two numbers, [height, radius]"
    # whole numbers of any length are compared exactly; NaN is in no range
    if not all(-2000 <= value <= 2000 for value in point):  # type: ignore[operator]
        return "holds a number that is no height or radius; both are at most 2000 mm"
    radius = point[1]
    if radius < 0 or (radius == 0 and within):  # type: ignore[operator]
        return "has no radius above 0; only the first and the last point may lie on the axis"
    return ""


def _check_order(table: Table, points: list[list[float]]) -> None:
    """Heights begin at 0, the inside of the base, and grow."""
    heights, radii = [point[0] for point in points], [point[1] for point in points]
    pairs = list(zip(heights[:-1], heights[1:], strict=True))
    if all(below > above for below, above in pairs):
        table.fault("profile_mm: heights fall from point to point; write the points from the base upwards")
        return
    if heights[0] != 0 and radii[0] == 0 and radii == sorted(set(radii)):
        table.fault(f"profile_mm: {_named(points, 0)}: did you mean [radius, height]? Write the height first")
        return
    if heights[0] != 0:
        base = table.entries.get("base")
        thickness = base.get("thickness_mm") if isinstance(base, dict) else None
        hint = ""
        if isinstance(thickness, int | float) and abs(thickness - heights[0]) < 1e-6:
            hint = (
                f"; it is as high as the base is thick: take {heights[0]:g} off every height, so that they count "
                "from the inside of the base"
            )
        table.fault(
            f"profile_mm: {_named(points, 0)} must be at height 0: heights count from the inside of the base{hint}"
        )
    for place, (below, above) in enumerate(pairs, start=1):
        if above - below < 1000 * CLOSEST - 1e-6:
            table.fault(
                f"profile_mm: {_named(points, place)} must be higher than point {place} = "
                f"{printed(points[place - 1])}, by {in_mm(CLOSEST)} mm or more"
            )


def _check_sizes(table: Table, points: list[list[float]]) -> None:
    """The whole is as high and as wide as a container may be."""
    sizes = (("inner_height_mm", "high", points[-1][0]), ("inner_diameter_mm", "wide", 2 * max(r for _, r in points)))
    for name, how, value in sizes:
        key = table.keys[name]
        if not key.low <= value <= key.high:
            table.fault(
                f"profile_mm is {value:g} mm {how}; it must be at least {key.low:g} and at most {key.high:g} mm"
                f"{slip(value, key)}"
            )


def rounded(table: Table, corners: Corners) -> Profile:
    """The profile of these corners, rounded as ``rounding_mm`` says; sharp where that is left out or at fault."""
    if "rounding_mm" not in table.entries:
        return Profile(corners)
    rounding, sharp = number(table, "rounding_mm"), Profile(corners)
    shown = f"rounding_mm = {printed(table.entries['rounding_mm'])}"
    turning = sharp.turning
    if len(turning) == 2:
        table.fault(f"{shown}: the profile has no corner between its ends to be rounded; leave it out")
        return sharp
    # how much of the straight lines beside a corner a rounding of 1 takes; nothing at the ends
    threes = zip(turning[:-2], turning[1:-1], turning[2:], strict=True)
    cuts = [0.0, *(math.tan(abs(turn_at(*three)) / 2) for three in threes), 0.0]
    lines = zip(turning[:-1], turning[1:], cuts[:-1], cuts[1:], strict=True)
    room, low, high = min((math.dist(low, high) / (one + other), low, high) for low, high, one, other in lines)
    most = _MOST_ROUNDED * room
    if rounding > most:
        ends = [f"point {corners.index(end) + 1} = [{in_mm(end[0])}, {in_mm(end[1])}]" for end in (low, high)]
        step = 10.0 ** (math.floor(math.log10(1000 * most)) - 2)
        table.fault(
            f"{shown} does not fit between {ends[0]} and {ends[1]}; there is room for "
            f"{step * math.floor(1000 * most / step):.3g} mm at most"
        )
    return Profile(corners, rounding) if rounding <= most else sharp
