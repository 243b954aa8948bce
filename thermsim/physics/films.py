"""Film coefficients: what is usual of each medium, what free convection of air gives, and what a label takes away."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from thermsim.errors import InputError
from thermsim.physics.convection import rayleigh_number
from thermsim.physics.gap import (
    AIR_MOLE,
    ATMOSPHERE,
    GAS_CONSTANT,
    KELVIN,
    RADIATION_CONSTANT,
    air_conductivity,
    air_heat,
    air_viscosity,
)
from thermsim.text import nearest, unknown


@dataclass(frozen=True)
class FilmRange:
    """Usual films of a medium [W/m2K]: ``low``, the ``middle`` that is used, ``high``, and their source."""

    name: str
    low: float
    middle: float
    high: float
    source: str


@dataclass(frozen=True)
class Fluid:
    """A fluid at one temperature, for free convection.

    ``conductivity`` [W/mK], ``viscosity`` (kinematic) and ``diffusivity`` (thermal) [m2/s], ``expansion`` [1/K].
    """

    conductivity: float
    viscosity: float
    diffusivity: float
    expansion: float

    @property
    def prandtl(self) -> float:
        """Prandtl number."""
        return self.viscosity / self.diffusivity


@dataclass(frozen=True)
class FreeFilm:
    """A film coefficient of free convection and how it was come by.

    ``film`` [W/m2K] is the mean over the surface, without radiation, ``rayleigh`` and ``nusselt`` are on the
    correlation's own length, ``correlation`` is its name and the Rayleigh numbers for which it is meant, ``within``
    whether this is one of them.
    """

    film: float
    rayleigh: float
    nusselt: float
    correlation: str
    within: bool


_GEOMETRIC = "the middle is the geometric mean, rounded"
_PRACTICE = f"common practice, no source; {_GEOMETRIC}"
_STEAM = (
    "published spread in food work, 400 to 12 000, 'about 5000 commonly employed' (read in the abstract of a chapter "
    "that cites measurements of 1984 to 1993). The film theory of Nusselt gives 13 000 to 24 000 for air-free steam "
    "on a bare wall (computed), an upper bound; fits to cans in a pilot retort call 150 to 260 the range in which it "
    "matters most (read in an abstract), so air and crevices may leave far less"
)
_IMMERSED = (
    "computed: free convection on a wall 116 mm high, 1 to 20 K from water at 30 to 115 degC, by the correlation of "
    f"Churchill and Chu; {_GEOMETRIC}"
)
_CALM = (
    f"{_PRACTICE}; free convection alone is 5 to 7 on a wall 116 mm high, 20 to 60 K from the air (computed by the "
    "correlation of Churchill and Chu), and radiation adds up to 6 to a surface that is not bright metal"
)
_MIXED = f"{_PRACTICE}; it falls with the share of air and with a low flow"
#: Films of the media, each with what the medium is also called.
_MEDIA: Mapping[FilmRange, tuple[str, ...]] = {
    FilmRange("condensing steam", 400.0, 5000.0, 12000.0, _STEAM): ("steam",),
    FilmRange("steam-air mixture", 500.0, 1600.0, 5000.0, _MIXED): (),
    FilmRange("water spray", 300.0, 800.0, 2000.0, f"{_PRACTICE}; it depends on the place in the load"): (
        "water cascade",
    ),
    FilmRange("water immersion, still", 400.0, 600.0, 900.0, _IMMERSED): ("still water",),
    FilmRange("water immersion, circulated", 500.0, 1200.0, 3000.0, _PRACTICE): (
        "circulated water",
        "water immersion",
    ),
    FilmRange("air", 15.0, 30.0, 60.0, f"blown: {_PRACTICE}"): ("blown air",),
    FilmRange("still air", 5.0, 9.0, 15.0, _CALM): (),
}


def films() -> Mapping[str, FilmRange]:
    """Film coefficients of the named media, read-only; a medium of two names stands under both."""
    return MappingProxyType({name: film for film, aliases in _MEDIA.items() for name in (film.name, *aliases)})


def find_film(name: str) -> FilmRange:
    """A medium's film coefficient by its name.

    Raises
    ------
    InputError
        If there is none of that name; the message offers the nearest, or all.

    Examples
    --------
    >>> import thermsim
    >>> film = thermsim.find_film("water spray")
    >>> film.low < film.middle < film.high
    True
    """
    known = films()
    if name in known:
        return known[name]
    close = nearest(name, known) or [candidate for candidate in known if name and name.lower() in candidate.lower()]
    raise InputError(unknown("medium", name, close, [film.name for film in _MEDIA]))


def film_remark(film: FilmRange) -> str:
    """That a film coefficient was taken from its medium's name, as a sentence or two."""
    return (
        f"The heat-transfer coefficient of {film.name} is taken as {_short(film.middle)} W/m2K; it may be "
        f"{_short(film.low)} to {_short(film.high)} W/m2K. It was not measured: where the result depends on it, "
        f"measure it. Source: {film.source}."
    )


def _short(film: float) -> str:
    """Three digits, without an exponent."""
    return f"{float(f'{film:.3g}'):g}"


def resistance_of(thickness: float, conductivity: float) -> float:
    """Thermal resistance [m2K/W] of a thin layer, a label or sleeve: thickness [m] over conductivity [W/mK]."""
    return thickness / conductivity


def behind(film: float, resistance: float) -> float:
    """Film coefficient [W/m2K] of a medium beyond a thermal resistance [m2K/W]: 1/(1/h + R); ``film`` may be inf."""
    if math.isinf(film):
        return film if resistance == 0.0 else 1.0 / resistance
    return film / (1.0 + film * resistance)


def air(temperature: float, pressure: float = ATMOSPHERE) -> Fluid:
    """Dry air at a temperature [degC] and pressure [Pa], as an ideal gas."""
    kelvin = temperature + KELVIN
    density = pressure * AIR_MOLE / (GAS_CONSTANT * kelvin)
    conductivity, viscosity = float(air_conductivity(temperature)), float(air_viscosity(temperature))
    diffusivity = conductivity / (density * float(air_heat(temperature)))
    return Fluid(conductivity, viscosity / density, diffusivity, 1.0 / kelvin)


def free_film(fluid: Fluid, difference: float, *, size: float, facing: Literal["side", "up", "down"]) -> FreeFilm:
    """Film coefficient of free convection in a wide fluid at rest, at the mean of its and the surface's temperatures.

    ``difference`` is surface less fluid [K], of either sign, ``size`` a side wall's height, or the diameter of a
    level disc that faces up or down [m].

    Notes
    -----
    Side: Churchill and Chu, for a vertical plate; it holds for a cylinder that is not slender (diameter/height at
    least 35 Gr^(-1/4)), a slender one has a little more. Level discs: McAdams, on a quarter of the diameter (area
    over perimeter). All from memory. Of a real container they are estimates: what flows along its side wall sweeps
    its ends.
    """
    length = size if facing == "side" else size / 4
    rayleigh = rayleigh_number(
        fluid.expansion * abs(difference), length, viscosity=fluid.viscosity, diffusivity=fluid.diffusivity
    )
    if facing == "side":
        name, least, most = "Churchill and Chu, vertical plate", 0.0, 1e12
        bend = (1.0 + (0.492 / fluid.prandtl) ** (9 / 16)) ** (8 / 27)
        nusselt = (0.825 + 0.387 * rayleigh ** (1 / 6) / bend) ** 2
    elif (difference > 0.0) == (facing == "up"):
        name, least, most = "McAdams, level plate from which the fluid rises or sinks", 1e4, 1e11
        nusselt = 0.54 * rayleigh**0.25 if rayleigh < 1e7 else 0.15 * rayleigh ** (1 / 3)
    else:
        name, least, most = "McAdams, level plate under or on which the fluid lies", 1e5, 1e10
        nusselt = 0.27 * rayleigh**0.25
    correlation = f"{name} (Rayleigh numbers of {least:g} to {most:g})"
    within = least <= rayleigh <= most and rayleigh > 0.0
    return FreeFilm(nusselt * fluid.conductivity / length, rayleigh, nusselt, correlation, within)


def air_film(surface: float, medium: float, *, size: float, facing: Literal["side", "up", "down"]) -> FreeFilm:
    """Film coefficient of still air at temperatures of the surface and of the air [degC]: see :func:`free_film`.

    Radiation comes on top: :func:`radiated`.
    """
    return free_film(air((surface + medium) / 2), surface - medium, size=size, facing=facing)


def radiated(surface: float, surroundings: float, emissivity: float) -> float:
    """Film coefficient [W/m2K] that stands for radiation to wide surroundings, at temperatures [degC].

    e sigma (T1^2 + T2^2)(T1 + T2), exact for these two temperatures. Source: any textbook (from memory).
    """
    hot, cold = surface + KELVIN, surroundings + KELVIN
    return emissivity * RADIATION_CONSTANT * (hot * hot + cold * cold) * (hot + cold)
