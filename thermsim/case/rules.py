"""The rules that nouns share: their numbers keep to the ranges of their keys, their words to those that are known."""

from __future__ import annotations

import contextlib
import dataclasses
import functools
import itertools
import math
import numbers
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextvars import ContextVar
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from thermsim.case.keys.key import REQUIRED, Key, range_rule
from thermsim.case.keys.tables import TABLES, keys_of
from thermsim.errors import CaseError, Fault, InputError
from thermsim.physics.materials import Material
from thermsim.text import did_you_mean, printed

#: Lengths [m], or parts of a quantity, that turning millimetres into metres and back may leave over.
ROUNDING = 1e-9
_COLLECTING = ContextVar("collecting", default=False)
#: Units at the edge and the SI units of the same.
SI_UNITS = {"mm": "m", "min": "s", "g": "kg", "kPa": "Pa", "ml": "m3", "%": ""}


@contextlib.contextmanager
def collecting() -> Iterator[None]:
    """Let nouns with faults be made: the reader of a file collects them and refuses the whole case in the end."""
    before = _COLLECTING.set(True)
    try:
        yield
    finally:
        _COLLECTING.reset(before)


def refuse(*faults: Iterable[Fault]) -> None:
    """Raise the faults that a noun finds in itself, if any, where it is made by hand; else nothing is looked for."""
    found = [] if _COLLECTING.get() else [*itertools.chain(*faults)]
    if found:
        raise CaseError([str(fault) for fault in found], found)


def material_faults(*materials: Material | None) -> Iterator[Fault]:
    """Properties that no material has."""
    for material in materials:
        if material is not None:
            path = f"material {printed(material.name)}"
            yield from range_faults(material, path, "materials")
            if material.tabulated is not None:
                yield from material.tabulated.faults(f"{path}.tabulated")


def key_of(keys: Mapping[str, Key], field: str) -> Key | None:
    """The key of a table that says what a noun's field holds: "thickness_mm" for "thickness"."""
    if field in keys:
        return keys[field]
    units = ("mm", "C", "K", "min", "percent", "W_m2K", "m2K_W", "W_mK", "kg_m3", "J_kgK")
    return next((keys[f"{field}_{unit}"] for unit in units if f"{field}_{unit}" in keys), None)


def range_faults(noun: Any, path: str, heading: str) -> Iterator[Fault]:
    """Faults of a noun's numbers that are none or leave their keys' ranges; ``None`` is fine for an optional key.

    Its fields are matched with the keys of the table of that heading by their names (see :func:`key_of`).
    """
    for field, key in _ranged(type(noun), heading):  # type: ignore[arg-type]
        value = getattr(noun, field)
        if isinstance(value, tuple):
            for place, one in enumerate(value):
                yield from number_faults(one, f"{path}.{field}[{place}]", key)
        elif value is not None or key.default == REQUIRED:
            yield from number_faults(value, f"{path}.{field}", key)


@functools.cache
def _ranged(noun: type, heading: str) -> tuple[tuple[str, Key], ...]:
    """The fields of a noun that hold numbers, and their keys."""
    keys = keys_of(heading)
    pairs = ((field.name, key_of(keys, field.name)) for field in dataclasses.fields(noun))
    return tuple(
        (name, key) for name, key in pairs if key is not None and (key.low, key.high) != (-math.inf, math.inf)
    )


def kept_limit(limit: float, digits: int, *, up: bool) -> float:
    """A positive limit with so many digits, rounded to the side on which it is kept."""
    step = 10.0 ** (math.floor(math.log10(limit)) - digits + 1)
    steps = limit / step
    return step * (math.ceil(steps - ROUNDING) if up else math.floor(steps + ROUNDING))


def is_number(value: object) -> bool:
    """Tell whether a value is a finite number."""
    return isinstance(value, numbers.Real) and not isinstance(value, bool) and math.isfinite(value)


def number_faults(value: Any, path: str, key: Key | str, name: str = "") -> Iterator[Fault]:
    """Faults of a value in SI units (temperatures in degC) that is no number or leaves the range of its key.

    ``key`` may be given as the heading of its table and its ``name``.
    """
    if isinstance(key, str):
        key = _named(key, name)
    if not isinstance(value, numbers.Real) or isinstance(value, bool):
        yield Fault(path, value, "is not a number")
        return
    amount = key.quantity.edge(float(value))
    # what a file says was turned into SI units on the way
    for limit in (key.low, key.high):
        if abs(amount - limit) <= ROUNDING * abs(limit) and math.isfinite(limit):
            amount = limit
    rule = range_rule(amount, key)
    if rule:
        also = f" ({amount:.6g} {key.unit})" if key.unit in ("min", "%") else ""
        yield Fault(path, float(value), rule, f"{SI_UNITS.get(key.unit, key.unit)}{also}".strip())


@functools.cache
def _named(heading: str, name: str) -> Key:
    return next(key for key in TABLES[heading] if key.name == name)


def samples_of(time: ArrayLike, **readings: ArrayLike) -> tuple[NDArray[np.float64], ...]:
    """Times [s] and what was read at them, by the names of the arguments, as arrays of shape (n,).

    Raises ``InputError`` if they are not of one length, two or more, finite, and the times growing.
    """
    times, *found = (np.array(values, dtype=float) for values in (time, *readings.values()))
    for name, values in zip(readings, found, strict=True):
        if times.ndim != 1 or times.size < 2 or times.shape != values.shape:
            raise InputError(
                f"time and {name} must be two lists of the same length, two or more; their shapes are {times.shape} "
                f"and {values.shape}"
            )
        if not np.isfinite(values).all():
            raise InputError(f"{name} must be finite; {int((~np.isfinite(values)).sum())} of its numbers are not")
    if not (np.isfinite(times).all() and (np.diff(times) > 0.0).all()):
        raise InputError("time must be finite and growing, s")
    return times, *found


def word_faults(value: object, path: str, allowed: Sequence[str]) -> Iterator[Fault]:
    """Faults of a word that is not one of those that are known."""
    if not isinstance(value, str) or value not in allowed:
        yield Fault(path, value, f"is unknown; {did_you_mean(str(value), allowed)}")


def name_faults(names: Sequence[str], paths: Sequence[str], what: str) -> Iterator[Fault]:
    """Faults of things that bear the name of an earlier one of their kind."""
    earlier: set[str] = set()
    for name, path in zip(names, paths, strict=True):
        if name and name in earlier:
            yield Fault(f"{path}.name", name, f"is taken by an earlier {what}; give each its own")
        earlier.add(name)
