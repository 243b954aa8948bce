"""Nouns that hold arrays: compared part by part, and not to be changed through what is handed out."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


#: Marks a field that follows from others and is not stored with them.
UNSTORED = "unstored"


def same(one: object, other: object) -> bool:
    """Tell whether two values are equal in all their parts: arrays number by number, NaN being equal to NaN.

    Of dataclasses the fields that are compared count, whatever equality they have themselves.
    """
    if one is other:
        return True
    if dataclasses.is_dataclass(one) and not isinstance(one, type):
        fields = (field.name for field in dataclasses.fields(one) if field.compare)
        return type(one) is type(other) and all(same(getattr(one, name), getattr(other, name)) for name in fields)
    if hasattr(one, "__array__") or hasattr(other, "__array__"):
        return _same_arrays(one, other)
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return one.keys() == other.keys() and all(same(value, other[key]) for key, value in one.items())
    if isinstance(one, tuple | list) and isinstance(other, tuple | list):
        return len(one) == len(other) and all(map(same, one, other))
    if isinstance(one, float) and isinstance(other, float) and math.isnan(one):
        return math.isnan(other)
    return bool(one == other)


def _same_arrays(one: Any, other: Any) -> bool:
    import numpy as np

    first, second = np.asarray(one), np.asarray(other)
    return np.array_equal(first, second, equal_nan=first.dtype.kind == second.dtype.kind == "f")


class Sealed:
    """A frozen dataclass whose arrays are read-only, equal to another where all their parts are; say ``eq=False``."""

    __hash__ = None  # type: ignore[assignment]

    def __post_init__(self) -> None:
        lock(self)

    def __setstate__(self, state: dict[str, Any]) -> None:
        vars(self).update(state)
        lock(self)

    def __eq__(self, other: object) -> bool:
        return same(self, other) if type(self) is type(other) else NotImplemented


def copy_arrays(noun: object, **kinds: type) -> None:
    """Let fields of a new frozen dataclass be arrays of their own, of the kinds given, which cannot be changed."""
    import numpy as np

    for field, kind in kinds.items():
        object.__setattr__(noun, field, read_only(np.array(getattr(noun, field), dtype=kind)))


def lock(noun: object) -> None:
    """Make the arrays of a new frozen dataclass, and those in its mappings, read-only; what they view stays so."""
    for field in dataclasses.fields(noun):  # type: ignore[arg-type]
        value = getattr(noun, field.name)
        if _is_array(value):
            object.__setattr__(noun, field.name, read_only(value))
        elif isinstance(value, Mapping) and any(map(_is_array, value.values())):
            object.__setattr__(noun, field.name, {key: read_only(part) for key, part in value.items()})


def _is_array(value: object) -> bool:
    """Tell whether a value is an array; a number of numpy is none."""
    return getattr(value, "ndim", 0) > 0


def read_only(array: NDArray[Any]) -> NDArray[Any]:
    """The same numbers, not to be changed through this."""
    view: np.ndarray[Any, Any] = array.view()
    view.flags.writeable = False
    return view
