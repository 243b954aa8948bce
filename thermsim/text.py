"""Values and names as they may stand in a message."""

from __future__ import annotations

import datetime
import difflib
import math
import os.path
from collections.abc import Iterable, Sequence
from decimal import ROUND_CEILING, Decimal


def printed(value: object) -> str:
    """A value of the file as one short printable line; one that was converted as it was written, too."""
    said = getattr(value, "said", "")
    if said and not isinstance(value, str):
        numbers = [value] if isinstance(value, float) else [*value]  # type: ignore[misc]
        converted = [isinstance(item, float) and hasattr(item, "said") for item in numbers]
        shown = [f"{item:.6g}" if ours else printed(item) for item, ours in zip(numbers, converted, strict=True)]
        return f"{shown[0] if isinstance(value, float) else printed_list(shown)} (written {said})"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{plain(value)}"'
    if isinstance(value, dict):
        return "a table" if not value else f"a table with {', '.join(plain(key, 20) for key in list(value)[:3])}"
    if isinstance(value, list):
        return printed_list([printed(item) if not isinstance(item, list | dict) else "..." for item in value])
    if isinstance(value, int) and abs(value) >= 10**15:
        return "an integer of more than 15 digits"
    return plain(str(value))


def printed_list(items: Sequence[str]) -> str:
    """The first of some printed values in brackets."""
    return f"[{', '.join(items[:3])}{', ...' if len(items) > 3 else ''}]"


def in_mm(length: float) -> str:
    """A length [m] as millimetres, without the unit."""
    return f"{1000 * length:.6g}"


#: Most names that a message lists, and most that are compared letter by letter with what was written.
_MOST_NAMES, _MOST_COMPARED = 40, 200


def either(names: Sequence[str]) -> str:
    """The words that are allowed, as part of a sentence."""
    return " or ".join(f'"{name}"' for name in names)


def listed(parts: Sequence[str]) -> str:
    """Things one after another in a sentence: "a, b and c"."""
    return " and ".join(filter(None, (", ".join(parts[:-1]), parts[-1])))


def plain(text: str, longest: int = 60) -> str:
    """Text without line breaks or control characters, cut where it is long."""
    shown = "".join(
        character if character.isprintable() else " " if character.isspace() else "?"
        for character in text[: longest + 1]
    )
    return shown if len(text) <= longest else shown[:longest] + "..."


def stamp() -> str:
    """The time now as records name it: "2026-01-31 14:05 +0100"; its first ten letters are the day."""
    return datetime.datetime.now().astimezone().strftime("%Y-%m-%d %H:%M %z")


def nearest(name: str, known: Iterable[str], alike: float = 0.6) -> list[str]:
    """The known names at least this much ``alike``, best first; upper and lower case are one."""
    by_lower = {candidate.lower(): candidate for candidate in known}
    if len(by_lower) > _MOST_COMPARED:  # comparing takes long: of so many those that begin alike
        alike_first = sorted(by_lower, key=lambda other: -len(os.path.commonprefix([name.lower(), other])))
        by_lower = {candidate: by_lower[candidate] for candidate in alike_first[:_MOST_COMPARED]}
    close = difflib.get_close_matches(name.lower()[:100], by_lower, n=3, cutoff=alike)
    return [by_lower[candidate] for candidate in close]


def did_you_mean(name: str, known: Sequence[str]) -> str:
    """The end of a sentence that offers the nearest known name, or else all of them."""
    close = nearest(name, known)
    if close:
        return f'did you mean "{plain(close[0])}"?'
    more = f" and {len(known) - _MOST_NAMES} more" if len(known) > _MOST_NAMES else ""
    return f"allowed here: {', '.join(map(plain, known[:_MOST_NAMES]))}{more}"


def unknown(what: str, name: str, close: Sequence[str], known: Iterable[str]) -> str:
    """Sentence on a name that is not known, which offers those ``close`` to it, or else all that are."""
    choice = " or ".join(map(printed, close or known))
    return f"{what} {printed(name)} is unknown; {f'did you mean {choice}?' if close else f'known are {choice}'}"


def with_uncertainty(value: float, uncertainty: float, *, least: float, sign: str = "+-") -> str:
    """A value and its uncertainty >= 0 in the same unit, both to the same decimal, with a sign between them.

    The uncertainty is rounded up to one significant digit, to two where the first is a 1 (rounding 0.11 to 0.2
    would nearly double it) and ``least`` is smaller than the second. That is the smallest uncertainty worth showing,
    > 0: a smaller one is shown as this, never as 0.

    Examples
    --------
    >>> with_uncertainty(5.8973, 0.163, least=0.01)
    '5.90 +- 0.17'
    >>> with_uncertainty(106.0, 0.0, least=0.1)
    '106.0 +- 0.1'
    """
    if not (math.isfinite(value) and math.isfinite(uncertainty)):
        return f"{value:g} {sign} {uncertainty:g}"
    # six digits: enough to round up by, few enough to leave rounding errors such as 0.30000000000000004 behind
    shown = Decimal(f"{max(uncertainty, least):.6g}")
    digits = 2 if shown.as_tuple().digits[0] == 1 else 1
    step = Decimal(1).scaleb(max(shown.adjusted() - digits + 1, Decimal(f"{least:.6g}").adjusted()))
    # 0.10 tells no more than 0.1
    shown = shown.quantize(step, rounding=ROUND_CEILING).normalize()
    step = Decimal(1).scaleb(shown.adjusted() - len(shown.as_tuple().digits) + 1)
    # adding 0 turns -0.0 into 0.0
    rounded = Decimal(f"{value:.17g}").quantize(step) + 0
    return f"{rounded:f} {sign} {shown:f}"


def share(part: float) -> str:
    """A part of a whole [-] as per cent, with two digits where it is small."""
    percent = 100.0 * part
    return f"{percent:.0f} %" if percent >= 10.0 else f"{percent:.2g} %"
