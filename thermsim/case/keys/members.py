"""Members of a family in the tables of a case file: what differs from the case itself, laid over it."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from typing import Any

from thermsim.case.keys.systems import in_own_units
from thermsim.case.keys.tables import DIAMETER_KEYS, FAMILY_TABLES, HEIGHT_KEYS, SHAPE_KEYS, WHOLE_SHAPES
from thermsim.text import did_you_mean, plain, printed


def member_names(tables: Mapping[str, object]) -> list[str]:
    """Names of the members of a family, in the file's order; those that are no words are left out."""
    return [one["name"] for one in _members(tables)]


def _members(tables: Mapping[str, object]) -> list[dict[str, Any]]:
    """The members of a family that have a name."""
    family = tables.get("family")
    found = family if isinstance(family, list) else []
    return [one for one in found if isinstance(one, dict) and isinstance(one.get("name"), str)]


def family_faults(tables: Mapping[str, object]) -> list[str]:
    """Faults of [[family]] and of the member that is asked for, whatever it lays over the case."""
    family, asked = tables.get("family"), tables.get("member")
    if family is None:
        return [] if asked is None else [f"member = {printed(asked)} has a meaning only beside [[family]]"]
    if not isinstance(family, list) or not all(isinstance(one, dict) for one in family):
        return ["family is not a list of tables; write [[family]] before each member"]
    faults, names = [], member_names(tables)
    for place, one in enumerate(family, 1):
        name = one.get("name")
        if not isinstance(name, str) or not name.strip():
            faults.append(f"[[family]] no. {place}: name is missing; give each member its own")
        elif names.count(name) > 1:
            faults.append(f"[[family]] no. {place}: name = {printed(name)} is taken by another member")
        for key, value in one.items():
            if key != "name" and key not in FAMILY_TABLES:
                offer = did_you_mean(key, ["name", *FAMILY_TABLES])
                faults.append(f'[[family]] no. {place}: unknown key "{plain(key)}"; {offer}')
            elif key != "name" and not isinstance(value, dict):
                faults.append(f"[[family]] no. {place}: {key} must be a table, {key} = {{ ... }}")
    if asked is not None and asked not in names:
        faults.append(f"member = {printed(asked)} is none of the family; there are {', '.join(map(printed, names))}")
    return faults


def laid_over(tables: Mapping[str, object]) -> Mapping[str, object]:
    """The tables with those of the member that they ask for laid over them.

    [fill] and [headspace] are replaced as wholes, of other tables the keys that the member gives. A diameter takes
    the place of whichever diameter the case gives, a height that of its height, a whole shape that of both.
    """
    member = next((one for one in _members(tables) if one["name"] == tables.get("member")), None)
    if member is None:
        return tables
    found = copy.deepcopy(dict(tables))
    for name, given in member.items():
        if name not in FAMILY_TABLES or not isinstance(given, dict):
            continue
        before = found.get(name)
        if name in ("fill", "headspace") or not isinstance(before, dict):
            found[name] = given
            continue
        laid, kept = in_own_units(given, name), dict(in_own_units(before, name))
        if name == "container":
            kept = {key: value for key, value in kept.items() if key not in _replaced(laid)}
        if name == "product" and ("material" in laid or "composition" in laid):
            kept = {
                key: value for key, value in kept.items() if key not in ("material", "composition", "mixing_rule")
            }
        found[name] = {**kept, **laid}
    return found


def _replaced(laid: Mapping[str, object]) -> set[str]:
    """Keys of a container whose place is taken by those of a member."""
    gone: set[str] = set()
    for group in (DIAMETER_KEYS, HEIGHT_KEYS):
        if any(key in laid for key in group):
            gone |= {*group, *WHOLE_SHAPES}
    if any(key in laid for key in WHOLE_SHAPES):
        gone |= {*SHAPE_KEYS, "rounding_mm", "brimful_ml"}
    if "brimful_ml" in laid:
        gone |= {"brimful_ml"}
    return gone
