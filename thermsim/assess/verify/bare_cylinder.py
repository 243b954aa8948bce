"""Bare cylinders about which everything is known: as a case for the solver, and as an exact solution."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import optimize

from thermsim.case.case import Case, Lethality
from thermsim.case.container import Container
from thermsim.case.process import Film, Process, Stage
from thermsim.case.product import Headspace, Product
from thermsim.case.profile import straight
from thermsim.exact import FiniteCylinder
from thermsim.physics.materials import Material

Array = NDArray[np.float64]


@dataclass(frozen=True)
class BareCylinder:
    """A bare cylinder whose medium steps up at time 0 and down when heating ends; everything about it is known.

    ``radius``, ``height`` [m]; ``start``, ``hot``, ``cold`` [degC]; ``heating``, ``cooling`` durations [s].
    """

    name: str
    food: Material
    film: Film
    radius: float
    height: float
    start: float
    hot: float
    cold: float
    heating: float
    cooling: float

    def heated_for(self, heating: float) -> BareCylinder:
        """The same, heated for another time [s]."""
        return dataclasses.replace(self, heating=heating)

    def case(self, lethality: Lethality) -> Case:
        """The case that the solver gets."""
        stages = (
            Stage("hold", np.array([0.0, self.heating]), np.full(2, self.hot), self.film),
            Stage("cool", np.array([0.0, self.cooling]) + self.heating, np.full(2, self.cold), self.film),
        )
        return Case(
            title=self.name,
            container=Container(straight(2.0 * self.radius, self.height)),
            product=Product(self.food, self.start),
            fill_height=self.height,
            headspace=Headspace("insulated"),
            process=Process(stages),
            lethality=lethality,
        )

    def exact(self) -> FiniteCylinder:
        """The exact solution's body."""
        return FiniteCylinder(
            radius=self.radius,
            height=self.height,
            conductivity=self.food.conductivity,
            density=self.food.density,
            specific_heat=self.food.specific_heat,
            film_side=self.film.side,
            film_base=self.film.base,
            film_lid=self.film.lid,
        )

    def temperature(self, r: Array, z: Array, time: Array) -> Array:
        """Exact temperature [degC], shape (n_t, n_r, n_z)."""
        knots = [0.0, 0.0, self.heating, self.heating, self.heating + self.cooling]
        medium = [self.start, self.hot, self.hot, self.cold, self.cold]
        return np.asarray(self.exact().temperature(r, z, time, initial=self.start, medium_time=knots, medium=medium))

    def lethality(self, r: float, z: float, lethality: Lethality) -> tuple[float, float]:
        """Exact lethality [s] at a place: while heating and while cooling."""
        gathered = []
        for begin, length in ((0.0, self.heating), (self.heating, self.cooling)):
            time, weight = _panels(begin, length)
            temperature = self.temperature(np.array([r]), np.array([z]), time)[:, 0, 0]
            gathered.append(float(weight @ 10.0 ** ((temperature - lethality.reference) / lethality.z)))
        return gathered[0], gathered[1]

    def least_lethality(self, near: tuple[float, float], lethality: Lethality) -> tuple[float, float, float]:
        """Exact place r, z [m] and value [s] of the local minimum of the lethality near a place."""

        def log_lethality(x: Array) -> float:
            # the field is even in r, so a step beyond the axis is a step back
            z = min(max(float(x[1]) * self.height, 0.0), self.height)
            return math.log(sum(self.lethality(min(abs(float(x[0])) * self.radius, self.radius), z, lethality)))

        start = np.array([near[0] / self.radius, near[1] / self.height])
        simplex = np.array([start, start + [0.03, 0.0], start + [0.0, 0.02]])
        found = optimize.minimize(
            log_lethality,
            start,
            method="Nelder-Mead",
            options={"xatol": 1e-5, "fatol": 1e-10, "initial_simplex": simplex},
        )
        return abs(float(found.x[0])) * self.radius, float(found.x[1]) * self.height, math.exp(found.fun)


FOOD = Material("food", 0.50, 1040.0, 3650.0)
STERILISATION = Lethality(reference=121.1, z=10.0)


def bare_cylinders() -> tuple[BareCylinder, ...]:
    """The bare cylinder 73 x 110 mm with a fixed surface, with one film and with three different ones."""
    films = {
        "bare cylinder, fixed surface": Film.everywhere(math.inf),
        "bare cylinder, 180 W/m2K": Film.everywhere(180.0),
        "bare cylinder, 800/60/2000 W/m2K": Film(side=800.0, base=60.0, lid=2000.0),
    }
    return tuple(
        BareCylinder(name, FOOD, film, 0.0365, 0.110, 30.0, 121.1, 25.0, 3600.0, 2400.0)
        for name, film in films.items()
    )


def golden_can() -> BareCylinder:
    """The nominal 307x409 body (87.3125 x 115.8875 mm), diffusivity 1.5e-7 m2/s, fixed surface, 20 to 121.1 degC."""
    food = Material("food", 0.5, 1000.0, 0.5 / 1.5e-7 / 1000.0)
    return BareCylinder(
        "can 307x409", food, Film.everywhere(math.inf), 0.0873125 / 2, 0.1158875, 20.0, 121.1, 20.0, 4800.0, 3600.0
    )


def unequal_ends() -> BareCylinder:
    """A cylinder with fixed side, Biot number 2000 at the base and 2 at the lid: its coldest height is known."""
    food = Material("food", 0.5, 1000.0, 0.5 / 1.6e-7 / 1000.0)
    film = Film(side=math.inf, base=2000.0 * 0.5 / 0.1, lid=2.0 * 0.5 / 0.1)
    return BareCylinder("cylinder with unequal ends", food, film, 0.0365, 0.1, 30.0, 121.0, 25.0, 3600.0, 1800.0)


def _panels(begin: float, length: float) -> tuple[Array, Array]:
    """Gauss-Legendre nodes and weights in time, on panels that start short after a jump."""
    places, weights = np.polynomial.legendre.leggauss(12)
    edges = begin + length * np.concatenate([[0.0], np.geomspace(1e-5, 1.0, 28)])
    half = np.diff(edges) / 2
    time = (edges[:-1] + half)[:, None] + half[:, None] * places
    return time.ravel(), (half[:, None] * weights).ravel()
