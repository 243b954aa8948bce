"""Fields of a form, made from the key tables of the case format: kind, label, unit, choices, what holds if blank."""

from __future__ import annotations

import functools
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf
from typing import Literal

from thermsim.case.keys.key import REQUIRED, Key
from thermsim.case.keys.paths import Place, Trail
from thermsim.case.keys.systems import key_in
from thermsim.case.keys.tables import CSV_ONLY, TABLES
from thermsim.case.keys.template import allowed_range
from thermsim.errors import InputError
from thermsim.loggers.logger import columns_in
from thermsim.page.draft import Draft
from thermsim.page.units import own_name
from thermsim.physics.films import films
from thermsim.physics.materials import library
from thermsim.quantities import System, quantity_of

Kind = Literal["number", "choice", "flag", "text", "table", "rows", "parts", "points"]

#: Tables in the order of the job: what their part of the form is called, and the tables in it.
PARTS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Container", ("container",)),
    ("Product", ("product", "materials")),
    ("Fill and headspace", ("fill", "headspace")),
    ("Process", ("process",)),
    ("Lethality and target", ("lethality",)),
    ("Probe", ("probe", "probes")),
    ("Stock", ("stock",)),
    ("Further places", ("points",)),
    ("Accuracy and output", ("accuracy", "output")),
)
#: Tables of which there may be several.
LISTS = {"probes": "probe", "points": "points"}
#: Tables of no more keys than this stand in one line.
SHORT = 3
#: Parts that stand open at first.
OPEN = ("Container", "Product", "Fill and headspace", "Process")
#: How the default of a key begins that ought to be given, although it need not.
NOT_LOOKED_AT = "not looked at"
#: How the meaning of a key begins that is a column of a logger's file.
A_COLUMN = "column of"
_WALLS = ("side", "base", "lid")
#: Units as a page sets them.
_TYPESET = str.maketrans("23", "²³")


@dataclass(frozen=True)
class Field:
    """A key of the case format as it stands in a form.

    ``own`` is as the key tables have it, ``key`` the same in the system of units that is shown; ``trail`` leads to
    its value. ``choices`` are the words that are allowed, or with a text offered; the names of its parts, with
    "parts"; of its columns, with "points", and with a number that may be a table instead. ``table`` is the key table
    of what is below it, with "table" and "rows". ``shown`` says whether it stands in sight: what must be given, and
    what is given.
    """

    own: Key
    key: Key
    trail: Trail
    kind: Kind
    choices: tuple[str, ...] = ()
    table: str = ""
    shown: bool = True

    @property
    def label(self) -> str:
        """The key's name in words, without its unit."""
        return label_of(self.key)

    @property
    def unit(self) -> str:
        """The unit as a page sets it."""
        return _as_set(self.key.unit)

    @property
    def blank(self) -> str:
        """The words for what holds where nothing is filled in."""
        default = self.key.default
        return in_words(default) if isinstance(default, str) else f"{default:.6g}"

    @property
    def hint(self) -> str:
        """The key's meaning with its range."""
        allowed = allowed_range(self.key)
        meaning = in_words(self.key.meaning)
        return f"{meaning} ({allowed})" if allowed and self.kind == "number" else meaning


def in_words(text: str) -> str:
    """A text of the key tables with labels of fields in place of keys: "film of process", not process.film_W_m2K."""

    def label(found: re.Match[str]) -> str:
        key = _by_name().get(found[2])
        if key is None or not key.unit:
            return found[0]
        return label_of(key) + (f" of {found[1][:-1]}" if found[1] else "")

    return re.sub(r"\b([a-z]+\.)?([a-z]+(?:_\w+)+)\b", label, text)


def place_in_words(place: Place) -> str:
    """A number of the case by its field's label and unit: "fill: headspace [mm]"."""
    above, _, last = place.path.rpartition(".")
    key = _by_name().get(own_name(last))
    unit = f" [{_as_set(place.unit)}]" if place.unit else ""
    return f"{above.replace('.', ', ')}: {last if key is None else label_of(key)}{unit}"


def _as_set(unit: str) -> str:
    """A unit as a page sets it."""
    return re.sub(r"(?<=m|t)[23]", lambda found: found[0].translate(_TYPESET), unit.replace("deg", "°"))


@functools.cache
def _by_name() -> Mapping[str, Key]:
    return {key.name: key for keys in TABLES.values() for key in keys}


def label_of(key: Key) -> str:
    """A key's name in words, without its unit."""
    # a difference of temperatures ends like a temperature where its scale is meant
    endings = [of.key("x")[1:] for of in (key.quantity, quantity_of(key.name)) if of.unit]
    stem = next((key.name.removesuffix(end) for end in endings if key.name.endswith(end)), key.name)
    return stem.replace("_", " ").strip() or key.name


def alternatives_of(table: str) -> tuple[tuple[str, ...], ...]:
    """Groups of a table's keys of which one is to be given, as their common default says."""
    groups: dict[str, list[str]] = {}
    for key in TABLES[table]:
        if isinstance(key.default, str) and "one of" in key.default:
            groups.setdefault(key.default, []).append(key.name)
    return tuple(tuple(names) for names in groups.values() if len(names) > 1)


def fields_of(draft: Draft, table: str, trail: Trail, system: System = "metric") -> list[Field]:
    """The fields of a table of the case as it is seen in a system of units, in the order of its key table."""
    entries = draft.table(*trail)
    logged = "csv" in entries
    found = []
    for key in TABLES[table]:
        if table == "process" and (key.name in CSV_ONLY) != logged and key.name in (*CSV_ONLY, "stage", "start_C"):
            continue
        told = key_in(key, system)
        kind, choices, below = _kind(draft, table, key, told.meaning, listed=isinstance(entries.get(told.name), list))
        shown = told.name in entries or _wanted(key, entries)
        found.append(Field(key, told, (*trail, told.name), kind, choices, below, shown))
    return found


def _kind(draft: Draft, table: str, key: Key, meaning: str, *, listed: bool) -> tuple[Kind, tuple[str, ...], str]:
    """The sort of field that a key of this meaning has, its choices, and the key table below it."""
    if table == "container" and key.name in _WALLS:
        return "table", (), "container.wall"
    below = f"{table}.{key.name}"
    if below in TABLES:
        return ("rows" if key.name in ("stage", "segments") else "table"), (), below
    words = tuple(dict.fromkeys(re.findall(r'"([^"]+)"', key.meaning)))
    parts = re.search(r"\{ ?([^}]*\w) ?\}", key.meaning)
    if parts and "number or" not in key.meaning:
        return "parts", tuple(part.strip() for part in parts.group(1).split(",")), ""
    columns = re.search(r"(or )?\[\[([^,\]]+), ([^\]]+)\], \.\.\.\]", meaning)
    if columns:
        heads = columns[2].replace("deg", "°"), columns[3]
        return "points" if listed or not columns[1] else "number", heads, ""
    if key.unit or key.low != -inf:
        return "number", (), ""
    if key.meaning.startswith(A_COLUMN):
        return "choice", _columns(draft), ""
    if key.usual:
        return "text", key.usual, ""
    if "name of a material" in key.meaning or "name of the material" in key.meaning or key.name == "material":
        return "choice", materials_of(draft), ""
    if key.name.endswith("medium"):
        return "choice", tuple(films()), ""
    if key.meaning.startswith(("true:", "false:")):
        return "flag", (), ""
    return ("choice", words, "") if len(words) > 1 else ("text", (), "")


def _wanted(key: Key, entries: Mapping[str, object]) -> bool:
    """True if a key that is not given must be, going by what its default says of it."""
    default = key.default
    if isinstance(default, str) and (default.startswith(NOT_LOOKED_AT) or key.meaning.startswith(A_COLUMN)):
        return True
    if not isinstance(default, str) or not default.startswith(REQUIRED):
        return False
    cases = default.removeprefix(REQUIRED).strip()
    if not cases.startswith("for "):
        return True
    return bool(set(re.findall(r"\w+", cases)) & {value for value in entries.values() if isinstance(value, str)})


def _columns(draft: Draft) -> tuple[str, ...]:
    """The columns of the logger's file that the case names."""
    try:
        return tuple(dict.fromkeys(columns_in(draft.attachments[str(draft.value(("process", "csv")))])))
    except (InputError, KeyError):
        return ()


def materials_of(draft: Draft) -> tuple[str, ...]:
    """Names of the case's own materials, then of the library's."""
    known = sorted({material.name for material in library().values()})
    return tuple(dict.fromkeys([*draft.table("materials"), *known]))


def chosen(group: Sequence[str], draft: Draft, trail: Trail) -> str:
    """The key of a group that is given, the first where none is."""
    entries = {own_name(name) for name in draft.table(*trail)}
    return next((name for name in group if name in entries), group[0])
