"""From the [container] table of a case file to the container: its shape, given in one of four ways, and its walls."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping

from thermsim.case.container import Container, Wall
from thermsim.case.file.corners import profile_of_points
from thermsim.case.file.places import Places
from thermsim.case.file.sizes import brick, size
from thermsim.case.file.substances import material
from thermsim.case.keys.checks import Table, child, given_number, number, numbers, word
from thermsim.case.keys.tables import BASE_RISES, SHAPE_KEYS
from thermsim.case.profile import Profile, Rise, straight
from thermsim.physics.materials import Material
from thermsim.text import printed

_UNKNOWN = straight(math.nan, math.nan)
_WAYS = "inner_diameter_mm with inner_height_mm, profile_mm, size or brick_mm"
# Keys that have a meaning only beside another.
_BESIDE = {
    "rounding_mm": "profile_mm",
    "seam_allowance_mm": "size",
    "countersink_allowance_mm": "size",
    "base_rise_form": "base_rise_mm",
    "base_rise_diameter_mm": "base_rise_mm",
}


def container(top: Table, own: Mapping[str, Material], used: set[str], notes: list[str], places: Places) -> Container:
    """The container; lengths of its shape that are at fault are NaN.

    Parameters
    ----------
    top : Table
    own : mapping of str to Material
        The case's own materials.
    used : set of str
        Names of materials that are used; those of the walls are added.
    notes : list of str
        Sentences for the user; those on sizes that were taken from others are added.
    places : Places
        Gets where the container's parts were read from.
    """
    table = child(top, "container", "container", "[container]", required=True)
    places.tables["container"] = table
    profile = _profile(table, places, notes)
    for name, other in _BESIDE.items():
        if name in table.entries and other not in table.entries and other not in table.meant:
            table.fault(f"{name} has a meaning only beside {other}; leave it out")
    rise = _rise(table, profile, places)
    walls: dict[str, Wall | None] = {}
    for name in ("side", "base", "lid"):
        walls[name] = None
        if name in table.entries:
            written = f'{name} = {{ material = "...", thickness_mm = ... }}'
            wall = child(table, name, "container.wall", f"[container] {name}", written=written)
            places.tables[f"container.{name}"] = wall
            if name == "side":
                places.label("container.side.course", wall, "thickness_mm")
            made_of = material(wall, own, used)
            thickness = _course(wall, profile) if name == "side" else _even(wall, name)
            walls[name] = Wall(made_of, thickness[0], thickness[1], given_number(wall, "contact_m2K_W") or 0.0)
        elif not table.absent:
            notes.append(f"No {name} wall is given: what is behind it meets the medium.".replace("side wall", "side"))
    found = Container(profile, walls["side"], walls["base"], walls["lid"], given_number(table, "initial_C"), rise)
    if "brick_mm" in table.entries:
        found = dataclasses.replace(found, stands_in=True)
    wrong = places.report(found.faults())
    if any(path.startswith("container.rise") for path in wrong):
        found = dataclasses.replace(found, rise=None)
    if found.side is not None and "container.side.course" in wrong:
        found = dataclasses.replace(found, side=dataclasses.replace(found.side, thickness=math.nan, course=()))
    return found


def _profile(table: Table, places: Places, notes: list[str]) -> Profile:
    """The inside of the side wall, in whichever way it is given."""
    given = [name for name in SHAPE_KEYS if name in table.entries]
    if not given:
        if not (table.absent or table.meant & set(SHAPE_KEYS)):
            table.fault(f"its size is missing; give exactly one of {_WAYS}")
            return _UNKNOWN
        given = [name for name in SHAPE_KEYS if name in table.meant][:1]
    ways = {name.replace("height", "diameter") for name in given}
    if len(ways) > 1:
        table.fault(f"{', '.join(given)} are given together; give exactly one of {_WAYS}")
        return _UNKNOWN
    if "inner_diameter_mm" in ways:
        return _cylinder(table)
    if "profile_mm" in table.entries:
        return profile_of_points(table, places) or _UNKNOWN
    sizes = None
    if "size" in table.entries:
        sizes = size(table, notes)
    elif "brick_mm" in table.entries:
        sizes = brick(table, notes)
    return _UNKNOWN if sizes is None else straight(*sizes)


def _cylinder(table: Table) -> Profile:
    """A straight container, or one with a straight taper."""
    value = table.entries.get("inner_diameter_mm")
    if not isinstance(value, list):
        return straight(number(table, "inner_diameter_mm"), number(table, "inner_height_mm"))
    ends, height = numbers(table, "inner_diameter_mm"), number(table, "inner_height_mm")
    if len(ends) != 2:
        table.fault(
            f"inner_diameter_mm = {printed(value)} must be one number, or [at the base, at the lid] for a taper; for "
            "other shapes write profile_mm"
        )
        return straight(math.nan, height)
    return Profile(((0.0, ends[0] / 2), (height, ends[1] / 2)))


def _rise(table: Table, profile: Profile, places: Places) -> Rise | None:
    """How the base rises; ``None`` where it is level or where what is said of it is at fault."""
    if "base_rise_mm" not in table.entries:
        return None
    high = number(table, "base_rise_mm")
    form = word(table, "base_rise_form", BASE_RISES) if "base_rise_form" in table.entries else "dome"
    foot = 2 * profile.corners[0][1]
    given = given_number(table, "base_rise_diameter_mm")
    wide = foot if given is None else given
    if "brick_mm" in table.entries:
        table.fault(
            f"base_rise_mm = {printed(table.entries['base_rise_mm'])} has no meaning beside brick_mm; leave it out"
        )
        return None
    if math.isnan(high + wide + foot + profile.height) or not form:
        return None
    for field, key in (("height", "base_rise_mm"), ("diameter", "base_rise_diameter_mm"), ("form", "base_rise_form")):
        places.label(f"container.rise.{field}", table, key)
    return Rise(high, wide, "cone" if form == "cone" else "dome")


def _even(wall: Table, name: str) -> tuple[float, tuple[float, ...]]:
    """Thickness of the base or the lid [m]."""
    value = wall.entries.get("thickness_mm")
    if isinstance(value, list):
        wall.fault(f"thickness_mm = {printed(value)}: a {name} has one thickness; write one number")
        return math.nan, ()
    return number(wall, "thickness_mm"), ()


def _course(wall: Table, profile: Profile) -> tuple[float, tuple[float, ...]]:
    """Largest thickness of the side wall [m] and its course along the profile, empty where it is even."""
    value = wall.entries.get("thickness_mm")
    if not isinstance(value, list):
        return number(wall, "thickness_mm"), ()
    course = numbers(wall, "thickness_mm")
    if math.isnan(profile.height + profile.widest) or any(math.isnan(thickness) for thickness in course):
        return math.nan, ()
    return max(course, default=math.nan), () if len(course) == len(profile.corners) and len(
        set(course)
    ) == 1 else course
