"""A case's tables as a page shows them in one system of units; each value stays in the file under the key it has."""

from __future__ import annotations

import functools
from collections.abc import Mapping

from thermsim.case.keys.systems import WALLS, in_other_units, in_own_units
from thermsim.case.keys.tables import TABLES, others_of
from thermsim.quantities import System


@functools.lru_cache(maxsize=1000)
def own_name(name: str) -> str:
    """The name that a key has in the key tables, whatever the system of units it is written in."""
    return next((others_of(table)[name][1].name for table in TABLES if name in others_of(table)), name)


def tables_in(tables: Mapping[str, object], system: System) -> dict[str, object]:
    """All tables of a case with every value under the key, and in the unit, of a system."""
    return {name: _told(name, value, system) for name, value in tables.items()}


def system_of(tables: Mapping[str, object]) -> System:
    """The system in which a case is written: the other one if any of its keys is of that."""
    return "metric" if tables_in(tables, "metric") == tables else "us"


def _told(table: str, value: object, system: System) -> object:
    if isinstance(value, list):
        return [_told(table, one, system) for one in value]
    if not isinstance(value, Mapping):
        return value
    if table == "materials":
        return {name: _entries("materials", one, system) for name, one in value.items()}
    return _entries("probe" if table == "probes" else table, value, system)


def _entries(table: str, entries: object, system: System) -> object:
    if not isinstance(entries, Mapping) or table not in TABLES:
        return entries
    found: dict[str, object] = in_own_units(entries, table)
    if system == "us":
        found = in_other_units(found, table)
    for name, value in found.items():
        below = "container.wall" if table == "container" and name in WALLS else f"{table}.{name}"
        if below in TABLES:
            found[name] = _told(below, value, system)
    return found
