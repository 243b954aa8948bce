"""Refusing arguments that make no physical sense, in one clear line each."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]


def require_positive(**quantities: float) -> None:
    """Raise ``ValueError`` for the first named quantity that is not finite and > 0."""
    for name, value in quantities.items():
        if not (np.isfinite(value) and value > 0.0):
            raise ValueError(f"{name} = {value} is not allowed; it must be finite and > 0")


def require_film(**films: float) -> None:
    """Raise ``ValueError`` for the first named film coefficient or Biot number outside 0 ... inf."""
    for name, value in films.items():
        if not value >= 0.0:
            raise ValueError(f"{name} = {value} is not allowed; it must lie in 0 ... inf")


def as_places(name: str, places: ArrayLike, length: float) -> FloatArray:
    """Return coordinates as a flat array ``(n,)``; raise ``ValueError`` outside ``0 ... length`` [m]."""
    array: FloatArray = np.atleast_1d(np.asarray(places, dtype=np.float64)).ravel()
    # a place computed as a sum of lengths may overshoot by rounding
    if array.size and not (array.min() >= 0.0 and array.max() <= length * (1.0 + 1e-12)):
        raise ValueError(f"{name} from {array.min()} to {array.max()} m leaves the body; allowed 0 ... {length} m")
    return np.minimum(array, length)


def as_times(name: str, times: ArrayLike) -> FloatArray:
    """Return times [s] as a flat array ``(n,)``; raise ``ValueError`` where one is not finite."""
    array: FloatArray = np.atleast_1d(np.asarray(times, dtype=np.float64)).ravel()
    if not np.isfinite(array).all():
        raise ValueError(f"{name} holds a time that is not finite")
    return array


def as_floats(values: Any) -> FloatArray:
    """Return what a special function gave as a typed array."""
    return np.asarray(values, dtype=np.float64)
