"""Steady pin fin: a rod of constant temperature at its foot, cooled or heated along its side and at its tip.

Source: any heat-transfer textbook (from memory). Written with decaying exponentials, so long fins do not overflow.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from thermsim.exact.checks import FloatArray, as_places, require_film, require_positive


def fin_parameter(conductivity: float, film: float, *, diameter: float) -> float:
    """Return m = sqrt(4 h/(k D)) [1/m]."""
    require_positive(conductivity=conductivity, film=film, diameter=diameter)
    return float(np.sqrt(4.0 * film / (conductivity * diameter)))


def fin_temperature(
    x: ArrayLike, length: float, *, conductivity: float, diameter: float, film: float, tip_film: float
) -> FloatArray:
    """(T - medium)/(foot - medium) along a pin fin.

    ``(cosh m(L-x) + b sinh m(L-x))/(cosh mL + b sinh mL)``, ``b = tip_film/(m k)``.

    Parameters
    ----------
    x : array_like, shape (n_x,)
        Distances from the foot [m].
    length : float
        [m].
    conductivity, diameter, film : float
        [W/(m K)], [m], [W/(m2 K)] on the side.
    tip_film : float
        Film coefficient of the tip [W/(m2 K)]; 0 = adiabatic tip.

    Returns
    -------
    ndarray, shape (n_x,)

    Raises
    ------
    ValueError
        If a quantity is not positive, the tip's film coefficient negative or a place outside the fin.
    """
    require_positive(length=length)
    require_film(tip_film=tip_film)
    m = fin_parameter(conductivity, film, diameter=diameter)
    places = as_places("x", x, length)
    back = (m * conductivity - tip_film) / (m * conductivity + tip_film)
    with np.errstate(under="ignore"):
        result: FloatArray = (
            np.exp(-m * places)
            * (1.0 + back * np.exp(-2.0 * m * (length - places)))
            / (1.0 + back * np.exp(-2.0 * m * length))
        )
    return result


def fin_heat_flow(length: float, *, conductivity: float, diameter: float, film: float, tip_film: float) -> float:
    """Heat flow into the foot per kelvin above the medium [W/K]; arguments as in `fin_temperature`.

    ``sqrt(h P k A) (sinh mL + b cosh mL)/(cosh mL + b sinh mL)`` with P = pi D, A = pi D^2/4.
    """
    require_positive(length=length)
    require_film(tip_film=tip_film)
    m = fin_parameter(conductivity, film, diameter=diameter)
    back = (m * conductivity - tip_film) / (m * conductivity + tip_film) * np.exp(-2.0 * m * length)
    return float(conductivity * 0.25 * np.pi * diameter**2 * m * (1.0 - back) / (1.0 + back))
