"""The starting case that a new user is given, and the tables of keys as ``thermsim keys`` prints them."""

from __future__ import annotations

import re
import textwrap
from importlib import resources
from math import inf

from thermsim.case.keys.key import Key
from thermsim.case.keys.tables import CONTENTS, HEADINGS, TABLES
from thermsim.errors import InputError
from thermsim.quantities import TEMPERATURE, System
from thermsim.text import did_you_mean, plain

#: The name by which the keys outside any table are asked for.
TOP = "top"

# Widest columns of unit, range and default; the key's is as wide as its longest name, the meaning takes the rest.
_WIDTH, _UNIT, _RANGE, _DEFAULT = 118, 6, 16, 26


#: A value as the starting case writes it, one that is varied, and a line with a remark behind it.
_VALUE = r"\[\[.*?\]\]|\[[^\[\]]*\]|\{[^{}]*\}|\d+(?:\.\d+)?"
_VARIED = re.compile(rf"\b(low|high|values|mode|mean|deviation) = ({_VALUE})")
_REMARKED = re.compile(r"(.*?\S|)(\s{2,})(#.*)")


def starting_case(system: System = "metric") -> str:
    """Text of a commented case file that names every key, in a system of units, and is valid as it stands."""
    text = resources.files("thermsim.case.keys").joinpath("start.toml").read_text("utf-8")
    return text if system == "metric" else _in_inches(text)


def _in_inches(text: str) -> str:
    """The text with keys, and the numbers under them to four digits, in the other system; its columns as they are."""
    keys = {key.name: key for table in TABLES.values() for key in table if key.others}
    given = re.compile(rf"\b({'|'.join(keys)}) = ({_VALUE})")
    varied: list[Key] = []

    def told(part: str) -> str:
        varied.extend(keys[name] for name in re.findall(r'key = "\w+\.(\w+)"', part))
        part = given.sub(lambda found: f"{found[1]} = {_moved(found[2], keys[found[1]])}", part)
        if varied:
            part = _VARIED.sub(lambda found: f"{found[1]} = {_moved(found[2], varied[-1], found[1])}", part)
        return re.sub(r"\w+", lambda word: keys[word[0]].others[0].name if word[0] in keys else word[0], part)

    lines = []
    for line in text.replace("in degC", "in degF").split("\n"):
        parts = _REMARKED.fullmatch(line)
        code, gap, remark = parts.groups() if parts else (line, "", "")
        behind = max(0, len(code + gap) - 2)
        lines.append(f"{told(code):{behind}}  {told(remark)}" if remark else told(code))
    return "\n".join(lines)


def _moved(value: str, key: Key, word: str = "") -> str:
    """The numbers in a value as it is written, in the unit of the other system; ``word`` may be "deviation"."""
    other = key.others[0].quantity

    def number(found: re.Match[str]) -> str:
        theirs, ours = (TEMPERATURE.others[0], TEMPERATURE) if found[1] and key.tabled else (other, key.quantity)
        moved = theirs.edge(ours.si_value(float(found[2])))
        if word == "deviation":
            moved -= theirs.edge(ours.si_value(0.0))
        return f"{found[1]}{_number(float(f'{moved:.4g}'))}"

    return re.sub(r"(\[(?=[^\[])|)(?<![\w.])(\d+(?:\.\d+)?)", number, value)


def table_list() -> str:
    """A line for each table of a case file: the name to ask for it by, how it is written, what it holds."""
    names = [table or TOP for table in HEADINGS]
    first, second = max(map(len, names)), max(map(len, HEADINGS.values()))
    return "\n".join(
        f"{name:{first}}  {HEADINGS[table]:{second}}  {CONTENTS[table]}"
        for name, table in zip(names, HEADINGS, strict=True)
    )


def key_table(name: str) -> str:
    """The keys of the table of a name, with unit, range, default and meaning, in columns.

    The name may have its brackets; ``TOP`` is that of the keys outside any table.

    Raises ``InputError`` if there is none of that name; the message offers the nearest, or all.
    """
    names = {table or TOP: table for table in HEADINGS}
    asked = name.strip().strip("[]")
    if asked not in names:
        raise InputError(f'"{plain(name)}" is no table of a case file; {did_you_mean(asked, list(names))}')
    table = names[asked]
    width = max(len(line) for key in TABLES[table] for line in _names(key).split("\n"))
    lines = [f"{HEADINGS[table]}: {CONTENTS[table]}"]
    for row in [("key", "unit", "range", "default", "meaning"), *map(_row, TABLES[table])]:
        lines += _columns(row, (width, _UNIT, _RANGE, _DEFAULT, _WIDTH - width - _UNIT - _RANGE - _DEFAULT - 10))
    return "\n".join(lines)


def allowed_range(key: Key) -> str:
    """The range of a number as words; "" for what has none."""
    low = "" if key.low == -inf else f"above {_number(key.low)}" if key.above else f"{_number(key.low)}"
    if key.high == inf:
        bounds = low if key.above or not low else f"{low} or more"
    else:
        bounds = f"{low} to {_number(key.high)}"
    return f"{bounds}, or inf" if key.infinite else bounds


def _number(value: float) -> str:
    return f"{value:.12g}"


def _row(key: Key) -> tuple[str, ...]:
    default = key.default if isinstance(key.default, str) else _number(key.default)
    meaning = f"{key.meaning} (at most {key.most})" if key.most else key.meaning
    return _names(key), key.unit, allowed_range(key), default, meaning


def _names(key: Key) -> str:
    """The key, and below it the same in the units of the other system."""
    return "\n".join([key.name, *(f"or {other.name}" for other in key.others)])


def _columns(row: tuple[str, ...], widths: tuple[int, ...]) -> list[str]:
    """One row of the table, its longer entries going on below in their own column."""
    cells = [
        [line for part in text.split("\n") for line in textwrap.wrap(part, width) or [""]]
        for text, width in zip(row, widths, strict=True)
    ]
    lines = []
    for number in range(max(map(len, cells))):
        parts = [cell[number] if number < len(cell) else "" for cell in cells]
        lines.append("  " + "  ".join(f"{part:{width}}" for part, width in zip(parts, widths, strict=True)).rstrip())
    return lines
