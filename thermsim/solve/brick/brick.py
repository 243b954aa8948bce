"""Temperature in a brick over a process: the tensor product of three edges, exact between the medium's bends.

A body of constant properties whose faces have one film each decays in products of the edges' modes (Carslaw and
Jaeger, Conduction of Heat in Solids, 1959, section 1.15, from memory); a change of films is a change of basis.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from thermsim.case.process import Stage
from thermsim.solve.brick.edge import Decay, Edge

Array = NDArray[np.float64]
Edges = tuple[Edge, Edge, Edge]
Pair = tuple[float, float]
Films = list[tuple[Pair, Pair, Pair]]

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
        Temperature less the medium's, coefficients over the edges' polynomials.
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

    def _summed(self, excess: Array, along: tuple[Array, Array, Array]) -> Array:
        x, y, z = (edge.at(places) for edge, places in zip(self.edges, along, strict=True))
        total = np.tensordot(excess, z, axes=(3, 1))
        total = np.tensordot(total, y, axes=(2, 1))
        return np.asarray(np.tensordot(total, x, axes=(1, 1)).transpose(0, 3, 2, 1))


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
    heating_end = next((stage.start for stage in stages if stage.name == "cool"), total)
    times: list[Array] = []
    weights: list[Array] = []
    media: list[Array] = []
    found: list[Array] = []
    ended: tuple[Array, float] | None = None
    medium = float(stages[0].medium[0])
    state = (initial - medium) * _uniform(edges)
    for stage, faces in zip(stages, films, strict=True):
        if stage.start >= heating_end and ended is None:
            ended = state, medium
        decays = tuple(edge.decay(pair) for edge, pair in zip(edges, faces, strict=True))
        modal = _into(state, decays)
        ones = np.einsum("i,j,k->ijk", *(decay.ones for decay in decays))
        rates = decays[0].rates[:, None, None] + decays[1].rates[:, None] + decays[2].rates
        modal = modal + (medium - float(stage.medium[0])) * ones
        knots = zip(stage.time.tolist(), stage.medium.tolist(), strict=True)
        for (start, low), (end, high) in pairwise(knots):
            slope = (high - low) / (end - start)
            for since, weight in _panels(end - start, total / (PANELS * fineness)):
                times.append(start + since)
                weights.append(weight)
                media.append(low + slope * since)
                found.append(_out_of(_decayed(modal, rates, ones, slope, since), decays))
            modal = _decayed(modal, rates, ones, slope, np.array([end - start]))[0]
        medium = float(stage.medium[-1])
        state = _out_of(modal[None], decays)[0]
    time = np.concatenate(times)
    return BrickCourse(
        edges,
        time,
        np.concatenate(weights),
        np.concatenate(media),
        np.concatenate(found),
        int((time < heating_end).sum()),
        ended or (state, medium),
    )


def _uniform(edges: Edges) -> Array:
    """A temperature of 1 everywhere, over the polynomials."""
    uniform = np.zeros(tuple(edge.scale.size for edge in edges))
    uniform[0, 0, 0] = math.sqrt(math.prod(edge.length for edge in edges))
    return uniform


def _into(state: Array, decays: tuple[Decay, ...]) -> Array:
    """Coordinates in the modes of what is given over the polynomials."""
    for decay in decays:
        # each time the first axis becomes the last
        state = np.tensordot(state, decay.modes, axes=(0, 0))
    return state


def _out_of(modal: Array, decays: tuple[Decay, ...]) -> Array:
    """Over the polynomials what is given in the modes, shape (n, a, b, c)."""
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
