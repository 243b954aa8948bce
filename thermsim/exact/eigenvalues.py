"""Eigenvalues of conduction in slab, cylinder and sphere for any Biot number, 0 and infinity included.

All of them are roots of a difference of two angles, ``phase(zeta) = arctan(Bi / zeta) + n pi``. In this form nothing
cancels: a Biot number of 1e-12 or 1e12 costs no digit, and 0 and infinity need no formula of their own.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np
from scipy import special

from thermsim.exact.checks import FloatArray, as_floats, require_film


def radial_functions(curvature: int, x: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the even solution f0 of ``f'' + (m/x) f' + f = 0`` and ``f1 = -f0'`` at x >= 0.

    The curvature m is 0 for a slab (cos, sin), 1 for an infinite cylinder (J0, J1), 2 for a sphere (j0, j1).
    """
    if curvature == 0:
        return np.cos(x), np.sin(x)
    if curvature == 1:
        return as_floats(special.j0(x)), as_floats(special.j1(x))
    return as_floats(special.spherical_jn(0, x)), as_floats(special.spherical_jn(1, x))


def _newton(
    start: FloatArray, residual_and_slope: Callable[[FloatArray], tuple[FloatArray, FloatArray]]
) -> FloatArray:
    # scipy.optimize.newton stops on an absolute step only, which says nothing of a root near 1e-6
    root = start
    for _ in range(60):
        residual, slope = residual_and_slope(root)
        step = residual / slope
        root = root - step
        # convergence is quadratic: a step of 1e-9 leaves an error far below rounding
        if np.all(np.abs(step) <= 1e-9 * root):
            return root
    raise ArithmeticError(f"eigenvalues did not converge in 60 Newton steps, last step {np.abs(step).max():.1e}")


def centred_eigenvalues(biot: float, count: int, *, curvature: int) -> FloatArray:
    """Eigenvalues, so many from the smallest, of a body symmetric about its centre: ``zeta f1(zeta) = Bi f0(zeta)``.

    Bi is h L / k with L the half thickness or radius, 0 ... inf; the curvature 0 for a slab, 1 for an infinite
    cylinder, 2 for a sphere. The first is 0 for Bi = 0.

    Raises
    ------
    ValueError
        If the Biot number is negative or not a number.
    """
    require_film(biot=biot)
    n = np.arange(count)
    sign = 1.0 - 2.0 * (n % 2)
    asymptote = as_floats((n + 0.25 * curvature) * np.pi)
    # zeros of f1 (McMahon's first correction) lie left of the roots; the first root is bounded from below by
    # 1/zeta_1^2 < sum 1/zeta_n^2 = (1/Bi + 1/2)/(m + 1), the trace of the Green's function
    start = asymptote.copy()
    start[1:] -= curvature * (1.0 + 0.5 * curvature) / (4.0 * asymptote[1:])
    start[:1] = np.sqrt(2.0 * (curvature + 1.0) / (1.0 + 2.0 / biot)) if biot > 0.0 else 0.0

    free = 0 if biot > 0.0 else 1

    def residual_and_slope(zeta: FloatArray) -> tuple[FloatArray, FloatArray]:
        even, odd = radial_functions(curvature, zeta)
        inner = np.arctan2(sign[free:] * odd, sign[free:] * even)
        outer = np.arctan2(biot, zeta)
        slope = 1.0 - 0.5 * curvature * np.sin(2.0 * inner) / zeta + 0.5 * np.sin(2.0 * outer) / zeta
        return inner - outer, slope

    return np.concatenate([np.zeros(free)[:count], _newton(start[free:], residual_and_slope)])


#: Roots of ``zeta tan(zeta) = Bi``, Bi = h L / k on the HALF thickness; see `centred_eigenvalues`.
slab_eigenvalues = partial(centred_eigenvalues, curvature=0)
#: Roots of ``zeta J1(zeta) = Bi J0(zeta)``, Bi = h R / k.
cylinder_eigenvalues = partial(centred_eigenvalues, curvature=1)
#: Roots of ``1 - zeta cot(zeta) = Bi``, Bi = h R / k.
sphere_eigenvalues = partial(centred_eigenvalues, curvature=2)


def slab_unequal_eigenvalues(biot_base: float, biot_lid: float, *, count: int) -> FloatArray:
    """Eigenvalues of a slab whose two faces differ: ``zeta = arctan(B1/zeta) + arctan(B2/zeta) + n pi``.

    This is ``tan(zeta) = zeta (B1 + B2)/(zeta^2 - B1 B2)`` without its poles.

    Parameters
    ----------
    biot_base, biot_lid : float
        h H / k on the FULL thickness H, 0 ... inf each.
    count : int
        How many, from the smallest.

    Returns
    -------
    ndarray, shape (count,)
        Increasing; the first is 0 when both faces are insulated.

    Raises
    ------
    ValueError
        If a Biot number is negative or not a number.
    """
    require_film(biot_base=biot_base, biot_lid=biot_lid)
    n = np.arange(count)
    start = as_floats(n * np.pi)
    # shares of film and conduction, finite for every Biot number; the trace bound of `centred_eigenvalues`
    film, inside = zip(*[_shares(biot) for biot in (biot_base, biot_lid)], strict=True)
    mixed = film[0] * inside[1] + film[1] * inside[0]
    both = film[0] * film[1]
    start[:1] = np.sqrt((mixed + both) / (inside[0] * inside[1] + mixed / 2.0 + both / 6.0))

    free = 1 if biot_base == biot_lid == 0.0 else 0

    def residual_and_slope(zeta: FloatArray) -> tuple[FloatArray, FloatArray]:
        base, lid = np.arctan2(biot_base, zeta), np.arctan2(biot_lid, zeta)
        slope = 1.0 + 0.5 * (np.sin(2.0 * base) + np.sin(2.0 * lid)) / zeta
        return zeta - base - lid - n[free:] * np.pi, slope

    return np.concatenate([np.zeros(free)[:count], _newton(start[free:], residual_and_slope)])


def _shares(biot: float) -> tuple[float, float]:
    """Return Bi/(1 + Bi) and 1/(1 + Bi)."""
    return 1.0 / (1.0 + 1.0 / biot) if biot > 0.0 else 0.0, 1.0 / (1.0 + biot)
