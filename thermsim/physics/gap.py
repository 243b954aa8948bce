"""The gas gap between the product's surface and the lid: what conduction, radiation and vapour carry across it.

All three are written as one conductivity over temperature, so that the gap can be marched like a solid. The gas
itself is at rest. Constants of nature are the recommended values of CODATA 2018 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from thermsim.errors import InputError
from thermsim.notice import Notice
from thermsim.physics.convection import rayleigh_number
from thermsim.physics.materials import Material, Tabulated

Array = NDArray[np.float64]

KELVIN = 273.15  # 0 degC
GAS_CONSTANT = 8.314462618  # J/molK
RADIATION_CONSTANT = 5.670374419e-8  # W/m2K4, of Stefan and Boltzmann
ATMOSPHERE = 101325.0  # Pa
AIR_MOLE, WATER_MOLE = 0.0289647, 0.01801528  # kg/mol, from memory

#: Emissivities, least and largest: from memory.
EMISSIVITIES = {"wet food": (0.9, 0.95), "lacquered lid": (0.8, 0.9), "bright metal": (0.05, 0.1)}
#: Share of vapour in the pressure beyond which the correction for it is held: see :func:`gap_parts`.
MOSTLY_VAPOUR = 0.9
#: Rayleigh number at which a wide layer heated from below begins to turn over: from memory.
CRITICAL_RAYLEIGH = 1708.0
#: Largest spacing of the temperatures of a gap's tables [K]: straight lines between them stay within 1e-3 of the
#: curve while vapour is less than 0.7 of the pressure, and within 2 % nearer to boiling.
SPACING = 0.5
#: Lead of the lower face at which the heat flows upwards in full [K].
TURNED = 1.0
#: Below it vapour is taken as at it [degC]: the triple point of water, where the formulas of saturation end.
TRIPLE = 0.01

# Dry air at 101.325 kPa, -60 to 200 degC: cubics in degC fitted to values computed with the open-source property
# package CoolProp 8.0.0, within 0.02 % of them.
_AIR_CONDUCTIVITY = (0.02436, 7.6571e-05, -4.3814e-08, 4.1305e-11)
_AIR_VISCOSITY = (1.7218e-05, 5.0131e-08, -3.6972e-11, 3.5499e-14)
_AIR_HEAT = (1005.7, 0.015022, 0.00040753, 5.131e-09)
# Vapour as an ideal gas, 0 to 200 degC: fitted in the same way.
_VAPOUR_HEAT = (1851.4, 0.417)
# Water's critical point [K, Pa, kg/m3], and coefficients and exponents of its saturation: see `saturation`.
_CRITICAL = 647.096, 22.064e6, 322.0
_PRESSURE = np.array([-7.85951783, 1.84408259, -11.7866497, 22.6807411, -15.9618719, 1.80122502])
_LIQUID = np.array([1.99274064, 1.09965342, -0.510839303, -1.75493479, -45.5170352, -6.74694450e5])
_VAPOUR = np.array([-2.03150240, -2.68302940, -5.38626492, -17.2991605, -44.7586581, -63.9201063])
_PRESSURE_POWERS = np.array([2, 3, 6, 7, 8, 15]) / 2
_LIQUID_POWERS = np.array([1, 2, 5, 16, 43, 110]) / 3
_VAPOUR_POWERS = np.array([2, 4, 8, 18, 37, 71]) / 6


@dataclass(frozen=True)
class GasGap:
    """A level gas gap of even thickness over the product.

    Parameters
    ----------
    model : {"air", "humid"}
        ``air``: conduction of dry air, and radiation. ``humid``: that, and vapour that leaves the hotter of two wet
        faces and condenses on the colder.
    thickness : float
        From the product's surface to the lid [m].
    emissivity_product, emissivity_lid : float
        Of the two faces, above 0 and at most 1; usual ones are in :data:`EMISSIVITIES`.
    pressure : float
        Total pressure [Pa] for ``humid``: at all times, or with ``sealed_at`` when the container was closed.
    sealed_at : float or None
        Temperature of the gas, saturated, when the container was closed [degC]; from there the dry gas follows the
        ideal gas law in a room of constant volume. None: the pressure is constant, as in a pouch or under a film.
    lid_wet : bool
        The lid carries water enough to feed vapour downwards while it is the hotter face. False: it has its
        condensate only, so that vapour flows only while the product's surface is the hotter one.
    """

    model: Literal["air", "humid"]
    thickness: float
    emissivity_product: float
    emissivity_lid: float
    pressure: float = ATMOSPHERE
    sealed_at: float | None = None
    lid_wet: bool = False


@dataclass(frozen=True)
class GapParts:
    """Parts of a gap's conductivity over ``temperature`` [degC]; all arrays of one shape.

    ``gas``, ``radiation`` and ``vapour`` are the conductivities of the dry gas at rest and those that stand for
    radiation and for vapour between two wet faces [W/mK], ``pressure`` is the total one and ``vapour_pressure`` that
    of the vapour at saturation [Pa]; of vapour there is none for the model "air".
    """

    temperature: Array
    gas: Array
    radiation: Array
    vapour: Array
    pressure: Array
    vapour_pressure: Array

    @property
    def dry(self) -> Array:
        """Conductivity without the vapour's part [W/mK]."""
        return self.gas + self.radiation

    @property
    def wet(self) -> Array:
        """Conductivity between two wet faces [W/mK]."""
        return self.gas + self.radiation + self.vapour


@dataclass(frozen=True)
class Saturation:
    """Water and its vapour at saturation: ``pressure`` [Pa], its ``slope`` [Pa/K], ``latent_heat`` [J/kg]."""

    pressure: Array
    slope: Array
    latent_heat: Array


def _at(temperature: ArrayLike, coefficients: tuple[float, ...]) -> Array:
    """A polynomial's values, coefficients from the constant up."""
    return np.asarray(np.polynomial.polynomial.polyval(np.asarray(temperature, dtype=float), coefficients))


#: Of dry air over temperature [degC], -60 to 200 degC, computed with CoolProp, fitted: conductivity [W/mK], dynamic
#: viscosity [Pa s], and specific heat at constant pressure [J/kgK].
air_conductivity = partial(_at, coefficients=_AIR_CONDUCTIVITY)
air_viscosity = partial(_at, coefficients=_AIR_VISCOSITY)
air_heat = partial(_at, coefficients=_AIR_HEAT)


def saturation(temperature: ArrayLike) -> Saturation:
    """Saturation of water over temperature [degC], from its triple point up; below it as at it.

    Source: the equations of the IAPWS for saturation (supplementary release SR1-86, 1992; coefficients from memory,
    equal to those of the open-source package chemicals 1.5.2 to the last digit). The latent heat is that of Clausius
    and Clapeyron, T dp/dT (1/rho_vapour - 1/rho_liquid).
    """
    kelvin = np.maximum(np.asarray(temperature, dtype=float), TRIPLE) + KELVIN
    critical, critical_pressure, critical_density = _CRITICAL
    below = (1.0 - kelvin / critical)[..., np.newaxis]
    logarithm = critical / kelvin * (_PRESSURE * below**_PRESSURE_POWERS).sum(axis=-1)
    pressure = critical_pressure * np.exp(logarithm)
    bend = (_PRESSURE * _PRESSURE_POWERS * below ** (_PRESSURE_POWERS - 1.0)).sum(axis=-1)
    slope = -pressure / kelvin * (logarithm + bend)
    liquid = critical_density * (1.0 + (_LIQUID * below**_LIQUID_POWERS).sum(axis=-1))
    vapour = critical_density * np.exp((_VAPOUR * below**_VAPOUR_POWERS).sum(axis=-1))
    return Saturation(pressure, slope, kelvin * slope * (1.0 / vapour - 1.0 / liquid))


def diffusivity_of_vapour(temperature: ArrayLike, pressure: ArrayLike) -> Array:
    """Diffusivity of water vapour in air [m2/s] at a temperature [degC] and a total pressure [Pa].

    1.87e-10 T^2.072/p with T in K and p in atm, the form of Marrero and Mason for 282 to 450 K (from memory). Another
    usual form, that of Fuller, lies up to 7 % below it, and 5.9e-6 T^2.3/p (T in K, p in Pa; read, from the
    literature of moist soils) 14 to 20 % above it at 25 to 100 degC.
    """
    kelvin = np.asarray(temperature, dtype=float) + KELVIN
    return np.asarray(1.87e-10 * kelvin**2.072 * ATMOSPHERE / np.asarray(pressure, dtype=float))


def radiation_between(temperature: ArrayLike, first: float, second: float) -> Array:
    """Film coefficient [W/m2K] that stands for radiation between two wide, close, parallel faces.

    4 sigma T^3/(1/e1 + 1/e2 - 1), linearised at their mean temperature [degC]; ``first`` and ``second`` are their
    emissivities. Source: any heat-transfer textbook (from memory).
    """
    kelvin = np.asarray(temperature, dtype=float) + KELVIN
    return np.asarray(4.0 * RADIATION_CONSTANT * kelvin**3 / (1.0 / first + 1.0 / second - 1.0))


def gap_faults(gap: GasGap, highest: float) -> Iterator[str]:
    """Faults of a gap whose gas may reach the temperature ``highest`` [degC], a line each."""
    if gap.model != "humid":
        return
    if gap.sealed_at is not None:
        least = float(saturation(gap.sealed_at).pressure)
        if gap.pressure <= least:
            yield (
                f"a gap closed at {gap.sealed_at:g} degC under {gap.pressure / 1e3:.4g} kPa boils: saturated vapour "
                f"alone has {least / 1e3:.4g} kPa there; give a higher pressure or close it colder"
            )
        return
    most = float(saturation(highest).pressure)
    if gap.pressure <= most:
        yield (
            f"a gap at a constant {gap.pressure / 1e3:.4g} kPa boils below {highest:g} degC, which the process "
            f"reaches (saturated vapour: {most / 1e3:.4g} kPa); give the temperature at which the container is "
            'sealed, the pressure that it is really under, or model = "air"'
        )


def gap_parts(gap: GasGap, temperature: ArrayLike) -> GapParts:
    """The parts of a gap's conductivity at temperatures [degC].

    The vapour's is L D M/(R T) p/(p - p_v) dp_v/dT: the flow of a gas that diffuses through one at rest, times the
    latent heat, for a small difference of temperature between two wet faces (formula from memory: any mass-transfer
    textbook). It grows without bound as p_v nears p, where the gap is pure vapour and nothing but the heat that the
    faces can take limits the flow. So p/(p - p_v) is held at 10 from p_v = 0.9 p up: the gap then conducts many times
    better than any food of its thickness, and by how many makes no difference to the food.

    Raises ``InputError`` if the gap boils at the highest of the temperatures.
    """
    celsius = np.asarray(temperature, dtype=float)
    for fault in gap_faults(gap, float(celsius.max())):
        raise InputError(fault)
    gas = air_conductivity(celsius)
    radiation = radiation_between(celsius, gap.emissivity_product, gap.emissivity_lid) * gap.thickness
    if gap.model == "air":
        none = np.zeros_like(celsius)
        return GapParts(celsius, gas, radiation, none, np.full_like(celsius, gap.pressure), none)
    water, pressure = saturation(celsius), _total_pressure(gap, celsius)
    moving = diffusivity_of_vapour(celsius, pressure) * WATER_MOLE / (GAS_CONSTANT * (celsius + KELVIN))
    correction = 1.0 / (1.0 - np.minimum(water.pressure / pressure, MOSTLY_VAPOUR))
    vapour = water.latent_heat * moving * correction * water.slope
    return GapParts(celsius, gas, radiation, vapour, pressure, water.pressure)


def gap_capacity(gap: GasGap, temperature: ArrayLike) -> Array:
    """Heat capacity of the gap's gas by volume [J/m3K] at temperatures [degC].

    ``air``: rho c of dry air at the gap's pressure, about 1e3. ``humid``: that of the moist gas, and the latent heat
    of what evaporates so that it stays saturated, L d(rho_v)/dT: some 2e3 at 25 degC and 8e4 at 120 degC, one part in
    fifty of a food's.
    """
    celsius = np.asarray(temperature, dtype=float)
    kelvin = celsius + KELVIN
    if gap.model == "air":
        return np.asarray(gap.pressure * AIR_MOLE / (GAS_CONSTANT * kelvin) * air_heat(celsius))
    water = saturation(celsius)
    dry = np.maximum(_total_pressure(gap, celsius) - water.pressure, 0.0)
    vapour_heat = _at(celsius, _VAPOUR_HEAT)
    sensible = dry * AIR_MOLE * air_heat(celsius) + water.pressure * WATER_MOLE * vapour_heat
    latent = water.latent_heat * WATER_MOLE * (water.slope - water.pressure / kelvin)
    return np.asarray((sensible + latent) / (GAS_CONSTANT * kelvin))


def gap_material(gap: GasGap, *, low: float, high: float) -> Material:
    """The gap as a material whose properties change with temperature, between two temperatures [degC].

    Tabulated are the conductivity for heat that flows upwards and, where the lid is not wet, another one without
    vapour for heat that flows downwards. The single numbers are those in the middle of the temperatures.

    Raises ``InputError`` if ``high`` is not above ``low``, or the gap boils at ``high``.
    """
    if not low < high:
        raise InputError(f"a gap is tabulated from a temperature to a higher one, not from {low:g} to {high:g} degC")
    temperature = np.linspace(low, high, 2 * math.ceil((high - low) / (2 * SPACING)) + 1)
    parts, capacity = gap_parts(gap, temperature), gap_capacity(gap, temperature)
    middle = temperature.size // 2
    kelvin = temperature[middle] + KELVIN
    vapour = parts.vapour_pressure[middle]
    density = ((parts.pressure[middle] - vapour) * AIR_MOLE + vapour * WATER_MOLE) / (GAS_CONSTANT * kelvin)
    course, wet, heat, dry = (tuple(row.tolist()) for row in (temperature, parts.wet, capacity, parts.dry))
    one_way = gap.model == "humid" and not gap.lid_wet
    return Material(
        f"{'humid air' if gap.model == 'humid' else 'dry air'} and radiation",
        float(parts.wet[middle]),
        float(density),
        float(capacity[middle] / density),
        f"{_source(gap)} (at {temperature[middle]:g} degC)",
        Tabulated(course, wet, heat, dry if one_way else ()),
    )


def turned(lead: float) -> float:
    """The share of the conductivity for heat that flows upwards, the rest downwards, by the lower face's lead [K]."""
    x = min(max(lead / TURNED, 0.0), 1.0)
    return x * x * (3.0 - 2.0 * x)


def gap_rayleigh(gap: GasGap, *, below: float, above: float) -> float:
    """Rayleigh number of the gas between the product's surface and the lid, at temperatures [degC].

    g (rho_above - rho_below)/rho d^3/(nu alpha) with the densities of the gas at the two faces, saturated at both for
    ``humid``; viscosity and conductivity are those of dry air, which for a gas that is mostly vapour is right within
    a factor of two. Negative: the lighter gas lies on top.
    """
    mean = (below + above) / 2
    celsius = np.array([below, above, mean])
    kelvin = celsius + KELVIN
    pressure, vapour = gap.pressure, np.zeros(3)
    if gap.model == "humid":
        pressure = float(_total_pressure(gap, np.array(mean)))
        # a face hotter than the mean may be near boiling
        vapour = np.minimum(saturation(celsius).pressure, MOSTLY_VAPOUR * pressure)
    density = ((pressure - vapour) * AIR_MOLE + vapour * WATER_MOLE) / (GAS_CONSTANT * kelvin)
    viscous = float(air_viscosity(mean)) / density[2]
    thermal = float(air_conductivity(mean)) / (density[2] * float(air_heat(mean)))
    buoyancy = (density[1] - density[0]) / density[2]
    return float(rayleigh_number(buoyancy, gap.thickness, viscosity=viscous, diffusivity=thermal))


def gap_remarks(gap: GasGap, *, low: float, high: float) -> tuple[str, ...]:
    """Assumptions about a gap between two temperatures [degC], a sentence or two each."""
    parts = gap_parts(gap, np.array([low, high]))
    remarks = [
        "The headspace is a level gap of even thickness with gas at rest; radiation passes between two wide parallel "
        f"faces of emissivity {gap.emissivity_product:g} (product) and {gap.emissivity_lid:g} (lid)."
    ]
    if gap.model == "air":
        return tuple(remarks)
    held = "at a constant" if gap.sealed_at is None else f"and was closed at {gap.sealed_at:g} degC under"
    remarks.append(
        f"Its gas is saturated with vapour, {held} {gap.pressure / 1e3:.4g} kPa; expansion of the product and "
        "gas given off by the product are left out. The diffusivity of vapour is known within about 20 %."
    )
    if gap.lid_wet:
        remarks.append(
            "Vapour is taken to flow either way, also from a hot lid that stays wet: the bound with more heating. "
            "The other has a lid without water while it is the hotter face."
        )
    else:
        remarks.append(
            "Vapour is taken to flow only while the product's surface is hotter than the lid, as in cooling: a hot "
            "lid has no water but its condensate (own reasoning, no source). That is the bound with less heating; "
            "the other has a lid that stays wet. Vapour that the product's hot rim sends to its cold middle is left "
            "out too."
        )
    share = parts.vapour_pressure[1] / parts.pressure[1]
    if share > MOSTLY_VAPOUR:
        remarks.append(
            f"At {high:g} degC vapour makes up {100 * share:.0f} % of the gas's pressure; the heat it carries is "
            f"computed as if it were no more than {100 * MOSTLY_VAPOUR:.0f} %."
        )
    return tuple(remarks)


def rayleigh_notice(gap: GasGap, *, below: float, above: float) -> Notice | None:
    """That the gap's gas may turn over between the product's surface and the lid [degC]; None where it does not."""
    rayleigh = gap_rayleigh(gap, below=below, above=above)
    if rayleigh <= CRITICAL_RAYLEIGH:
        return None
    text = (
        f"With the product's surface at {below:g} degC and the lid at {above:g} degC the headspace's gas has a "
        f"Rayleigh number of {rayleigh:.2g}, above the {CRITICAL_RAYLEIGH:g} at which a wide layer begins to turn "
        "over (from memory): more heat passes upwards than is computed for a gas at rest."
    )
    figures = {"rayleigh": rayleigh, "below": below, "above": above}
    return Notice("headspace-turns-over", "warning", "headspace", text, figures)


def _total_pressure(gap: GasGap, celsius: Array) -> Array:
    """Total pressure [Pa] of a humid gap: constant, or the dry gas sealed into it and the vapour at saturation."""
    if gap.sealed_at is None:
        return np.full_like(celsius, gap.pressure)
    dry = gap.pressure - saturation(gap.sealed_at).pressure
    return np.asarray(dry * (celsius + KELVIN) / (gap.sealed_at + KELVIN) + saturation(celsius).pressure)


def _source(gap: GasGap) -> str:
    conducts = (
        "computed: conductivity of dry air (fitted to CoolProp 8.0.0) and radiation between parallel faces of "
        f"emissivity {gap.emissivity_product:g} and {gap.emissivity_lid:g}"
    )
    if gap.model == "air":
        return conducts
    where = "either way" if gap.lid_wet else "upwards only"
    return (
        f"{conducts}; latent heat of vapour that diffuses at saturation, {where} (IAPWS saturation; diffusivity of "
        "the form of Marrero and Mason, from memory); specific heat with the latent heat of staying saturated"
    )
