"""From the [container] table of a case file to the container: its shape, its walls and its seams."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from typing import TypeAlias

from thermsim.case.container import Container, Wall
from thermsim.case.file.context import Context
from thermsim.case.file.shape.measures import NOTHING, Given, Measured, Thickness, measured
from thermsim.case.file.shape.sizes import brick
from thermsim.case.file.substances import material
from thermsim.case.keys.checks import Table
from thermsim.case.keys.systems import in_own_units
from thermsim.case.keys.tables import BASE_RISES, SHAPE_KEYS, WHOLE_SHAPES
from thermsim.case.profile import Profile, Rise, straight
from thermsim.text import printed

_WAYS = "a diameter with a height (inner_diameter_mm, inner_height_mm), profile_mm, size or brick_mm"
_OVER = "diameter_over_seams_mm"
# Keys that have a meaning only beside one of others.
_BESIDE = {
    "rounding_mm": ("profile_mm",),
    "seam_allowance_mm": ("size", _OVER),
    "countersink_allowance_mm": ("size", "height_over_seams_mm"),
    "base_rise_form": ("base_rise_mm",),
    "base_rise_diameter_mm": ("base_rise_mm",),
}
#: Heights of points nearer to each other are a slip of the pen [m].
CLOSEST = 0.1e-3
_POINTS = "[[0, radius], [height, radius], ...], heights above the inside of the base"
_PATH = "container.profile"
#: A wall's table and its thickness [m], one number or several.
Walled: TypeAlias = tuple[Table, tuple[float, ...]]
#: Height of a base's rise and its diameter, None for that of the inside [m], and its form.
Rising: TypeAlias = tuple[float, float | None, str]


def _contact(wall: Table, context: Context) -> float:
    """Thermal resistance of a wall's label or sleeve [m2K/W]: as given, or by its material and thickness."""
    if "label" not in wall and "label_mm" not in wall:
        return wall.given_number("contact_m2K_W") or 0.0
    wall.refuse(["contact_m2K_W"], "is what label and label_mm give; leave it or them out")
    return wall.number("label_mm") / material(wall, context, "label").conductivity


def container(top: Table, context: Context) -> Container:
    """The container; lengths of its shape that are at fault are NaN."""
    table = top.child("container", required=True)
    context.tables["container"] = table
    thick = {name: _thickness(table, name, context) for name in ("side", "base", "lid") if name in table}
    rising = _rising(table)
    found = _shape(table, thick, rising, context)
    profile = found.profile
    for name, others in _BESIDE.items():
        if not any(other in table or other in table.meant for other in others):
            table.refuse((name,), f"has a meaning only beside {' or '.join(others)}; leave it out")
    rise = _rise(table, rising, profile, context)
    walls: dict[str, Wall | None] = {}
    for name in ("side", "base", "lid"):
        walls[name] = None
        if name in thick:
            wall, course = thick[name]
            made_of, contact = material(wall, context), _contact(wall, context)
            walls[name] = Wall(made_of, *_largest(wall, course, profile), contact)
        elif not table.absent:
            what = name if name == "side" else f"{name} wall"
            context.notes.append(f"No {what} is given: what is behind it meets the medium.")
    made = Container(
        profile,
        **walls,
        initial=table.given_number("initial_C"),
        rise=rise,
        stands_in="brick_mm" in table,
        seam=found.seam,
        scaled=found.scaled,
        brick=_sides(table) if "brick_mm" in table and not math.isnan(profile.height) else None,
    )
    wrong = context.report(made.faults())
    if any(path.startswith("container.rise") for path in wrong):
        made = dataclasses.replace(made, rise=None)
    if made.side is not None and "container.side.course" in wrong:
        made = dataclasses.replace(made, side=dataclasses.replace(made.side, thickness=math.nan, course=()))
    return made


def _shape(table: Table, thick: Mapping[str, Walled], rising: Rising | None, context: Context) -> Measured:
    """The inside of the side wall, in whichever way it is given, and the seams."""
    given = [name for name in SHAPE_KEYS if name in table]
    if not given:
        if "brimful_ml" in table and not table.meant & set(SHAPE_KEYS):
            table.fault("brimful_ml alone is no size; give a diameter or a height beside it, or profile_mm")
            return NOTHING
        if not (table.absent or table.meant & set(SHAPE_KEYS)):
            table.fault(f"its size is missing; give exactly one of {_WAYS}")
            return NOTHING
        given = [name for name in SHAPE_KEYS if name in table.meant][:1]
    whole = [name for name in given if name in WHOLE_SHAPES]
    if whole and len(given) > 1 and (whole != ["size"] or "height_over_seams_mm" in given or _OVER in given):
        table.fault(f"{', '.join(given)} are given together; give exactly one of {_WAYS}")
        return NOTHING
    if whole == ["brick_mm"]:
        table.refuse(("brimful_ml",), "has no meaning beside brick_mm; leave it out")
        sizes = brick(table, context.notes) if "brick_mm" in table else None
        return NOTHING if sizes is None else Measured(straight(*sizes))
    profile = None
    if whole == ["profile_mm"]:
        profile = _profile_of_points(table, context) if "profile_mm" in table else None
        if profile is None:
            return NOTHING
    side, base, lid = (thick[name][1] if name in thick else (0.0,) for name in ("side", "base", "lid"))
    walls = Thickness((side[0], side[-1]) if side else (math.nan,) * 2, base[0], lid[0])
    given_so = Given(table, walls, lambda inside: _rise_in(inside, rising).volume if rising else 0.0, context.notes)
    return measured(given_so, profile)


def _profile_of_points(table: Table, context: Context) -> Profile | None:
    """The profile of profile_mm and rounding_mm: sharp where its rounding, ``None`` where its points are at fault."""
    value = table.entries["profile_mm"]
    if not isinstance(value, list) or not all(isinstance(point, list) for point in value):
        table.fault(f"profile_mm = {printed(value)} is not a list of points; write {_POINTS}")
        return None
    context.labels[f"{_PATH}.corners"] = table, "profile_mm"
    for place, point in enumerate(value):
        context.labels[f"{_PATH}.corners[{place}]"] = table, f"profile_mm: point {place + 1} = {printed(point)}"
    context.label(f"{_PATH}.rounding", table, "rounding_mm")
    base = table.entries.get("base")
    thickness = in_own_units(base, "container.wall").get("thickness_mm") if isinstance(base, dict) else None
    sharp = Profile(tuple(tuple(_metres(one) for one in point) for point in value))  # type: ignore[misc]
    if context.report(sharp.faults(_PATH, _metres(thickness), CLOSEST)) or context.report(
        Container(sharp).size_faults()
    ):
        for path in [path for path in context.labels if path.startswith(f"{_PATH}.corners")]:
            del context.labels[path]
        return None
    rounding = table.number("rounding_mm") if "rounding_mm" in table else math.nan
    rounded = Profile(sharp.corners, 0.0 if math.isnan(rounding) else rounding)
    return sharp if context.report(rounded.faults(_PATH)) else rounded


def _metres(value: object) -> float:
    """A length in metres; NaN where it is none."""
    if isinstance(value, bool) or not isinstance(value, int | float) or abs(value) >= 10**15:
        return math.nan
    return value / 1000


def _sides(table: Table) -> tuple[float, float, float]:
    """Length, width and thickness of a brick that was found to be without fault [m]."""
    length, width, thickness = table.numbers("brick_mm")
    return length, width, thickness


def _rising(table: Table) -> Rising | None:
    """Rise of the base as it is written; ``None`` where it is level."""
    if "base_rise_mm" not in table:
        return None
    form = table.given_word("base_rise_form", BASE_RISES)
    form = "dome" if form is None else form
    return table.number("base_rise_mm"), table.given_number("base_rise_diameter_mm"), form


def _rise_in(inside: Profile, rising: Rising) -> Rise:
    """A rise as written in an inside."""
    high, wide, form = rising
    return Rise(high, 2 * inside.corners[0][1] if wide is None else wide, "cone" if form == "cone" else "dome")


def _rise(table: Table, rising: Rising | None, profile: Profile, context: Context) -> Rise | None:
    """Rise of the base; ``None`` where it is level or where what is said of it is at fault."""
    if rising is None:
        return None
    if "brick_mm" in table:
        table.fault(f"{table.shown('base_rise_mm')} has no meaning beside brick_mm; leave it out")
        return None
    found = _rise_in(profile, rising)
    if math.isnan(found.height + found.diameter + profile.corners[0][1] + profile.height) or not rising[2]:
        return None
    for field, key in (("height", "base_rise_mm"), ("diameter", "base_rise_diameter_mm"), ("form", "base_rise_form")):
        context.label(f"container.rise.{field}", table, key)
    return found


def _thickness(table: Table, name: str, context: Context) -> Walled:
    """The table of a wall and its thickness [m], that of a side perhaps a list; NaN where it is at fault."""
    written = f'{name} = {{ material = "...", thickness_mm = ... }}'
    wall = table.child(name, "container.wall", where=f"[container] {name}", written=written)
    context.tables[f"container.{name}"] = wall
    value = wall.entries.get("thickness_mm")
    if not isinstance(value, list):
        return wall, (wall.number("thickness_mm"),)
    if name == "side":
        context.label("container.side.course", wall, "thickness_mm")
        return wall, wall.numbers("thickness_mm")
    wall.fault(f"thickness_mm = {printed(value)}: a {name} has one thickness; write one number")
    return wall, (math.nan,)


def _largest(wall: Table, course: tuple[float, ...], profile: Profile) -> tuple[float, tuple[float, ...]]:
    """Largest thickness of a wall [m] and its course along the profile, empty where it is even."""
    if not isinstance(wall.entries.get("thickness_mm"), list):
        return course[0], ()
    if math.isnan(profile.height + profile.widest) or any(math.isnan(thickness) for thickness in course):
        return math.nan, ()
    even = len(course) == len(profile.corners) and len(set(course)) == 1
    return max(course, default=math.nan), () if even else course
