"""Case files altered at random: what they hold exchanged, moved, repeated, left out, misspelt, garbled."""

from __future__ import annotations

import copy
import json
import random
import tomllib
from collections.abc import Iterator
from pathlib import Path

from small_case import LOGGER, SECOND, SMALL, STEM, recorded, shaped

CASES = Path(__file__).parents[3] / "cases"
RETORT = "Time [min];Retort [°C]\n" + "".join(f"{m};{min(40 + 9 * m, 118)},5\n" for m in range(40))
ATTACHMENTS = {path.name: path.read_text("utf-8") for path in CASES.glob("*.csv")} | {"retort.csv": RETORT}

#: Numbers that stand at an edge of something.
NUMBERS = (0, 0.0, -1, -0.0, 1, 2, 3, 1e-12, 5e-324, 1e-5, 0.02, 1e3, 1e5, 1e15, 1e300, 10**400, 2**63)
NUMBERS += (float("inf"), float("-inf"), float("nan"), 273.15, 121.1, 250, -40, 1.0000000001)
WORDS = ("", " ", "x", "hold", "cool", "come-up", "air", "humid", "fixed", "water", "copper", "PEEK", "side", "base")
WORDS += (
    "lid",
    "inside",
    "through",
    "307x409",
    "9x9",
    "steam",
    "a" * 5000,
    "\u202egnp.exe",
    "\x1b[31m",
    "é\u0301",
    "0",
)
OTHERS = (True, False, [], {}, [[]], [{}], [1, 2], [[0, 1], [9, 0]], {"a": {}}, {"material": []}, [1e308, -1e308])
MISSPELT = (
    ("_mm", "_cm"),
    ("_C", "_F"),
    ("_mm", ""),
    ("_min", "_s"),
    ("e", "r"),
    ("material", "metarial"),
    ("a", "A"),
)


def bases() -> list[dict]:
    """The tables of sound cases of every kind."""
    texts = [path.read_text("utf-8") for path in sorted(CASES.glob("*.toml"))]
    texts += [SMALL, recorded(), SMALL + STEM + SECOND, SMALL + LOGGER]
    texts += [
        shaped("profile_mm = [[0, 33], [80, 33], [95, 26], [113, 26]]\nrounding_mm = 5.0\nbase_rise_mm = 6.0"),
        shaped("inner_diameter_mm = [66, 80]\ninner_height_mm = 113", ("headspace_mm = 12.0", "mass_g = 300")),
        shaped('size = "307x409"') + STEM,
        shaped("brick_mm = [165, 95, 80]"),
    ]
    return [tomllib.loads(text) for text in texts]


def places(node: object, trail: tuple = ()) -> Iterator[tuple]:
    """The trails to everything that a tree holds."""
    for key, value in node.items() if isinstance(node, dict) else enumerate(node):
        yield (*trail, key)
        if isinstance(value, dict | list):
            yield from places(value, (*trail, key))


def at(node: object, trail: tuple) -> object:
    for key in trail:
        node = node[key]
    return node


def mutated(chooser: random.Random, known: list[dict]) -> dict:
    """A sound case with one to four alterations."""
    tables = copy.deepcopy(chooser.choice(known))
    for _ in range(chooser.choice((1, 1, 1, 2, 3, 4))):
        found = list(places(tables))
        if found:
            *owner, key = chooser.choice(found)
            _alter(chooser, at(tables, tuple(owner)), key, tables, known)
    return tables


def _alter(chooser: random.Random, owner: dict | list, key: object, tables: dict, known: list[dict]) -> None:
    value = owner[key]
    how = chooser.choice(
        ("value", "value", "value", "scale", "scale", "gone", "moved", "grafted", "repeated", "name")
    )
    if how == "value":
        owner[key] = copy.deepcopy(chooser.choice(chooser.choice((NUMBERS, NUMBERS, WORDS, OTHERS))))
    elif how == "scale" and isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e300:
        owner[key] = value * chooser.choice((-1, 0.001, 0.1, 0.5, 0.99, 1.01, 2, 10, 1000, 1.8, 25.4))
    elif how == "gone":
        del owner[key]
    elif how == "moved":
        *other, name = chooser.choice(list(places(tables)))
        whole = copy.deepcopy(at(tables, (*other, name)))
        owner[key] = whole
    elif how == "grafted":
        other = chooser.choice(known)
        owner[key] = copy.deepcopy(at(other, chooser.choice(list(places(other)))))
    elif how == "repeated" and isinstance(value, list) and value:
        times = chooser.choice((2, 3, 30, 300))
        owner[key] = [copy.deepcopy(item) for item in value * times][:2000]
    elif how == "name" and isinstance(owner, dict):
        old, new = chooser.choice(MISSPELT)
        owner[key.replace(old, new) or "x"] = owner.pop(key)


def nudged(chooser: random.Random, known: list[dict]) -> dict:
    """A sound case with other numbers, most of them possible, at loose accuracy."""
    tables = copy.deepcopy(chooser.choice(known))
    tables.pop("study", None)
    found = [
        trail
        for trail in places(tables)
        if isinstance(at(tables, trail), int | float)
        and not isinstance(at(tables, trail), bool)
        and trail[0] != "format"
    ]
    for trail in chooser.sample(found, chooser.randint(1, 6)):
        owner = at(tables, trail[:-1])
        owner[trail[-1]] = float(f"{owner[trail[-1]] * 10 ** chooser.uniform(-0.6, 0.6):.3g}")
    tables["accuracy"] = {"temperature_K": 1.0, "lethality_percent": 20.0, "place_mm": 10.0}
    return tables


def dumped(tables: dict) -> str:
    """TOML of a tree: every table at the top under a key of its own, in one line."""
    return "".join(f"{_text(key)} = {_value(value)}\n" for key, value in tables.items())


def _text(text: str) -> str:
    return json.dumps(text).replace("\x7f", "\\u007f")


def _value(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_text(key)} = {_value(one)}" for key, one in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_value, value)) + "]"
    return repr(value)


def garbled(chooser: random.Random, text: str) -> str:
    """A text with pieces of it overwritten, doubled, cut out or exchanged."""
    for _ in range(chooser.randint(1, 4)):
        place, other = (chooser.randrange(len(text) + 1) for _ in range(2))
        size = chooser.choice((0, 1, 3, 30))
        piece = chooser.choice(
            ('"', "[", "]", "{", "}", "=", "#", "\n", "\0", "\u202e", ".", "-", "9" * 30, text[other : other + 40])
        )
        text = text[:place] + piece + text[place + size :]
    return text
