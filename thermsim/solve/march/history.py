"""The temperature of every node over time, cubic between the march's own steps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class History:
    """Temperatures and heat that the march leaves behind.

    Parameters
    ----------
    time : ndarray, shape (n_t,)
        Times [s]; where the medium's course bends or jumps a time stands twice, once for each side.
    temperature, rate : ndarray, shape (n_t, n_r, n_z)
        Temperature [degC] and its rate of change [K/s].
    heat_in, stored : float
        Net heat that entered through the surfaces, and the change of the heat stored [J].
    capacity : float
        Heat capacity of the whole body [J/K].
    steps, rejected : int
        Accepted and rejected time steps.
    """

    time: Array
    temperature: Array
    rate: Array
    heat_in: float
    stored: float
    capacity: float
    steps: int
    rejected: int

    @property
    def energy_defect(self) -> float:
        """(heat in - stored) as a part of the larger of the two, or of what heats the body by 1 K if that is more."""
        return (self.heat_in - self.stored) / max(abs(self.heat_in), abs(self.stored), self.capacity)

    def entry_before(self, knot: float) -> int:
        """The entry for a knot of the process [s], with the temperatures as the knot is reached (before any jump)."""
        return int(np.searchsorted(self.time, knot * (1 - 1e-12)))

    @property
    def conducting(self) -> NDArray[np.bool_]:
        """Nodes whose temperatures it holds, shape (n_r, n_z): all."""
        return np.ones(self.temperature.shape[1:], dtype=bool)

    def reached(self, knot: float) -> Array:
        """Temperature [degC], shape (n_r, n_z), as a knot of the process [s] is reached (before any jump)."""
        return np.asarray(self.temperature[self.entry_before(knot)])

    def entries(self, nodes: NDArray[np.bool_]) -> tuple[Array, Array]:
        """Temperature [degC] and rate [K/s] of some nodes at the entries, shapes (n_t, nodes)."""
        return np.ascontiguousarray(self.temperature[:, nodes]), np.ascontiguousarray(self.rate[:, nodes])

    def at(self, time: Array) -> Array:
        """Temperature at given times.

        Parameters
        ----------
        time : ndarray, shape (n,)
            Times within the process [s]; at a jump the value after it.

        Returns
        -------
        ndarray, shape (n, ...)
            Temperature [degC].
        """
        return hermite_sum(*hermite_weights(self.time, np.asarray(time, dtype=float)), self.temperature, self.rate)


def hermite_weights(knots: Array, time: Array) -> tuple[Array, NDArray[np.intp]]:
    """Weights of the cubic that takes value and slope at both ends of the interval in which each time lies.

    Parameters
    ----------
    knots : ndarray, shape (n,)
        Times of the entries, growing; a repeated time is a break.
    time : ndarray, shape (m,)
        Where the cubic is wanted.

    Returns
    -------
    weights : ndarray, shape (4, m)
        For the values at both ends and the slopes at both ends.
    first : ndarray of int, shape (m,)
        The entry at which each interval begins.
    """
    after = np.clip(np.searchsorted(knots, time, side="right"), 1, knots.size - 1)
    # past the last entry, and where the last time is repeated, step back to an interval that has a length
    while (empty := knots[after] <= knots[after - 1]).any():
        after = np.where(empty, after - 1, after)
    first = after - 1
    h = knots[after] - knots[first]
    x = np.clip((time - knots[first]) / h, 0.0, 1.0)
    y = 1.0 - x
    return np.stack([y * y * (1 + 2 * x), x * x * (1 + 2 * y), y * y * x * h, -x * x * y * h]), first


def hermite_slopes(knots: Array, time: Array, first: NDArray[np.intp]) -> Array:
    """Weights (4, m) of the same for the cubic's rate of change, within the intervals that begin at ``first``."""
    h = knots[first + 1] - knots[first]
    x = np.clip((time - knots[first]) / h, 0.0, 1.0)
    return np.stack([6 * x * (x - 1) / h, 6 * x * (1 - x) / h, (1 - x) * (1 - 3 * x), x * (3 * x - 2)])


def hermite(knots: Array, values: Array, rates: Array, time: Array) -> tuple[Array, Array]:
    """Value and rate (m, ...) at each time of that cubic, of values and rates (n, ...) at the entries."""
    weights, first = hermite_weights(knots, time)
    slopes = hermite_slopes(knots, time, first)
    return hermite_sum(weights, first, values, rates), hermite_sum(slopes, first, values, rates)


def hermite_sum(weights: Array, first: NDArray[np.intp], values: Array, rates: Array) -> Array:
    """Sums (m, ...) with weights (4, m) of values and rates (n, ...) at both ends of the intervals from ``first``."""
    w = weights.reshape(*weights.shape, *(1,) * (values.ndim - 1))
    found = w[0] * values[first]
    found += w[1] * values[first + 1]
    found += w[2] * rates[first]
    found += w[3] * rates[first + 1]
    return np.asarray(found)
