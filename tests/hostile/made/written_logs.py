"""Data loggers' files written with known samples in every manner, and then damaged."""

from __future__ import annotations

import datetime
import random
from collections.abc import Sequence
from dataclasses import dataclass

ROWS = 48
ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "latin-1", "cp1252", "cp850", "mac-roman")
#: Separators; those that the reader does not know must be refused.
KNOWN, UNKNOWN = (";", ",", "\t"), ("|", " ", "  ", "^", "~")
CLOCKS = ("s", "min", "h", "hh:mm:ss", "hh:mm", "am", "iso", "german", "day first", "month first", "two columns")
SCALES = (
    ("°C", 1.0, 0.0),
    ("degC", 1.0, 0.0),
    ("C", 1.0, 0.0),
    ("°F", 1.8, 32.0),
    ("deg F", 1.8, 32.0),
    ("F", 1.8, 32.0),
)
SCALES += (("K", 1.0, 273.15), ("degrees F", 1.8, 32.0), ("Fahrenheit", 1.8, 32.0))
PIECES = (
    "\0",
    '"',
    ";",
    ",",
    "\t",
    " ",
    "nan",
    "-",
    "1e400",
    "é",
    "\u2028",
    "٣",
    "#",
    "OL",
    "9" * 400,
    "\r",
    "1 2",
    "1.234,5",
)


@dataclass(frozen=True)
class Written:
    """The bytes of a file, its true samples (time [s], medium, core [degC]), and the rows that no damage touched."""

    data: bytes
    samples: list[tuple[float, float, float]]
    sound: set[int]
    manner: str
    #: The headers by which the columns are asked for.
    medium: str
    core: str
    whole: bool


def _number(value: float, digits: int, decimal: str, thousands: str) -> str:
    text = f"{value:,.{digits}f}" if thousands else f"{value:.{digits}f}"
    return text.replace(",", "\0").replace(".", decimal).replace("\0", thousands)


def _clock(kind: str, begin: datetime.datetime, seconds: float, decimal: str, thousands: str) -> str:
    now = begin + datetime.timedelta(seconds=seconds)
    match kind:
        case "s":
            return _number(seconds, 0, decimal, thousands)
        case "min":
            return _number(seconds / 60, 2, decimal, thousands)
        case "h":
            return _number(seconds / 3600, 5, decimal, thousands)
        case "hh:mm:ss":
            return f"{now:%H:%M:%S}"
        case "hh:mm":
            return f"{now:%H:%M}"
        case "am":
            return f"{now:%I:%M:%S %p}"
        case "iso":
            return f"{now:%Y-%m-%d %H:%M:%S}"
        case "german":
            return f"{now:%d.%m.%Y %H:%M:%S}"
        case "day first":
            return f"{now:%d/%m/%Y %H:%M:%S}"
        case "month first":
            return f"{now:%m/%d/%Y %H:%M:%S}"
    return f"{now:%d.%m.%Y}\0{now:%H:%M:%S}"


def written(seed: int) -> Written:
    """The file of a seed: its manner, its samples, and what was damaged."""
    chooser = random.Random(seed)
    kind = chooser.choice(CLOCKS)
    decimal = chooser.choice(".,")
    separator = chooser.choice((*KNOWN, *KNOWN, *KNOWN, chooser.choice(UNKNOWN)))
    thousands = "" if chooser.random() < 0.8 else {".": ",", ",": "."}[decimal]
    sign, times, plus = chooser.choice(SCALES)
    every = 60.0 if kind == "hh:mm" else chooser.choice((15.0, 30.0, 60.0))
    hour, minute = chooser.choice(((9, 5), (23, 45), (0, 0), (11, 50), (12, 40)))
    begin = datetime.datetime(2024, chooser.randint(1, 12), chooser.randint(1, 28), hour, minute)
    samples = [(every * k, 60.0 + 0.9 * k, 20.3 + 0.7 * k) for k in range(ROWS)]
    unit = {"s": "s", "min": "min", "h": "h", "hh:mm": "hh:mm"}.get(kind, "")
    brackets = chooser.choice(("[]", "()"))
    in_units_row = chooser.random() < 0.25 and unit != "" and len(sign) <= 8
    named = [("Time", unit), ("Retort", sign), ("Core", sign)]
    if kind == "two columns":
        named.insert(0, ("Date", ""))
    headers = [f"{name} {brackets[0]}{of}{brackets[1]}" if of else name for name, of in named]
    lines = [*([] if chooser.random() < 0.5 else ["Batch 7", "Operator: A. B."])]
    join = separator.join
    if in_units_row:
        lines += [join(name for name, _ in named), join(of for _, of in named)]
        headers = [f"{name} [{of}]" for name, of in named]
    else:
        lines.append(join(headers))
    first = len(lines)
    in_quotes = chooser.random() < 0.5
    for when, medium, core in samples:
        cells = _clock(kind, begin, when, decimal, thousands).split("\0")
        cells += [_number(value * times + plus, 2, decimal, thousands) for value in (medium, core)]
        quoted = separator in KNOWN and any(separator in cell for cell in cells) and in_quotes
        lines.append(join(f'"{cell}"' if quoted else cell for cell in cells))
    manner = f"{kind}, {decimal!r}, {separator!r}, {thousands!r}, {sign}, units' row {in_units_row}"
    sound, whole = _damaged(chooser, lines, first)
    encoding = chooser.choice(ENCODINGS)
    data = chooser.choice(("\n", "\r\n")).join(lines).encode(encoding, "replace")
    if chooser.random() < 0.1:
        cut = chooser.randrange(1, len(data))
        data, whole = data[:cut], False
        left = data.decode(encoding, "replace").splitlines()[first:-1]
        sound = {row for row in sound if lines[first + row] in left}
    return Written(data, samples, sound, f"{manner}, {encoding}", headers[-2], headers[-1], whole)


def _damaged(chooser: random.Random, lines: list[str], first: int) -> tuple[set[int], bool]:
    """Damage some lines of half of the files; the rows that are as they were, and whether all are."""
    sound = set(range(ROWS))
    how = chooser.choice(("none", "none", "none", "piece", "drop", "double", "mixed", "swap"))
    for _ in range(0 if how == "none" else chooser.randint(1, 3)):
        row = chooser.randrange(ROWS)
        place = row + first
        if row not in sound or not lines[place]:
            continue
        sound.discard(row)
        lines[place] = damaged_line(chooser, lines[place], how, PIECES)
    return sound, how == "none"


def damaged_line(chooser: random.Random, line: str, how: str, pieces: Sequence[str]) -> str:
    """A line dropped, doubled, with other separators, backwards, or with a piece of something else in it."""
    if how == "drop":
        return ""
    if how == "double":
        return f"{line}\n{line}"
    if how == "mixed":
        return line.replace(chooser.choice(";,\t"), chooser.choice(";,\t|"))
    if how == "swap":
        return line[::-1]
    at = chooser.randrange(len(line) + 1)
    return line[:at] + chooser.choice(pieces) + line[at + chooser.randint(0, 3) :]
