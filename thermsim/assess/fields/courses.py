"""Temperatures over time as sums of few fields: most of what is asked then costs a few products of small arrays."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.fields.nesting import Carried, Nesting, Shapes, at_nodes
from thermsim.solve.basis.evolution import Evolution, keep_within, summed
from thermsim.solve.march.history import History

Array = NDArray[np.float64]
Numbers = NDArray[np.int64]
Course = tuple[Array | None, slice]
Part = tuple[Shapes, Array | None, slice]


@dataclass(frozen=True)
class Courses:
    """Temperatures at the output times, kept between bounds.

    Parameters
    ----------
    offset : ndarray, shape (n_t,), or None
        What all nodes that conduct have in common [degC]; the others' values mean nothing.
    parts : tuple of (shapes, course, rows)
        Fields, their course (n_rows, k), and the times that it is for; course None: the fields are what they add at
        these times themselves.
    low, high : ndarray, shape (n_t,), or None
        Bounds [degC].
    upon : Courses or None
        Temperatures that these are added to.
    """

    offset: Array | None
    parts: tuple[Part, ...]
    low: Array | None = None
    high: Array | None = None
    upon: Courses | None = None

    @classmethod
    def of(cls, found: Evolution | History, time: Array) -> Courses:
        """The temperatures of a computation at some times [s]."""
        return cls.known(found.at(time)) if isinstance(found, History) else cls(*found.factored(time))

    @classmethod
    def known(cls, temperature: Array) -> Courses:
        """Given temperatures (n_t, n_r, n_z)."""
        return cls(None, ((temperature, None, slice(0, len(temperature))),))

    def times(self, factor: float) -> Courses:
        """So many times as much, but for what all nodes have in common: the grids agree on that."""

        def more(shapes: Shapes) -> Shapes:
            return replace(shapes, fields=factor * shapes.fields) if isinstance(shapes, Carried) else factor * shapes

        parts = tuple(
            (shapes, factor * course, rows) if course is not None else (more(shapes), None, rows)
            for shapes, course, rows in self.parts
        )
        return replace(self, parts=parts)

    def plus(self, other: Courses) -> Courses:
        """The sum of both, but for what all nodes have in common."""
        return replace(self, parts=self.parts + other.parts)

    def passed(self, how: Callable[[Array], Shapes]) -> Courses:
        """With every field passed to another grid, linearly; each is one of this grid's own."""
        known: dict[int, Shapes] = {}
        for shapes, _, _ in self.parts:
            if isinstance(shapes, Carried):
                raise TypeError("fields that are carried here cannot be passed on")
            if id(shapes) not in known:
                known[id(shapes)] = how(shapes)
        return replace(self, parts=tuple((known[id(shapes)], course, rows) for shapes, course, rows in self.parts))

    def changed(self, change: Courses) -> Courses:
        """With what others change them by; these are worked out once."""
        return replace(change, offset=None, upon=self)

    def within(self, low: Array, high: Array) -> Courses:
        """The same between bounds, one each time."""
        return replace(self, low=low, high=high)

    def at(self, rows: Numbers, columns: Numbers, weights: Array | None = None) -> Array:
        """Temperatures (n_t, p) [degC] at nodes, by their numbers (p,); or their sums by weights (p, m), (n_t, m)."""
        if "temperature" in self.__dict__:
            picked = self.temperature[:, rows, columns]
            return picked if weights is None else picked @ weights
        known: dict[int, Array] = {}
        for shapes, _, _ in self.parts:
            if id(shapes) not in known:
                picked = at_nodes(shapes, rows, columns)
                known[id(shapes)] = picked if weights is None else picked @ weights
        courses = [(course, there) for _, course, there in self.parts]
        total = summed(self.offset, [known[id(shapes)] for shapes, _, _ in self.parts], courses)
        if self.upon is not None:
            total += self.upon.at(rows, columns, weights)
        return self._bounded(total)

    @cached_property
    def temperature(self) -> Array:
        """At all nodes [degC], shape (n_t, n_r, n_z)."""
        # what is carried from a coarser grid is summed there first: times are about as many as fields
        carried: dict[int, tuple[Nesting, list[Array], list[Course]]] = {}
        own: tuple[list[Array], list[Course]] = ([], [])
        for shapes, course, rows in self.parts:
            if isinstance(shapes, Carried):
                nesting = shapes.nesting
                _, fields, courses = carried.setdefault(id(nesting), (nesting, [], []))
                fields.append(shapes.fields)
            else:
                fields, courses = own
                fields.append(shapes)
            courses.append((course, rows))
        total = summed(self.offset, *own) if own[0] else None
        for nesting, fields, courses in carried.values():
            lower = summed(None if total is not None else self.offset, fields, courses)
            if total is None:
                total = nesting.carried(lower)
            else:
                nesting.add(lower, total)
        if total is None:
            raise ValueError("there are no fields")
        if self.upon is not None:
            total += self.upon.temperature
        return self._bounded(total)

    def _bounded(self, total: Array) -> Array:
        if self.low is not None and self.high is not None:
            keep_within(total.reshape(len(total), -1), self.low, self.high)
        return total
