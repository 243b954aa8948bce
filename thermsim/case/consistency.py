"""Whether a case can be computed, however it was made: what the reader refuses, Python could still build."""

from __future__ import annotations

import math
import numbers
from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from thermsim.case.container import Container
from thermsim.case.outline import rise_beyond_wall
from thermsim.case.process import Stage
from thermsim.case.profile import Rise
from thermsim.physics.materials import Courses, Material
from thermsim.text import in_mm, printed

_ROUNDING = 1e-9  # as a part of a length or a time: what arithmetic may leave over
_SAME = 1e-9  # m; a headspace below it is none


def _number(value: object) -> bool:
    return isinstance(value, numbers.Real) and not isinstance(value, bool) and math.isfinite(value)


def _unless_positive(name: str, value: object, unit: str) -> Iterator[str]:
    if not (_number(value) and value > 0):  # type: ignore[operator]
        yield f"{name} = {printed(value)} must be a finite number above 0 {unit}".rstrip()


def _unless_number(name: str, value: object, unit: str) -> Iterator[str]:
    if not _number(value):
        yield f"{name} = {printed(value)} must be a finite number, {unit}"


def _profile(container: Container) -> Iterator[str]:
    """What is wrong with the shape of the inside; the first fault alone, since others follow from it."""
    corners, rise = container.profile.corners, container.rise
    if len(corners) < 2:
        yield "container.profile needs two corners or more"
        return
    for k, corner in enumerate(corners):
        named = f"container.profile corner {k + 1}"
        if len(corner) != 2 or not all(_number(value) for value in corner):
            yield f"{named}, {printed(corner)}, must be a height and a radius, finite numbers in m"
            return
        if k == 0 and corner[0] != 0.0:
            yield f"{named} is at height {corner[0]:g} m; it must be at 0, the inside of the base"
            return
        if k and corner[0] <= corners[k - 1][0]:
            yield f"{named} is at height {corner[0]:g} m, not above corner {k} at {corners[k - 1][0]:g} m"
            return
        if corner[1] < 0.0 or (corner[1] == 0.0 and 0 < k < len(corners) - 1):
            yield f"{named} has a radius of {corner[1]:g} m; it must be above 0 (0 at the ends alone)"
            return
    if container.profile.widest == 0.0:
        yield "container.profile has no radius above 0"
        return
    if not (_number(container.profile.rounding) and container.profile.rounding >= 0.0):
        yield f"container.profile.rounding = {printed(container.profile.rounding)} must be 0 or more, m"
        return
    try:
        _ = container.profile.pieces
    except ValueError as fault:
        yield f"container.profile: {fault}"
        return
    yield from _points_of_the_wall(container)
    if rise is not None:
        yield from _rise(container, rise)


def _points_of_the_wall(container: Container) -> Iterator[str]:
    """Whether a side wall of its thickness can follow the profile."""
    wall, corners = container.side, container.profile.corners
    if wall is None or not all(_number(t) and t > 0 for t in (wall.thickness, *wall.course)):
        return
    for (_, radius), where in ((corners[0], "begins"), (corners[-1], "ends")):
        if radius == 0.0:
            yield f"container.profile {where} on the axis: a side wall cannot be closed there"
            return
    if len(wall.course) not in (0, len(corners)):
        return
    fold = container.fold
    if fold is not None:
        yield (
            f"container.side is too thick for the profile between heights {in_mm(fold[0])} and {in_mm(fold[1])} mm: "
            "its outside would fold over itself"
        )


def _rise(container: Container, rise: Rise) -> Iterator[str]:
    """Whether the base's rise fits the container."""
    if rise.form not in ("dome", "cone"):
        yield f'container.rise.form = {printed(rise.form)} must be "dome" or "cone"'
        return
    faults = [*_unless_positive("container.rise.height", rise.height, "m")]
    faults += _unless_positive("container.rise.diameter", rise.diameter, "m")
    yield from faults
    if faults:
        return
    foot = 2 * container.profile.corners[0][1]
    if rise.diameter > foot * (1 + _ROUNDING):
        yield f"container.rise is {in_mm(rise.diameter)} mm wide, the base inside {in_mm(foot)} mm"
    elif rise.height >= container.inner_height:
        inside = in_mm(container.inner_height)
        yield f"container.rise is {in_mm(rise.height)} mm high, the container inside {inside} mm"
    elif rise.form == "dome" and rise.height > rise.diameter / 2 * (1 + _ROUNDING):
        yield (
            f"container.rise is {in_mm(rise.height)} mm high and {in_mm(rise.diameter)} mm wide: a dome is at most "
            'half as high as it is wide; take form "cone"'
        )
    else:
        beyond = rise_beyond_wall(rise, container.profile)
        if beyond is not None:
            yield f"container.rise passes through the side wall {in_mm(beyond[0])} mm above the base's rim"


def _properties(material: Material) -> Iterator[str]:
    named = f"material {printed(material.name)}:"
    if material.courses is not None:
        yield from _courses(named, material.courses)
    yield from _unless_positive(f"{named} conductivity", material.conductivity, "W/mK")
    yield from _unless_positive(f"{named} density", material.density, "kg/m3")
    yield from _unless_positive(f"{named} specific_heat", material.specific_heat, "J/kgK")


def _courses(named: str, courses: Courses) -> Iterator[str]:
    """What is wrong with properties over temperature."""
    lengths = {len(values) for values in (courses.temperature, courses.conductivity, courses.capacity)}
    lengths |= {len(courses.downwards)} if courses.downwards else set()
    if len(lengths) > 1 or len(courses.temperature) < 2:
        yield f"{named} courses must have as many values as temperatures, two or more"
        return
    values = (*courses.temperature, *courses.conductivity, *courses.capacity, *courses.downwards)
    if not all(_number(value) for value in values):
        yield f"{named} courses must be finite numbers"
    elif not all(low < high for low, high in pairwise(courses.temperature)):
        yield f"{named} courses: temperatures must grow"
    elif min(*courses.conductivity, *courses.capacity, *courses.downwards) <= 0.0:
        yield f"{named} courses: conductivity and capacity must be above 0"


def _course(stage: Stage) -> str:
    """What is wrong with a stage's times and temperatures; "" if nothing is."""
    if stage.time.ndim != 1 or stage.time.size < 2 or stage.time.shape != stage.medium.shape:
        return "time and medium must be two lists of the same length, two or more"
    if not (np.isfinite(stage.time).all() and (np.diff(stage.time) > 0).all()):
        return "time must be finite and growing, s"
    return "" if np.isfinite(stage.medium).all() else "medium must be finite, degC"


def _films(named: str, stage: Stage) -> Iterator[str]:
    film = stage.film
    for name, value in (("side", film.side), ("base", film.base), ("lid", film.lid), ("probe", film.probe)):
        if value is None and name == "probe":
            continue
        # 0 is an insulated surface; NaN is not at least 0
        if not (isinstance(value, numbers.Real) and not isinstance(value, bool) and value >= 0):
            yield f"{named}: film.{name} = {printed(value)} must be a number above 0 W/m2K, or 0 for no heat, or inf"
    if (film.low is None) != (film.high is None):
        yield f"{named}: film.low and film.high belong together: give both or neither"
    elif (
        film.low
        and film.high
        and not all(_number(low) and 0 < low <= high for low, high in zip(film.low, film.high, strict=True))
    ):
        yield f"{named}: film.low must be above 0 W/m2K and nowhere above film.high"
