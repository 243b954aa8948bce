"""The starting case that a new user is given, and the table of all keys as the README shows it."""

from __future__ import annotations

from importlib import resources

from thermsim.case.keys.key import Key
from thermsim.case.keys.tables import HEADINGS, TABLES


def starting_case() -> str:
    """Text of a commented case file that names every key and is valid as it stands."""
    return resources.files("thermsim.case.keys").joinpath("start.toml").read_text("utf-8")


def key_table() -> str:
    """All keys of a case file as Markdown: for every table its keys with unit, meaning and default."""
    blocks = []
    for table, heading in HEADINGS.items():
        lines = [f"**{heading}**" if " " in heading else f"**`{heading}`**", "", "| key | unit | meaning | default |"]
        lines += ["|---|---|---|---|", *(_row(key) for key in TABLES[table])]
        blocks.append("\n".join(lines))
    return "\n\n".join(blocks) + "\n"


def _row(key: Key) -> str:
    default = key.default if isinstance(key.default, str) else f"{key.default:g}"
    return f"| `{key.name}` | {key.unit} | {key.meaning} | {default} |".replace("|  |", "| |")
