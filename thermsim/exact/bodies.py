"""Bodies under a step or any piecewise-linear medium: slab, infinite cylinder, sphere, and the finite cylinder."""

from __future__ import annotations

import abc
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import ArrayLike

from thermsim.exact.checks import FloatArray, as_floats, as_places, as_times, require_film, require_positive
from thermsim.exact.duhamel import SPLIT, Medium, superpose
from thermsim.exact.modes import (
    UNIFORM,
    Direction,
    Modes,
    centred_direction,
    centred_modes,
    two_face_direction,
    two_face_modes,
)


class Body(abc.ABC):
    """A homogeneous body, uniform at the start, whose step response is a product of two directions'."""

    conductivity: float
    density: float
    specific_heat: float

    @property
    @abc.abstractmethod
    def seconds(self) -> float:
        """Time scale length^2/diffusivity [s]; elapsed time over it is the Fourier number."""

    @property
    @abc.abstractmethod
    def averaged(self) -> tuple[Direction, Direction]:
        """Step responses of the mean along both directions."""

    @property
    @abc.abstractmethod
    def slowest_rate(self) -> float:
        """Decay rate of the first mode [1/s]."""

    @property
    @abc.abstractmethod
    def slowest_amplitude(self) -> Callable[..., FloatArray]:
        """Share of a step in the first mode at places [m]."""

    @property
    def diffusivity(self) -> float:
        """Thermal diffusivity [m2/s]."""
        return self.conductivity / (self.density * self.specific_heat)

    def mean_unaccomplished(self, time: ArrayLike) -> FloatArray:
        """Return the volume mean of theta, shape (n_t,); see `unaccomplished`."""
        first, second = self.averaged
        times = as_times("time", time)
        return (first.step(times) * second.step(times))[:, 0]

    def mean_temperature(
        self, time: ArrayLike, *, initial: float, medium_time: ArrayLike, medium: ArrayLike
    ) -> FloatArray:
        """Volume mean of the temperature [degC], shape (n_t,); see `FiniteCylinder.temperature`."""
        return self._superposed(self.averaged, time, initial, medium_time, medium)[:, 0, 0]

    def _superposed(
        self,
        directions: tuple[Direction, Direction],
        time: ArrayLike,
        initial: float,
        medium_time: ArrayLike,
        medium: ArrayLike,
    ) -> FloatArray:
        course = Medium(np.asarray(medium_time), np.asarray(medium))
        return superpose(directions, time, split=SPLIT * self.seconds, initial=initial, medium=course)


class OneDimensional(Body):
    """A body in which temperature depends on one coordinate only."""

    _coordinate = "r"

    @property
    @abc.abstractmethod
    def length(self) -> float:
        """Largest coordinate [m], by which Biot and Fourier numbers go."""

    @abc.abstractmethod
    def modes(self, count: int) -> Modes:
        """Return the first modes, places in parts of the length."""

    @abc.abstractmethod
    def _direction(self, fractions: FloatArray | None) -> Direction:
        """Return the step response at places in parts of the length; None: of the mean."""

    @property
    def seconds(self) -> float:
        """Time scale length^2/diffusivity [s]; elapsed time over it is the Fourier number."""
        return self.length**2 / self.diffusivity

    @property
    def averaged(self) -> tuple[Direction, Direction]:
        """Step responses of the mean along both directions, in the second of which nothing changes."""
        return self._direction(None), UNIFORM

    @property
    def slowest_rate(self) -> float:
        """Decay rate of the first mode [1/s]."""
        return float(self.modes(1).eigenvalues[0] ** 2) / self.seconds

    @property
    def slowest_amplitude(self) -> Callable[..., FloatArray]:
        """Share of a step in the first mode at places [m], shape (n,)."""
        mode = self.modes(1)
        return lambda places: mode.coefficients[0] * mode.shape(self._fractions(places))[0]

    def along(self, places: ArrayLike) -> Direction:
        """Return the step response at places [m] for products and superposition."""
        return self._direction(self._fractions(places))

    def unaccomplished(self, places: ArrayLike, time: ArrayLike) -> FloatArray:
        """Step response theta = (T - medium)/(start - medium), shape (n_t, n).

        Series of modes from Fo = 1e-4 on, inverted transform below; valid at every time, error about 1e-13.

        Parameters
        ----------
        places : array_like, shape (n,)
            Distances from the centre, or of a slab with two faces heights above the base face [m].
        time : array_like, shape (n_t,)
            Time since the step [s]; at 0 just after it, before it theta = 1.

        Raises
        ------
        ValueError
            If a place lies outside the body.
        """
        return self.along(places).step(as_times("time", time))

    def temperature(
        self, places: ArrayLike, time: ArrayLike, *, initial: float, medium_time: ArrayLike, medium: ArrayLike
    ) -> FloatArray:
        """Temperature [degC], shape (n_t, n), under a piecewise-linear medium; see `FiniteCylinder.temperature`."""
        return self._superposed((self.along(places), UNIFORM), time, initial, medium_time, medium)[:, :, 0]

    def _fractions(self, places: ArrayLike) -> FloatArray:
        return as_places(self._coordinate, places, self.length) / self.length


@dataclass(frozen=True)
class Slab(OneDimensional):
    """Infinite slab whose two faces may differ, z = 0 at the base face and z = thickness at the lid face.

    Attributes
    ----------
    thickness : float
        Full thickness [m].
    conductivity, density, specific_heat : float
        [W/(m K)], [kg/m3], [J/(kg K)].
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
    _coordinate = "z"

    def __post_init__(self) -> None:
        require_positive(
            thickness=self.thickness,
            conductivity=self.conductivity,
            density=self.density,
            specific_heat=self.specific_heat,
        )
        require_film(film_base=self.film_base, film_lid=self.film_lid)

    @property
    def length(self) -> float:
        """Full thickness [m]."""
        return self.thickness

    @property
    def biots(self) -> tuple[float, float]:
        """Biot numbers h H / k of base and lid on the full thickness."""
        scale = self.thickness / self.conductivity
        return self.film_base * scale, self.film_lid * scale

    def modes(self, count: int) -> Modes:
        """Return the first modes, places in z/thickness."""
        return two_face_modes(*self.biots, count=count)

    def _direction(self, fractions: FloatArray | None) -> Direction:
        return two_face_direction(fractions, *self.biots, seconds=self.seconds)


@dataclass(frozen=True)
class CentredBody(OneDimensional):
    """Body in which temperature depends on the distance r from its centre only.

    Attributes
    ----------
    radius : float
        Radius, or half thickness of the slab [m].
    conductivity, density, specific_heat : float
        [W/(m K)], [kg/m3], [J/(kg K)].
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
            radius=self.radius, conductivity=self.conductivity, density=self.density, specific_heat=self.specific_heat
        )
        require_film(film=self.film)
        if self.curvature not in (0, 1, 2):
            raise ValueError(f"curvature = {self.curvature} is not allowed; 0 slab, 1 infinite cylinder, 2 sphere")

    @property
    def length(self) -> float:
        """Radius, or half thickness of the slab [m]."""
        return self.radius

    @property
    def biot(self) -> float:
        """Biot number h R / k."""
        return self.film * (self.radius / self.conductivity)

    def modes(self, count: int) -> Modes:
        """Return the first modes, places in r/radius."""
        return centred_modes(self.biot, count, curvature=self.curvature)

    def _direction(self, fractions: FloatArray | None) -> Direction:
        return centred_direction(fractions, self.biot, curvature=self.curvature, seconds=self.seconds)


#: A sphere; arguments as in `CentredBody`.
sphere = partial(CentredBody, curvature=2)


@dataclass(frozen=True)
class FiniteCylinder(Body):
    """Homogeneous cylinder with its own film coefficient on side, base and lid, z measured upwards from its base.

    Attributes
    ----------
    radius, height : float
        [m].
    conductivity, density, specific_heat : float
        [W/(m K)], [kg/m3], [J/(kg K)].
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
        return CentredBody(
            self.radius, self.conductivity, self.density, self.specific_heat, self.film_side, curvature=1
        )

    @property
    def ends(self) -> Slab:
        """The slab of which this is a piece."""
        return Slab(self.height, self.conductivity, self.density, self.specific_heat, self.film_base, self.film_lid)

    @property
    def seconds(self) -> float:
        """Time scale radius height/diffusivity [s]."""
        return self.radius * self.height / self.diffusivity

    @property
    def averaged(self) -> tuple[Direction, Direction]:
        """Step responses of the means along radius and height."""
        return self.side.averaged[0], self.ends.averaged[0]

    @property
    def slowest_rate(self) -> float:
        """Decay rate of the first mode [1/s]."""
        return self.side.slowest_rate + self.ends.slowest_rate

    @property
    def slowest_amplitude(self) -> Callable[..., FloatArray]:
        """Share of a step in the first mode at r, z [m], shape (n_r, n_z)."""
        return lambda r, z: np.outer(self.side.slowest_amplitude(r), self.ends.slowest_amplitude(z))

    def unaccomplished(self, r: ArrayLike, z: ArrayLike, time: ArrayLike) -> FloatArray:
        """Step response theta, shape (n_t, n_r, n_z), at r and z [m]; see `OneDimensional.unaccomplished`."""
        times = as_times("time", time)
        return as_floats(np.einsum("tr,tz->trz", self.side.along(r).step(times), self.ends.along(z).step(times)))

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
        r, z : array_like, shape (n_r,) and (n_z,)
            Distances from the axis and heights above the base [m].
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
        return self._superposed((self.side.along(r), self.ends.along(z)), time, initial, medium_time, medium)
