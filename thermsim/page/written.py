"""Tables of a case file as TOML text, which the reader of case files reads back as they were."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping

_BARE = re.compile(r"[A-Za-z0-9_-]+")


def toml_text(tables: Mapping[str, object]) -> str:
    """Tables as TOML: tables under headings, those within them in line, save for lists of tables.

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
