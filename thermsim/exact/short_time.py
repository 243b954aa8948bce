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
    """Bring ``Phi(q)/q^2`` back to the Fourier numbers asked for, > 0: the accomplished fraction, shape (n_t, n_x).

    `transform` takes q, shape (n_t, n_q, 1), to Phi, shape (n_t, n_q, n_x); `width` is n_x, for the size of the
    chunks in which long lists of times are worked off. Error about 1e-14.
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


def centred_transform(q: ComplexArray, xi: FloatArray | None, *, biot: float, curvature: int) -> ComplexArray:
    """Transform for slab, cylinder, sphere (curvature 0, 1, 2) at ``xi = r/R``, of the volume mean for None.

    Valid for Fo <= 1e-4. Below xi = 1/2 the wave has not arrived (less than 1e-40); places there are moved to 1/2.
    """
    order = 0.5 * (curvature - 1)
    odd = _large_bessel(order + 1.0, q)
    surface = _surface_factor(q, biot, even=_large_bessel(order, q), odd=odd)
    if xi is None:
        return (curvature + 1.0) / q * odd * surface
    xi = np.maximum(xi, 0.5)
    field: ComplexArray = xi ** (-0.5 * curvature) * np.exp(-q * (1.0 - xi)) * _large_bessel(order, q * xi) * surface
    return field


def two_face_transform(q: ComplexArray, y: FloatArray | None, *, biot_base: float, biot_lid: float) -> ComplexArray:
    """Transform for a slab with unequal faces at ``y = z/H``, of the mean for None; valid for Fo <= 1e-4 on H."""
    one = np.ones_like(q)
    base, lid = (_surface_factor(q, biot, even=one, odd=one) for biot in (biot_base, biot_lid))
    found = (base + lid) / q if y is None else np.exp(-q * y) * base + np.exp(-q * (1.0 - y)) * lid
    return np.asarray(found, dtype=np.complex128)
