"""Values under keys of the other system of units, as the keys of the tables have them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from thermsim.case.keys.key import Key
from thermsim.case.keys.tables import HEADINGS, TABLES, keys_of, others_of
from thermsim.quantities import TEMPERATURE, Quantity, System
from thermsim.text import printed

#: Walls of a container, each with a table of its own.
WALLS = ("side", "base", "lid")
#: Keys named in one remark.
MOST_NAMED = 8


class Written(float):
    """A number that was converted; ``said`` is how it stands in the file, with its key."""

    said: str = ""


class WrittenText(str):
    """A text where a number should stand, under a key of the other system."""

    said: str = ""


class WrittenList(list[object]):
    """A list of numbers that were converted, likewise."""

    said: str = ""


def in_own_units(entries: Mapping[str, object], heading: str) -> dict[str, object]:
    """The entries of a table with those of the other system under the table's own keys."""
    others = others_of(heading)
    found: dict[str, object] = {}
    for name, value in entries.items():
        if name in others:
            other, key = others[name]
            found.setdefault(key.name, _converted(value, name, other, key))
        else:
            found[name] = value
    return found


def in_other_units(entries: Mapping[str, object], heading: str) -> dict[str, object]:
    """The entries of a table, all under its own keys, with those that have another system under the keys of that."""
    keys = keys_of(heading)
    found: dict[str, object] = {}
    for name, value in entries.items():
        other = key_in(keys[name], "us") if name in keys else None
        if other is None or other is keys[name]:
            found[name] = value
        else:
            found[other.name] = _converted(value, name, keys[name], other)
    return found


def key_in(key: Key, system: System) -> Key:
    """A table's key as it is called in a system of units."""
    return key if system == "metric" or not key.others else key.others[0]


def given_twice(entries: Mapping[str, object], heading: str) -> Iterator[str]:
    """Faults where one thing is given in both systems."""
    first: dict[str, str] = {}
    others = others_of(heading)
    for name, value in entries.items():
        key = others[name][1].name if name in others else name
        if key in first:
            both = f"{first[key]} = {printed(entries[first[key]])} and {name} = {printed(value)}"
            yield f"{both} are given together; give one of them"
        first.setdefault(key, name)


def mixed(tables: Mapping[str, object]) -> str:
    """A remark on keys in another system of units than most of a case's; "" where there are none."""
    found = list(_systems(tables, ""))
    in_us, metric = ([name for name, us in found if us is of] for of in (True, False))
    few, most = (metric, "inches, degF, lb, Btu") if len(in_us) >= len(metric) else (in_us, "mm, degC, kg, W")
    if not few:
        return ""
    some = ", ".join(dict.fromkeys(few[:MOST_NAMED])) + (
        f" and {len(few) - MOST_NAMED} more" * (len(few) > MOST_NAMED)
    )
    return f"Most of the case is in {most}; in the other units are {some}: check that each number is meant so."


def _systems(entries: Mapping[str, object], heading: str) -> Iterator[tuple[str, bool]]:
    """The keys that another system has too, each with its table, and whether it is written in that system."""
    keys, others = keys_of(heading), others_of(heading)
    for name, value in entries.items():
        if name in others or (name in keys and keys[name].others):
            yield f"{HEADINGS[heading]} {name}".strip(), name in others
        below = _heading_of(name, heading)
        parts = value if isinstance(value, list) else [value]
        if below == "materials" and isinstance(value, Mapping) and not heading:
            parts = list(value.values())
        for part in parts if below in TABLES else ():
            if isinstance(part, Mapping):
                yield from _systems(part, below)


def _heading_of(name: str, heading: str) -> str:
    """Heading of a table inside another."""
    if not heading:
        return "probe" if name == "probes" else name
    return "container.wall" if heading == "container" and name in WALLS else f"{heading}.{name}"


def _converted(value: object, name: str, other: Key, key: Key) -> object:
    """A value, or the numbers in a list or a table of them, in the unit of the table's key."""
    if isinstance(value, dict):
        return {part: _converted(one, f"{name}.{part}", other, key) for part, one in value.items()}
    said = f"{name} = {printed(value)}"
    if isinstance(value, list):
        made = WrittenList(_item(one, said, name, other, key) for one in value)
        made.said = said
        return made
    return _number(value, said, other.quantity, key.quantity)


def _item(value: object, said: str, name: str, other: Key, key: Key) -> object:
    """One of a list: a number, or a point or pair of numbers."""
    if not isinstance(value, list):
        return _number(value, f"{name} = {printed(value)}", other.quantity, key.quantity)
    rows = [(other.quantity, key.quantity)] * len(value)
    if key.tabled and rows:
        away = key.quantity.unit in {one.unit for one in other.quantity.others}
        rows[0] = (TEMPERATURE, TEMPERATURE.others[0]) if away else (TEMPERATURE.others[0], TEMPERATURE)
    point = WrittenList(
        float(made) if isinstance(made := _number(one, said, theirs, ours), float) else made
        for one, (theirs, ours) in zip(value, rows, strict=True)
    )
    point.said = printed(value)
    return point


def _number(value: object, said: str, theirs: Quantity, ours: Quantity) -> object:
    """A number in our unit; what is none stays, and is refused as such."""
    if isinstance(value, str):
        text = WrittenText(value)
        text.said = said
        return text
    if isinstance(value, bool) or not isinstance(value, int | float) or abs(value) >= 10**15:
        return value
    # as near to what is meant as the decimals of a file can be: 2.5 in are 63.5 mm
    made = Written(f"{ours.edge(theirs.si_value(float(value))):.15g}")
    made.said = said
    return made
