"""Heat-penetration factors of a heating curve: the straight line in log10(unaccomplished temperature) over time.

log10((T_M - T)/(T_M - T_0)) = log10(j) - t/f, with T_M the medium's and T_0 the start temperature.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: The straight part lies below this unaccomplished fraction; above, a conduction curve still bends.
STRAIGHT_BELOW = 0.1
#: Unaccomplished fractions below this are not used: what is left to go is too small to be known well.
STRAIGHT_ABOVE = 0.01
#: Where heating ends before the straight part is long enough, a line may begin here.
BENT_BELOW = 0.3


@dataclass(frozen=True)
class Factors:
    """Slope factor ``f`` [s] and lag factor ``j`` of a heating curve, from so many ``samples``."""

    f: float
    j: float
    samples: int


def heating_factors(time: Array, temperature: Array, *, medium: float, start: float) -> Factors | None:
    """Fit the straight part of a heating curve under a constant medium.

    Parameters
    ----------
    time, temperature : ndarray, shape (n,)
        Times since heating began [s] and temperatures [degC].
    medium, start : float
        Temperatures of the medium and of the product at time 0 [degC].

    Returns
    -------
    Factors or None
        None if the curve ends before its straight part.
    """
    left = (medium - temperature) / (medium - start)
    least = max(STRAIGHT_ABOVE, float(left.min()))
    top = min(max(STRAIGHT_BELOW, 3.0 * least), BENT_BELOW)
    straight = (left <= top) & (left >= least)
    if straight.sum() < 5 or top < 1.5 * least:
        return None
    slope, level = np.polyfit(time[straight], np.log10(left[straight]), 1)
    if slope >= 0.0:
        return None
    return Factors(f=float(-1.0 / slope), j=float(10.0**level), samples=int(straight.sum()))
