"""Reading of a probe: the mean temperature of the length at its tip over which the sensor averages."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.fields.family import errors_lost
from thermsim.assess.fields.lethality import LEAST, gathered_by_cubics, lethality_of
from thermsim.case.case import Lethality
from thermsim.solve.basis.evolution import Evolution
from thermsim.solve.grid.grid import Grid
from thermsim.solve.march.history import History, hermite, hermite_sum, hermite_weights

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Sensor:
    """The volume that a sensor averages over: a cylinder on the axis; ``low`` = ``high`` is its end face.

    ``radius``, and ``low`` and ``high`` as heights z [m].
    """

    radius: float
    low: float
    high: float

    def weights(self, grid: Grid) -> Array:
        """Weights of the nodes, shape (n_r, n_z): the exact mean of the field that is bilinear between nodes."""
        # columns are upright where a probe stands: there they are distances from the axis
        along_r = hat_integrals(grid.columns, 0.0, self.radius, ring=True)
        if self.high > self.low:
            along_z = hat_integrals(grid.z[0], self.low, self.high, ring=False)
        else:
            along_z = np.zeros(grid.levels.size)
            along_z[np.abs(grid.z[0] - self.low).argmin()] = 1.0
        weights = np.outer(along_r, along_z)
        return np.asarray(weights / weights.sum())

    def places(self) -> tuple[list[tuple[float, float]], Array]:
        """Places r, z [m] and weights whose weighted mean is exact for fields quadratic in r and of degree 5 in z."""
        points, weights = np.polynomial.legendre.leggauss(3)
        heights = (self.low + self.high) / 2 + (self.high - self.low) / 2 * points
        # over a disc the mean of r^2 is R^2/2
        return [(self.radius / np.sqrt(2.0), float(z)) for z in heights], weights / 2.0


@dataclass(frozen=True)
class Course:
    """A temperature over time, cubic between the entries; a time that stands twice is a break.

    ``time`` [s] of shape (n_t,), ``temperature`` [degC] and ``rate`` [K/s] of shape (n_t,) or, of several, (n_t, n).
    """

    time: Array
    temperature: Array
    rate: Array

    def entry_before(self, knot: float) -> int:
        """The entry for a time [s], with the temperature as it is reached."""
        return int(np.searchsorted(self.time, knot * (1 - 1e-12)))

    def between(self, low: float, high: float) -> Course:
        """Its entries from a time to a later one [s], with those beside them where these are none themselves."""
        first = min(int(np.searchsorted(self.time, low, side="right")) - 1, self.time.size - 2)
        piece = slice(first, int(np.searchsorted(self.time, high)) + 1)
        return Course(self.time[piece], self.temperature[piece], self.rate[piece])


@dataclass(frozen=True)
class Reading:
    """A reading: ``temperature`` [degC] at the output times, shape (n_t,), and when heating ends.

    ``log_lethality`` and ``log_heating`` are logarithms of the lethality in s: in all, and until heating ended.
    """

    temperature: Array
    end_of_heating: float
    log_lethality: float
    log_heating: float

    def stack(self) -> Array:
        """All of it as one array, shape (n_t + 3,)."""
        return np.append(self.temperature, [self.end_of_heating, self.log_lethality, self.log_heating])

    @classmethod
    def unstack(cls, stack: Array) -> Reading:
        """Inverse of :meth:`stack`."""
        return cls(stack[:-3], *(float(value) for value in stack[-3:]))


def reading_of(
    history: Evolution | History, weights: Array, lethality: Lethality, *, heated_until: float, time: Array
) -> Reading:
    """Reading of a sensor with the given node weights during a march.

    Parameters
    ----------
    history : Evolution or History
        Temperatures of the container with its probe.
    weights : ndarray, shape (n_r, n_z)
        As of :meth:`Sensor.weights`.
    lethality : Lethality
        Reference temperature and z.
    heated_until : float
        A knot of the process [s].
    time : ndarray, shape (n_t,)
        Output times [s].

    Returns
    -------
    Reading
    """
    nodes = weights != 0.0
    mine = weights[nodes]
    gathered = lethality_of(history, nodes, lethality, heated_until, mine[:, None])[:, 0]
    if isinstance(history, Evolution):  # modes say every temperature: cubics were off by as much as their tolerance
        curve, ends = (history.mean(nodes, mine, when) for when in (time, np.array([heated_until])))
        return _reading(curve, ends[0], gathered)
    temperature, rate = (values @ mine for values in history.entries(nodes))
    return _reading(*_along(Course(history.time, temperature, rate), heated_until, time), gathered)


def reading_along(course: Course, lethality: Lethality, *, heated_until: float, time: Array) -> Reading:
    """Reading where the temperature follows a curve; parameters as of :func:`reading_of`."""
    ended = course.entry_before(heated_until)
    gathered = lethality_along(course, lethality)[[-1, ended], 0]
    return _reading(*_along(course, heated_until, time), gathered)


def _along(course: Course, heated_until: float, time: Array) -> tuple[Array, float]:
    """Temperatures along a curve at the output times, and when heating ends [degC]; at a break as it is reached."""
    reached = np.where(time > course.time[0], np.nextafter(time, -np.inf), time)
    curve = hermite_sum(*hermite_weights(course.time, reached), course.temperature, course.rate)
    return curve, float(course.temperature[course.entry_before(heated_until)])


def _reading(curve: Array, end: float, gathered: Array) -> Reading:
    """Reading along a curve, and what it gathers [s]: in all, and until heating ended."""
    total, heating = np.log(np.maximum(gathered, LEAST))
    return Reading(curve, float(end), float(total), float(heating))


def lethality_along(course: Course, lethality: Lethality) -> Array:
    """Lethality gathered up to each entry of one course or of several (n_t, n) [s], shape (n_t, n)."""
    temperature, rate = (values.reshape(course.time.size, -1) for values in (course.temperature, course.rate))
    return gathered_by_cubics(course.time, temperature, rate, lethality)


def hat_integrals(nodes: Array, low: float, high: float, *, ring: bool) -> Array:
    """Integral of each node's hat function over the intervals between low and high, times r for rings."""
    weights = np.zeros(nodes.size)
    edge = 1e-9 * nodes[-1]
    inside = (nodes[:-1] >= low - edge) & (nodes[1:] <= high + edge)
    a, b = nodes[:-1][inside], nodes[1:][inside]
    index = np.flatnonzero(inside)
    if ring:
        np.add.at(weights, index, (b - a) * (2 * a + b) / 6)
        np.add.at(weights, index + 1, (b - a) * (a + 2 * b) / 6)
    else:
        np.add.at(weights, index, (b - a) / 2)
        np.add.at(weights, index + 1, (b - a) / 2)
    return weights


def summed(one: Course, other: Course) -> Course:
    """The sum of two courses over the same time, with the entries and the breaks of both."""
    breaks = np.unique([0.0, *_doubled(one.time), *_doubled(other.time), one.time[-1]])
    pieces = []
    for low, high in itertools.pairwise(breaks):
        # at a break what counts is the side that lies within the piece
        parts = [course.between(low, high) for course in (one, other)]
        knots = np.unique(np.concatenate([part.time for part in parts]))
        knots = knots[(knots >= low) & (knots <= high)]
        values, rates = zip(*(hermite(part.time, part.temperature, part.rate, knots) for part in parts), strict=True)
        pieces.append((knots, sum(values), sum(rates)))
    return Course(*(np.concatenate(parts) for parts in zip(*pieces, strict=True)))


def extrapolated_course(coarse: Course, fine: Course, *, ratio: float = 2.0) -> Course:
    """Course extrapolated from those of two grids; see :func:`thermsim.assess.fields.family.extrapolated`."""
    share = 1.0 / errors_lost(ratio)
    parts = (
        Course(one.time, part * one.temperature, part * one.rate)
        for one, part in ((coarse, -share), (fine, 1.0 + share))
    )
    return summed(*parts)


def _doubled(time: Array) -> Array:
    return np.asarray(time[1:][np.diff(time) <= 0.0])
