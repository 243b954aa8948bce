"""Values and names as they may stand in a message."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence


def printed(value: object) -> str:
    """A value of the file as one short printable line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{plain(value)}"'
    if isinstance(value, dict):
        return "a table" if not value else f"a table with {', '.join(plain(key, 20) for key in list(value)[:3])}"
    if isinstance(value, list):
        inner = ", ".join(printed(item) if not isinstance(item, list | dict) else "..." for item in value[:3])
        return f"[{inner}{', ...' if len(value) > 3 else ''}]"
    if isinstance(value, int) and abs(value) >= 10**15:
        return "an integer of more than 15 digits"
    return plain(str(value))


def in_mm(length: float) -> str:
    """A length [m] as millimetres, without the unit."""
    return f"{1000 * length:.6g}"


def either(names: Sequence[str]) -> str:
    """The words that are allowed, as part of a sentence."""
    return " or ".join(f'"{name}"' for name in names)


def plain(text: str, longest: int = 60) -> str:
    """Text without line breaks or control characters, cut where it is long."""
    shown = "".join(
        character if character.isprintable() else " " if character.isspace() else "?"
        for character in text[: longest + 1]
    )
    return shown if len(text) <= longest else shown[:longest] + "..."


def nearest(name: str, known: Iterable[str], alike: float = 0.6) -> list[str]:
    """The known names at least this much ``alike``, best first; upper and lower case are one."""
    by_lower = {candidate.lower(): candidate for candidate in known}
    close = difflib.get_close_matches(name.lower()[:100], by_lower, n=3, cutoff=alike)
    return [by_lower[candidate] for candidate in close]


def did_you_mean(name: str, known: Sequence[str]) -> str:
    """The end of a sentence that offers the nearest known name, or else all of them."""
    close = nearest(name, known)
    return f'did you mean "{close[0]}"?' if close else f"allowed here: {', '.join(known)}"
