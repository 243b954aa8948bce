"""Closed forms: the steady pin fin, the semi-infinite solid behind a film, lethality of simple courses.

A pin fin is a rod of constant temperature at its foot, cooled or heated along its side and at its tip; written with
decaying exponentials, so long fins do not overflow. Lethality is ``F = integral 10^((T - reference)/z) dt``, in the
unit of time that goes in: seconds here. Sources: any heat-transfer textbook; elementary integrals; E1 as
defined in any table of special functions (from memory).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from thermsim.exact.checks import FloatArray, as_floats, as_places, as_times, require_film, require_positive


def fin_parameter(conductivity: float, film: float, *, diameter: float) -> float:
    """Return m = sqrt(4 h/(k D)) [1/m]."""
    require_positive(conductivity=conductivity, film=film, diameter=diameter)
    return float(np.sqrt(4.0 * film / (conductivity * diameter)))


def fin_temperature(
    x: ArrayLike, length: float, *, conductivity: float, diameter: float, film: float, tip_film: float
) -> FloatArray:
    """(T - medium)/(foot - medium) along a pin fin, shape (n_x,).

    ``(cosh m(L-x) + b sinh m(L-x))/(cosh mL + b sinh mL)``, ``b = tip_film/(m k)``.

    Parameters
    ----------
    x : array_like, shape (n_x,)
        Distances from the foot [m].
    length, conductivity, diameter, film : float
        [m], [W/(m K)], [m], [W/(m2 K)] on the side.
    tip_film : float
        Film coefficient of the tip [W/(m2 K)]; 0 = adiabatic tip.

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


def semi_infinite_unaccomplished(
    depth: ArrayLike, time: ArrayLike, *, conductivity: float, density: float, specific_heat: float, film: float
) -> FloatArray:
    """Step response theta = (T - medium)/(start - medium) of a semi-infinite solid, shape (n_t, n_x), at every time.

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


def lethal_rate(temperature: float, *, reference: float, z: float) -> float:
    """Return 10^((T - reference)/z) [-]; temperatures [degC], z [K]."""
    require_positive(z=z)
    return float(10.0 ** ((temperature - reference) / z))


def lethality_of_ramp(start: float, stop: float, *, duration: float, reference: float, z: float) -> float:
    """Lethality [s] of a linear course from `start` to `stop` [degC] within `duration` [s].

    ``z t/(ln 10 (T2 - T1)) (L2 - L1)``, written with (e^x - 1)/x so that a level course is no special case.
    """
    rate = lethal_rate(start, reference=reference, z=z)
    return duration * rate * float(special.exprel(np.log(10.0) * (stop - start) / z))


def lethality_of_exponential_heating(
    medium: float, deficit: float, *, time_constant: float, start: float, stop: float, reference: float, z: float
) -> float:
    """Lethality [s] of ``T = medium - deficit exp(-t/time_constant)`` between two times.

    ``tau L(medium) (E1(u(stop)) - E1(u(start)))``, ``u(t) = (ln 10/z) deficit exp(-t/tau)``.

    Parameters
    ----------
    medium : float
        Temperature that is approached [degC].
    deficit : float
        j (TR - T0) [K], > 0.
    time_constant : float
        fh/ln 10 [s].
    start, stop : float
        Times [s].
    reference, z : float
        [degC], [K].
    """
    require_positive(deficit=deficit, time_constant=time_constant)
    u = np.log(10.0) / z * deficit * np.exp(-np.array([start, stop]) / time_constant)
    exponential = special.exp1(u)
    return time_constant * lethal_rate(medium, reference=reference, z=z) * float(exponential[1] - exponential[0])
