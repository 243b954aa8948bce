"""Properties of a food from those of its components, and materials whose properties change with temperature.

Specific heat goes by mass fractions, specific volume too (no air, no change of volume on mixing). Conductivity goes
by volume fractions, and how depends on how the components lie: the rule is named. Layers across the flow of heat
conduct 4 to 6 % worse than layers along it in a starch gel of 10 %, 20 % in a lean and 29 to 37 % in a fatty meat
(computed, see ``conductivity_range``): the rule decides more than the equations of the components are in doubt.
"""

from __future__ import annotations

import math
import numbers
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

from thermsim.errors import InputError
from thermsim.physics.composition import (
    COMPONENTS,
    HIGHEST,
    LOWEST,
    Composition,
    Properties,
    component_properties,
    require_temperatures,
)
from thermsim.physics.materials import Material, Tabulated
from thermsim.text import did_you_mean, plain, printed

Array = NDArray[np.float64]
#: A property of the user's: one number, or pairs of a temperature [degC] and a value.
Values = float | Sequence[Sequence[float]]

# Temperatures are this close in a material's tables [K], so that straight lines between them are within 1e-4 of the
# equations; below 0 degC the specific heat of unfrozen water bends more.
_SPACING, _SPACING_BELOW = 2.5, 1.0


@dataclass(frozen=True)
class Rule:
    """A mixing rule for conductivity.

    ``of`` takes the components' conductivities [W/mK] and volume fractions, both of shape (components, ...), and the
    continuous phase's conductivity, of shape (...); ``source`` says where the formula comes from.
    """

    of: Callable[[Array, Array, Array], Array]
    source: str


def parallel(conductivity: Array, volume: Array, _: object = None) -> Array:
    """Layers along the flow of heat: k = sum(phi k). No mixture conducts better."""
    return np.asarray((volume * conductivity).sum(axis=0), dtype=np.float64)


def series(conductivity: Array, volume: Array, _: object = None) -> Array:
    """Layers across the flow of heat: 1/k = sum(phi/k). No mixture conducts worse."""
    return np.asarray(1.0 / (volume / conductivity).sum(axis=0), dtype=np.float64)


def geometric(conductivity: Array, volume: Array, _: object = None) -> Array:
    """The weighted geometric mean, k = product(k^phi): between the two above, for no structure in particular."""
    return np.asarray(np.exp((volume * np.log(conductivity)).sum(axis=0)), dtype=np.float64)


def embedded(conductivity: Array, volume: Array, continuous: Array) -> Array:
    """Grains of every component in a continuous phase, itself one of them.

    k = sum(phi w k)/sum(phi w) with w = 3 kc/(2 kc + k), which is 1 for the continuous phase. It is the same as
    (k - kc)/(k + 2 kc) = sum(phi (k_i - kc)/(k_i + 2 kc)), and with one dispersed component the two-phase form
    k = kc (2 kc + kd - 2 phi_d (kc - kd))/(2 kc + kd + phi_d (kc - kd)).
    """
    weight = volume * 3.0 * continuous / (2.0 * continuous + conductivity)
    return np.asarray((weight * conductivity).sum(axis=0) / weight.sum(axis=0), dtype=np.float64)


#: The mixing rules by name.
RULES: Mapping[str, Rule] = MappingProxyType(
    {
        "maxwell-eucken": Rule(
            embedded,
            "grains in continuous water; Maxwell's and Eucken's two-phase form (from memory, as in the refrigeration "
            "handbook of ASHRAE), for several dispersed phases by Brailsford and Major, Brit. J. Appl. Phys. 15 "
            "(1964) 313 (from memory)",
        ),
        "parallel": Rule(parallel, "layers along the flow of heat, the upper bound of Wiener (1912) (from memory)"),
        "series": Rule(series, "layers across the flow of heat, the lower bound of Wiener (1912) (from memory)"),
        "geometric": Rule(
            geometric,
            "weighted geometric mean, in use for wet porous solids (Woodside and Messmer, J. Appl. Phys. 32 (1961) "
            "1688, from memory); an interpolation, no derivation",
        ),
    }
)

#: The rule unless another is named. Foods that heat by conduction are mostly gels and pastes: water is the
#: continuous phase, no direction is preferred (common practice, no source). Where water conducts best, a mixture
#: without direction cannot conduct better than this rule says (Hashin and Shtrikman), so "parallel", 1 to 9 % above
#: it in the worked mixtures of the tests, claims more than it can have. It is still the fast side: see
#: ``conductivity_range`` for how slow it may be. Against it: the component equations were fitted with the parallel
#: rule (from memory, not verified).
DEFAULT_RULE = "maxwell-eucken"


@dataclass(frozen=True)
class ConductivityRange:
    """Range that structure and equations leave open of a composition's conductivity [W/mK], arrays over temperature.

    ``series`` and ``parallel`` bound any structure. ``isotropic_low`` and ``isotropic_high`` bound structures
    without a preferred direction (Hashin and Shtrikman, J. Appl. Phys. 33 (1962) 3125, from memory). ``scatter`` is
    the standard error of the component equations as a part of k, taken to err all the same way (from memory, see
    :class:`thermsim.physics.composition.Scatter`); it comes on top.
    """

    series: Array
    isotropic_low: Array
    isotropic_high: Array
    parallel: Array
    scatter: Array


def mixture_properties(composition: Composition, temperature: ArrayLike, *, rule: str = DEFAULT_RULE) -> Properties:
    """The properties of a composition at temperatures [degC], by one of ``RULES`` for conductivity.

    The continuous phase of "maxwell-eucken" is water, or ice where there is more ice than water by mass; it is taken
    to be so however little there is, which flatters a food of drops of water in fat. For the temperatures allowed see
    :func:`thermsim.physics.composition.require_temperatures`.

    Raises ``InputError`` if the rule is unknown, if it needs water and there is none, or at a temperature not
    allowed.

    Notes
    -----
    c = sum(x c), 1/rho = sum(x/rho), phi = x rho/rho_i (x mass, phi volume fraction), as in the refrigeration
    handbook of ASHRAE (from memory).
    """
    _require_rule(rule)
    if rule == "maxwell-eucken" and composition.water + composition.ice <= 0.0:
        others = " or ".join(f'"{name}"' for name in RULES if name != rule)
        raise InputError(f'mixing rule "{rule}" needs water as the continuous phase, and there is none; use {others}')
    parts, conductivity, volume = _parts(composition, temperature)
    specific_volume = sum(share / parts[name].density for name, share in composition.shares.items())
    specific_heat = sum(share * parts[name].specific_heat for name, share in composition.shares.items())
    mixed = RULES[rule].of(conductivity, volume, _continuous(composition, parts))
    return Properties(mixed, np.asarray(1.0 / specific_volume), np.asarray(specific_heat))


def conductivity_range(composition: Composition, temperature: ArrayLike) -> ConductivityRange:
    """Conductivities that a composition may have, as the mixing rule and the component equations leave them open.

    Parameters and errors are those of :func:`mixture_properties`.
    """
    parts, conductivity, volume = _parts(composition, temperature)
    error = np.array([COMPONENTS[name].scatter.conductivity for name in parts])
    best = parallel(conductivity, volume)
    return ConductivityRange(
        series(conductivity, volume),
        embedded(conductivity, volume, conductivity.min(axis=0)),
        embedded(conductivity, volume, conductivity.max(axis=0)),
        best,
        np.asarray(np.tensordot(error, volume * conductivity, 1) / best),
    )


def material_of(
    composition: Composition,
    *,
    rule: str = DEFAULT_RULE,
    low: float,
    high: float,
    reference: float | None = None,
    name: str = "product",
) -> Material:
    """A material with the properties of a composition, tabulated between two temperatures.

    Parameters
    ----------
    composition : Composition
        Mass fractions.
    rule : str
        One of ``RULES``, for conductivity.
    low, high : float
        [degC]; what the material may meet. Its tables end there.
    reference : float, optional
        Temperature of the single numbers [degC]; halfway between ``low`` and ``high`` if left out.
    name : str
        What the material is called.

    Raises
    ------
    InputError
        As for :func:`mixture_properties`, if ``low`` is not below ``high``, or if ``reference`` lies outside them.

    Examples
    --------
    >>> from thermsim import Composition, material_of
    >>> puree = material_of(Composition(water=0.85, carbohydrate=0.15), low=5.0, high=121.0, reference=20.0)
    >>> 0.5 < puree.conductivity < 0.6
    True
    """
    _require_rule(rule)
    require_temperatures(composition, [low, high])
    if not low < high:
        raise InputError(
            f"{plain(name)}: temperatures from {low:g} to {high:g} degC; the first must be the lower one"
        )
    at = _reference(name, reference, low, high)
    spacing = _SPACING_BELOW if low < 0.0 else _SPACING
    temperature = np.linspace(low, high, math.ceil((high - low) / spacing) + 1)
    mixed = mixture_properties(composition, temperature, rule=rule)
    single = mixture_properties(composition, at, rule=rule)
    course, k, rho_c = (tuple(row.tolist()) for row in (temperature, mixed.conductivity, mixed.capacity))
    figures = float(single.conductivity), float(single.density), float(single.specific_heat)
    return Material(name, *figures, _source(composition, rule, low, high, at), Tabulated(course, k, rho_c))


def table_material(
    name: str,
    *,
    conductivity: Values,
    specific_heat: Values,
    density: Values,
    reference: float | None = None,
    source: str = "",
) -> Material:
    """A material from the user's own tables, where they have temperatures in common; without any it is constant.

    Raises ``InputError`` if a table or number is at fault (all faults in one line), if the tables have no
    temperatures in common, or if ``reference`` lies outside them.

    Parameters
    ----------
    name : str
        What the material is called.
    conductivity, specific_heat, density : float or sequence of (temperature, value)
        [W/mK], [J/kgK], [kg/m3]: one number, or two or more pairs with growing temperatures [degC]. In between the
        properties are straight; so is rho c between the temperatures of all tables together.
    reference : float, optional
        Temperature of the single numbers [degC]; halfway along the tables if left out.
    source : str
        Where the tables come from.
    """
    given = {"conductivity": conductivity, "specific_heat": specific_heat, "density": density}
    faults = [fault for what, values in given.items() for fault in table_faults(what, values)]
    if faults:
        raise InputError(f"{plain(name)}: {'; '.join(faults)}")
    tables = {what: np.asarray(values, dtype=np.float64) for what, values in given.items()}
    bent = {what: table[:, 0] for what, table in tables.items() if table.ndim == 2}
    if not bent:
        k, c, rho = map(float, tables.values())
        return Material(name, k, rho, c, source)
    low = max(float(temperature[0]) for temperature in bent.values())
    high = min(float(temperature[-1]) for temperature in bent.values())
    if not low < high:
        ranges = ", ".join(f"{what} {points[0]:g} to {points[-1]:g} degC" for what, points in bent.items())
        raise InputError(f"{plain(name)}: the tables have no range of temperatures in common: {ranges}")
    at = _reference(name, reference, low, high)
    every = np.unique(np.concatenate(list(bent.values())))
    course = every[(every >= low) & (every <= high)]
    courses = [_read(table, course) for table in tables.values()]
    k, c, rho = (float(_read(table, np.array(at))) for table in tables.values())
    told = f"{source}; table" if source else "table"
    return Material(
        name,
        k,
        rho,
        c,
        f"{told} from {low:g} to {high:g} degC; single numbers at {at:g} degC",
        Tabulated(tuple(course.tolist()), tuple(courses[0].tolist()), tuple((courses[2] * courses[1]).tolist())),
    )


def table_faults(what: str, values: object) -> list[str]:
    """Every fault of a property, one line each: one number is allowed, or pairs [temperature in degC, value]."""
    if _number(values):
        return [] if float(values) > 0.0 else [f"{what} = {printed(values)} must be above 0"]  # type: ignore[arg-type]
    how = f"{what} must be a number, or two or more pairs [temperature in degC, value]"
    if not isinstance(values, Sequence | np.ndarray) or isinstance(values, str):
        return [f"{how}, not {printed(values)}"]
    pairs = [list(pair) for pair in values if isinstance(pair, Sequence | np.ndarray) and not isinstance(pair, str)]
    bad = next((n for n, pair in enumerate(pairs) if len(pair) != 2 or not all(map(_number, pair))), None)
    if bad is not None:
        return [f"{how}; pair no. {bad + 1} is {printed(pairs[bad])}"]
    if len(pairs) != len(values) or len(pairs) < 2:
        return [f"{how}, not {printed(list(values))}"]
    temperatures = [at for at, _ in pairs]
    return [
        *(f"{what} = {printed(value)} at {at:g} degC must be above 0" for at, value in pairs if not value > 0.0),
        *(f"{what}: temperature {at:g} degC is below absolute zero" for at in temperatures if at < -273.15),
        *(
            f"{what}: temperatures must increase, but {after:g} degC follows {before:g} degC"
            for before, after in pairwise(temperatures)
            if not after > before
        ),
    ]


def _number(value: object) -> bool:
    return isinstance(value, numbers.Real) and not isinstance(value, bool) and math.isfinite(value)


def _read(table: Array, temperature: Array) -> Array:
    """A table's values at temperatures; a plain number is the same at all of them."""
    if table.ndim == 0:
        return np.full_like(temperature, float(table))
    return np.asarray(np.interp(temperature, table[:, 0], table[:, 1]), dtype=np.float64)


def _reference(name: str, reference: float | None, low: float, high: float) -> float:
    at = (low + high) / 2.0 if reference is None else float(reference)
    if not low <= at <= high:
        raise InputError(
            f"{plain(name)}: reference temperature {at:g} degC is outside {low:g} to {high:g} degC, where the "
            "properties are given"
        )
    return at


def _require_rule(rule: str) -> None:
    if rule not in RULES:
        raise InputError(f'mixing rule "{plain(rule)}" is unknown; {did_you_mean(rule, list(RULES))}')


def _parts(composition: Composition, temperature: ArrayLike) -> tuple[dict[str, Properties], Array, Array]:
    """The components' properties, and their conductivities and volume fractions, of shape (components, ...)."""
    require_temperatures(composition, temperature)
    parts = {name: component_properties(name, temperature) for name in composition.shares}
    volume = np.array([share / parts[name].density for name, share in composition.shares.items()])
    return parts, np.array([part.conductivity for part in parts.values()]), volume / np.sum(volume, axis=0)


def _continuous(composition: Composition, parts: Mapping[str, Properties]) -> Array:
    """Conductivity of the water, or of the ice where there is more of that; of the first component without either."""
    # by mass, not by the volumes at a temperature: the phase must not change over as the food warms
    if composition.ice > composition.water:
        return parts["ice"].conductivity
    return parts["water"].conductivity if "water" in parts else next(iter(parts.values())).conductivity


def _source(composition: Composition, rule: str, low: float, high: float, reference: float) -> str:
    frozen = "; the ice is taken as constant, its melting is not supported" if composition.ice > 0.0 else ""
    return (
        f"composition {composition} (mass fractions); component equations of Choi and Okos (1986), stated for "
        f'{LOWEST:g} to {HIGHEST:g} degC; conductivity by the rule "{rule}"; from {low:g} to {high:g} degC; single '
        f"numbers at {reference:g} degC{frozen}"
    )
