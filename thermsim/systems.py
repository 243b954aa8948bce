"""Finished texts in the units that the reader asked for: a number goes over together with its unit, or not at all.

Texts are built in SI units and millimetres wherever they are built; what stands on a screen, a sheet or a page passes
through here once. Keys, JSON and results files do not.
"""

from __future__ import annotations

import contextlib
import math
import re
from collections.abc import Iterator, Sequence

from thermsim.quantities import DIFFERENCE, LENGTH, MASS, ROWS, SHOWN, TEMPERATURE, Quantity, System

SYSTEMS: tuple[System, ...] = ("metric", "us")

#: The rows that have another unit, by theirs and by how it is set on a page.
_BY_UNIT: dict[str, Quantity] = {
    unit: row
    for row in ROWS[::-1]
    if row.others
    for unit in (row.unit, row.unit.replace("m2", "m²").replace("m3", "m³"), row.unit.replace("deg", "°"))
}
#: So many pounds and more are told as pounds.
POUNDS = 2.0
_NUMBER = r"[+\-−]?\d+(?:\.\d+)?"
#: What may not stand before: the rest of a number, as in 24 000, 1e+04, 10-15 or 1/2.
_WHOLE = r"(?<![\w.])(?<!\d[ \u00a0\-−–/])(?<![eE][+\-])"
_JOINED = r"(?:,[ \u00a0](?:[a-z] = )?|[ \u00a0](?:to|and at most|and|or|x|×|\+|\+-|±|/)[ \u00a0])"
_UNIT = "|".join(re.escape(unit) for unit in sorted(_BY_UNIT, key=len, reverse=True))
#: Numbers that share a unit: "32.6 to 46.4 mm", "25.4 + 12.7 mm", "3.0 × 80.0 mm", "6.2 +- 0.1 mm",
#: "[18.0, 40.0] mm", "r = 5.1, z = 68.1 mm". A line may end between the last and its unit.
_AMOUNT = re.compile(rf"{_WHOLE}({_NUMBER}(?:{_JOINED}{_NUMBER})*)(\]?[ \u00a0\n])({_UNIT})(?![\w/²³])")
#: A value and its interval with one unit behind both: "58.3 (57.9 to 58.8) mm".
_INTERVAL = re.compile(rf"{_WHOLE}({_NUMBER})( \()({_NUMBER})( to )({_NUMBER})(\)[ \u00a0\n])({_UNIT})(?![\w/²³])")
#: Somebody's own words; a quote behind a letter or a number opens none: it may stand for inches, as in 1/8" rod.
_QUOTED = re.compile(r'((?<!\w)"[^"]*"(?!\w))')
#: A unit in the label of an axis.
_AXIS = re.compile(rf"\[({_UNIT})\]")
#: A unit at the end of a column's head.
_HEAD = re.compile(rf"([,\[])( ?)({_UNIT})(\]?)$")


@contextlib.contextmanager
def shown_in(system: System) -> Iterator[None]:
    """Within this, texts are told in the units of a system."""
    token = SHOWN.set(system)
    try:
        yield
    finally:
        SHOWN.reset(token)


def row_shown(row: Quantity) -> Quantity:
    """A quantity in the unit that is asked for."""
    return row if SHOWN.get() == "metric" or not row.others else row.others[0]


def told(text: str) -> str:
    """A text in the units that are asked for; what stands in double quotes is somebody's own and stays."""
    if SHOWN.get() == "metric":
        return text
    return "".join(
        part if k % 2 else _AMOUNT.sub(_amount, _INTERVAL.sub(_interval, part))
        for k, part in enumerate(_QUOTED.split(text))
    )


def told_bare(text: str, row: Quantity = LENGTH) -> str:
    """A text whose numbers are all of one quantity, with or without their unit, as on a drawing."""
    if SHOWN.get() == "metric" or not row.others:
        return text
    if _AMOUNT.search(text):
        return told(text)
    return re.sub(_NUMBER, lambda found: _number(found[0], row), text)


def told_columns(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> tuple[list[str], list[list[str]]]:
    """A table in the units that are asked for; the first column, the rows' names, stays unless its head has a unit.

    A head may end with the unit of what stands below it: ", mm" or "[mm]".
    """
    if SHOWN.get() == "metric":
        return [*heads], [[*row] for row in rows]
    told_heads: list[str] = []
    told_rows = [[*row] for row in rows]
    for k, head in enumerate(heads):
        unit = _HEAD.search(head)
        other = "" if unit is None else f"{head[: unit.start()]}{unit[1]}{unit[2]}{_other(unit[3])}{unit[4]}"
        told_heads.append(other or told(head))
        for cells in told_rows:
            if unit is not None:
                cells[k] = told_bare(cells[k], _BY_UNIT[unit[3]])
            elif k:
                cells[k] = told(cells[k])
    return told_heads, told_rows


def told_axis(label: str) -> tuple[Quantity | None, str]:
    """The quantity along an axis whose label names its unit as "[mm]", and the label in the unit asked for.

    The quantity is None where there is nothing to change.
    """
    found = _AXIS.search(label)
    if SHOWN.get() == "metric" or found is None:
        return None, told(label)
    row = _BY_UNIT[found[1]]
    return row, f"{told(label[: found.start()])}[{_other(found[1])}]{told(label[found.end() :])}"


def nominal(length: float) -> str:
    """A length by which hardware is called [m], as a "150 mm" or a "3 in" probe: it is not measured."""
    row = row_shown(LENGTH)
    return f"{round(row.edge(length), 2 if row is LENGTH else row.digits):g} {row.unit}"


def told_lengths() -> str:
    """The unit of lengths on a drawing, in words."""
    return LENGTH.unit if SHOWN.get() == "metric" else "inches"


def _other_row(row: Quantity, number: str) -> Quantity:
    """The other unit of a quantity; of a mass below two pounds the ounce, as scales show it."""
    usual = row.others[0]
    light = row is MASS and usual.edge(row.si_value(float(number.replace("−", "-")))) < POUNDS
    return row.others[1] if light else usual


def _amount(found: re.Match[str]) -> str:
    row = _BY_UNIT[found[3]]
    parts = re.split(rf"({_JOINED})", found[1])
    other = _other_row(row, parts[-1])
    for k in range(0, len(parts), 2):
        # what follows a "+-" is an uncertainty, and so a difference
        uncertain = k > 0 and parts[k - 1].strip(" \u00a0") in ("+-", "±")
        difference = uncertain and row is TEMPERATURE
        parts[k] = _number(parts[k], *((DIFFERENCE,) if difference else (row, other)))
    return f"{''.join(parts)}{found[2]}{_other(found[3], other)}"


def _interval(found: re.Match[str]) -> str:
    row = _BY_UNIT[found[7]]
    value, low, high = (_number(found[k], row) for k in (1, 3, 5))
    return f"{value}{found[2]}{low}{found[4]}{high}{found[6]}{_other(found[7])}"


def _other(unit: str, row: Quantity | None = None) -> str:
    """The other unit of what is told in one, the usual one unless it is given, set likewise."""
    other = (row or _BY_UNIT[unit].others[0]).unit
    if set(unit) & {"²", "³"}:
        other = other.replace("2", "²").replace("3", "³")
    return other.replace("deg", "°") if unit.startswith("°") else other


def _number(text: str, row: Quantity, other: Quantity | None = None) -> str:
    """A number as text in the other unit of its quantity, as fine as it was, or somewhat finer."""
    other = other or row.others[0]
    minus, digits = text.startswith(("-", "−")), len(text.partition(".")[2])
    value = float(text.replace("−", "-"))
    shown = other.edge(row.si_value(value))
    # 54.4444 degC were given as 130 degF, and 8.8889 K as 16
    exact = (row is TEMPERATURE and digits > row.digits) or (row is DIFFERENCE and digits > 3)
    step = abs(other.edge(row.si_value(10.0**-digits)) - other.zero)
    decimals = max(math.ceil(-math.log10(step) - 1e-9), 0)
    if row.si in ("m", "kg"):
        decimals = other.digits
    elif exact:
        decimals = row.digits
    elif digits == 0:  # a round number is taken for an exact one, of four digits at most
        leading = math.floor(math.log10(max(abs(shown), 1.0))) + 1
        decimals = max(decimals, min(other.digits, 4 - leading))
    told_ = f"{round(shown, decimals) + 0.0:.{decimals}f}"
    if (digits == 0 or exact) and "." in told_:
        told_ = told_.rstrip("0").rstrip(".")
    if text.startswith("−"):
        told_ = told_.replace("-", "−")
    return f"+{told_}" if text.startswith("+") and not minus else told_
