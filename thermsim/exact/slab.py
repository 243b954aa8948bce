"""Slab whose two faces may differ: exact temperature under a step or under any piecewise-linear medium."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from thermsim.exact.checks import FloatArray, as_places, as_times, require_film, require_positive
from thermsim.exact.duhamel import SPLIT, Medium, superpose
from thermsim.exact.modes import UNIFORM, Direction, Modes, two_face_direction, two_face_modes


@dataclass(frozen=True)
class Slab:
    """Infinite slab, z = 0 at the base face and z = thickness at the lid face.

    Attributes
    ----------
    thickness : float
        Full thickness [m].
    conductivity : float
        [W/(m K)].
    density : float
        [kg/m3].
    specific_heat : float
        [J/(kg K)].
    film_base, film_lid : float
        Film coefficients of the faces [W/(m2 K)], 0 (insulated) ... inf (face at the medium's temperature).

    Raises
    ------
    ValueError
        If a quantity is not positive or a film coefficient is negative.
    """

    thickness: float
    conductivity: float
    density: float
    specific_heat: float
    film_base: float
    film_lid: float

    def __post_init__(self) -> None:
        require_positive(
            thickness=self.thickness,
            conductivity=self.conductivity,
            density=self.density,
            specific_heat=self.specific_heat,
        )
        require_film(film_base=self.film_base, film_lid=self.film_lid)

    @property
    def diffusivity(self) -> float:
        """Thermal diffusivity [m2/s]."""
        return self.conductivity / (self.density * self.specific_heat)

    @property
    def seconds(self) -> float:
        """Time scale thickness^2/diffusivity [s]; elapsed time over it is the Fourier number."""
        return self.thickness**2 / self.diffusivity

    @property
    def biots(self) -> tuple[float, float]:
        """Biot numbers h H / k of base and lid on the full thickness."""
        scale = self.thickness / self.conductivity
        return self.film_base * scale, self.film_lid * scale

    def modes(self, count: int) -> Modes:
        """Return the first modes, places in z/thickness."""
        return two_face_modes(*self.biots, count=count)

    @property
    def slowest_rate(self) -> float:
        """Decay rate of the first mode [1/s]."""
        return float(self.modes(1).eigenvalues[0] ** 2) / self.seconds

    def slowest_amplitude(self, z: ArrayLike) -> FloatArray:
        """Return the first mode's share of a step at heights z [m], shape (n_z,)."""
        mode = self.modes(1)
        result: FloatArray = mode.coefficients[0] * mode.shape(self._fractions(z))[0]
        return result

    def along(self, z: ArrayLike) -> Direction:
        """Return the step response at heights z [m] for products and superposition."""
        return two_face_direction(self._fractions(z), *self.biots, seconds=self.seconds)

    def averaged(self) -> Direction:
        """Return the step response of the volume mean."""
        return two_face_direction(None, *self.biots, seconds=self.seconds)

    def unaccomplished(self, z: ArrayLike, time: ArrayLike) -> FloatArray:
        """Step response theta = (T - medium)/(start - medium).

        Series of modes from Fo = 1e-4 on, inverted transform below; valid at every time, error about 1e-13.

        Parameters
        ----------
        z : array_like, shape (n_z,)
            Heights above the base face [m].
        time : array_like, shape (n_t,)
            Time since the step [s]; at 0 just after it, before it theta = 1.

        Returns
        -------
        ndarray, shape (n_t, n_z)

        Raises
        ------
        ValueError
            If a place lies outside the slab.
        """
        return self.along(z).step(as_times("time", time))

    def mean_unaccomplished(self, time: ArrayLike) -> FloatArray:
        """Return the volume mean of theta, shape (n_t,); see `unaccomplished`."""
        return self.averaged().step(as_times("time", time))[:, 0]

    def temperature(
        self, z: ArrayLike, time: ArrayLike, *, initial: float, medium_time: ArrayLike, medium: ArrayLike
    ) -> FloatArray:
        """Temperature [degC], shape (n_t, n_z), under a piecewise-linear medium; see `FiniteCylinder.temperature`."""
        course = Medium(np.asarray(medium_time), np.asarray(medium))
        return superpose((self.along(z), UNIFORM), time, split=SPLIT * self.seconds, initial=initial, medium=course)[
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

    def _fractions(self, z: ArrayLike) -> FloatArray:
        return as_places("z", z, self.thickness) / self.thickness
