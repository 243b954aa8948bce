"""Any frozen dataclass of this program to a JSON tree and back, without loss; arrays are put aside by name.

Going back is led by the type hints of the dataclass, so that no file can name a class of its choice and a tree that
does not fit is refused. A field that an older file lacks takes its default.
"""

from __future__ import annotations

import dataclasses
import functools
import math
import types
import typing
from collections.abc import Callable, Mapping
from typing import Any, Literal, TypeVar, Union

import numpy as np
from numpy.typing import NDArray

from thermsim.text import plain
from thermsim.values import UNSTORED

#: Names of the fields (or numbers of the items) that lead from the whole to a part.
Trail = tuple[str, ...]
#: What is put aside under a name of its own.
Stored = NDArray[Any] | str
Put = Callable[[Trail, Stored], str | None]
Get = Callable[[str], Stored]
T = TypeVar("T")

STORED = "stored"
#: Names that fields had in earlier versions.
EARLIER = {"courses": "tabulated"}


def encode(value: object, put: Put, trail: Trail = ()) -> object:
    """Turn a value into what ``json.dumps(..., allow_nan=False)`` accepts.

    Parameters
    ----------
    value : dataclass, tuple, mapping with text keys, array, number, text, bool or None
        What is to be stored; dataclasses may hold each other.
    put : callable
        Called with the trail and the value of every array and text; returns the name under which it keeps it, or
        None for a text that is to stay in the tree.
    trail : tuple of str, optional
        Where the value stands in the whole.

    Returns
    -------
    dict, list, str, int, float, bool or None
        Numbers that JSON does not know are "inf", "-inf" and "nan"; what was put aside is ``{"stored": name}``.

    Raises
    ------
    TypeError
        For any other kind of value.
    """
    if isinstance(value, np.ndarray | str):
        name = put(trail, value)
        if name is not None:
            return {STORED: name}
        if isinstance(value, str):
            return value
    if value is None or isinstance(value, bool | np.bool_):
        return None if value is None else bool(value)
    if isinstance(value, int | np.integer):
        return int(value)
    if isinstance(value, float | np.floating):
        return float(value) if math.isfinite(value) else repr(float(value))
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {
            field.name: encode(getattr(value, field.name), put, (*trail, field.name))
            for field in dataclasses.fields(value)
            if UNSTORED not in field.metadata
        }
    if isinstance(value, Mapping) and all(isinstance(key, str) for key in value):
        return {key: encode(item, put, (*trail, key)) for key, item in value.items()}
    if isinstance(value, tuple):
        return [encode(item, put, (*trail, str(place))) for place, item in enumerate(value)]
    raise TypeError(f"{'.'.join(trail)}: a {type(value).__name__} cannot be stored")


def decode(kind: type[T], tree: object, get: Get) -> T:
    """Build a dataclass from the tree that :func:`encode` made of one.

    Parameters
    ----------
    kind : type
        The dataclass.
    tree : object
        As read from JSON.
    get : callable
        Gives what was put aside under a name.

    Returns
    -------
    dataclass
        Sealed to the one that was stored, its arrays bit by bit.

    Raises
    ------
    ValueError
        If the tree does not fit; the message names the part.
    """
    return typing.cast(T, _decode(kind, tree, get, ()))


def _decode(hint: Any, tree: object, get: Get, trail: Trail) -> object:
    origin, inner = typing.get_origin(hint), typing.get_args(hint)
    if dataclasses.is_dataclass(hint):
        return _dataclass(hint, tree, get, trail)
    if origin in (Union, types.UnionType):
        if tree is None and type(None) in inner:
            return None
        (only,) = (kind for kind in inner if kind is not type(None))
        return _decode(only, tree, get, trail)
    if origin is np.ndarray:
        return _array(inner, tree, get, trail)
    if origin is Literal:
        if isinstance(tree, str) and tree in inner:
            return tree
        raise _misfit(f"one of {', '.join(inner)}", tree, trail)
    if origin is tuple and isinstance(tree, list):
        kinds = [inner[0]] * len(tree) if inner[-1] is Ellipsis else inner
        if len(kinds) == len(tree):
            return tuple(
                _decode(kind, item, get, (*trail, str(place)))
                for place, (kind, item) in enumerate(zip(kinds, tree, strict=True))
            )
    if isinstance(origin, type) and issubclass(origin, Mapping) and isinstance(tree, dict):
        return {key: _decode(inner[1], item, get, (*trail, key)) for key, item in tree.items()}
    return _scalar(hint, tree, get, trail)


def _dataclass(kind: Any, tree: object, get: Get, trail: Trail) -> object:
    if not isinstance(tree, dict):
        raise _misfit(kind.__name__, tree, trail)
    hints = _hints(kind)
    tree = {name if name in hints else EARLIER.get(str(name), str(name)): part for name, part in tree.items()}
    unknown = [name for name in tree if name not in hints]
    if unknown:
        raise ValueError(f"part {_where((*trail, unknown[0]))} is not known")
    values = {}
    for field in dataclasses.fields(kind):
        if field.name in tree:
            values[field.name] = _decode(hints[field.name], tree[field.name], get, (*trail, field.name))
        elif field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING:
            raise ValueError(f"part {_where((*trail, field.name))} is missing")
    return kind(**values)


def _array(inner: tuple[Any, ...], tree: object, get: Get, trail: Trail) -> NDArray[Any]:
    # an array's hint is ndarray[shape, dtype[number]]
    (number,) = typing.get_args(inner[1])
    array = _stored(tree, get)
    # whole numbers where the hint says float64 are as good, and come back as they were
    if not isinstance(array, np.ndarray) or not np.can_cast(array.dtype, number):
        raise _misfit(f"an array of {number.__name__}", array, trail)
    return array


def _scalar(kind: Any, tree: object, get: Get, trail: Trail) -> object:
    if kind is float and not isinstance(tree, bool) and isinstance(tree, int | float):
        return float(tree)
    if kind is float and tree in ("inf", "-inf", "nan"):
        return float(str(tree))
    if kind is int and not isinstance(tree, bool) and isinstance(tree, int):
        return tree
    if kind is bool and isinstance(tree, bool):
        return tree
    if kind is str:
        text = tree if isinstance(tree, str) else _stored(tree, get)
        if isinstance(text, str):
            return text
    raise _misfit(getattr(kind, "__name__", str(kind)), tree, trail)


def _stored(tree: object, get: Get) -> object:
    """Thing put aside under the name that a tree gives; None if it gives no name."""
    name = tree.get(STORED) if isinstance(tree, dict) else None
    return get(name) if isinstance(name, str) else None


@functools.cache
def _hints(kind: type) -> dict[str, Any]:
    return typing.get_type_hints(kind)


def _misfit(wanted: str, found: object, trail: Trail) -> ValueError:
    return ValueError(f"part {_where(trail)} must be {wanted}, not {plain(repr(found), 40)}")


def _where(trail: Trail) -> str:
    return plain(".".join(trail), 100)
