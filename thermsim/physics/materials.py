"""Materials: conductivity, density and specific heat, each with the source it comes from."""

from __future__ import annotations

import dataclasses
import functools
import math
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from importlib import resources
from itertools import pairwise
from types import MappingProxyType

import numpy as np

from thermsim.errors import WHOLE, Fault, InputError
from thermsim.text import nearest, printed, unknown


@dataclass(frozen=True)
class Tabulated:
    """Properties over temperature: straight lines between the temperatures given.

    ``temperature`` [degC] grows and has two or more; beyond them a property is not known. At them are
    ``conductivity`` [W/mK], ``capacity``, the heat capacity by volume rho c [J/m3K], and ``downwards``, the
    conductivity where heat flows downwards, for a gap in which that differs [W/mK]; empty where it does not.
    """

    temperature: tuple[float, ...]
    conductivity: tuple[float, ...]
    capacity: tuple[float, ...]
    downwards: tuple[float, ...] = ()

    def faults(self, path: str) -> Iterator[Fault]:
        """The first thing that is wrong with them, as the rest follows from it."""
        values = (*self.conductivity, *self.capacity, *self.downwards)
        lengths = {len(self.temperature), len(self.conductivity), len(self.capacity)}
        lengths |= {len(self.downwards)} if self.downwards else set()
        rule = ""
        if len(lengths) > 1 or len(self.temperature) < 2:
            rule = "must have as many values as temperatures, two or more"
        elif not all(map(math.isfinite, (*self.temperature, *values))):
            rule = "must be finite numbers"
        elif not all(low < high for low, high in pairwise(self.temperature)):
            rule = "must have temperatures that grow"
        elif min(values) <= 0.0:
            rule = "must have conductivities and capacities above 0"
        if rule:
            yield Fault(path, WHOLE, rule)


@dataclass(frozen=True)
class Material:
    """A homogeneous material.

    ``conductivity`` [W/mK], ``density`` [kg/m3], ``specific_heat`` [J/kgK], all > 0; ``source`` says where the
    numbers come from. ``tabulated`` is how they change with temperature; None: they are constant. Where they change
    the numbers are those at one temperature, which ``source`` names.

    Examples
    --------
    >>> from thermsim import Material
    >>> round(1e7 * Material("stew", 0.55, 1050.0, 3600.0).diffusivity, 3)
    1.455
    """

    name: str
    conductivity: float
    density: float
    specific_heat: float
    source: str = ""
    tabulated: Tabulated | None = None

    @property
    def diffusivity(self) -> float:
        """Thermal diffusivity k/(rho c) [m2/s]."""
        return self.conductivity / (self.density * self.specific_heat)

    @property
    def capacity(self) -> float:
        """Volumetric heat capacity rho c [J/m3K]."""
        return self.density * self.specific_heat

    def at(self, temperature: float) -> Material:
        """The material with constant properties, those that it has at a temperature [degC]."""
        if self.tabulated is None:
            return self
        known = self.tabulated.temperature
        conductivity, capacity = (
            float(np.interp(temperature, known, values))
            for values in (self.tabulated.conductivity, self.tabulated.capacity)
        )
        specific_heat = capacity / self.density
        return dataclasses.replace(self, conductivity=conductivity, specific_heat=specific_heat, tabulated=None)


@functools.cache
def library() -> Mapping[str, Material]:
    """The built-in materials by name, other spellings included, each with its source and temperature.

    The mapping is read-only. A material that is known by two names stands under both and carries the first of them.

    Examples
    --------
    >>> import thermsim
    >>> thermsim.library()["soda-lime glass"].conductivity
    1.0
    """
    text = resources.files("thermsim.physics").joinpath("materials.toml").read_text("utf-8")
    found: dict[str, Material] = {}
    for name, entry in tomllib.loads(text).items():
        k, rho, c = (float(entry[key]) for key in ("conductivity_W_mK", "density_kg_m3", "specific_heat_J_kgK"))
        material = Material(name, k, rho, c, f"{entry['source']} (at {entry['at']})")
        found |= dict.fromkeys((name, *entry.get("aliases", ())), material)
    return MappingProxyType(found)


def find_material(name: str, own: Mapping[str, Material] | None = None) -> Material:
    """A material by its name: the case's ``own`` first, then the library's.

    Raises
    ------
    InputError
        If there is none of that name; the message offers the nearest ones.

    Examples
    --------
    >>> import thermsim
    >>> thermsim.find_material("tinplat")
    Traceback (most recent call last):
    ...
    thermsim.errors.InputError: material "tinplat" is unknown; did you mean "tinplate"?
    """
    known = {**library(), **(own or {})}
    if name in known:
        return known[name]
    inside = [one for one in known if name.lower() in one.lower() or _numbers(one) & _numbers(name)][:3]
    near = nearest(name, known, 0.75) or inside
    offered = near or nearest(name, known)[:1]
    choice = unknown("material", name, offered, ()) if offered else f"material {printed(name)} is unknown."
    lists = "" if offered else ' "thermsim materials" lists those that are built in.'
    far = "" if near else f"{lists} One of your own takes [materials.{printed(name)}] with its numbers"
    raise InputError(choice + far)


def _numbers(name: str) -> set[str]:
    """Numbers of three digits in a name, which alloys go by: 316 in "316L"."""
    return {*re.findall(r"\d{3}", name)}
