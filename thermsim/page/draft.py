"""The case as it is being edited: its tables, as TOML too, the files it names, and what the reader says of them."""

from __future__ import annotations

import copy
import functools
import json
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from thermsim.case.case import Case
from thermsim.case.file.reader import LARGEST_CASE, case_from_text
from thermsim.case.keys.paths import Trail
from thermsim.case.keys.syntax import parsed
from thermsim.case.keys.systems import Written
from thermsim.errors import CaseError
from thermsim.loggers.textfile import utf8
from thermsim.page.units import own_name, tables_in
from thermsim.quantities import System
from thermsim.text import plain

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_WHOLE = re.compile(r"[-+]?\d{1,15}")
_DECIMAL_COMMA = re.compile(r"[-+]?\d+,\d+")
_NAMED = re.compile(r"([A-Za-z_]+) +(\S+)")


@dataclass(frozen=True)
class Draft:
    """A case file under edit: its tables as parsed, its name, and the texts of the files that it names.

    A key that is shown but not filled in is None. ``original`` is the text that was opened: what is not changed is
    saved with its comments.
    """

    tables: Mapping[str, object]
    name: str = "case.toml"
    attachments: Mapping[str, str] = field(default_factory=dict)
    original: str = ""

    @functools.cached_property
    def text(self) -> str:
        """The case as TOML."""
        return self.original or toml_text(self.tables)

    def case(self) -> Case:
        """The case, read by the reader of case files; raises ``CaseError`` with all that is wrong."""
        return case_from_text(self.text, name=self.name, attachments=self.attachments)

    def seen(self, system: System) -> Draft:
        """The draft with all values under the keys of a system of units, to be looked at alone."""
        if system not in self._seen:
            self._seen[system] = replace(self, tables=tables_in(self.tables, system), original="")
        return self._seen[system]

    @functools.cached_property
    def _seen(self) -> dict[System, Draft]:
        return {}

    def value(self, trail: Trail) -> object:
        """The value at a trail; None where nothing does."""
        node: object = self.tables
        for step in trail:
            if isinstance(node, Mapping) and isinstance(step, str):
                node = node.get(step)
            elif isinstance(node, list) and isinstance(step, int) and step < len(node):
                node = node[step]
            else:
                return None
        return node

    def table(self, *trail: str | int) -> Mapping[str, object]:
        """The table at a trail; an empty one where there is none."""
        found = self.value(trail)
        return found if isinstance(found, Mapping) else {}

    def rows(self, *trail: str | int) -> list[Any]:
        """The list at a trail; an empty one where there is none."""
        found = self.value(trail)
        return list(found) if isinstance(found, list) else []

    def with_value(self, trail: Trail, value: object) -> Draft:
        """The draft with a value at a trail, tables on the way made; None takes it out.

        What the same key says in another unit goes out as well.
        """
        if self.value(trail) == value and value is not None:
            return self
        made: dict[str, object] = copy.deepcopy(dict(self.tables))
        node: object = made
        for step in trail[:-1]:
            if isinstance(node, dict) and not isinstance(node.get(str(step)), dict | list):
                node[str(step)] = {}
            node = node[step]  # type: ignore[index]
        last = trail[-1]
        if isinstance(node, dict):
            for name in [name for name in node if name != last and own_name(name) == own_name(str(last))]:
                del node[name]
        if value is not None:
            node[last] = copy.deepcopy(value)  # type: ignore[index]
        elif isinstance(node, dict):
            node.pop(last, None)
        elif isinstance(node, list) and isinstance(last, int):
            del node[last]
        return replace(self, tables=made, original="")

    def with_blank(self, trail: Trail) -> Draft:
        """The draft with a key that is shown, but says nothing yet."""
        made = self.with_value(trail, "")
        node: object = made.tables
        for step in trail[:-1]:
            node = node[step]  # type: ignore[index]
        node[trail[-1]] = None  # type: ignore[index]
        return made

    def with_row(self, trail: Trail, row: Mapping[str, object]) -> Draft:
        """The draft with one more table at the end of the list at a trail."""
        return self.with_value(trail, [*self.rows(*trail), dict(row)])

    def with_row_moved(self, trail: Trail, place: int, by: int) -> Draft:
        """The draft with one table of the list at a trail moved up or down."""
        found = self.rows(*trail)
        if 0 <= place + by < len(found):
            found.insert(place + by, found.pop(place))
        return self.with_value(trail, found)

    def with_name(self, trail: Trail, old: str, new: str) -> Draft:
        """The draft with a table renamed in its place, and with what names it in texts renamed as well."""
        tables = self.table(*trail)
        if old not in tables or new in tables or not new.strip():
            return self
        renamed = {new if name == old else name: value for name, value in tables.items()}
        made = self.with_value(trail, renamed)
        return replace(made, tables=_renamed(made.tables, old, new))


def _renamed(node: object, old: str, new: str) -> dict[str, object]:
    """Tables in which every material of the old name is one of the new."""

    def walk(value: object, key: str = "") -> object:
        if isinstance(value, Mapping):
            return {name: walk(inner, name) for name, inner in value.items()}
        if isinstance(value, list):
            return [walk(inner, key) for inner in value]
        return new if key in ("material", "core", "label") and value == old else value

    found = walk(node)
    return found if isinstance(found, dict) else {}


def draft_of_text(text: str, name: str, attachments: Mapping[str, str] | None = None) -> Draft:
    """A case file's text to edit; raises ``CaseError`` where it is no TOML."""
    tables = parsed(text, plain(name, 120))
    # what is not changed is saved with its comments
    return Draft(tables, name, dict(attachments or {}), text)


def draft_of_bytes(data: bytes, name: str) -> Draft:
    """Like :func:`draft_of_text`, of a file that was handed in."""
    if len(data) > LARGEST_CASE:
        raise CaseError(
            [f"{plain(name, 120)}: too large for a case file; at most {LARGEST_CASE / 1e6:g} MB are read"]
        )
    return draft_of_text(utf8(data, plain(name, 120)), name)


@dataclass(frozen=True)
class Said:
    """One fault: where the reader found it, the key it is about ("" where it is about none), and its words."""

    where: str
    key: str
    text: str


def said_of(fault: CaseError, name: str) -> tuple[Said, ...]:
    """The faults of a draft by the tables and keys that they are about."""
    return tuple(_said(line.removeprefix(plain(name, 120)).strip(), line) for line in fault.faults)


def _said(rest: str, line: str) -> Said:
    where, colon, text = rest.partition(": ")
    if not colon:
        return Said("", "", line)
    # a heading may hold a colon in a material's name
    while where.count('"') % 2 and ": " in text:
        more, _, text = text.partition(": ")
        where = f"{where}: {more}"
    found = re.match(r'(?:unknown )?(?:key )?"?([A-Za-z_]\w*)"?(?: =|:| is | are |\[|,|\.)', text)
    return Said(where.strip(), own_name(found.group(1)) if found else "", text)


def where_of(trail: Trail) -> str:
    """The reader's words for the table at a trail: "[[process.stage]] no. 2", "[probe] segments no. 1"."""
    first, rest = (str(trail[0]), trail[1:]) if trail else ("", ())
    if not first:
        return ""
    if first == "materials" and rest:
        return f'[materials."{rest[0]}"]'
    if rest and isinstance(rest[0], int):
        head, rest = f"[[{first}]] no. {rest[0] + 1}", rest[1:]
    elif first in ("process", "study") and len(rest) >= 2:
        head, rest = f"[[{first}.{rest[0]}]] no. {int(rest[1]) + 1}", rest[2:]
    else:
        head = f"[{first}]"
    for step in rest:
        head += f" no. {step + 1}" if isinstance(step, int) else f" {step}"
    return head


def shape_of(value: object) -> object:
    """All of some tables that decides which fields there are: everything but numbers that stand alone."""
    if isinstance(value, Mapping):
        return {name: shape_of(inner) for name, inner in value.items()}
    if isinstance(value, list) and any(isinstance(one, Mapping) for one in value):
        return [shape_of(one) for one in value]
    return 0.0 if isinstance(value, float | int) and not isinstance(value, bool) else value


def typed(text: str, *, listed: bool = False) -> object:
    """The value that somebody typed: a number, a list ("60, 80"), rows ("0, 33; 80, 33") or named numbers.

    None where nothing is typed; what is no number stays a text, which the reader refuses in its own words.
    """
    text = text.strip()
    if not text:
        return None
    if ";" in text:
        return [_list(row) for row in text.split(";") if row.strip()]
    if "," in text and not (_DECIMAL_COMMA.fullmatch(text) and not listed):
        parts = [part.strip() for part in text.split(",") if part.strip()]
        named = [_NAMED.fullmatch(part) for part in parts]
        if parts and all(named):
            return {found.group(1): _item(found.group(2)) for found in named if found}
        return _list(text)
    return _list(text) if listed else _item(text)


def _list(text: str) -> list[object]:
    return [_item(part) for part in text.split(",") if part.strip()]


def _item(text: str) -> object:
    text = text.strip()
    if _WHOLE.fullmatch(text):
        return int(text)
    try:
        return float(text)
    except ValueError:
        return text


def shown(value: object) -> str:
    """A value as it is typed: the other way round of :func:`typed`."""
    if value is None:
        return ""
    if isinstance(value, list):
        if any(isinstance(item, list) for item in value):
            return "; ".join(shown(item) for item in value)
        return ", ".join(map(shown, value)) + ("," if len(value) == 1 else "")
    if isinstance(value, Mapping):
        return ", ".join(f"{name} {shown(inner)}" for name, inner in value.items())
    if isinstance(value, float):
        return f"{value:.7g}" if isinstance(value, Written) else f"{value:.15g}"
    return str(value)


def toml_text(tables: Mapping[str, object]) -> str:
    """Tables as TOML that is read back as they were: under headings, those within them in line, save lists of tables.

    What is None is left out.
    """
    blocks = [_entries({key: value for key, value in tables.items() if not _headed(value)})]
    for name, value in tables.items():
        if isinstance(value, list) and _headed(value):
            blocks += [[f"[[{_key(name)}]]", *_entries(item)] for item in value]
        elif isinstance(value, Mapping):
            blocks += _table(_key(name), value)
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


def _table(heading: str, table: Mapping[str, object]) -> list[list[str]]:
    """A table with its lists of tables below it; tables of nothing but tables have headings of their own."""
    inner = {name: value for name, value in table.items() if isinstance(value, Mapping)}
    if table and len(inner) == len(table):
        return [block for name, value in inner.items() for block in _table(f"{heading}.{_key(name)}", value)]
    rows = {name: value for name, value in table.items() if isinstance(value, list) and _headed(value)}
    blocks = [[f"[{heading}]", *_entries({name: value for name, value in table.items() if name not in rows})]]
    for name, items in rows.items():
        blocks += [[f"[[{heading}.{_key(name)}]]", *_entries(item)] for item in items]
    return blocks


def _headed(value: object) -> bool:
    """True if a value stands under headings: a table, or a list of tables."""
    if isinstance(value, list):
        return bool(value) and all(isinstance(item, Mapping) for item in value)
    return isinstance(value, Mapping)


def _entries(table: Mapping[str, object]) -> list[str]:
    return [f"{_key(name)} = {_value(value)}" for name, value in table.items() if value is not None]


def _value(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return repr(value) if math.isfinite(value) else str(value)
    if isinstance(value, int):
        return str(value)
    if isinstance(value, list):
        return f"[{', '.join(map(_value, value))}]"
    if isinstance(value, Mapping):
        inner = _entries(value)
        return f"{{ {', '.join(inner)} }}" if inner else "{}"
    return _text(str(value))


def _key(name: str) -> str:
    return name if _BARE.fullmatch(name) else _text(name)


def _text(text: str) -> str:
    # JSON escapes as TOML does, but for one control character
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
