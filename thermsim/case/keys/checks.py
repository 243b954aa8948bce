"""Typed look-ups in the tables of a case file that collect every fault instead of stopping at the first.

A number at fault comes back as NaN and a word as "": neither can set off a second fault further on, and the
reader raises in the end.
"""

from __future__ import annotations

import dataclasses
import math
import os.path
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from thermsim.case.keys.key import REQUIRED, Key, range_rule
from thermsim.case.keys.systems import given_twice, in_own_units
from thermsim.case.keys.tables import HEADINGS, MOST_TABLES, NEEDED, OTHERWISE, TABLES, keys_of, others_of
from thermsim.quantities import DIFFERENCE
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

    def __contains__(self, name: str) -> bool:
        return name in self.entries

    def shown(self, name: str) -> str:
        """A key and what stands under it, as messages begin with them."""
        return f"{name} = {printed(self.entries[name])}"

    def refuse(self, names: Iterable[str], rule: str) -> None:
        """Report those of some keys that are given though they must not be."""
        for name in names:
            if name in self.entries:
                self.fault(f"{name} {rule}")

    def checked(self, heading: str, tables: Sequence[str] = ()) -> Table:
        """Report keys that the table may not hold; ``tables`` are the names of tables that may stand in it.

        What stands under keys of the other system of units stands under the table's own in what is given back.
        """
        for fault in given_twice(self.entries, heading):
            self.fault(fault)
        entries = in_own_units(self.entries, heading)
        meant: set[str] = set()
        allowed = [*self.keys, *(name for name in tables if name not in self.keys)]
        for name, value in entries.items():
            if name in allowed:
                continue
            better: Sequence[str]
            if name in OTHERWISE.get(heading, {}):
                better, how = OTHERWISE[heading][name]
                message = f'unknown key "{name}"; {how}'
            else:
                better, message = _unknown(name, value, heading, allowed, tables)
            meant.update(better)
            self.fault(message)
        return dataclasses.replace(self, entries=entries, meant=frozenset(meant))

    def child(
        self, name: str, heading: str = "", *, where: str = "", required: bool = False, written: str = ""
    ) -> Table:
        """The table ``name`` inside this one; an absent one where there is none.

        ``heading`` is that of its keys, ``where`` how faults name its place, where these are not its name;
        ``written`` is how it is written if not under a heading of that name.
        """
        heading, where = heading or name, where or f"[{name}]"
        keys = keys_of(heading)
        value = self.entries.get(name)
        if isinstance(value, dict):
            return Table(self.file, where, value, keys, self.faults).checked(heading, _INNER.get(heading, ()))
        if value is not None:
            self.fault(f"{self.shown(name)} is not a table; write {written or f'{where} and its keys below it'}")
        elif required and not self.absent and name not in self.meant:
            required_keys = ", ".join(key.name for key in keys.values() if key.default == REQUIRED)
            self.fault(f"table {where} is missing; it needs {NEEDED.get(heading, required_keys)}")
        return Table(self.file, where, {}, keys, self.faults, absent=True)

    def children(self, name: str, heading: str, *, where: str = "", written: str = "") -> list[Table]:
        """The tables of an array of tables, each with its number in its place.

        ``where`` is how faults name their place, ``written`` how they are written, where the heading does not say it.
        """
        value = self.entries.get(name, [])
        where = where or HEADINGS[heading]
        most = self.keys[name].most if name in self.keys else MOST_TABLES[name]
        if isinstance(value, dict) and not written:
            self.fault(f"{name} is a single table; write {where}, with double brackets, before each of them")
        elif not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            self.fault(
                f"{self.shown(name)} is not a list of tables; write {written or f'{where} before each of them'}"
            )
        elif len(value) > most:
            self.fault(f"{name} holds {len(value)} tables; at most {most} are allowed")
        else:
            keys = keys_of(heading)
            return [
                Table(self.file, f"{where} no. {place}", item, keys, self.faults).checked(heading)
                for place, item in enumerate(value, start=1)
            ]
        return []

    def missing(self, name: str, reason: str = "") -> None:
        """Report a key that is left out, unless a misspelt one was taken for it."""
        if self.absent or name in self.meant:
            return
        key = self.keys[name]
        unit = f" [{key.unit}]" if key.unit else ""
        self.fault(f'key "{name}" is missing{reason}: {key.meaning}{unit}')

    def number(self, name: str) -> float:
        """A number in SI units (temperatures in degC): the key's, its default, or NaN if it is at fault."""
        key = self.keys[name]
        if name not in self.entries:
            if isinstance(key.default, str):
                self.missing(name)
                return math.nan
            return key.quantity.si_value(key.default)
        return key.quantity.si_value(self._in_range(name, self.entries[name], key))

    def given_number(self, name: str) -> float | None:
        """Like :meth:`number`, but ``None`` where the key is left out."""
        return self.number(name) if name in self.entries else None

    def numbers(self, name: str) -> tuple[float, ...]:
        """A list of numbers in SI units (temperatures in degC); empty where the key is left out."""
        values = self.entries.get(name, [])
        if not isinstance(values, list):
            self.fault(f"{self.shown(name)} is not a list; write [ ] round it")
            return ()
        key = self.keys[name]
        if key.most and len(values) > key.most:
            self.fault(f"{name} holds {len(values)} numbers; at most {key.most} are allowed")
            return (math.nan, math.nan)
        return tuple(key.quantity.si_value(self._in_range(name, value, key)) for value in values)

    def pair(self, name: str, rule: str) -> tuple[float, float] | None:
        """Two numbers likewise, or one for both; NaN where they are at fault, ``None`` where the key is left out."""
        if not isinstance(self.entries.get(name), list):
            return (self.number(name),) * 2 if name in self.entries else None
        found = self.numbers(name)
        if len(found) != 2:
            self.fault(f"{self.shown(name)} {rule}")
            return math.nan, math.nan
        return found[0], found[1]

    def whole(self, name: str) -> int:
        """A whole number, the key's or its default; 0 if it is at fault."""
        value = self.number(name)
        if value.is_integer():
            return int(value)
        if not math.isnan(value):
            self.fault(f"{self.shown(name)} is not a whole number")
        return 0

    def flag(self, name: str) -> bool:
        """True or false; false where the key is left out or at fault."""
        value = self.entries.get(name, False)
        if not isinstance(value, bool):
            self.fault(f"{self.shown(name)} must be true or false, without quotes")
            return False
        return value

    def _in_range(self, name: str, value: object, key: Key) -> float:
        written = getattr(value, "said", "")
        other = next((one for one in key.others if written.startswith(f"{one.name} = ")), None)
        if isinstance(value, bool) or not isinstance(value, int | float):
            unit = key.unit if other is None else other.unit
            self.fault(f"{written or f'{name} = {printed(value)}'} is not a number{_as_number(value, unit)}")
            return math.nan
        too_long = isinstance(value, int) and abs(value) >= 10**15
        amount = (1e15 if value > 0 else -1e15) if too_long else float(value)
        rule = range_rule(amount, key)
        if not rule:
            return amount
        shown = f"{name} = {printed(value)}"
        if other is not None:  # told in the unit that it was written in
            number = float(other.quantity.edge(key.quantity.si_value(amount)))
            shown, rule = written, range_rule(number, other) or rule
            if not range_rule(number, key):
                rule = f"{rule}; did you mean {key.name}?"
        self.fault(f"{shown} {rule}")
        return math.nan

    def word(self, name: str, allowed: Sequence[str] = ()) -> str:
        """A non-empty text, one of ``allowed`` where they are given; "" if it is at fault."""
        if name not in self.entries:
            self.missing(name, f" ({' | '.join(allowed)})" if allowed else "")
            return ""
        value = self.entries[name]
        if not isinstance(value, str):
            self.fault(f'{self.shown(name)} is not a text; write it in quotes, "..."')
        elif not value.strip():
            self.fault(f'{name} = "" is empty')
        elif allowed and value not in allowed:
            self.fault(f"{self.shown(name)} is unknown; {did_you_mean(value, allowed)}")
        else:
            return value
        return ""

    def given_word(self, name: str, allowed: Sequence[str] = ()) -> str | None:
        """Like :meth:`word`, but ``None`` where the key is left out."""
        return self.word(name, allowed) if name in self.entries else None


#: Tables that may stand in a table.
_INNER = {"container": ("side", "base", "lid"), "process": ("stage",), "study": ("vary",)}


def _as_number(value: object, unit: str) -> str:
    """The number that was meant, as the end of a sentence; "" where none can be seen.

    A number with another unit than the key's, such as an hour where minutes are asked for, is not offered as it is.
    """
    if isinstance(value, list) and len(value) == 1 and isinstance(value[0], int | float):
        return f"; write {value[0]:g}, without brackets"
    if not isinstance(value, str):
        return ""
    inches = re.fullmatch(r"\s*(?:(\d+)[ -])?(\d+)/([1-9]\d*)\s*", value)
    if inches:
        return f"; write {int(inches[1] or 0) + int(inches[2]) / int(inches[3]):.6g}: decimals, without quotes"
    number = re.fullmatch(r"\s*(-?\d+(?:[.,]\d+)?)\s*([A-Za-z%°/].{0,12})?", value)
    if number is None:
        return ""
    if number[2] and _plain_unit(number[2]) != _plain_unit(unit):
        return f"; write the number in {unit}, without quotes" if unit else ""
    told = ", without quotes; its unit is in the key" if number[2] else ", without quotes"
    return f"; write {number[1].replace(',', '.')}{told}"


def _plain_unit(written: str) -> str:
    """A unit as it is compared: "°C", "degC" and "C" are one, and so are "min" and "minutes"."""
    bare = re.sub(r"deg|[°\s.]", "", written.strip().lower()).translate({ord("²"): "2", ord("³"): "3"})
    return "min" if bare.startswith("min") else bare


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
    units, clear = _in_other_units(name, close, heading)
    if clear:
        return meant, f'unknown key {shown}; did you mean "{clear}"?'
    if units:  # the number would not do under a key of another unit
        return meant, f"unknown key {shown}; write {' or '.join(units)}, with the number in that unit"
    return meant, f"unknown key {shown}; {did_you_mean(name, close or allowed)}"


#: Ends of keys by which the unit of one is meant; kelvins are of differences alone.
_MEANT = {"inch": "_in", "inches": "_in", "degc": "_C", "celsius": "_C", "degf": "_F", "fahrenheit": "_F", "k": "_C"}


def _in_other_units(name: str, close: Sequence[str], heading: str) -> tuple[list[str], str]:
    """The keys that stand for what a key is called but for its unit, and which of them is meant if that is clear."""
    keys, others = keys_of(heading), others_of(heading)
    for near in close:
        key = others[near][1] if near in others else keys.get(near)
        if key is None or not key.unit:
            continue
        known = [key.name, *(other.name for other in key.others)]
        stem = (os.path.commonprefix(known) if key.others else key.name).rpartition("_")[0]
        if not stem or not name.startswith(f"{stem}_") or name.lower() in map(str.lower, known):
            continue
        unit = name.removeprefix(f"{stem}_").lower()
        end = "" if unit == "k" and key.quantity is not DIFFERENCE else _MEANT.get(unit, "")
        return known, next((one for one in known if end and one.endswith(end)), "")
    return [], ""
