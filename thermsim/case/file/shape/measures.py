"""From what can be measured of a container, outside or inside, over its seams or by filling it, to its inside."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from thermsim.case.container import Seam
from thermsim.case.file.shape.sizes import say_size, size
from thermsim.case.keys.checks import Table
from thermsim.case.keys.tables import DIAMETER_KEYS, HEIGHT_KEYS
from thermsim.case.profile import Profile, straight
from thermsim.text import in_mm, listed

#: Measures of one length that differ by no more agree: what callipers and a dented can leave open (common practice,
#: no source) [m].
AGREES = 0.5e-3
#: Part by which a brimful volume may differ from that of the measures: corners that are rounded, a neck, a bead (our
#: own limit, no source).
SCALED = 0.10
_TAPER = "must be one number, or [at the base, at the lid] for a taper; for other shapes write profile_mm"
Ends = tuple[float, float]


@dataclass(frozen=True)
class Thickness:
    """Thicknesses of the walls [m], 0 where there is none; of the side wall at the base and at the lid."""

    side: Ends
    base: float
    lid: float

    @property
    def panels(self) -> float:
        """Base and lid together [m]."""
        return self.base + self.lid


@dataclass(frozen=True)
class Given:
    """Facts given of a container of revolution: its table and walls, and the ``notes`` that get what was assumed.

    ``below`` gives the volume [m3] that a rising base takes from a profile's inside.
    """

    table: Table
    walls: Thickness
    below: Callable[[Profile], float]
    notes: list[str]


@dataclass(frozen=True)
class Measured:
    """The inside as it follows from the measures, and what is known of the seams; lengths at fault are NaN.

    ``scaled`` is the factor that its radii were given to hold a volume.
    """

    profile: Profile
    seam: Seam | None = None
    scaled: float = 1.0


NOTHING = Measured(straight(math.nan, math.nan))


def measured(given: Given, profile: Profile | None) -> Measured:
    """The inside of a container of revolution by its measures; the ``profile``, where it is given point by point."""
    table, walls = given.table, given.walls
    # depth of the panels of base and lid below their seams' edges
    sinks = table.pair("countersink_mm", "must be one number, or [of the base, of the lid]")
    if profile is not None:
        scaled = _scale(given, profile)
        return Measured(_larger(profile, scaled), _seam(given, sinks, None, None), scaled)
    over = size(table) if "size" in table else (None, None)
    if over is None:
        return NOTHING
    wide = over[0] if over[0] is not None else table.given_number("diameter_over_seams_mm")
    high = over[1] if over[1] is not None else table.given_number("height_over_seams_mm")
    height = _height(table, walls, sinks, high)
    ends = _ends(table, walls, wide, height)
    brimful = "brimful_ml" in table
    if height is None and not brimful:
        table.missing("inner_height_mm", " (or outer_height_mm, height_over_seams_mm, brimful_ml)")
    if ends is None and not brimful:
        table.missing("inner_diameter_mm", " (or outer_diameter_mm, diameter_over_seams_mm, brimful_ml)")
    if brimful and ends is None and height is None:
        table.fault(f"{table.shown('brimful_ml')} needs a diameter or a height beside it")
        return NOTHING
    scaled = 1.0
    if ends is None or height is None:
        found = _solved(given, ends, height) if brimful else NOTHING.profile
    else:
        found = Profile(((0.0, ends[0] / 2), (height, ends[1] / 2)))
        _say_inside(given, found, over != (None, None))
        scaled = _scale(given, found)
        found = _larger(found, scaled)
    seam = _seam(given, sinks, wide, None if high is None else high - found.height)
    if "size" in table and seam is not None and not math.isnan(found.height + found.widest):
        inside = 2 * found.widest, found.height
        gross = seam.lid + walls.lid if sinks else ((high or math.nan) - found.height) / 2
        say_size(table, (wide or math.nan, high or math.nan), inside, gross, given.notes)
    return Measured(found, seam, scaled)


def _clash(table: Table, first: str, second: str, why: str) -> None:
    table.fault(
        f"{table.shown(first)} and {table.shown(second)} contradict each other: {why}; correct one of them or "
        "leave it out"
    )


# ---- heights ----


def _height(table: Table, walls: Thickness, sinks: Ends | None, over_seams: float | None) -> float | None:
    """Inner height [m] by whichever way it is given; None where it is left out."""
    if sinks is not None and "countersink_allowance_mm" in table:
        table.fault("countersink_mm and countersink_allowance_mm are given together; give one of them")
    found: list[tuple[str, float, str]] = []
    for name, taken, why in (
        ("inner_height_mm", 0.0, ""),
        ("outer_height_mm", walls.panels, f"the outside less base and lid, {in_mm(walls.panels)} mm,"),
    ):
        value = table.given_number(name)
        if value is not None:
            found.append((name, value - taken, why))
    if over_seams is not None:
        name = "size" if "size" in table else "height_over_seams_mm"
        less: float | None = None
        if sinks is not None:
            less = sum(sinks) + walls.panels
            why = f"the height over the seams less countersinks, base and lid, {in_mm(less)} mm,"
        elif "countersink_allowance_mm" in table or not found:
            less = table.number("countersink_allowance_mm")
            why = f"the height over the seams less an allowance of {in_mm(less)} mm"
        if less is not None:
            found.append((name, over_seams - less, why))
        else:
            _room(table, found[0][0], name, over_seams - found[0][1] - walls.panels, "countersink_mm", ends=2)
    return _agreed(table, found, "height")


def _room(table: Table, inner: str, over: str, left: float, limit: str, ends: int) -> None:
    """Refuse sizes over the seams that leave less than nothing, or too much, for the seams."""
    most = table.keys[limit].quantity.si_value(table.keys[limit].high) * ends
    if left < -AGREES or left > most + AGREES:
        _clash(
            table, inner, over, f"they leave {in_mm(left)} mm for the seams, and 0 to {in_mm(most)} mm are possible"
        )


def _agreed(table: Table, found: list[tuple[str, float, str]], what: str) -> float | None:
    """The first of several measures of one inner length [m]; the others must agree with it."""
    if not found:
        return None
    first, value, _ = found[0]
    for name, other, why in found[1:]:
        if abs(other - value) > AGREES:
            _clash(table, first, name, f"{why} leaves {in_mm(other)} mm inside, not {in_mm(value)} mm")
    least = table.keys[f"inner_{what}_mm"].low
    if 1000.0 * value < least and not first.startswith("inner"):
        table.fault(
            f"{table.shown(first)} leaves an inner {what} of {1000 * value:.4g} mm; at least {least:g} mm are needed"
        )
        return math.nan
    return value


# ---- diameters ----


def _ends(table: Table, walls: Thickness, over_seams: float | None, height: float | None) -> Ends | None:
    """Inner diameters at base and lid [m] by whichever way they are given; None where they are left out."""
    found: list[tuple[str, Ends, str]] = []
    inner = table.pair("inner_diameter_mm", _TAPER)
    if inner is not None:
        found.append(("inner_diameter_mm", inner, ""))
    outer = table.pair("outer_diameter_mm", _TAPER)
    if outer is not None:
        thick = " and ".join(dict.fromkeys(in_mm(side) for side in walls.side))
        found.append(
            ("outer_diameter_mm", _within(outer, walls.side, height), f"the outside less {thick} mm of side")
        )
    if over_seams is not None:
        name = "size" if "size" in table else "diameter_over_seams_mm"
        if "seam_allowance_mm" in table or not found:
            less = table.number("seam_allowance_mm")
            why = f"the diameter over the seams less an allowance of {in_mm(less)} mm"
            found.append((name, (over_seams - less,) * 2, why))
        else:
            _room(table, found[0][0], name, over_seams - max(found[0][1]), "seam_allowance_mm", ends=1)
    if not found:
        return None
    ends = [
        _agreed(table, [(name, pair[place], why) for name, pair, why in found], "diameter")
        for place in range(2 if any(pair[0] != pair[1] for _, pair, _ in found) else 1)
    ]
    first, last = ends[0], ends[-1]
    return None if first is None or last is None else (first, last)


def _within(outer: Ends, side: Ends, height: float | None) -> Ends:
    """Inner diameters [m] of a side wall whose thickness is measured at right angles to its inner side."""
    leans, inner = 1.0, outer
    # the slope of the inside decides how far the wall reaches, level; it hardly changes with that
    for _ in range(8 if height else 1):
        inner = outer[0] - 2.0 * leans * side[0], outer[1] - 2.0 * leans * side[1]
        leans = math.hypot(1.0, (inner[1] - inner[0]) / 2.0 / height) if height else 1.0
    return inner


def _as_written(given: Given, name: str) -> str:
    """A key with its value as the file has it, in whichever units."""
    return getattr(given.table.entries[name], "said", "") or given.table.shown(name)


def _say_inside(given: Given, profile: Profile, traded: bool) -> None:
    """Say what inside was taken where it was measured otherwise."""
    names = [name for name in (*DIAMETER_KEYS, *HEIGHT_KEYS) if name in given.table]
    if traded or not names or {"inner_diameter_mm", "inner_height_mm"} <= set(names):
        return
    # so fine that inches can be told of it
    wide = " to ".join(dict.fromkeys(f"{round(2000 * radius, 2):g}" for _, radius in profile.corners))
    given.notes.append(
        f"Inside it is taken as {wide} mm wide and {round(1000 * profile.height, 2):g} mm high, from "
        f"{listed([_as_written(given, name) for name in names])} less walls"
        f"{' and seams' if any('seams' in name for name in names) else ''}."
    )


# ---- brimful volume ----


def _solved(given: Given, ends: Ends | None, height: float | None) -> Profile:
    """The inside whose diameter or whose height follows from the volume that it holds."""
    table = given.table
    wanted = table.number("brimful_ml")
    known = wanted + (sum(ends) if ends else 0.0) + (height or 0.0)
    if math.isnan(known):
        return NOTHING.profile

    def shape(unknown: float) -> Profile:
        if ends is None:
            return straight(unknown, height or math.nan)
        inner = ends
        if "inner_diameter_mm" not in table and "outer_diameter_mm" in table:
            inner = _within(table.pair("outer_diameter_mm", _TAPER) or ends, given.walls.side, unknown)
        return Profile(((0.0, inner[0] / 2), (unknown, inner[1] / 2)))

    what = "inner_diameter_mm" if ends is None else "inner_height_mm"
    key = table.keys[what]
    low, high = key.quantity.si_value(key.low), key.quantity.si_value(key.high)
    found = _root(lambda unknown: _holds(shape(unknown), given.below) - wanted, low, high)
    words = "inner diameter" if ends is None else "inner height"
    if found is None:
        table.fault(
            f"{table.shown('brimful_ml')} gives no {words} from {key.low:g} to {key.high:g} mm with "
            f"{table.shown(next(name for name in (*DIAMETER_KEYS, *HEIGHT_KEYS, 'size') if name in table))}"
        )
        return NOTHING.profile
    given.notes.append(
        f"The {words} is solved for: {1000 * found:.1f} mm, with which the inside holds {1e6 * wanted:.5g} ml to the "
        "brim; it is taken as straight, without rounded corners, beads or a neck."
    )
    return shape(found)


def _larger(profile: Profile, factor: float) -> Profile:
    """A profile with its radii so many times as large."""
    if factor == 1.0:
        return profile
    return Profile(tuple((height, factor * radius) for height, radius in profile.corners), profile.rounding)


def _scale(given: Given, profile: Profile) -> float:
    """The factor by which a profile's radii must be larger for it to hold the volume that is given, if any."""
    table = given.table
    wanted = table.given_number("brimful_ml")
    if wanted is None or math.isnan(wanted + profile.height + profile.widest):
        return 1.0
    holds = _holds(profile, given.below)
    by = 1e6 * holds
    if math.isnan(holds):  # its base is at fault, which is said
        return 1.0
    if not abs(holds / wanted - 1.0) <= SCALED:
        names = [name for name in table.entries if name in (*DIAMETER_KEYS, *HEIGHT_KEYS, "profile_mm", "size")]
        table.fault(
            f"{table.shown('brimful_ml')} and {listed([table.shown(name) for name in names])} contradict each "
            f"other: by these it holds {by:.4g} ml; they may differ by {100 * SCALED:g} % at most. Correct one of "
            "them, or give its shape by profile_mm"
        )
        return 1.0

    factor = _root(lambda one: _holds(_larger(profile, one), given.below) - wanted, 0.8, 1.25)
    if factor is None:
        return 1.0
    if abs(factor - 1.0) > 1e-9:
        given.notes.append(
            f"By its measures it would hold {by:.4g} ml, brimful it holds {1e6 * wanted:.4g} ml: its inner diameters "
            f"are scaled by {factor:.4f}, to {2000 * factor * profile.widest:.1f} mm at the widest; heights stay."
        )
    return factor


def _holds(profile: Profile, below: Callable[[Profile], float]) -> float:
    """Volume [m3] that a profile holds over a base that may rise."""
    return profile.volume(profile.height) - below(profile)


def _root(function: Callable[[float], float], low: float, high: float) -> float | None:
    """Root of a growing function between two ends; None where it is not."""
    if not function(low) <= 0.0 <= function(high):
        return None
    from scipy.optimize import brentq  # only here: reading a case is to be quick

    return float(brentq(function, low, high, xtol=1e-13, rtol=1e-13))


# ---- seams ----


def _seam(given: Given, sinks: Ends | None, over: float | None, beyond: float | None) -> Seam | None:
    """The seams; ``over`` is their diameter, ``beyond`` how much higher they are than the inside [m]."""
    table = given.table
    if over is None and sinks is None and beyond is None:
        return None
    assumed = sinks is None and not (beyond and {"inner_height_mm", "outer_height_mm"} & set(table.entries))
    if sinks is None:
        allowance = table.number("countersink_allowance_mm") if beyond is None else beyond
        sinks = (max((allowance - given.walls.panels) / 2, 0.0),) * 2
    if math.isnan(sum(sinks)):
        return None
    if assumed and not {"countersink_allowance_mm", "size"} & set(table.entries):
        given.notes.append(
            f"The top of the seam is taken to stand {1000 * sinks[1]:.1f} mm above the outer face of the lid's panel "
            "(common practice, no source): measure a can's countersink and give it as countersink_mm."
        )
    return Seam(None if over is None else over / 2, sinks[1], sinks[0], assumed)
