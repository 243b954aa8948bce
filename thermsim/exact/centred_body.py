"""Bodies symmetric about their centre: slab with equal faces, infinite cylinder, sphere."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from thermsim.exact.checks import FloatArray, as_places, as_times, require_film, require_positive
from thermsim.exact.duhamel import SPLIT, Medium, superpose
from thermsim.exact.modes import UNIFORM, Direction, Modes, centred_direction, centred_modes


@dataclass(frozen=True)
class CentredBody:
    """Body in which temperature depends on the distance r from its centre only.

    Attributes
    ----------
    radius : float
        Radius, or half thickness of the slab [m].
    conductivity : float
        [W/(m K)].
    density : float
        [kg/m3].
    specific_heat : float
        [J/(kg K)].
    film : float
        Film coefficient of the surface [W/(m2 K)], 0 (insulated) ... inf (surface at the medium's temperature).
    curvature : int
        0 slab, 1 infinite cylinder, 2 sphere.

    Raises
    ------
    ValueError
        If a quantity is not positive, the film coefficient is negative or the curvature is none of the three.
    """

    radius: float
    conductivity: float
    density: float
    specific_heat: float
    film: float
    curvature: int

    def __post_init__(self) -> None:
        require_positive(
            radius=self.radius,
            conductivity=self.conductivity,
            density=self.density,
            specific_heat=self.specific_heat,
        )
        require_film(film=self.film)
        if self.curvature not in (0, 1, 2):
            raise ValueError(f"curvature = {self.curvature} is not allowed; 0 slab, 1 infinite cylinder, 2 sphere")

    @property
    def diffusivity(self) -> float:
        """Thermal diffusivity [m2/s]."""
        return self.conductivity / (self.density * self.specific_heat)

    @property
    def seconds(self) -> float:
        """Time scale radius^2/diffusivity [s]; elapsed time over it is the Fourier number."""
        return self.radius**2 / self.diffusivity

    @property
    def biot(self) -> float:
        """Biot number h R / k."""
        return self.film * (self.radius / self.conductivity)

    def modes(self, count: int) -> Modes:
        """Return the first modes, places in r/radius."""
        return centred_modes(self.biot, count, curvature=self.curvature)

    @property
    def slowest_rate(self) -> float:
        """Decay rate of the first mode [1/s]."""
        return float(self.modes(1).eigenvalues[0] ** 2) / self.seconds

    def slowest_amplitude(self, r: ArrayLike) -> FloatArray:
        """Return the first mode's share of a step at distances r [m], shape (n_r,)."""
        mode = self.modes(1)
        result: FloatArray = mode.coefficients[0] * mode.shape(self._fractions(r))[0]
        return result

    def along(self, r: ArrayLike) -> Direction:
        """Return the step response at distances r [m] for products and superposition."""
        return centred_direction(self._fractions(r), self.biot, curvature=self.curvature, seconds=self.seconds)

    def averaged(self) -> Direction:
        """Return the step response of the volume mean."""
        return centred_direction(None, self.biot, curvature=self.curvature, seconds=self.seconds)

    def unaccomplished(self, r: ArrayLike, time: ArrayLike) -> FloatArray:
        """Step response theta = (T - medium)/(start - medium).

        Series of modes from Fo = 1e-4 on, inverted transform below; valid at every time, error about 1e-13.

        Parameters
        ----------
        r : array_like, shape (n_r,)
            Distances from the centre [m].
        time : array_like, shape (n_t,)
            Time since the step [s]; at 0 just after it, before it theta = 1.

        Returns
        -------
        ndarray, shape (n_t, n_r)

        Raises
        ------
        ValueError
            If a place lies outside the body.
        """
        return self.along(r).step(as_times("time", time))

    def mean_unaccomplished(self, time: ArrayLike) -> FloatArray:
        """Return the volume mean of theta, shape (n_t,); see `unaccomplished`."""
        return self.averaged().step(as_times("time", time))[:, 0]

    def temperature(
        self, r: ArrayLike, time: ArrayLike, *, initial: float, medium_time: ArrayLike, medium: ArrayLike
    ) -> FloatArray:
        """Temperature [degC], shape (n_t, n_r), under a piecewise-linear medium; see `FiniteCylinder.temperature`."""
        course = Medium(np.asarray(medium_time), np.asarray(medium))
        return superpose((self.along(r), UNIFORM), time, split=SPLIT * self.seconds, initial=initial, medium=course)[
            :, :, 0
        ]

    def mean_temperature(
        self, time: ArrayLike, *, initial: float, medium_time: ArrayLike, medium: ArrayLike
    ) -> FloatArray:
        """Volume mean of the temperature [degC], shape (n_t,)."""
        course = Medium(np.asarray(medium_time), np.asarray(medium))
        return superpose(
            (self.averaged(), UNIFORM), time, split=SPLIT * self.seconds, initial=initial, medium=course
        )[:, 0, 0]

    def _fractions(self, r: ArrayLike) -> FloatArray:
        return as_places("r", r, self.radius) / self.radius


def symmetric_slab(
    half_thickness: float, *, conductivity: float, density: float, specific_heat: float, film: float
) -> CentredBody:
    """Return a slab with equal faces, r = 0 at mid-plane; arguments as in `CentredBody`."""
    return CentredBody(half_thickness, conductivity, density, specific_heat, film, curvature=0)


def infinite_cylinder(
    radius: float, *, conductivity: float, density: float, specific_heat: float, film: float
) -> CentredBody:
    """Return an infinitely long cylinder; arguments as in `CentredBody`."""
    return CentredBody(radius, conductivity, density, specific_heat, film, curvature=1)


def sphere(radius: float, *, conductivity: float, density: float, specific_heat: float, film: float) -> CentredBody:
    """Return a sphere; arguments as in `CentredBody`."""
    return CentredBody(radius, conductivity, density, specific_heat, film, curvature=2)
