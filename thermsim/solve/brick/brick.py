"""Temperature in a brick over a process: the tensor product of three edges, exact between the medium's bends.

A body of constant properties whose faces have one film each decays in products of the edges' modes (Carslaw and
Jaeger, Conduction of Heat in Solids, 1959, section 1.15, from memory); a change of films is a change of basis.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from thermsim.case.process import Stage
from thermsim.solve.brick.edge import Decay, Edge

Array = NDArray[np.float64]
Edges = tuple[Edge, Edge, Edge]
Pair = tuple[float, float]
Faces = tuple[Pair, Pair, Pair]
Films = list[Faces]

#: Gauss points in a panel, and panels over the whole process.
POINTS, PANELS = 4, 40
#: Panels behind a bend of the medium get longer by this factor.
GROWTH = 2.0


@dataclass(frozen=True)
class BrickCourse:
    """The temperature at the times of a quadrature over the process.

    Parameters
    ----------
    edges : three Edge
        Along length, width and height.
    time, weight : ndarray, shape (n,)
        [s]; the weights integrate over the process, those up to ``heating`` until heating ends.
    medium : ndarray, shape (n,)
        Temperature of the medium [degC].
    excess : ndarray, shape (n, a, b, c)
        Temperature less the medium's, coefficients over the edges' functions.
    heating : int
        How many of the times lie before heating ends.
    ended : ndarray, shape (a, b, c), and its medium's temperature
        When heating ends.
    """

    edges: Edges
    time: Array
    weight: Array
    medium: Array
    excess: Array
    heating: int
    ended: tuple[Array, float]

    def temperature(self, along: tuple[Array, Array, Array]) -> Array:
        """Temperature [degC] over time at the crossings of places along the three edges [m], (n, x, y, z)."""
        return np.asarray(self._summed(self.excess, along) + self.medium[:, None, None, None])

    def end_of_heating(self, along: tuple[Array, Array, Array]) -> Array:
        """Temperature [degC] when heating ends, shape (x, y, z)."""
        excess, medium = self.ended
        return np.asarray(self._summed(excess[None], along)[0] + medium)

    def end_at(self, weights: Array) -> Array:
        """Temperature [degC] when heating ends at some points, by their :func:`weights_at`, shape (m,)."""
        excess, medium = self.ended
        return np.asarray(weights @ excess.ravel() + medium)

    def _summed(self, excess: Array, along: tuple[Array, Array, Array]) -> Array:
        x, y, z = (edge.at(places) for edge, places in zip(self.edges, along, strict=True))
        total = np.tensordot(excess, z, axes=(3, 1))
        total = np.tensordot(total, y, axes=(2, 1))
        return np.asarray(np.tensordot(total, x, axes=(1, 1)).transpose(0, 3, 2, 1))


class Entries(NamedTuple):
    """A brick at times (n,) [s]; where the medium bends one of them is before and one behind.

    ``excess`` and ``change``, shape (n, a, b, c): temperature less the medium's [K] and its rate [K/s], coefficients
    over the edges' functions. ``medium`` [degC], its ``slope`` [K/s] and the side's ``film`` [W/m2K], shape (n,).
    """

    time: Array
    excess: Array
    change: Array
    medium: Array
    slope: Array
    film: Array


@dataclass(frozen=True)
class Piece:
    """A part of the process in which the medium changes evenly: ``start``, ``length`` [s], the medium's temperature.

    ``low`` [degC] at its start, ``slope`` [K/s]; ``films`` as for :func:`follow`; ``modal`` the excess at its start.
    """

    start: float
    length: float
    low: float
    slope: float
    films: Faces
    decays: tuple[Decay, ...]
    rates: Array
    ones: Array
    modal: Array

    def excess(self, since: Array) -> Array:
        """Temperature less the medium's so long after the start [s], over the edges' functions, (n, a, b, c)."""
        return _out_of(self._later(since), self.decays)

    def change(self, since: Array) -> Array:
        """Rate of change of the excess [K/s], likewise."""
        return _out_of(-self.rates * self._later(since) - self.slope * self.ones, self.decays)

    def medium(self, since: Array) -> Array:
        """Temperature of the medium [degC] so long after the start [s]."""
        return self.low + self.slope * since

    def _later(self, since: Array) -> Array:
        return _decayed(self.modal, self.rates, self.ones, self.slope, since)


def pieces(edges: Edges, stages: tuple[Stage, ...], initial: float, films: Films) -> Iterator[Piece]:
    """The process piece by piece; parameters are those of :func:`follow`."""
    medium = float(stages[0].medium[0])
    state = (initial - medium) * _uniform(edges)
    for stage, faces in zip(stages, films, strict=True):
        decays = tuple(edge.decay(pair) for edge, pair in zip(edges, faces, strict=True))
        ones = np.einsum("i,j,k->ijk", *(decay.ones for decay in decays))
        rates = rates_of(decays)
        modal = _into(state, decays) + (medium - float(stage.medium[0])) * ones
        knots = zip(stage.time.tolist(), stage.medium.tolist(), strict=True)
        for (start, low), (end, high) in pairwise(knots):
            length = end - start
            piece = Piece(start, length, low, (high - low) / length, faces, decays, rates, ones, modal)
            yield piece
            modal = piece._later(np.array([length]))[0]
        medium = float(stage.medium[-1])
        state = _out_of(modal[None], decays)[0]


def follow(
    edges: Edges,
    stages: tuple[Stage, ...],
    initial: float,
    films: Films,
    fineness: int,
) -> BrickCourse:
    """Follow a process.

    Parameters
    ----------
    edges : three Edge
    stages : tuple of Stage
        Their medium; of their films only ``films`` counts.
    initial : float
        Temperature of the product at the start [degC].
    films : list of three pairs of float
        For each stage the heat-transfer coefficients [W/m2K] at both ends of each edge.
    fineness : int
        So many times as many panels as usual.
    """
    total = stages[-1].end
    heated_until = next((stage.start for stage in stages if stage.name == "cool"), total)
    times: list[Array] = []
    weights: list[Array] = []
    media: list[Array] = []
    found: list[Array] = []
    medium = float(stages[0].medium[0])
    ended = (initial - medium) * _uniform(edges), medium
    for piece in pieces(edges, stages, initial, films):
        for since, weight in _panels(piece.length, total / (PANELS * fineness)):
            times.append(piece.start + since)
            weights.append(weight)
            media.append(piece.medium(since))
            found.append(piece.excess(since))
        if piece.start + piece.length <= heated_until:
            last = np.array([piece.length])
            ended = piece.excess(last)[0], float(piece.medium(last)[0])
    time = np.concatenate(times)
    return BrickCourse(
        edges,
        time,
        np.concatenate(weights),
        np.concatenate(media),
        np.concatenate(found),
        int((time < heated_until).sum()),
        ended,
    )


def weights_at(edges: Edges, places: Array) -> Array:
    """Weights (m, a b c) of the edges' functions at places along the three edges [m], (m, 3)."""
    x, y, z = (edge.at(places[:, k]) for k, edge in enumerate(edges))
    return np.asarray(np.einsum("ma,mb,mc->mabc", x, y, z).reshape(len(places), x.shape[1] * y.shape[1] * z.shape[1]))


def rates_of(decays: Sequence[Decay]) -> Array:
    """Rates of decay [1/s] of the modes of three edges together, (a, b, c)."""
    along_x, along_y, along_z = (decay.rates for decay in decays)
    return np.asarray(along_x[:, None, None] + along_y[:, None] + along_z)


def _uniform(edges: Edges) -> Array:
    """A temperature of 1 everywhere, over the edges' functions."""
    return np.asarray(np.einsum("i,j,k->ijk", *(edge.ones for edge in edges)))


def _into(state: Array, decays: tuple[Decay, ...]) -> Array:
    """Coordinates in the modes of what is given over the edges' functions."""
    for decay in decays:
        # each time the first axis becomes the last
        state = np.tensordot(state, decay.modes, axes=(0, 0))
    return state


def _out_of(modal: Array, decays: tuple[Decay, ...]) -> Array:
    """Over the edges' functions what is given in the modes, shape (n, a, b, c)."""
    for decay in decays:
        modal = np.tensordot(modal, decay.modes, axes=(1, 1))
    return modal


def _decayed(modal: Array, rates: Array, ones: Array, slope: float, since: Array) -> Array:
    """The modes some times [s] later, while the medium changes by ``slope`` [K/s]; shape (n, a, b, c)."""
    x = rates * since[:, None, None, None]
    # the time that the slope has acted for, (1 - e^-x) / rate
    acted = np.where(x > 1e-12, -np.expm1(-x) / np.maximum(rates, 1e-300), since[:, None, None, None])
    return np.asarray(np.exp(-x) * modal - slope * acted * ones)


def _panels(length: float, longest: float) -> Iterator[tuple[Array, Array]]:
    """Gauss points [s] and weights [s] of panels that grow behind a bend, to a longest one."""
    nodes, weights = np.polynomial.legendre.leggauss(POINTS)
    start, size = 0.0, min(longest, length) / 8.0
    while start < length * (1.0 - 1e-12):
        left = length - start
        step = left if left < 1.5 * size else size
        yield start + step * (nodes + 1.0) / 2.0, step * weights / 2.0
        start, size = start + step, min(size * GROWTH, longest)
