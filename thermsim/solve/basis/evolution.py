"""The temperature of every node over time as modes of decay: what a reduced basis leaves behind."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from thermsim.solve.basis.basis import Modes
from thermsim.solve.basis.decay import follow
from thermsim.solve.matrix.numbering import Numbering

Array = NDArray[np.float64]
Nodes = NDArray[np.bool_]

#: Modes that decay faster than this [1/s] count as decayed at all entries: they are over before anything is reported.
FASTEST = 1e4
#: Looks at the length of an entry's interval between two knots: at once, so soon [s], then ever farther apart.
FIRST_LOOK, EARLINESS = 0.2 / FASTEST, np.append(np.inf, np.linspace(1.0, 0.0, 30))
#: From so many knots on fewer are made behind all but the first, at these parts of the distance.
MANY_KNOTS, FEW_LOOKS = 24, np.array([0.0, 0.1, 1.0])


@dataclass(frozen=True)
class Leg:
    """Stages of the same films in terms of modes: ``at_knots`` (n, m) are their coordinates at the knots.

    ``medium`` [degC], (n,), is linear between the knots ``time`` [s], (n,), those of the stages in turn: where one
    ends and the next begins a time stands twice, and there the medium may jump. ``modes`` are those of the films.
    """

    time: Array
    medium: Array
    modes: Modes
    at_knots: Array

    def piece(self, time: Array) -> NDArray[np.intp]:
        """Between which knots times lie: the number of the first."""
        return self.time[1:-1].searchsorted(time, side="right")

    def at(self, time: Array, piece: NDArray[np.intp], *, settled: bool = False) -> tuple[Array, Array, Array]:
        """Coordinates of the modes at times (n,) [s], each between given knots.

        Returns
        -------
        coordinates, change : ndarray, shape (n, m)
            Of the modes, and their rates of change [1/s]; ``settled``: without what lasts but an instant after a
            jump, for cubics through the entries.
        course : ndarray, shape (n, 2)
            Temperature of the medium [degC], and its rate [K/s].
        """
        since, length = time - self.time[piece], self.time[piece + 1] - self.time[piece]
        climb = (self.medium[piece + 1] - self.medium[piece]) / length
        settled_from = FASTEST if settled else np.inf
        found = follow(self.modes.rates, self.modes.ones, since, climb, self.at_knots[piece], settled_from)
        return *found, np.column_stack([self.medium[piece] + since * climb, climb])

    def entries(self, tolerance: float, shapes: Array | None = None) -> tuple[Array, NDArray[np.intp]]:
        """Times between which a cubic is within a tolerance [K], and their pieces; each piece has both its ends.

        At all nodes, or at places where the modes have values ``shapes`` (m, places).
        """
        length = np.diff(self.time)
        pieces = np.flatnonzero(length)
        few = pieces.size < MANY_KNOTS
        looks = [
            size * (min(FIRST_LOOK / size, 0.5) ** EARLINESS)
            if few or k == 0 or length[k - 1] == 0.0
            else FEW_LOOKS * size
            for k, size in zip(pieces.tolist(), length[pieces].tolist(), strict=True)
        ]
        piece = np.repeat(pieces, [look.size for look in looks])
        time = self.time[piece] + np.concatenate(looks)
        _, slope, _ = self.at(time, piece, settled=True)
        shapes = self.modes.sampled_shapes if shapes is None else shapes
        fourth = np.abs((self.modes.rates**3 * slope) @ shapes).max(axis=1)
        # a cubic that meets both ends and slopes is off by up to h^4/384 times the fourth derivative
        density = ((fourth + 1e-30) / (384.0 * tolerance)) ** 0.25
        densities = np.split(density, np.cumsum([look.size for look in looks])[:-1])
        times, behind = [], []
        for k, look, here in zip(pieces, looks, densities, strict=True):
            # the derivative falls fast behind a knot: between two looks its geometric mean serves
            number = np.concatenate([[0.0], np.cumsum(np.sqrt(here[1:] * here[:-1]) * np.diff(look))])
            intervals = int(np.ceil(number[-1] + 1e-9))
            inner = np.interp(np.arange(1, intervals) * (number[-1] / intervals), number, look)
            times.append(np.concatenate([[self.time[k]], self.time[k] + inner, [self.time[k + 1]]]))
            behind.append(np.full(intervals + 1, k))
        return np.concatenate(times), np.concatenate(behind)


def summed(offset: Array | None, values: list[Array], courses: list[tuple[Array | None, slice]]) -> Array:
    """Sums of few fields over time.

    Parameters
    ----------
    offset : ndarray, shape (n_t,), or None
        What all places have in common.
    values : list of ndarray, shape (k, ...)
        The fields of each part, at all nodes or at some places.
    courses : list of (course, rows)
        Of each part how much there is of each field, (n_rows, k), and at which times; None: the fields themselves.

    Returns
    -------
    ndarray, shape (n_t, ...)
    """
    rest = values[0].shape[1:]
    if offset is None:
        total = np.zeros((max(rows.stop for _, rows in courses), *rest))
    else:
        total = np.empty((offset.size, *rest))
        total[:] = offset.reshape(-1, *(1 for _ in rest))
    flat = total.reshape(len(total), -1)
    for fields, (course, rows) in zip(values, courses, strict=True):
        if course is None:
            total[rows] += fields
        else:
            flat[rows] += course @ fields.reshape(len(fields), -1)
    return total


def keep_within(values: Array, low: Array, high: Array) -> tuple[NDArray[np.intp], Nodes]:
    """Keep values (n_t, m) between bounds (n_t,), in place; to look first takes a third of the time.

    Returns
    -------
    rows : ndarray of int, shape (k,)
        Where some lay beyond.
    within : ndarray of bool, shape (k, m)
        Which of these rows' did not.
    """
    beyond = (values.min(axis=1, initial=np.inf) < low) | (values.max(axis=1, initial=-np.inf) > high)
    rows = np.flatnonzero(beyond)
    found = values[rows]
    kept = np.clip(found, low[rows, None], high[rows, None])
    values[rows] = kept
    return rows, kept == found


@dataclass(frozen=True)
class Evolution:
    """The temperature of every node over time.

    Parameters
    ----------
    legs : tuple of Leg
        One for each set of films in turn.
    numbering : Numbering
        Of the active nodes.
    initial : ndarray, shape (n_r, n_z)
        Temperature at the start [degC], for ever where nothing conducts.
    tolerance : float
        How close the cubics between the entries are [K].
    heat_in, stored : float
        Net heat that entered through the surfaces, and the change of the heat stored [J].
    capacity : float
        Heat capacity of the whole body [J/K].
    beside : Evolution or None
        The same process on another grid, whose entries are taken over.
    """

    legs: tuple[Leg, ...]
    numbering: Numbering
    initial: Array
    tolerance: float
    heat_in: float
    stored: float
    capacity: float
    rejected: int = 0
    beside: Evolution | None = None

    @property
    def energy_defect(self) -> float:
        """(heat in - stored) as a part of the larger of the two, or of what heats the body by 1 K if that is more."""
        return (self.heat_in - self.stored) / max(abs(self.heat_in), abs(self.stored), self.capacity)

    @cached_property
    def pieces(self) -> list[tuple[Array, NDArray[np.intp]]]:
        """For each leg the times of its entries [s], and between which of its knots each lies."""
        return self.beside.pieces if self.beside else [leg.entries(self.tolerance) for leg in self.legs]

    @cached_property
    def time(self) -> Array:
        """Times of the entries [s]; where the medium's course bends or jumps a time stands twice."""
        return np.concatenate([time for time, _ in self.pieces])

    @property
    def steps(self) -> int:
        """Intervals between entries."""
        return int((np.diff(self.time) > 0).sum())

    def entry_before(self, knot: float) -> int:
        """The entry for a knot of the process [s], with the temperatures as the knot is reached (before any jump)."""
        return int(np.searchsorted(self.time, knot * (1 - 1e-12)))

    @property
    def sparse_pieces(self) -> list[tuple[Array, NDArray[np.intp]]]:
        """Of the pieces every second entry, and all at knots."""
        found = []
        for time, piece in self.pieces:
            number = np.arange(time.size) - piece.searchsorted(piece)
            kept = (number % 2 == 0) | np.append(piece[1:] != piece[:-1], True)
            found.append((time[kept], piece[kept]))
        return found

    @cached_property
    def met(self) -> list[tuple[Array, Array]]:
        """For each leg the lowest and the highest that the body has met up to each of its knots [degC]."""
        starts = self.initial[self.conducting]
        low, high, found = starts.min(), starts.max(), []
        for leg in self.legs:
            lows = np.minimum(np.minimum.accumulate(leg.medium), low)
            highs = np.maximum(np.maximum.accumulate(leg.medium), high)
            low, high = lows[-1], highs[-1]
            found.append((lows, highs))
        return found

    def bounds(self, leg: int, piece: NDArray[np.intp], medium: Array) -> tuple[Array, Array]:
        """Bounds of all temperatures (the maximum principle) [degC] between knots of a leg where the medium is known.

        In the first instants after a jump at a held surface few shapes do not hold a profile so steep.
        """
        low, high = self.met[leg]
        return np.minimum(low[piece], medium), np.maximum(high[piece], medium)

    def entries(self, nodes: Nodes) -> tuple[Array, Array]:
        """Temperature [degC] and rate [K/s] of some nodes at the entries, shapes (n_t, nodes)."""
        columns = self.numbering.among(nodes)
        temperature, rate = (np.empty((self.time.size, columns.size)) for _ in range(2))
        done = 0
        for k, (leg, (time, piece)) in enumerate(zip(self.legs, self.pieces, strict=True)):
            coordinates, change, course = leg.at(time, piece, settled=True)
            shapes, rows = leg.modes.shapes[:, columns], slice(done, done + time.size)
            temperature[rows], rate[rows] = course[:, :1], course[:, 1:]
            temperature[rows] += coordinates @ shapes
            rate[rows] += change @ shapes
            beyond, within = keep_within(temperature[rows], *self.bounds(k, piece, course[:, 0]))
            rate[rows][beyond] *= within
            done = rows.stop
        return temperature, rate

    def mean(self, nodes: Nodes, weights: Array, time: Array) -> Array:
        """Mean of some nodes' temperatures [degC], by weights (nodes,) of sum 1, at growing times (n_t,) [s].

        At a jump as it is reached: just behind it few shapes do not hold what it does to a stem outside.
        """
        columns = self.numbering.among(nodes)
        edges = [0, *np.searchsorted(time, [leg.time[0] for leg in self.legs[1:]], side="right").tolist(), time.size]
        found = np.empty((time.size, 1))
        for k, (leg, rows) in enumerate(
            zip(self.legs, itertools.starmap(slice, itertools.pairwise(edges)), strict=True)
        ):
            when, piece = time[rows], leg.time[1:-1].searchsorted(time[rows])
            coordinates, _, course = leg.at(when, piece)
            found[rows] = course[:, :1] + coordinates @ (leg.modes.shapes[:, columns] @ weights)[:, None]
            keep_within(found[rows], *self.bounds(k, piece, course[:, 0]))
        return found[:, 0]

    @property
    def conducting(self) -> Nodes:
        """Nodes at which something conducts, shape (n_r, n_z)."""
        return self.numbering.turn(self.numbering.active)

    def reached(self, knot: float) -> Array:
        """Temperature [degC], shape (n_r, n_z), as a knot of the process [s] is reached (before any jump)."""
        index = max(k for k, leg in enumerate(self.legs) if k == 0 or leg.time[0] < knot * (1 - 1e-12))
        leg, when = self.legs[index], np.array([knot])
        piece = leg.time[1:-1].searchsorted(when * (1 - 1e-12))
        coordinates, _, course = leg.at(when, piece)
        values = coordinates @ leg.modes.shapes + course[:, :1]
        return np.asarray(self.numbering.fields([values], self.initial)[0])

    def factored(self, time: Array) -> tuple[Array, tuple[tuple[Array, Array, slice], ...]]:
        """Temperatures at growing times [s] as sums of few fields, one part for each set of films in turn.

        Returns
        -------
        offset : ndarray, shape (n_t,)
            What all nodes that conduct have in common [degC]; the others' values mean nothing.
        parts : tuple of (shapes, course, rows)
            Fields (k, n_r, n_z), their course (n_rows, k), and the times that it is for.
        """
        edges = [0, *np.searchsorted(time, [leg.time[0] for leg in self.legs[1:]]).tolist(), time.size]
        offset = np.empty(time.size)
        shapes: dict[int, Array] = {}
        parts: list[tuple[Array, Array, slice]] = []
        for leg, rows in zip(self.legs, itertools.starmap(slice, itertools.pairwise(edges)), strict=True):
            modes, when = leg.modes, time[rows]
            coordinates, _, course = leg.at(when, leg.piece(when))
            offset[rows] = course[:, 0]
            if id(modes) not in shapes:
                shapes[id(modes)] = self.numbering.fields([modes.shapes], np.zeros_like(self.initial))
            parts.append((shapes[id(modes)], coordinates, rows))
        return offset, tuple(parts)

    def at(self, time: Array, nodes: tuple[slice, slice] = (slice(None), slice(None))) -> Array:
        """Temperature [degC], shape (n, ...), at given times [s]; at a jump the value after it."""
        time = np.asarray(time, dtype=float)
        order = np.argsort(time, kind="stable")
        offset, parts = self.factored(time[order])
        total = np.empty((time.size, *self.initial.shape))
        total[order] = summed(
            offset, [shapes for shapes, _, _ in parts], [(course, rows) for _, course, rows in parts]
        )
        idle = ~self.conducting
        total[:, idle] = self.initial[idle]
        return total[:, *nodes]

    @cached_property
    def _all(self) -> tuple[Array, Array]:
        active = self.conducting
        values = self.entries(active)
        found = []
        for value, idle in zip(values, (self.initial, np.zeros_like(self.initial)), strict=True):
            whole = np.repeat(idle[None], len(value), axis=0)
            whole[:, active] = value
            found.append(whole)
        return found[0], found[1]

    @property
    def temperature(self) -> Array:
        """Of all nodes at the entries [degC], shape (n_t, n_r, n_z)."""
        return self._all[0]

    @property
    def rate(self) -> Array:
        """Rates of change of all nodes at the entries [K/s], shape (n_t, n_r, n_z)."""
        return self._all[1]
