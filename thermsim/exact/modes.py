"""Modes of one direction, and the step response of that direction at any time from them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from thermsim.exact.checks import FloatArray, as_floats
from thermsim.exact.eigenvalues import centred_eigenvalues, radial_functions, slab_unequal_eigenvalues
from thermsim.exact.short_time import SHORT, ComplexArray, centred_transform, invert, two_face_transform

#: exp(-40) = 4e-18: a mode that has decayed that far is left out
DEAD = 40.0


@dataclass(frozen=True)
class Modes:
    """Modes of one direction: ``theta(x, t) = sum_n coefficient_n shape_n(x) exp(-eigenvalue_n^2 Fo)``.

    Of each of n modes there are the eigenvalue, increasing, its share in a uniform start of 1, and the volume mean of
    its shape. `shape` takes places x/L, shape (n_x,), to mode shapes, shape (n, n_x), `slope` to d shape / d(x/L).
    """

    eigenvalues: FloatArray
    coefficients: FloatArray
    shape: Callable[[FloatArray], FloatArray]
    slope: Callable[[FloatArray], FloatArray]
    means: FloatArray


@dataclass(frozen=True)
class Direction:
    """Step response of one direction at fixed places, in the two forms that superposition needs.

    Attributes
    ----------
    step : callable
        Times since the step [s], shape (n_t,) -> unaccomplished fraction, shape (n_t, n_x); 1 before the step.
    modes_from : callable
        Time [s] -> decay rates [1/s], shape (n,), and amplitudes, shape (n, n_x), that suffice from that time on.
    """

    step: Callable[[FloatArray], FloatArray]
    modes_from: Callable[[float], tuple[FloatArray, FloatArray]]


#: the direction in which nothing changes: makes a one-dimensional body a product of two directions
UNIFORM = Direction(step=lambda time: np.ones((time.size, 1)), modes_from=lambda time: (np.zeros(1), np.ones((1, 1))))


def modes_needed(fourier: float) -> int:
    """Return how many modes suffice from this Fourier number on (roots lie about pi apart)."""
    return int(np.sqrt(DEAD / fourier) / np.pi) + 3


def centred_modes(biot: float, count: int, *, curvature: int) -> Modes:
    """Modes of slab (half thickness), infinite cylinder or sphere; curvature 0, 1, 2.

    With ``tan(phi) = Bi/zeta`` and ``M^2 = f0(zeta)^2 + f1(zeta)^2`` the coefficient is
    ``2 (-1)^n sin(phi) / (zeta M (1 - (m - 1) sin(phi) cos(phi)/zeta))``: the textbook forms without cancellation.
    Source: H. S. Carslaw and J. C. Jaeger, Conduction of Heat in Solids (from memory), rewritten.
    """
    zeta = centred_eigenvalues(biot, count, curvature=curvature)
    even, odd = radial_functions(curvature, zeta)
    angle = np.arctan2(biot, zeta)
    signed = (1.0 - 2.0 * (np.arange(count) % 2)) * np.hypot(even, odd)
    coefficients, means = np.ones(count), np.ones(count)
    own = zeta > 0.0  # the zero mode of an insulated body is the constant 1
    ratio = np.divide(np.sin(angle), zeta, out=np.zeros(count), where=own)
    norm = 1.0 - (curvature - 1.0) * ratio * np.cos(angle)
    coefficients[own] = (2.0 * ratio / (signed * norm))[own]
    means[own] = ((curvature + 1.0) * ratio * signed)[own]

    def shape(xi: FloatArray) -> FloatArray:
        return radial_functions(curvature, zeta[:, None] * xi)[0]

    def slope(xi: FloatArray) -> FloatArray:
        return -zeta[:, None] * radial_functions(curvature, zeta[:, None] * xi)[1]

    return Modes(zeta, coefficients, shape, slope, means)


def two_face_modes(biot_base: float, biot_lid: float, *, count: int) -> Modes:
    """Modes ``cos(zeta y - phi)``, ``tan(phi) = B1/zeta``, of a slab with unequal faces; Biot numbers on H."""
    zeta = slab_unequal_eigenvalues(biot_base, biot_lid, count=count)
    base, lid = np.arctan2(biot_base, zeta), np.arctan2(biot_lid, zeta)
    sign = 1.0 - 2.0 * (np.arange(count) % 2)
    own = zeta > 0.0
    means, squares = np.ones(count), np.ones(count)
    np.divide(np.sin(base) + sign * np.sin(lid), zeta, out=means, where=own)
    np.divide(0.25 * (np.sin(2.0 * base) + np.sin(2.0 * lid)), zeta, out=squares, where=own)
    squares[own] += 0.5

    def shape(y: FloatArray) -> FloatArray:
        return np.cos(zeta[:, None] * y - base[:, None])

    def slope(y: FloatArray) -> FloatArray:
        return -zeta[:, None] * np.sin(zeta[:, None] * y - base[:, None])

    return Modes(zeta, means / squares, shape, slope, means)


def _direction(
    modes: Callable[[int], Modes],
    transform: Callable[[ComplexArray], ComplexArray],
    places: FloatArray | None,
    *,
    held: FloatArray | None,
    seconds: float,
) -> Direction:
    """Join the series (late), the inverted transform (early) and the instant of the step itself.

    `places`, shape (n_x,), are parts of the length L, None for the mean; `held` is 1 where the surface takes the new
    temperature at once; `seconds` is L^2/alpha.
    """
    at_once = np.zeros(1) if held is None else held

    def modes_from(time: float) -> tuple[FloatArray, FloatArray]:
        some = modes(modes_needed(time / seconds))
        table = some.means[:, None] if places is None else some.shape(places)
        return some.eigenvalues**2 / seconds, some.coefficients[:, None] * table

    def step(time: FloatArray) -> FloatArray:
        fourier = time / seconds
        theta = np.ones((time.size, at_once.size))
        theta[fourier == 0.0] -= at_once
        early = (fourier > 0.0) & (fourier < SHORT)
        if early.any():
            theta[early] -= invert(transform, fourier[early], width=at_once.size)
        late = fourier >= SHORT
        if late.any():
            rates, amplitudes = modes_from(float(time[late].min()))
            with np.errstate(under="ignore"):
                theta[late] = np.exp(-np.outer(time[late], rates)) @ amplitudes
        return theta

    return Direction(step, modes_from)


def centred_direction(xi: FloatArray | None, biot: float, *, curvature: int, seconds: float) -> Direction:
    """Step response at ``xi = r/R``, shape (n_x,), or of the volume mean (`xi` None), of slab, cylinder, sphere.

    `seconds` is R^2/alpha. Valid for every time and Biot number; error about 1e-13.
    """
    return _direction(
        partial(centred_modes, biot, curvature=curvature),
        partial(centred_transform, xi=xi, biot=biot, curvature=curvature),
        xi,
        held=None if xi is None else as_floats((xi == 1.0) & np.isinf(biot)),
        seconds=seconds,
    )


def two_face_direction(y: FloatArray | None, biot_base: float, biot_lid: float, *, seconds: float) -> Direction:
    """Step response at ``y = z/H``, shape (n_x,), or of the mean (`y` None), of a slab with unequal faces.

    `seconds` is H^2/alpha. Valid for every time and Biot number; error about 1e-13.
    """
    held = None
    if y is not None:
        held = as_floats(((y == 0.0) & np.isinf(biot_base)) | ((y == 1.0) & np.isinf(biot_lid)))
    return _direction(
        lambda count: two_face_modes(biot_base, biot_lid, count=count),
        partial(two_face_transform, y=y, biot_base=biot_base, biot_lid=biot_lid),
        y,
        held=held,
        seconds=seconds,
    )
