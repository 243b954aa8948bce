"""Finite cylinder with its own film coefficient on side, base and lid: product of cylinder and slab."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from thermsim.exact.centred_body import CentredBody, infinite_cylinder
from thermsim.exact.checks import FloatArray, as_floats, as_times
from thermsim.exact.duhamel import SPLIT, Medium, superpose
from thermsim.exact.slab import Slab


@dataclass(frozen=True)
class FiniteCylinder:
    """Homogeneous cylinder, z measured upwards from its base.

    Attributes
    ----------
    radius, height : float
        [m].
    conductivity : float
        [W/(m K)].
    density : float
        [kg/m3].
    specific_heat : float
        [J/(kg K)].
    film_side, film_base, film_lid : float
        Film coefficients [W/(m2 K)], each 0 (insulated) ... inf (surface at the medium's temperature).

    Raises
    ------
    ValueError
        If a quantity is not positive or a film coefficient is negative.

    Notes
    -----
    A step response is the product of those of the infinite cylinder and the slab (one medium on all surfaces,
    uniform start). Source: any heat-conduction textbook (from memory).
    """

    radius: float
    height: float
    conductivity: float
    density: float
    specific_heat: float
    film_side: float
    film_base: float
    film_lid: float

    def __post_init__(self) -> None:
        # both refuse what makes no sense
        _ = self.side, self.ends

    @property
    def side(self) -> CentredBody:
        """The infinite cylinder of which this is a piece."""
        return infinite_cylinder(
            self.radius,
            conductivity=self.conductivity,
            density=self.density,
            specific_heat=self.specific_heat,
            film=self.film_side,
        )

    @property
    def ends(self) -> Slab:
        """The slab of which this is a piece."""
        return Slab(
            thickness=self.height,
            conductivity=self.conductivity,
            density=self.density,
            specific_heat=self.specific_heat,
            film_base=self.film_base,
            film_lid=self.film_lid,
        )

    @property
    def diffusivity(self) -> float:
        """Thermal diffusivity [m2/s]."""
        return self.conductivity / (self.density * self.specific_heat)

    @property
    def slowest_rate(self) -> float:
        """Decay rate of the first mode [1/s]."""
        return self.side.slowest_rate + self.ends.slowest_rate

    def slowest_amplitude(self, r: ArrayLike, z: ArrayLike) -> FloatArray:
        """Return the first mode's share of a step at r, z [m], shape (n_r, n_z)."""
        return np.outer(self.side.slowest_amplitude(r), self.ends.slowest_amplitude(z))

    def unaccomplished(self, r: ArrayLike, z: ArrayLike, time: ArrayLike) -> FloatArray:
        """Step response theta = (T - medium)/(start - medium).

        Parameters
        ----------
        r : array_like, shape (n_r,)
            Distances from the axis [m].
        z : array_like, shape (n_z,)
            Heights above the base [m].
        time : array_like, shape (n_t,)
            Time since the step [s]; at 0 just after it, before it theta = 1.

        Returns
        -------
        ndarray, shape (n_t, n_r, n_z)
            Valid at every time and Biot number, error about 1e-13.

        Raises
        ------
        ValueError
            If a place lies outside the cylinder.
        """
        times = as_times("time", time)
        return as_floats(np.einsum("tr,tz->trz", self.side.along(r).step(times), self.ends.along(z).step(times)))

    def mean_unaccomplished(self, time: ArrayLike) -> FloatArray:
        """Return the volume mean of theta, shape (n_t,); see `unaccomplished`."""
        return self.side.mean_unaccomplished(time) * self.ends.mean_unaccomplished(time)

    def temperature(
        self,
        r: ArrayLike,
        z: ArrayLike,
        time: ArrayLike,
        *,
        initial: float,
        medium_time: ArrayLike,
        medium: ArrayLike,
    ) -> FloatArray:
        """Temperature under a medium that is linear piece by piece.

        Parameters
        ----------
        r : array_like, shape (n_r,)
            Distances from the axis [m].
        z : array_like, shape (n_z,)
            Heights above the base [m].
        time : array_like, shape (n_t,)
            Times [s], in any order. At a jump exactly: just after it, so a surface without film resistance already
            has the new temperature and every other place still the old one. Before the first knot: `initial`.
        initial : float
            Uniform temperature at the first knot [degC]; it may differ from the medium's.
        medium_time : array_like, shape (n,)
            Knots [s], not decreasing; a repeated knot is a jump. After the last the medium stays as it is.
        medium : array_like, shape (n,)
            Temperature of the medium at the knots [degC].

        Returns
        -------
        ndarray, shape (n_t, n_r, n_z)
            Temperature [degC]; error below 1e-9 K for a heating by 100 K.

        Raises
        ------
        ValueError
            If a place lies outside the cylinder or the knots are not in order.
        """
        return superpose(
            (self.side.along(r), self.ends.along(z)),
            time,
            split=self._split,
            initial=initial,
            medium=Medium(np.asarray(medium_time), np.asarray(medium)),
        )

    def mean_temperature(
        self, time: ArrayLike, *, initial: float, medium_time: ArrayLike, medium: ArrayLike
    ) -> FloatArray:
        """Volume mean of the temperature [degC], shape (n_t,); arguments as in `temperature`."""
        return superpose(
            (self.side.averaged(), self.ends.averaged()),
            time,
            split=self._split,
            initial=initial,
            medium=Medium(np.asarray(medium_time), np.asarray(medium)),
        )[:, 0, 0]

    @property
    def _split(self) -> float:
        return SPLIT * self.radius * self.height / self.diffusivity
