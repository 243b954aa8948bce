"""Lethality of temperature courses whose integral is known in closed form.

``F = integral 10^((T - reference)/z) dt``, in the unit of time that goes in: seconds here.
Sources: elementary integrals; E1, Ei and I0 as defined in any table of special functions (from memory).
"""

from __future__ import annotations

import numpy as np
from scipy import special

from thermsim.exact.checks import FloatArray, as_floats, require_positive


def lethal_rate(temperature: float, *, reference: float, z: float) -> float:
    """Return 10^((T - reference)/z) [-]; temperatures [degC], z [K]."""
    require_positive(z=z)
    return float(10.0 ** ((temperature - reference) / z))


def lethality_of_hold(temperature: float, duration: float, *, reference: float, z: float) -> float:
    """Lethality [s] of `duration` [s] at a constant temperature [degC]."""
    return duration * lethal_rate(temperature, reference=reference, z=z)


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
    exponential = special.exp1(_remaining(deficit, time_constant, start, stop, z))
    return time_constant * lethal_rate(medium, reference=reference, z=z) * float(exponential[1] - exponential[0])


def lethality_of_exponential_cooling(
    medium: float, excess: float, *, time_constant: float, start: float, stop: float, reference: float, z: float
) -> float:
    """Lethality [s] of ``T = medium + excess exp(-t/time_constant)`` between two times.

    ``tau L(medium) (Ei(u(start)) - Ei(u(stop)))``, ``u(t) = (ln 10/z) excess exp(-t/tau)``; the start lies an excess
    > 0 [K] above the medium, the other arguments are as in `lethality_of_exponential_heating`.

    Raises
    ------
    ValueError
        If the excess, from 300 z up, is too large for the exponential integral in double precision.
    """
    require_positive(excess=excess, time_constant=time_constant)
    u = _remaining(excess, time_constant, start, stop, z)
    if not u.max() < 700.0:
        raise ValueError(f"excess = {excess} K with z = {z} K is too large; ln(10) excess/z must stay below 700")
    exponential = special.expi(u)
    return time_constant * lethal_rate(medium, reference=reference, z=z) * float(exponential[0] - exponential[1])


def _remaining(difference: float, time_constant: float, start: float, stop: float, z: float) -> FloatArray:
    """Return ``(ln 10/z) difference exp(-t/time_constant)`` at both times."""
    return as_floats(np.log(10.0) / z * difference * np.exp(-np.array([start, stop]) / time_constant))


def lethality_of_sine(mean: float, amplitude: float, *, duration: float, reference: float, z: float) -> float:
    """Lethality [s] of a sine about `mean` [degC] over whole periods: ``t L(mean) I0(amplitude ln 10/z)``."""
    rate = lethal_rate(mean, reference=reference, z=z)
    return duration * rate * float(special.i0(amplitude * np.log(10.0) / z))


def lethality_of_parabolic_peak(peak: float, curvature: float, *, reference: float, z: float) -> float:
    """Lethality [s] of ``T = peak - curvature t^2`` [degC, K/s2] over all times: ``L(peak) sqrt(pi z/(c ln 10))``."""
    require_positive(curvature=curvature)
    return lethal_rate(peak, reference=reference, z=z) * float(np.sqrt(np.pi * z / (curvature * np.log(10.0))))
