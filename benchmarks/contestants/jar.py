"""The jar that all contestants solve, as plain numbers in SI units and degC: layers, a medium, films."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Lethality counts 10^((T - REFERENCE)/Z).
REFERENCE, Z = 121.1, 10.0
#: Errors of temperature count from here on [s]: before, corners that the medium has just met are all that moves.
COUNTED_FROM = 120.0


@dataclass(frozen=True)
class Period:
    """A time in which the medium is linear and the films are constant: times [s], medium [degC], film [W/m2K]."""

    start: float
    end: float
    medium: float
    medium_end: float
    film: float

    @property
    def slope(self) -> float:
        """Rate of the medium [K/s]."""
        return (self.medium_end - self.medium) / (self.end - self.start)

    def medium_at(self, time: Array | float) -> Array | float:
        """Temperature of the medium [degC] at times [s] within the period."""
        return self.medium + self.slope * (time - self.start)


@dataclass(frozen=True)
class Jar:
    """Layers between ``columns`` and ``levels`` [m], their properties (n_r, n_z), and what happens to them.

    ``conductivity`` [W/mK]; ``heat`` is density times specific heat [J/m3K]; ``initial`` [degC]; ``product`` are the
    extremes of the product's radii and heights [m].
    """

    name: str
    columns: Array
    levels: Array
    conductivity: Array
    heat: Array
    initial: float
    periods: tuple[Period, ...]
    product: tuple[float, float, float]

    @property
    def end(self) -> float:
        """When the process ends [s]."""
        return self.periods[-1].end

    @property
    def places(self) -> Array:
        """Places in the product where errors count, on the axis and off it, shape (n, 2) [m]."""
        radius, bottom, top = self.product
        r = radius * np.array([0.0, 1 / 3, 2 / 3, 0.9])
        z = bottom + (top - bottom) * np.array([0.03, 0.15, 0.3, 0.45, 0.6, 0.75, 0.9, 0.97])
        return np.array([(a, b) for a in r for b in z])


#: Come-up from 40 to 118 degC, hold, and cooling that falls to 30 degC in 20 min with another film.
PERIODS = (
    Period(0.0, 720.0, 40.0, 118.0, 450.0),
    Period(720.0, 5220.0, 118.0, 118.0, 450.0),
    Period(5220.0, 6420.0, 118.0, 30.0, 200.0),
    Period(6420.0, 7320.0, 30.0, 30.0, 200.0),
)
HEATING_END = 5220.0
# conductivity, and density times specific heat
PASTE, GLASS, STEEL, GAS = ((0.55, 1050.0 * 3700.0), (1.0, 2500.0 * 750.0), (50.0, 7800.0 * 450.0), (0.1, 1000.0))


def composite_jar() -> Jar:
    """66 x 113 mm inside, glass side 3 mm and base 5 mm, steel lid 0.25 mm, 12 mm of gas that conducts."""
    inner, side = (GLASS, PASTE, GAS, STEEL), (GLASS, GLASS, GLASS, STEEL)
    materials = np.array([inner, side])
    return Jar(
        name="composite jar",
        columns=np.array([0.0, 0.033, 0.036]),
        levels=np.array([0.0, 0.005, 0.106, 0.118, 0.11825]),
        conductivity=materials[:, :, 0],
        heat=materials[:, :, 1],
        initial=40.0,
        periods=PERIODS,
        product=(0.033, 0.005, 0.106),
    )


def bare_product() -> Jar:
    """The jar's product alone, the films on its surfaces: what a code for one material can do."""
    return Jar(
        name="bare product",
        columns=np.array([0.0, 0.033]),
        levels=np.array([0.0, 0.101]),
        conductivity=np.array([[PASTE[0]]]),
        heat=np.array([[PASTE[1]]]),
        initial=40.0,
        periods=PERIODS,
        product=(0.033, 0.0, 0.101),
    )
