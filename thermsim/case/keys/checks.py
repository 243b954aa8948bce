"""Typed look-ups in the tables of a case file that collect every fault instead of stopping at the first.

A number at fault comes back as NaN and a word as "": neither can set off a second fault further on, and the
reader raises in the end.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from thermsim.case.keys.key import REQUIRED, Key, range_rule
from thermsim.case.keys.systems import given_twice, in_own_units
from thermsim.case.keys.tables import HEADINGS, MOST_TABLES, NEEDED, OTHERWISE, TABLES, keys_of, others_of
from thermsim.text import did_you_mean, nearest, plain, printed


@dataclass(frozen=True)
class Table:
    """One table of a case file: where it stands, what it holds, which keys it may hold.

    ``faults`` is the one list that all tables of the file share. ``meant`` are the keys that misspelt ones were
    taken for; ``absent`` a table that is not there (already a fault): neither is reported as missing again.
    """

    file: str
    where: str
    entries: Mapping[str, object]
    keys: Mapping[str, Key]
    faults: list[str] = field(repr=False)
    meant: frozenset[str] = frozenset()
    absent: bool = False

    def fault(self, message: str) -> None:
        """Add one line to the faults of the file."""
        self.faults.append(f"{self.file} {self.where}: {message}" if self.where else f"{self.file}: {message}")


def check_keys(table: Table, heading: str, tables: Sequence[str] = ()) -> Table:
    """Report keys that the table may not hold; ``tables`` are the names of tables that may stand in it.

    What stands under keys of the other system of units stands under the table's own in what is given back.
    """
    for fault in given_twice(table.entries, heading):
        table.fault(fault)
    table = dataclasses.replace(table, entries=in_own_units(table.entries, heading))
    meant: set[str] = set()
    allowed = [*table.keys, *(name for name in tables if name not in table.keys)]
    for name, value in table.entries.items():
        if name in allowed:
            continue
        better: Sequence[str]
        if name in OTHERWISE.get(heading, {}):
            better, how = OTHERWISE[heading][name]
            message = f'unknown key "{name}"; {how}'
        else:
            better, message = _unknown(name, value, heading, allowed, tables)
        meant.update(better)
        table.fault(message)
    return dataclasses.replace(table, meant=frozenset(meant))


def _heading(name: str, value: object) -> str:
    return f"[[{plain(name)}]]" if isinstance(value, list) else f"[{plain(name)}]"


def _unknown(
    name: str, value: object, heading: str, allowed: Sequence[str], tables: Sequence[str]
) -> tuple[list[str], str]:
    """Likely meaning of a key that is not allowed, and what to say about it."""
    nested = isinstance(value, dict) or (isinstance(value, list) and any(isinstance(item, dict) for item in value))
    if nested and not heading:
        close = nearest(name, tables)[:1]
        offer = f"did you mean {_heading(close[0], value)}?" if close else f"allowed here: {', '.join(tables)}"
        return close, f"unknown table {_heading(name, value)}; {offer}"
    shown = f'"{plain(name)}"'
    with_unit = [key for key in allowed if key.startswith(f"{name}_")][:1]
    if with_unit:
        return with_unit, f'key {shown} lacks its unit; did you mean "{with_unit[0]}"?'
    others = others_of(heading)
    close = nearest(name, [*allowed, *others])[:1]
    homes = [HEADINGS[other] for other in TABLES if name in keys_of(other) or name in others_of(other)]
    if homes and not (close and close[0].lower() == name.lower()):
        where = " or ".join(f"in {home}" if "[" in home else home for home in homes[:3])
        return [], f"unknown key {shown}; it belongs {where}"
    meant = [others[key][1].name if key in others else key for key in close]
    return meant, f"unknown key {shown}; {did_you_mean(name, close or allowed)}"


def child(parent: Table, name: str, heading: str, where: str, *, required: bool = False, written: str = "") -> Table:
    """The table ``name`` inside another; an absent one (see :class:`Table`) where there is none.

    ``where`` is how faults name its place, ``written`` how it is written if not under a heading of that name.
    """
    keys = keys_of(heading)
    value = parent.entries.get(name)
    if isinstance(value, dict):
        return check_keys(Table(parent.file, where, value, keys, parent.faults), heading, _inner_tables(heading))
    if value is not None:
        parent.fault(f"{name} = {printed(value)} is not a table; write {written or f'{where} and its keys below it'}")
    elif required and not parent.absent and name not in parent.meant:
        required_keys = ", ".join(key.name for key in keys.values() if key.default == REQUIRED)
        parent.fault(f"table {where} is missing; it needs {NEEDED.get(heading, required_keys)}")
    return Table(parent.file, where, {}, keys, parent.faults, absent=True)


def _inner_tables(heading: str) -> tuple[str, ...]:
    return {"container": ("side", "base", "lid"), "process": ("stage",), "study": ("vary",)}.get(heading, ())


def children(parent: Table, name: str, heading: str, *, where: str = "", written: str = "") -> list[Table]:
    """The tables of an array of tables, each with its number in its place.

    ``where`` is how faults name their place, ``written`` how they are written, where the heading does not say it.
    """
    value = parent.entries.get(name, [])
    where = where or HEADINGS[heading]
    most = parent.keys[name].most if name in parent.keys else MOST_TABLES[name]
    if isinstance(value, dict) and not written:
        parent.fault(f"{name} is a single table; write {where}, with double brackets, before each of them")
    elif not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
        how = written or f"{where} before each of them"
        parent.fault(f"{name} = {printed(value)} is not a list of tables; write {how}")
    elif len(value) > most:
        parent.fault(f"{name} holds {len(value)} tables; at most {most} are allowed")
    else:
        keys = keys_of(heading)
        return [
            check_keys(Table(parent.file, f"{where} no. {place}", item, keys, parent.faults), heading)
            for place, item in enumerate(value, start=1)
        ]
    return []


def missing(table: Table, name: str, reason: str = "") -> None:
    """Report a key that is left out, unless a misspelt one was taken for it."""
    if table.absent or name in table.meant:
        return
    key = table.keys[name]
    unit = f" [{key.unit}]" if key.unit else ""
    table.fault(f'key "{name}" is missing{reason}: {key.meaning}{unit}')


def number(table: Table, name: str) -> float:
    """A number in SI units (temperatures in degC): the key's, its default, or NaN if it is at fault."""
    key = table.keys[name]
    if name not in table.entries:
        if isinstance(key.default, str):
            missing(table, name)
            return math.nan
        return key.quantity.si_value(key.default)
    return key.quantity.si_value(_in_range(table, name, table.entries[name], key))


def given_number(table: Table, name: str) -> float | None:
    """Like :func:`number`, but ``None`` where the key is left out."""
    return number(table, name) if name in table.entries else None


def numbers(table: Table, name: str) -> tuple[float, ...]:
    """A list of numbers in SI units (temperatures in degC); empty where the key is left out."""
    values = table.entries.get(name, [])
    if not isinstance(values, list):
        table.fault(f"{name} = {printed(values)} is not a list; write [ ] round it")
        return ()
    key = table.keys[name]
    if key.most and len(values) > key.most:
        table.fault(f"{name} holds {len(values)} numbers; at most {key.most} are allowed")
        return (math.nan, math.nan)
    return tuple(key.quantity.si_value(_in_range(table, name, value, key)) for value in values)


def whole(table: Table, name: str) -> int:
    """A whole number, the key's or its default; 0 if it is at fault."""
    value = number(table, name)
    if value.is_integer():
        return int(value)
    if not math.isnan(value):
        table.fault(f"{name} = {printed(table.entries[name])} is not a whole number")
    return 0


def flag(table: Table, name: str) -> bool:
    """True or false; false where the key is left out or at fault."""
    value = table.entries.get(name, False)
    if not isinstance(value, bool):
        table.fault(f"{name} = {printed(value)} must be true or false, without quotes")
        return False
    return value


def _in_range(table: Table, name: str, value: object, key: Key) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        quoted = isinstance(value, str) and value.strip().replace(".", "", 1).isdigit()
        hint = "; write it without quotes" if quoted else ""
        table.fault(f"{name} = {printed(value)} is not a number{hint}")
        return math.nan
    too_long = isinstance(value, int) and abs(value) >= 10**15
    amount = (1e15 if value > 0 else -1e15) if too_long else float(value)
    rule = range_rule(amount, key)
    if not rule:
        return amount
    table.fault(f"{name} = {printed(value)} {rule}")
    return math.nan


def word(table: Table, name: str, allowed: Sequence[str] = ()) -> str:
    """A non-empty text, one of ``allowed`` where they are given; "" if it is at fault."""
    if name not in table.entries:
        missing(table, name, f" ({' | '.join(allowed)})" if allowed else "")
        return ""
    value = table.entries[name]
    if not isinstance(value, str):
        table.fault(f'{name} = {printed(value)} is not a text; write it in quotes, "..."')
    elif not value.strip():
        table.fault(f'{name} = "" is empty')
    elif allowed and value not in allowed:
        table.fault(f"{name} = {printed(value)} is unknown; {did_you_mean(value, allowed)}")
    else:
        return value
    return ""


def given_word(table: Table, name: str, allowed: Sequence[str] = ()) -> str | None:
    """Like :func:`word`, but ``None`` where the key is left out."""
    return word(table, name, allowed) if name in table.entries else None
