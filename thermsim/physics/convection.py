"""Does the product convect? A Rayleigh number from its viscosity, a verdict, and what that means for the cold spot.

The program computes conduction alone. A product that flows while it heats has its cold spot elsewhere, lower, so a
verdict errs towards convection: the longest conduction path, the largest difference of temperature.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

import numpy as np

from thermsim.errors import InputError
from thermsim.notice import Notice
from thermsim.physics.materials import Material
from thermsim.quantities import INCH
from thermsim.text import nearest, unknown

GRAVITY = 9.80665  # m/s2, standard

#: Rayleigh numbers up to which the product conducts and from which it convects: own choice, no source. Creeping flow
#: between upright plates a distance L apart, one hotter by D and with as much going up as down, is at most
#: g beta D L^2/(72 sqrt(3) nu) fast (closed form): in the time L^2/alpha that conduction takes it goes Ra/125 of the
#: length, 0.08 of it and 80 times it. Between them lies 1708, at which a layer heated from below begins to turn over
#: (from memory).
CONDUCTS, CONVECTS = 10.0, 1e4
#: Where the cold spot of a still convecting can lies, as parts of the height above the base: from memory.
LOWER_BAND = (0.10, 0.15)
#: The same in lengths above the base, depending on the can's height [m]: common practice, no source.
TRADE_BAND = (0.5 * INCH, 2.0 * INCH)

# Water's thermal expansion [1/K] at 0.5 MPa: computed with the open-source property package CoolProp 8.0.0.
_TEMPERATURES = (20.0, 40.0, 60.0, 80.0, 100.0, 120.0, 140.0)
_EXPANSIONS = (2.074e-4, 3.856e-4, 5.231e-4, 6.409e-4, 7.499e-4, 8.570e-4, 9.679e-4)

Verdict = Literal["conduction", "in between", "convection"]


@dataclass(frozen=True)
class Viscosity:
    """Viscosity of a product at the temperatures of heating and at the slow shear of buoyancy.

    ``thinnest`` and ``thickest`` [Pa s]: one number twice where the viscosity is known; inf does not flow.
    """

    name: str
    thinnest: float
    thickest: float
    source: str


_PRACTICE = "common practice, no source"
#: Source of a viscosity that the case gives in numbers.
GIVEN = "given"
_CLASSES = (
    Viscosity("water-like", 0.0002, 0.005, f"{_PRACTICE}; water itself has 0.0002 Pa s at 120 degC (computed)"),
    Viscosity("thin sauce", 0.005, 0.2, _PRACTICE),
    Viscosity("thick sauce", 0.2, 10.0, _PRACTICE),
    Viscosity("paste", 10.0, 1000.0, _PRACTICE),
    Viscosity(
        "gel/solid",
        math.inf,
        math.inf,
        "taken as not flowing at all: a gel that melts on heating, such as gelatine, does flow (from memory)",
    ),
)


@dataclass(frozen=True)
class Flow:
    """Verdict on convection in a product, and the figures that it follows from.

    "conduction" if even the thinnest viscosity gives a Rayleigh number of at most :data:`CONDUCTS`, "convection" if
    even the thickest gives at least :data:`CONVECTS`. ``rayleigh`` and ``shear`` are of the thickest and the thinnest
    viscosity; ``length`` [m] and ``difference`` [K] are those in the Rayleigh numbers. ``stress`` is buoyancy's, g
    beta rho D L [Pa]: a product of a higher yield stress stays where it is. ``shear`` are rates at the wall of the
    creeping flow [1/s], about the fastest that this buoyancy can bring about.
    """

    verdict: Verdict
    rayleigh: tuple[float, float]
    viscosity: Viscosity
    length: float
    difference: float
    stress: float
    shear: tuple[float, float]


def rayleigh_number(buoyancy: float, length: float, *, viscosity: float, diffusivity: float) -> float:
    """Rayleigh number g buoyancy L^3/(nu alpha), length [m], kinematic viscosity and thermal diffusivity [m2/s].

    ``buoyancy`` is the relative difference of density, thermal expansion times the difference of temperature.
    """
    return GRAVITY * buoyancy * length**3 / (viscosity * diffusivity)


def thickness_classes() -> Mapping[str, Viscosity]:
    """The named classes of thickness, thinnest first, read-only."""
    return MappingProxyType({viscosity.name: viscosity for viscosity in _CLASSES})


def find_thickness(name: str) -> Viscosity:
    """A class of thickness by its name.

    Raises ``InputError`` if there is none of that name; the message offers the nearest, or all.
    """
    known = thickness_classes()
    if name in known:
        return known[name]
    raise InputError(unknown("thickness", name, nearest(name, known), known))


def constant_viscosity(viscosity: float) -> Viscosity:
    """One viscosity at all temperatures [Pa s]."""
    return Viscosity(f"{viscosity:.3g} Pa s", viscosity, viscosity, GIVEN)


def viscosity_from_table(
    temperature: Sequence[float], viscosity: Sequence[float], *, low: float, high: float
) -> Viscosity:
    """The range that a viscosity [Pa s] over growing temperatures [degC] spans between two that the product meets.

    In between its logarithm follows straight lines.

    Raises ``InputError`` if the temperatures do not grow, or do not reach from ``low`` to ``high``: what is not known
    is not guessed.
    """
    if len(temperature) != len(viscosity) or len(temperature) < 2 or np.any(np.diff(temperature) <= 0.0):
        raise InputError(
            "a viscosity over temperature needs two or more increasing temperatures, and one value at each"
        )
    if temperature[0] > low or temperature[-1] < high:
        raise InputError(
            f"the viscosity is given from {temperature[0]:g} to {temperature[-1]:g} degC, but the product meets "
            f"{low:g} to {high:g} degC"
        )
    ends = np.exp(np.interp([low, high], temperature, np.log(viscosity)))
    met = [*ends.tolist(), *(v for t, v in zip(temperature, viscosity, strict=True) if low < t < high)]
    return Viscosity(f"{min(met):.3g} to {max(met):.3g} Pa s", min(met), max(met), "given over temperature")


def water_expansion(temperature: float) -> float:
    """Thermal expansion of water [1/K] at a temperature [degC], for wet foods; beyond 20 to 140 as at the ends."""
    return float(np.interp(temperature, _TEMPERATURES, _EXPANSIONS))


def flow_of(
    material: Material,
    viscosity: Viscosity,
    *,
    radius: float,
    depth: float,
    initial: float,
    medium: float,
    expansion: float | None = None,
) -> Flow:
    """Verdict on convection in a product in its container.

    The lesser of the container's inner radius and the product's depth [m] is the Rayleigh number's length, the way
    that conduction goes; the difference of the product's temperature at the start and the medium's farthest from it
    [degC] is its difference, the largest there is. ``expansion`` [1/K], None: that of water at their mean.
    """
    length, difference = min(radius, depth), abs(medium - initial)
    expansion = water_expansion((initial + medium) / 2) if expansion is None else expansion
    stress = GRAVITY * expansion * difference * material.density * length
    ends = (viscosity.thickest, viscosity.thinnest)
    thick, thin = (
        rayleigh_number(
            expansion * difference, length, viscosity=end / material.density, diffusivity=material.diffusivity
        )
        for end in ends
    )
    verdict: Verdict = "in between"
    if thin <= CONDUCTS:
        verdict = "conduction"
    elif thick >= CONVECTS:
        verdict = "convection"
    return Flow(
        verdict, (thick, thin), viscosity, length, difference, stress, (stress / 12 / ends[0], stress / 12 / ends[1])
    )


def flow_notices(flow: Flow, *, depth: float) -> tuple[Notice, ...]:
    """Notices of a verdict for a product of a depth [m]; a danger where the cold spot found may not hold."""
    if math.isinf(flow.viscosity.thinnest):
        text = f"The product is taken as a solid, without convection ({flow.viscosity.source})."
        return (Notice("product-solid", "note", "convection", text),)
    figures = {"rayleigh_low": flow.rayleigh[0], "rayleigh_high": flow.rayleigh[1]}
    number = (
        f"a Rayleigh number of {_span(flow.rayleigh)} (viscosity: {flow.viscosity.name}, {flow.viscosity.source}; "
        f"length {1000 * flow.length:.3g} mm, difference {flow.difference:.3g} K; up to {CONDUCTS:g} is called "
        f"conduction, from {CONVECTS:g} convection: own choice, no source)"
    )
    several = "easure with several probes at different heights."
    brief = ""
    if flow.verdict == "conduction":
        text = f"The product conducts: {number}. How far it flows while it heats is negligible."
    elif flow.verdict == "in between":
        text = (
            f"MAY NOT HOLD: The product may convect: {number}. This computation is conduction only; a product that "
            f"flows heats faster and has its cold spot lower than computed. M{several}"
        )
        brief = f"MAY NOT HOLD: the product may convect, and this is computed by conduction alone. M{several}"
    else:
        text = (
            f"DOES NOT HOLD: The product convects: {number}. This computation is conduction only and its cold spot "
            f"does not hold. In a still container of this depth it usually lies on the axis, {_band(depth)}; confirm "
            "it by measurement with several probes at different heights."
        )
        alone = "the product convects, and this is computed by conduction alone. Its cold spot lies lower"
        brief = f"DOES NOT HOLD: {alone}: m{several}"
    codes = {"conduction": "product-conducts", "in between": "product-may-convect", "convection": "product-convects"}
    said = Notice(codes[flow.verdict], "danger" if brief else "note", "convection", text, figures, brief)
    caveat = (
        f"What counts is the viscosity at the slow shear of buoyancy, here at most about {_span(flow.shear)} per "
        "second, and at the temperatures of heating. Many foods are far thicker in slow shear than when they are "
        "poured, stirred or measured in a fast viscometer; starch thickens and gels melt while they heat. A product "
        f"with a yield stress above {flow.stress:.2g} Pa, this buoyancy's whole stress, does not flow."
    )
    return said, Notice("viscosity-in-slow-shear", "note", "convection", caveat)


def _span(ends: tuple[float, float]) -> str:
    low, high = (f"{end:.2g}" for end in ends)
    return low if low == high else f"{low} to {high}"


def lower_band(depth: float) -> tuple[float, float]:
    """Heights above the inside of the base [m] where the trade looks first, for a product of a depth [m]."""
    return LOWER_BAND[0] * depth, LOWER_BAND[1] * depth


def _band(depth: float) -> str:
    """Usual coldest place of a still convecting can, for a product of a depth [m]."""
    low, high = (1000 * height for height in lower_band(depth))
    return (
        f"10 to 15 % of the height, {low:.0f} to {high:.0f} mm, above the base (from memory); in cans, depending on "
        "their height, 1/2 to 2 inch, 13 to 51 mm, above it (common practice, no source)"
    )
