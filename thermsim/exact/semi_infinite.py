"""Semi-infinite solid behind a film."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from thermsim.exact.checks import FloatArray, as_floats, as_places, as_times, require_film, require_positive


def semi_infinite_unaccomplished(
    depth: ArrayLike, time: ArrayLike, *, conductivity: float, density: float, specific_heat: float, film: float
) -> FloatArray:
    """Step response theta = (T - medium)/(start - medium) of a semi-infinite solid.

    ``1 - theta = exp(-a^2) (erfcx(a) - erfcx(a + b))`` with ``a = x/(2 sqrt(alpha t))``, ``b = h sqrt(alpha t)/k``:
    the textbook form ``erfc(a) - exp(h x/k + b^2) erfc(a + b)`` without its overflow.

    Parameters
    ----------
    depth : array_like, shape (n_x,)
        Distances x from the surface [m], >= 0.
    time : array_like, shape (n_t,)
        Time since the step [s]; at 0 just after it, before it theta = 1.
    conductivity, density, specific_heat : float
        [W/(m K)], [kg/m3], [J/(kg K)].
    film : float
        Film coefficient [W/(m2 K)], 0 ... inf.

    Returns
    -------
    ndarray, shape (n_t, n_x)
        Valid at every time.

    Raises
    ------
    ValueError
        If a quantity is not positive, the film coefficient or a depth is negative.
    """
    require_positive(conductivity=conductivity, density=density, specific_heat=specific_heat)
    require_film(film=film)
    x = as_places("depth", depth, np.inf)
    times = as_times("time", time)
    reach = np.sqrt(conductivity / (density * specific_heat) * np.maximum(times, 0.0))[:, None]
    # at the instant of the step the surface is at a = 0 and everything else at infinity
    a = np.divide(x, 2.0 * reach, out=np.where(x > 0.0, np.inf, np.zeros_like(reach)), where=reach > 0.0)
    b = np.where(reach > 0.0, reach, 0.0) * film / conductivity if np.isfinite(film) else np.full_like(reach, np.inf)
    with np.errstate(under="ignore"):
        accomplished = np.exp(-(a**2)) * (as_floats(special.erfcx(a)) - as_floats(special.erfcx(a + b)))
    theta: FloatArray = np.where(times[:, None] < 0.0, 1.0, 1.0 - accomplished)
    return theta
