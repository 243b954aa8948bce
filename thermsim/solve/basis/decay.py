"""The exact course of modes that decay while the medium follows straight lines."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Below this exponent a series stands for what would lose its digits.
SMALL = 1e-3


def decay(rates: Array, ones: Array, knots: Array, medium: Array, start: Array) -> tuple[Array, Array]:
    """Follow modes exactly: da/dt = -rate a - ones dT_medium/dt, the medium linear between knots.

    Parameters
    ----------
    rates, ones, start : ndarray, shape (modes,)
        Rates of decay [1/s], what the medium's rate of change counts in each mode, and a at the first knot.
    knots, medium : ndarray, shape (m,)
        Times [s], growing, and the medium there [degC]; where it jumps a knot stands twice.

    Returns
    -------
    at_knots : ndarray, shape (m, modes)
        a at each knot.
    gathered : ndarray, shape (modes,)
        Its integral over all of them.
    """
    length = np.diff(knots)[:, None]
    x = length * rates
    kept, positive = np.exp(-x), np.maximum(x, 1e-12)
    # (1 - e^-x)/x and (1 - that)/x
    one = -np.expm1(-positive) / positive
    two = np.where(x > SMALL, (1.0 - one) / positive, 0.5 - x / 6.0 + x * x / 24.0)
    drive = np.diff(medium)[:, None] * ones
    gone = one * drive
    at_knots = np.empty((knots.size, rates.size))
    at_knots[0] = start
    for k in range(length.size):
        np.multiply(kept[k], at_knots[k], out=at_knots[k + 1])
        at_knots[k + 1] -= gone[k]
    return at_knots, (length * (one * at_knots[:-1] - two * drive)).sum(axis=0)


def follow(
    rates: Array, ones: Array, since: Array, climb: Array, at_knot: Array, settled_from: float
) -> tuple[Array, Array]:
    """Look at what :func:`decay` follows between its knots.

    Parameters
    ----------
    rates, ones : ndarray, shape (modes,)
        As of :func:`decay`.
    since, climb : ndarray, shape (n,)
        Of each look the time since its knot [s], and the medium's rate of change there [K/s].
    at_knot : ndarray, shape (n, modes)
        a at each look's knot.
    settled_from : float
        Modes that decay faster [1/s] count as settled: without what lasts but an instant after a jump.

    Returns
    -------
    coordinates, change : ndarray, shape (n, modes)
        The modes' coordinates and their rates of change.
    """
    x, drive = np.multiply.outer(since, rates), np.multiply.outer(climb, ones)
    kept = np.exp(-x)
    # the time that the medium's slope has acted for: (1 - e^-x)/rate; slopes may be as steep as a jump's
    acted = since[:, None] * (1.0 - x / 2.0 + x * x / 6.0)
    np.divide(1.0 - kept, rates, out=acted, where=x > SMALL)
    coordinates = kept * at_knot - acted * drive
    fast = rates > settled_from
    if fast.any():
        coordinates[:, fast] = -drive[:, fast] / rates[fast]
    return coordinates, -rates * coordinates - drive
