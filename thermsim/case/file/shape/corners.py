"""The points of a case file's profile_mm, heights and radii of the side wall's inside, and its rounded corners."""

from __future__ import annotations

import math

from thermsim.case.container import Container
from thermsim.case.file.places import Places
from thermsim.case.keys.checks import Table, number
from thermsim.case.keys.systems import in_own_units
from thermsim.case.profile import Profile
from thermsim.text import printed

_PATH = "container.profile"
#: Heights of points nearer to each other are a slip of the pen [m].
CLOSEST = 0.1e-3
_WRITTEN = "[[0, radius], [height, radius], ...], heights above the inside of the base"


def profile_of_points(table: Table, places: Places) -> Profile | None:
    """The profile of profile_mm and rounding_mm: sharp where its rounding, ``None`` where its points are at fault."""
    value = table.entries["profile_mm"]
    if not isinstance(value, list) or not all(isinstance(point, list) for point in value):
        table.fault(f"profile_mm = {printed(value)} is not a list of points; write {_WRITTEN}")
        return None
    places.labels[f"{_PATH}.corners"] = table, "profile_mm"
    for place, point in enumerate(value):
        places.labels[f"{_PATH}.corners[{place}]"] = table, f"profile_mm: point {place + 1} = {printed(point)}"
    places.label(f"{_PATH}.rounding", table, "rounding_mm")
    base = table.entries.get("base")
    thickness = in_own_units(base, "container.wall").get("thickness_mm") if isinstance(base, dict) else None
    sharp = Profile(tuple(tuple(_metres(one) for one in point) for point in value))  # type: ignore[misc]
    if places.report(sharp.faults(_PATH, _metres(thickness), CLOSEST)) or places.report(
        Container(sharp).size_faults()
    ):
        for path in [path for path in places.labels if path.startswith(f"{_PATH}.corners")]:
            del places.labels[path]
        return None
    rounding = number(table, "rounding_mm") if "rounding_mm" in table.entries else math.nan
    rounded = Profile(sharp.corners, 0.0 if math.isnan(rounding) else rounding)
    return sharp if places.report(rounded.faults(_PATH)) else rounded


def _metres(value: object) -> float:
    """A length in metres; NaN where it is none."""
    if isinstance(value, bool) or not isinstance(value, int | float) or abs(value) >= 10**15:
        return math.nan
    return value / 1000
