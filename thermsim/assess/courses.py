"""Temperatures over time as sums of few fields: most of what is asked then costs a few products of small arrays."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from thermsim.solve.evolution import Evolution, Factored
from thermsim.solve.history import History

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Courses:
    """Temperatures at the output times, kept between bounds.

    Parameters
    ----------
    factored : Factored
        The sums of fields; where nothing conducts they mean nothing.
    low, high : ndarray, shape (n_t,), or None
        Bounds [degC].
    """

    factored: Factored
    low: Array | None = None
    high: Array | None = None

    @classmethod
    def of(cls, found: Evolution | History, time: Array) -> Courses:
        """The temperatures of a computation at some times [s]."""
        return cls.known(found.at(time)) if isinstance(found, History) else cls(found.factored(time))

    @classmethod
    def known(cls, temperature: Array) -> Courses:
        """Given temperatures (n_t, n_r, n_z)."""
        return cls(Factored(None, ((temperature, None, slice(0, len(temperature))),)))

    @property
    def shapes(self) -> list[Array]:
        """The fields that the temperatures are sums of, each (k, n_r, n_z)."""
        return [shapes for shapes, _, _ in self.factored.parts]

    def times(self, factor: float) -> Courses:
        """So many times as much, but for what all nodes have in common: the grids agree on that."""
        parts = tuple(
            (shapes, factor * course, rows) if course is not None else (factor * shapes, None, rows)
            for shapes, course, rows in self.factored.parts
        )
        return replace(self, factored=replace(self.factored, parts=parts))

    def plus(self, other: Courses) -> Courses:
        """The sum of both, but for what all nodes have in common."""
        return replace(self, factored=replace(self.factored, parts=self.factored.parts + other.factored.parts))

    def passed(self, how: Callable[[Array], Array]) -> Courses:
        """With every shape passed to another grid, linearly."""
        known: dict[int, Array] = {}
        for shapes in self.shapes:
            if id(shapes) not in known:
                known[id(shapes)] = how(shapes)
        parts = tuple((known[id(shapes)], course, rows) for shapes, course, rows in self.factored.parts)
        return replace(self, factored=replace(self.factored, parts=parts))

    def within(self, low: Array, high: Array) -> Courses:
        """The same between bounds, one each time."""
        return replace(self, low=low, high=high)

    def summed(self, picked: list[Array]) -> Array:
        """Temperatures (n_t, ...) from what was picked from, or made linearly of, each of the shapes (k, ...)."""
        total = self.factored.summed(picked)
        if self.low is not None and self.high is not None:
            shape = (-1,) + (1,) * (total.ndim - 1)
            np.clip(total, self.low.reshape(shape), self.high.reshape(shape), out=total)
        return total

    @cached_property
    def temperature(self) -> Array:
        """At all nodes [degC], shape (n_t, n_r, n_z)."""
        return self.summed(self.shapes)
