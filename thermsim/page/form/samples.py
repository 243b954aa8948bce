"""Values that a table begins with when it is added: those of the starting case, whose comments hold all others."""

from __future__ import annotations

import functools
import re
import tomllib
from collections.abc import Mapping
from dataclasses import replace

from thermsim.case.keys.key import REQUIRED
from thermsim.case.keys.tables import CSV_ONLY, TABLES
from thermsim.case.keys.template import starting_case
from thermsim.page.draft import Draft, draft_of_text

#: Keys of a process that is from a logger's file.
CSV = ("csv", *CSV_ONLY)
_KEY = re.compile(r"# (\w+ = .*|\[\[?\w+\]\]?)$")


def sample(table: str) -> dict[str, object]:
    """The values that the starting case gives a table, be it in a comment; empty where it gives none."""
    node: object = _all_of_it()
    if table == "materials":
        return dict(next(iter(_all_of_it()["materials"].values()))) | {"source": "own"}  # type: ignore[attr-defined]
    if table == "container.wall":
        table = "container.side"
    for step in table.split("."):
        node = node.get(step) if isinstance(node, Mapping) else None
        node = node[0] if isinstance(node, list) and node else node
    found = dict(node) if isinstance(node, Mapping) else {}
    kind = {"probes": "probe", "container.side": "container.wall"}.get(table, table)
    needed = {key.name for key in TABLES.get(kind, ()) if REQUIRED in str(key.default)}
    # of a table that needs some keys these alone: the others are for whom they concern
    return {name: value for name, value in found.items() if name in needed} if needed else found


def new_draft() -> Draft:
    """The starting case."""
    return draft_of_text(starting_case(), "case.toml")


def with_stages(draft: Draft) -> Draft:
    """The draft with the starting case's stages as its process, in place of a logger's file."""
    kept = {key: value for key, value in draft.table("process").items() if key not in CSV}
    stages = {key: value for key, value in new_draft().table("process").items() if key not in kept}
    return replace(draft.with_value(("process",), {**kept, **stages}), attachments={})


def example(table: str, name: str) -> object:
    """The value that the starting case shows for a key, be it in a comment; None where it shows none."""
    block = starting_case().partition(f"[{table}]\n")[2].partition("\n\n")[0]
    found = re.search(rf"^(?:# )?({name} = .*)$", block, re.MULTILINE)
    return _read(found.group(1)).get(name) if found else None


@functools.cache
def _all_of_it() -> dict[str, object]:
    """The starting case with the tables that stand in comments, and with the first of every key given twice."""
    found: dict[str, object] = dict(tomllib.loads(starting_case()))
    for block in starting_case().split("\n\n"):
        lines = [match.group(1) for line in block.split("\n") if (match := _KEY.match(line))]
        heading = next((line for line in lines if line.startswith("[")), "")
        name = heading.strip("[]")
        if name and name not in found:
            table: dict[str, object] = {}
            for line in lines[lines.index(heading) + 1 :]:
                for key, value in _read(line).items():
                    table.setdefault(key, value)
            found[name] = table
    return found


def _read(line: str) -> dict[str, object]:
    try:
        return tomllib.loads(line)
    except tomllib.TOMLDecodeError:
        return {}
