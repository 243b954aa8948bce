"""Composition of a food, and the properties of its components over temperature.

The equations are those of Choi and Okos (1986), "Effects of temperature and composition on the thermal properties of
foods", in Le Maguer and Jelen (eds.), Food Engineering and Process Applications, vol. 1, pp. 93-101. The chapter
itself was not read: the digits are those that the open-source library CoolProp 8.0.0 carries (there said to be those
of the 2006 refrigeration handbook of ASHRAE), and a scanned reprint in a food engineering text agrees with them
wherever it can be read. Two differ from CoolProp's or are not in it: see ``COMPONENTS``.

Thermal diffusivity is always k/(rho c). Separate equations for it are in print; they disagree with these by -6.6 %
(fibre) to +4.7 % (fat) at 110 degC (computed) and are not used.
"""

from __future__ import annotations

import math
import numbers
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

from thermsim.errors import InputError
from thermsim.physics.scales import other_scale
from thermsim.text import did_you_mean, plain, printed

Array = NDArray[np.float64]

#: The temperatures for which the component equations are stated [degC].
LOWEST, HIGHEST = -40.0, 150.0
#: How far mass fractions may miss 1 in sum; tables of composition are rounded.
ROUNDING = 0.005

_MELTING = 0.0  # degC
_PERCENT = (95.0, 105.0)  # a sum in here is meant as percentages
# what components are also called, in food tables and on labels
_ALSO = {
    "moisture": "water",
    **dict.fromkeys(("lipid", "oil"), "fat"),
    **dict.fromkeys(("sugar", "starch"), "carbohydrate"),
    **dict.fromkeys(("salt", "minerals"), "ash"),
}


@dataclass(frozen=True)
class Properties:
    """Properties at the temperatures asked for, each an array of their shape.

    ``conductivity`` [W/mK], ``density`` [kg/m3], ``specific_heat`` [J/kgK].
    """

    conductivity: Array
    density: Array
    specific_heat: Array

    @property
    def capacity(self) -> Array:
        """Volumetric heat capacity rho c [J/m3K]."""
        return self.density * self.specific_heat

    @property
    def diffusivity(self) -> Array:
        """Thermal diffusivity k/(rho c) [m2/s]."""
        return self.conductivity / self.capacity


@dataclass(frozen=True)
class Scatter:
    """Scatter of data about a component's equations: standard error of the fit, as parts of the value.

    From memory, as the original table prints them; not looked up. For water they are too small near 0 degC: against
    the IAPWS formulation k is 2.7 % high at 0 degC, 0.9 % at 20 degC, below 0.6 % from 40 to 130 degC; c is 1.0 %
    low at 0 degC, within 0.25 % from 20 to 130 degC and 0.6 % low at 150 degC; rho is within 0.31 % from 0 to 130
    degC and 0.43 % low at 150 degC (computed).
    """

    conductivity: float
    density: float
    specific_heat: float


@dataclass(frozen=True)
class Component:
    """A component's equations: coefficients of rising powers of the temperature in degC.

    ``conductivity`` gives W/mK, ``density`` kg/m3, ``specific_heat`` kJ/kgK as printed; ``specific_heat_below`` holds
    below 0 degC where that is another line (water that has not frozen).
    """

    conductivity: tuple[float, ...]
    density: tuple[float, ...]
    specific_heat: tuple[float, ...]
    scatter: Scatter
    specific_heat_below: tuple[float, ...] = ()


# Water's c begins with 4.1762 (a reprint in an encyclopaedia, Becker and Fricke 2003, and the scanned reprint).
# 4.1289 is in circulation too, in CoolProp for one: it is 0.9 to 1.3 % low against IAPWS from 20 to 130 degC,
# where 4.1762 is within 0.25 % (computed). Water's c below 0 degC is from a reprint alone.
COMPONENTS: Mapping[str, Component] = MappingProxyType(
    {
        "water": Component(
            (0.57109, 1.7625e-3, -6.7036e-6),
            (997.18, 3.1439e-3, -3.7574e-3),
            (4.1762, -9.0864e-5, 5.4731e-6),
            Scatter(0.0045, 0.0022, 0.0038),
            specific_heat_below=(4.0817, -5.3062e-3, 9.9516e-4),
        ),
        "protein": Component(
            (0.17881, 1.1958e-3, -2.7178e-6),
            (1329.9, -0.51840),
            (2.0082, 1.2089e-3, -1.3129e-6),
            Scatter(0.059, 0.031, 0.056),
        ),
        "fat": Component(
            (0.18071, -2.7604e-4, -1.7749e-7),
            (925.59, -0.41757),
            (1.9842, 1.4733e-3, -4.8008e-6),
            Scatter(0.020, 0.0047, 0.012),
        ),
        "carbohydrate": Component(
            (0.20141, 1.3874e-3, -4.3312e-6),
            (1599.1, -0.31046),
            (1.5488, 1.9625e-3, -5.9399e-6),
            Scatter(0.054, 0.060, 0.060),
        ),
        "fibre": Component(
            (0.18331, 1.2497e-3, -3.1683e-6),
            (1311.5, -0.36589),
            (1.8459, 1.8306e-3, -4.6509e-6),
            Scatter(0.056, 0.0064, 0.017),
        ),
        "ash": Component(
            (0.32962, 1.4011e-3, -2.9069e-6),
            (2423.8, -0.28063),
            (1.0926, 1.8896e-3, -3.6817e-6),
            Scatter(0.022, 0.0009, 0.025),
        ),
        "ice": Component(
            (2.2196, -6.2489e-3, 1.0154e-4), (916.89, -0.13071), (2.0623, 6.0769e-3), Scatter(0.0079, 0.0006, 0.0007)
        ),
    }
)


@dataclass(frozen=True)
class Composition:
    """Mass fractions of a food's components, without air; together 1 (see ``ROUNDING``).

    Raises
    ------
    InputError
        If a fraction is no number from 0 to 1, or if they do not add up to 1; all faults in one line.

    Examples
    --------
    >>> from thermsim import Composition
    >>> print(Composition(water=0.7, protein=0.1, carbohydrate=0.2))
    water 0.7, protein 0.1, carbohydrate 0.2
    """

    water: float = 0.0
    protein: float = 0.0
    fat: float = 0.0
    carbohydrate: float = 0.0
    fibre: float = 0.0
    ash: float = 0.0
    ice: float = 0.0

    def __post_init__(self) -> None:
        _refuse(vars(self))

    @property
    def shares(self) -> Mapping[str, float]:
        """Mass fractions of what is there, brought to a sum of 1 exactly."""
        total = math.fsum(vars(self).values())
        return {name: float(fraction) / total for name, fraction in vars(self).items() if fraction > 0.0}

    def __str__(self) -> str:
        return ", ".join(f"{name} {fraction:g}" for name, fraction in vars(self).items() if fraction > 0.0)


def composition_of(fractions: Mapping[str, object]) -> Composition:
    """A composition from mass fractions by name; those left out are 0.

    Raises ``InputError`` if there is an unknown component (the message offers the nearest), or as for
    :class:`Composition`.
    """
    _refuse(fractions)
    return Composition(**{name: float(fraction) for name, fraction in fractions.items()})  # type: ignore[arg-type]


def _refuse(fractions: Mapping[str, object]) -> None:
    if faults := composition_faults(fractions):
        raise InputError(f"composition: {'; '.join(faults)}")


def composition_faults(fractions: Mapping[str, object]) -> list[str]:
    """Every fault of mass fractions given by name, one line each; none if they make a composition."""
    known = {name: value for name, value in fractions.items() if name in COMPONENTS}
    faults = [_unknown(name) for name in fractions if name not in known]
    amounts: list[float] = []
    for name, value in known.items():
        if isinstance(value, bool) or not isinstance(value, numbers.Real) or not math.isfinite(value):
            faults.append(f"{name} = {printed(value)} is not a finite number; a mass fraction from 0 to 1 is needed")
        elif value < 0.0:
            faults.append(f"{name} = {printed(value)} must be at least 0")
        else:
            amounts.append(float(value))
    if faults:
        return faults  # what they add up to says nothing yet
    total = math.fsum(amounts)
    if abs(total - 1.0) > ROUNDING * (1.0 + 1e-9):
        percent = _PERCENT[0] <= total <= _PERCENT[1]
        hint = "; these look like percentages: divide each by 100" if percent else ""
        faults.append(f"mass fractions add up to {total:g}, must be 1 within {ROUNDING:g}{hint}")
    return faults


def _unknown(name: str) -> str:
    if name.lower() == "air":
        return "air is not supported; give tables of the aerated food's own properties"
    if name.lower() in _ALSO:
        return f'unknown component "{name}"; here it counts as "{_ALSO[name.lower()]}"'
    return f'unknown component "{plain(name)}"; {did_you_mean(name, list(COMPONENTS))}'


def component_properties(name: str, temperature: ArrayLike) -> Properties:
    """The properties of one of ``COMPONENTS`` at temperatures [degC], from -40 to 150, of ice only below 0.

    "water" below 0 degC is water that has not frozen.

    Raises ``InputError`` if there is no such component, or at a temperature where its equations do not hold.
    """
    if name not in COMPONENTS:
        raise InputError(_unknown(name))
    asked = np.asarray(temperature, dtype=np.float64)
    _require_range(name, asked)
    if name == "ice":
        _require_frozen("ice", asked)
    component = COMPONENTS[name]
    specific_heat = _polynomial(component.specific_heat, asked)
    if component.specific_heat_below:
        specific_heat = np.where(asked < 0.0, _polynomial(component.specific_heat_below, asked), specific_heat)
    return Properties(
        _polynomial(component.conductivity, asked), _polynomial(component.density, asked), 1000.0 * specific_heat
    )


def require_temperatures(composition: Composition, temperature: ArrayLike) -> None:
    """Refuse temperatures at which a composition's properties are not known or its water would freeze or melt.

    Latent heat is in none of the equations. With ice every temperature must lie below 0 degC, and the ice is taken as
    constant, though a food's melts gradually on the way there. Without ice, a composition with water must stay at 0
    degC or above, though many a food freezes only a little below.

    Raises ``InputError`` with the first temperature refused, and what is allowed.
    """
    asked = np.asarray(temperature, dtype=np.float64)
    _require_range("composition", asked)
    if composition.ice > 0.0:
        _require_frozen(f"composition with ice {composition.ice:g}", asked)
    elif composition.water > 0.0 and (frozen := asked[asked < _MELTING]).size:
        raise InputError(
            f"composition with water and no ice: at {frozen.flat[0]:g} degC the water would freeze, and freezing and "
            "its latent heat are not supported; temperatures must be at least 0 degC"
        )


def _polynomial(coefficients: tuple[float, ...], temperature: Array) -> Array:
    return np.asarray(np.polynomial.polynomial.polyval(temperature, coefficients), dtype=np.float64)


def _require_range(what: str, asked: Array) -> None:
    outside = asked[~((asked >= LOWEST) & (asked <= HIGHEST))]
    if outside.size:
        value = float(outside.flat[0])
        raise InputError(
            f"{what}: temperature {value:g} degC is outside {LOWEST:g} to {HIGHEST:g} degC, where the component "
            f"equations hold{other_scale(value)}"
        )


def _require_frozen(what: str, asked: Array) -> None:
    melted = asked[asked >= _MELTING]
    if melted.size:
        raise InputError(
            f"{what}: at {melted.flat[0]:g} degC the ice would melt, and melting and its latent heat are not "
            "supported; all temperatures must be below 0 degC"
        )
