"""One edge of a brick: piecewise polynomials along it, and the modes in which heat decays between two films."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.polynomial import legendre
from numpy.typing import NDArray
from scipy import linalg

Array = NDArray[np.float64]

#: A surface at the medium's temperature is one with this heat-transfer coefficient [W/m2K].
HELD = 1e7


@dataclass(frozen=True)
class Decay:
    """Modes of decay along an edge between two films.

    ``rates`` (n,) [1/s]; ``modes`` (n, n): coefficients of each over the edge's functions, a column each;
    ``ones`` (n,): the coordinates of a temperature of 1 everywhere.
    """

    rates: Array
    modes: Array
    ones: Array


class Edge:
    """Conduction along one direction of a brick, from 0 to ``length``.

    Finite elements of high degree (Legendre polynomials, continuous from one to the next, made orthonormal) with the
    weak form of the heat equation, whose natural conditions are the films. The error falls faster than any power of
    the degree, and what a jump of the medium leaves of it in the first seconds stays beside the face.

    Parameters
    ----------
    length : float
        [m]; for a brick that is alike on both sides half the edge, from its middle with no flow to its face.
    parts : sequence of float
        Where the elements end, as parts of the length, from 0 to 1.
    degrees : sequence of int
        Of the polynomials in each.
    conductivity, capacity : float
        [W/mK], [J/m3K].

    Attributes
    ----------
    values, of_values : ndarray, shape (n, n)
        The functions' values at the nodes, a column each, and coefficients over the functions from such values. Nodes
        are the ends of the elements and what is level in each; their weights in an integral over the edge are those
        of Gauss and Lobatto.
    """

    def __init__(
        self, length: float, parts: Sequence[float], degrees: Sequence[int], conductivity: float, capacity: float
    ) -> None:
        self.length, self.capacity = length, capacity
        self.breaks = length * np.asarray(parts)
        self._shapes = [_shape(degree) for degree in degrees]
        self._first = np.concatenate([[0], np.cumsum(degrees)])
        count = int(self._first[-1]) + 1
        mass, stiffness = np.zeros((count, count)), np.zeros((count, count))
        for k, half in enumerate(np.diff(self.breaks) / 2):
            here = slice(self._first[k], self._first[k + 1] + 1)
            nodes, weights = legendre.leggauss(degrees[k] + 1)
            value = legendre.legvander(nodes, degrees[k]) @ self._shapes[k]
            slope = legendre.legval(nodes, legendre.legder(self._shapes[k])).T
            mass[here, here] += half * (value.T * weights) @ value
            stiffness[here, here] += (slope.T * weights) @ slope / half
        self.of_values = linalg.cholesky(mass)
        self.values = linalg.inv(self.of_values)
        self.ones = self.of_values @ np.ones(count)
        self.stiffness = (conductivity / capacity) * self.values.T @ stiffness @ self.values
        self.ends = [self.at(np.array([end]))[0] for end in (0.0, length)]

    def at(self, places: Array) -> Array:
        """The functions at places along the edge [m], shape (places, n)."""
        found = np.zeros((places.size, self.ones.size))
        part = np.clip(np.searchsorted(self.breaks, places) - 1, 0, self.breaks.size - 2)
        for k, (low, high) in enumerate(pairwise(self.breaks)):
            here, local = part == k, (2.0 * places - low - high) / (high - low)
            shape = self._shapes[k]
            columns = slice(self._first[k], self._first[k + 1] + 1)
            found[here, columns] = legendre.legvander(local[here], len(shape) - 1) @ shape
        return np.asarray(found @ self.values)

    def decay(self, films: tuple[float, float]) -> Decay:
        """Modes between two heat-transfer coefficients [W/m2K], 0 (no flow) to inf (held at the medium's)."""
        stiffness = self.stiffness.copy()
        for end, film in zip(self.ends, films, strict=True):
            stiffness += min(film, HELD) / self.capacity * np.outer(end, end)
        rates, modes = linalg.eigh(stiffness)
        return Decay(np.maximum(rates, 0.0), modes, modes.T @ self.ones)


def _shape(degree: int) -> Array:
    """Legendre coefficients (degree + 1 of each, a column each) of the functions that are 1 at one point of several.

    The points are the ends and those at which the polynomial of that degree is level: 0 at all the others.
    """
    level = legendre.Legendre.basis(degree).deriv().roots()
    return np.linalg.inv(legendre.legvander(np.concatenate([[-1.0], level, [1.0]]), degree))
