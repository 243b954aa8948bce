"""Step responses at very short times, where a series of modes would need thousands of terms.

The Laplace transform of the accomplished fraction is known in closed form, ``Phi(q)/s`` with ``q = sqrt(s)``; it is
brought back by the trapezoidal rule on a parabola round the negative axis, which converges geometrically.
Source: J. A. C. Weideman and L. N. Trefethen, Math. Comp. 76 (2007), parabolic contour (from memory); the parabola's
vertex is kept at 3/t so that rounding is not amplified by more than exp(3).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from thermsim.exact.checks import FloatArray

ComplexArray = NDArray[np.complex128]

#: Fourier number below which the transform is used; at this number a wave from a surface has died out to
#: exp(-1/(16 Fo)) at half depth, so the far side and the centre need no term
SHORT = 1e-4

_VERTEX = 3.0
_STEP = 0.16
_LINE = 1.0 + 1j * _STEP * (np.arange(24) + 0.5)
_WEIGHTS = (2.0 * _STEP / np.pi) * np.exp(_VERTEX * _LINE**2) / _LINE

_LARGEST_TABLE = 2_000_000


def invert(transform: Callable[[ComplexArray], ComplexArray], fourier: FloatArray, *, width: int) -> FloatArray:
    """Bring ``Phi(q)/q^2`` back to the Fourier numbers asked for.

    Parameters
    ----------
    transform : callable
        q, shape (n_t, n_q, 1) -> Phi, shape (n_t, n_q, n_x).
    fourier : ndarray, shape (n_t,)
        alpha t / L^2, > 0.
    width : int
        n_x, for the size of the chunks in which long lists of times are worked off.

    Returns
    -------
    ndarray, shape (n_t, n_x)
        Accomplished fraction 1 - theta; error about 1e-14.
    """
    parts = 1 + fourier.size * _LINE.size * width // _LARGEST_TABLE
    chunks = []
    for some in np.array_split(fourier, parts):
        q = np.sqrt(_VERTEX / some)[:, None, None] * _LINE[None, :, None]
        with np.errstate(under="ignore"):
            chunks.append(np.einsum("q,tqx->tx", _WEIGHTS, transform(q)).real)
    return np.concatenate(chunks)


def _large_bessel(order: float, w: ComplexArray) -> ComplexArray:
    """Return ``sqrt(2 pi w) exp(-w) I_order(w)`` for |w| > 80 and Re w > 0 by Hankel's series, to 1e-16."""
    term: ComplexArray = np.ones_like(w)
    total = term
    for k in range(1, 9):
        term = term * (((2 * k - 1) ** 2 - 4.0 * order**2) / (8.0 * k)) / w
        total = total + term
    return total


def _surface_factor(q: ComplexArray, biot: float, *, even: ComplexArray, odd: ComplexArray) -> ComplexArray:
    """Return ``1/(even + (q/Bi) odd)``."""
    if biot == 0.0:
        return np.zeros_like(q)
    return np.asarray(1.0 / (even + (q / biot) * odd), dtype=np.complex128)


def centred_transform(q: ComplexArray, xi: FloatArray, *, biot: float, curvature: int) -> ComplexArray:
    """Transform for slab, cylinder, sphere (curvature 0, 1, 2) at ``xi = r/R``; valid for Fo <= 1e-4.

    Below xi = 1/2 the wave has not arrived (less than 1e-40); the places there are moved to 1/2.
    """
    order = 0.5 * (curvature - 1)
    xi = np.maximum(xi, 0.5)
    surface = _surface_factor(q, biot, even=_large_bessel(order, q), odd=_large_bessel(order + 1.0, q))
    field: ComplexArray = xi ** (-0.5 * curvature) * np.exp(-q * (1.0 - xi)) * _large_bessel(order, q * xi) * surface
    return field


def centred_mean_transform(q: ComplexArray, *, biot: float, curvature: int) -> ComplexArray:
    """Transform of the volume mean for slab, cylinder, sphere; valid for Fo <= 1e-4."""
    order = 0.5 * (curvature - 1)
    odd = _large_bessel(order + 1.0, q)
    return (curvature + 1.0) / q * odd * _surface_factor(q, biot, even=_large_bessel(order, q), odd=odd)


def two_face_transform(q: ComplexArray, y: FloatArray, *, biot_base: float, biot_lid: float) -> ComplexArray:
    """Transform for a slab with unequal faces at ``y = z/H``; valid for Fo <= 1e-4 (on the full thickness)."""
    one = np.ones_like(q)
    base = np.exp(-q * y) * _surface_factor(q, biot_base, even=one, odd=one)
    lid = np.exp(-q * (1.0 - y)) * _surface_factor(q, biot_lid, even=one, odd=one)
    return np.asarray(base + lid, dtype=np.complex128)


def two_face_mean_transform(q: ComplexArray, *, biot_base: float, biot_lid: float) -> ComplexArray:
    """Transform of the mean of a slab with unequal faces; valid for Fo <= 1e-4."""
    one = np.ones_like(q)
    both = _surface_factor(q, biot_base, even=one, odd=one) + _surface_factor(q, biot_lid, even=one, odd=one)
    return np.asarray(both / q, dtype=np.complex128)
