"""Step responses at the ends of their range: first instants, last times, no film and perfect film."""

from __future__ import annotations

from collections.abc import Callable

import mpmath
import numpy as np
import pytest
from numpy.testing import assert_allclose

from thermsim.exact import CentredBody, FiniteCylinder, Slab, semi_infinite_unaccomplished
from thermsim.exact.modes import modes_needed
from thermsim.exact.short_time import SHORT

INF = np.inf


def unit_body(curvature: int, biot: float) -> CentredBody:
    return CentredBody(1.0, 1.0, 1.0, 1.0, film=biot, curvature=curvature)


def laplace_theta(transform: Callable[[mpmath.mpf], mpmath.mpf], fourier: float) -> float:
    """Unaccomplished fraction from the transform of the accomplished one: Talbot's contour, 40 digits."""
    with mpmath.workdps(40):
        return float(1 - mpmath.invertlaplace(transform, mpmath.mpf(fourier), method="talbot", degree=40))


FOURIER = [1e-8, 1e-6, 9e-5, 2e-4, 0.02, 0.4]


@pytest.mark.parametrize("biot", [1e-6, 0.3, 1.0, 25.0, 1e5])
@pytest.mark.parametrize("fourier", FOURIER)
def test_cylinder_agrees_with_an_inverted_transform_early_and_late(fourier: float, biot: float) -> None:
    # one diffusion length below the surface, where the response is neither 0 nor 1
    xi = 1.0 - min(0.5, np.sqrt(fourier))

    def transform(s: mpmath.mpf) -> mpmath.mpf:
        q = mpmath.sqrt(s)
        surface = mpmath.besseli(0, q) + q / mpmath.mpf(biot) * mpmath.besseli(1, q)
        return mpmath.besseli(0, q * mpmath.mpf(xi)) / (s * surface)

    theta = unit_body(1, biot).unaccomplished(xi, fourier)[0, 0]
    # at Fo = 1e-8 the place itself is rounded to 1e-16 of the radius, 1e-12 of the diffusion length
    assert_allclose(theta, laplace_theta(transform, fourier), rtol=0, atol=2e-13 + 1e-16 / np.sqrt(fourier))


@pytest.mark.parametrize("biot", [0.3, 1.0, 25.0])
@pytest.mark.parametrize("fourier", FOURIER)
def test_sphere_agrees_with_an_inverted_transform_early_and_late(fourier: float, biot: float) -> None:
    xi = 1.0 - min(0.5, np.sqrt(fourier))

    def transform(s: mpmath.mpf) -> mpmath.mpf:
        q = mpmath.sqrt(s)
        surface = mpmath.sinh(q) * (biot - 1) / biot + q / biot * mpmath.cosh(q)
        return mpmath.sinh(q * mpmath.mpf(xi)) / (mpmath.mpf(xi) * s * surface)

    theta = unit_body(2, biot).unaccomplished(xi, fourier)[0, 0]
    assert_allclose(theta, laplace_theta(transform, fourier), rtol=0, atol=2e-13 + 1e-16 / np.sqrt(fourier))


@pytest.mark.parametrize("fourier", [0.002, 0.05, 0.15])
def test_slab_with_unequal_faces_agrees_with_an_inverted_transform(fourier: float) -> None:
    base, lid, y = mpmath.mpf(20), mpmath.mpf("0.2"), mpmath.mpf("0.6")

    def transform(s: mpmath.mpf) -> mpmath.mpf:
        q = mpmath.sqrt(s)
        far, near = mpmath.exp(-q), mpmath.exp(q)
        # a exp(q y) + b exp(-q y) with the two face conditions
        a, b = mpmath.lu_solve(
            mpmath.matrix([[base - q, base + q], [(lid + q) * near, (lid - q) * far]]), mpmath.matrix([base, lid])
        )
        return (a * mpmath.exp(q * y) + b * mpmath.exp(-q * y)) / s

    theta = Slab(1.0, 1.0, 1.0, 1.0, film_base=20.0, film_lid=0.2).unaccomplished(0.6, fourier)[0, 0]
    assert_allclose(theta, laplace_theta(transform, fourier), rtol=0, atol=1e-13)


@pytest.mark.parametrize("film", [0.0, 1e-3, 40.0, 1e7, INF])
def test_slab_begins_as_a_semi_infinite_solid(film: float) -> None:
    depth, time = np.array([0.0, 1e-5, 1e-4, 3e-4]), np.array([1e-10, 1e-8, 5e-5])
    slab = Slab(1.0, 1.0, 1.0, 1.0, film_base=film, film_lid=0.0).unaccomplished(depth, time)
    solid = semi_infinite_unaccomplished(depth, time, conductivity=1.0, density=1.0, specific_heat=1.0, film=film)
    # two independent formulas; the far face is unreachable, exp(-1/(4 Fo))
    assert_allclose(slab, solid, rtol=0, atol=1e-13)


@pytest.mark.parametrize("biot", [0.0, 1e-10, 0.1, 1.0, 10.0, 1e4, INF])
@pytest.mark.parametrize("curvature", [0, 1, 2])
def test_series_and_transform_meet(curvature: int, biot: float) -> None:
    # the two formulas on either side of the change-over, a relative 1e-9 apart, so that the response hardly moves
    body, xi = unit_body(curvature, biot), np.linspace(0.0, 1.0, 41)
    early, late = body.unaccomplished(xi, SHORT * np.array([1.0 - 1e-9, 1.0 + 1e-9]))
    assert_allclose(early, late, rtol=0, atol=2e-9)
    mean = body.mean_unaccomplished(SHORT * np.array([1.0 - 1e-9, 1.0 + 1e-9]))
    assert_allclose(mean[0], mean[1], rtol=0, atol=1e-10)


@pytest.mark.parametrize("curvature", [0, 1, 2])
@pytest.mark.parametrize("biot", [0.0, 0.5, 30.0, INF])
@pytest.mark.parametrize("fourier", [1e-6, 1e-3, 0.2])
def test_mean_is_the_integral_of_the_field(curvature: int, biot: float, fourier: float) -> None:
    nodes, weights = np.polynomial.legendre.leggauss(30)
    # panels that shrink towards the surface resolve the boundary layer
    edges = np.concatenate([[0.0], 1.0 - 0.5 ** np.arange(1, 16), [1.0]])
    half = 0.5 * np.diff(edges)[:, None]
    xi = (edges[:-1, None] + half * (1.0 + nodes)).ravel()
    volume = (half * weights).ravel() * xi**curvature * (curvature + 1.0)
    body = unit_body(curvature, biot)
    assert_allclose(
        body.unaccomplished(xi, fourier)[0] @ volume, body.mean_unaccomplished(fourier)[0], rtol=0, atol=1e-12
    )


@pytest.mark.parametrize("curvature", [0, 1, 2])
@pytest.mark.parametrize("biot", [0.2, 8.0])
def test_heat_through_the_surface_is_heat_lost(curvature: int, biot: float) -> None:
    # d(mean)/dFo = -(m + 1) Bi theta(surface); central difference, error step^2
    body, fourier, step = unit_body(curvature, biot), 0.1, 1e-4
    before, after = body.mean_unaccomplished([fourier - step, fourier + step])
    surface = body.unaccomplished(1.0, fourier)[0, 0]
    assert_allclose((after - before) / (2 * step), -(curvature + 1) * biot * surface, rtol=1e-5)


@pytest.mark.parametrize("curvature", [0, 1, 2])
def test_insulated_bodies_stay_as_they_are(curvature: int) -> None:
    theta = unit_body(curvature, 0.0).unaccomplished([0.0, 0.3, 1.0], [0.0, 1e-7, 0.01, 1.0, 1e9])
    assert_allclose(theta, 1.0, rtol=0, atol=1e-13)


def test_tiny_film_is_a_stirred_tank() -> None:
    # Bi = 1e-12: theta = exp(-(m + 1) Bi Fo), corrections of order Bi
    fourier = 0.7e12
    for curvature in (0, 1, 2):
        theta = unit_body(curvature, 1e-12).unaccomplished([0.0, 1.0], fourier)[0]
        assert_allclose(theta, np.exp(-(curvature + 1) * 0.7), rtol=1e-11)


def test_huge_film_is_a_fixed_surface() -> None:
    # the difference is of order 1/Bi
    for curvature in (0, 1, 2):
        xi, fourier = [0.0, 0.7, 0.99], [1e-7, 1e-3, 0.3]
        assert_allclose(
            unit_body(curvature, 1e14).unaccomplished(xi, fourier),
            unit_body(curvature, INF).unaccomplished(xi, fourier),
            rtol=0,
            atol=1e-12,
        )


def test_step_is_felt_at_once_only_on_a_fixed_surface() -> None:
    can = FiniteCylinder(0.03, 0.1, 0.5, 1000.0, 3500.0, film_side=INF, film_base=100.0, film_lid=0.0)
    theta = can.unaccomplished([0.0, 0.0299, 0.03], [0.0, 0.05, 0.1], [-5.0, 0.0])
    assert_allclose(theta[0], 1.0, rtol=0, atol=0)
    assert_allclose(theta[1], [[1.0] * 3, [1.0] * 3, [0.0] * 3], rtol=0, atol=0)


def test_turning_the_cylinder_over_mirrors_it() -> None:
    up = FiniteCylinder(0.03, 0.1, 0.5, 1000.0, 3500.0, film_side=200.0, film_base=50.0, film_lid=900.0)
    down = FiniteCylinder(0.03, 0.1, 0.5, 1000.0, 3500.0, film_side=200.0, film_base=900.0, film_lid=50.0)
    z, time = np.linspace(0.0, 0.1, 11), [0.5, 30.0, 3000.0]
    assert_allclose(up.unaccomplished(0.01, z, time), down.unaccomplished(0.01, 0.1 - z, time), rtol=0, atol=1e-12)


def test_longer_times_need_fewer_modes() -> None:
    assert modes_needed(1e-4) > modes_needed(1e-2) > modes_needed(10.0) >= 3


def test_impossible_bodies_and_places_are_refused() -> None:
    with pytest.raises(ValueError, match=r"radius = -1\.0 is not allowed"):
        CentredBody(-1.0, 1.0, 1.0, 1.0, film=1.0, curvature=1)
    with pytest.raises(ValueError, match="curvature = 3 is not allowed"):
        CentredBody(1.0, 1.0, 1.0, 1.0, film=1.0, curvature=3)
    with pytest.raises(ValueError, match=r"film_base = -2\.0 is not allowed"):
        FiniteCylinder(0.03, 0.1, 0.5, 1000.0, 3500.0, film_side=1.0, film_base=-2.0, film_lid=1.0)
    with pytest.raises(ValueError, match=r"r from 0\.0 to 2\.0 m leaves the body"):
        unit_body(1, 1.0).unaccomplished([0.0, 2.0], 1.0)
    with pytest.raises(ValueError, match="time holds a time that is not finite"):
        unit_body(1, 1.0).unaccomplished(0.0, np.nan)
