"""Consequences of a body's first modes: factors of its heating curve, and the height of its coldest point."""

from __future__ import annotations

import numpy as np
from scipy import optimize

from thermsim.exact.bodies import Body, Slab
from thermsim.exact.checks import FloatArray, require_film
from thermsim.exact.eigenvalues import slab_unequal_eigenvalues
from thermsim.exact.modes import modes_needed

#: before this Fourier number the middle is level to within rounding and has no coldest point
_LEVEL_UNTIL = 0.01


def long_time_coldest_fraction(biot_base: float, biot_lid: float) -> float:
    """Height y/H of the coldest point once the first mode is alone: ``tan(zeta_1 y) = B1/zeta_1``, at most 1.

    Parameters
    ----------
    biot_base, biot_lid : float
        h H / k on the full height, 0 ... inf, not both 0.

    Returns
    -------
    float
        0 at an insulated base, 1 at an insulated lid. The radial factor of a finite cylinder does not matter.

    Raises
    ------
    ValueError
        If a Biot number is negative, or both are 0 (no gradient, no coldest point).
    """
    require_film(biot_base=biot_base, biot_lid=biot_lid)
    if biot_base == biot_lid == 0.0:
        raise ValueError("both ends are insulated; there is no coldest height")
    zeta = slab_unequal_eigenvalues(biot_base, biot_lid, count=1)[0]
    return min(1.0, float(np.arctan2(biot_base, zeta) / zeta))


def coldest_height(slab: Slab, time: float) -> float:
    """Height [m] of the coldest point at a time [s] after a step of the medium upwards, on the exact series.

    Also that of every vertical line of a finite cylinder: ``coldest_height(cylinder.ends, time)``.

    Raises
    ------
    ValueError
        Before Fo = alpha t/H^2 = 0.01 (the middle is level), or when both ends are insulated.
    """
    if slab.film_base == slab.film_lid == 0.0:
        raise ValueError("both ends are insulated; there is no coldest height")
    fourier = time / slab.seconds
    if not fourier >= _LEVEL_UNTIL:
        raise ValueError(f"time = {time} s is too early; the middle is level until {_LEVEL_UNTIL * slab.seconds} s")
    if slab.film_base == 0.0:
        return 0.0
    if slab.film_lid == 0.0:
        return slab.thickness
    modes = slab.modes(modes_needed(fourier))
    # relative to the first mode, so that late times do not underflow
    with np.errstate(under="ignore"):
        weights = modes.coefficients * np.exp(-(modes.eigenvalues**2 - modes.eigenvalues[0] ** 2) * fourier)

    def slope(y: float) -> float:
        return float(weights @ modes.slope(np.array([y]))[:, 0])

    return slab.thickness * float(optimize.brentq(slope, 0.0, 1.0, xtol=1e-14))


def heating_factor_f(body: Body) -> float:
    """Time [s] in which the unaccomplished temperature falls tenfold; inf when the body is insulated all round.

    ``f = ln 10/(alpha (b1^2/R^2 + z1^2/H^2))`` for a finite cylinder, any Biot numbers, of the straight line that a
    heating curve ends in: ``log10((medium - T)/(medium - T0)) = log10 j - t/f``. Valid once the first mode is alone:
    about t > f, theta < 0.25 at the centre. Source: C. O. Ball and F. C. W. Olson, Sterilization in Food Technology,
    1957 (from memory), with exact first modes instead of rounded constants.
    """
    rate = body.slowest_rate
    return float(np.log(10.0)) / rate if rate > 0.0 else float("inf")


def lag_factor_j(body: Body, *places: float | FloatArray) -> FloatArray:
    """Intercept j [-] of the same line at places [m]: ``(r, z)``, or ``(r,)`` or ``(z,)`` in one dimension.

    Shape (n_r, n_z), or (n,) in one dimension.
    """
    return body.slowest_amplitude(*places)
