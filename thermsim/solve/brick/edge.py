"""One edge of a brick: polynomials along it, and the modes in which heat decays between two films."""

from __future__ import annotations

import math
from dataclasses import dataclass

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

    ``rates`` (n,) [1/s]; ``modes`` (n, n): coefficients of each over the edge's polynomials, a column each;
    ``ones`` (n,): the coordinates of a temperature of 1 everywhere.
    """

    rates: Array
    modes: Array
    ones: Array


class Edge:
    """Conduction along one direction of a brick, from 0 to ``length``.

    Orthonormal Legendre polynomials with the weak form of the heat equation, whose natural conditions are the films:
    the error falls faster than any power of their number.

    Parameters
    ----------
    length : float
        [m]; for a brick that is alike on both sides half the edge, from its middle with no flow to its face.
    count : int
        Number of polynomials.
    conductivity, capacity : float
        [W/mK], [J/m3K].
    """

    def __init__(self, length: float, count: int, conductivity: float, capacity: float) -> None:
        self.length, self.capacity = length, capacity
        self.scale = np.sqrt((2 * np.arange(count) + 1) / length)
        nodes, weights = legendre.leggauss(count)
        slopes = np.array([legendre.legval(nodes, legendre.legder(np.eye(count)[k])) for k in range(count)])
        slopes *= (self.scale * 2.0 / length)[:, None]
        self.stiffness = (conductivity / capacity) * (slopes * weights * length / 2.0) @ slopes.T
        self.ends = [self.at(np.array([end]))[0] for end in (0.0, length)]

    def at(self, places: Array) -> Array:
        """The polynomials at places along the edge [m], shape (places, n)."""
        count = self.scale.size
        return np.asarray(legendre.legvander(2.0 * places / self.length - 1.0, count - 1) * self.scale)

    def decay(self, films: tuple[float, float]) -> Decay:
        """Modes between two heat-transfer coefficients [W/m2K], 0 (no flow) to inf (held at the medium's)."""
        stiffness = self.stiffness.copy()
        for end, film in zip(self.ends, films, strict=True):
            stiffness += min(film, HELD) / self.capacity * np.outer(end, end)
        rates, modes = linalg.eigh(stiffness)
        uniform = np.zeros(self.scale.size)
        uniform[0] = math.sqrt(self.length)
        return Decay(np.maximum(rates, 0.0), modes, modes.T @ uniform)
