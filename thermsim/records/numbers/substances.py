"""Substances of a case where properties change: the product, the headspace and its parts, the verdict on flow."""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from thermsim.case.case import Case
from thermsim.physics.convection import LOWER_BAND, Flow
from thermsim.physics.gap import gap_parts
from thermsim.physics.materials import Material
from thermsim.quantities import (
    CONDUCTIVITY,
    DIFFERENCE,
    DIFFUSIVITY,
    HEAT_CAPACITY,
    LENGTH,
    PRESSURE,
    TEMPERATURE,
    VISCOSITY,
)

#: Temperatures between the lowest and the highest met at which properties are told are multiples of this [K].
EVERY = 20.0


def temperatures(case: Case) -> list[float]:
    """Temperatures [degC] at which properties are told: the ends of what the case meets, and round ones between."""
    low, high = case.met
    between = np.arange(math.ceil((low + 1.0) / EVERY), math.floor((high - 1.0) / EVERY) + 1) * EVERY
    return [low, *between.tolist(), *([high] if high > low else [])]


def conductivities(material: Material, temperature: float) -> tuple[float, float]:
    """Conductivity [W/mK] at a temperature [degC] for heat that flows upwards, and downwards."""
    tabulated = material.tabulated
    if tabulated is None:
        return material.conductivity, material.conductivity
    return (
        float(np.interp(temperature, tabulated.temperature, tabulated.conductivity)),
        float(np.interp(temperature, tabulated.temperature, tabulated.downwards or tabulated.conductivity)),
    )


def capacity(material: Material, temperature: float) -> float:
    """Heat capacity by volume [J/m3K] at a temperature [degC]."""
    tabulated = material.tabulated
    if tabulated is None:
        return material.capacity
    return float(np.interp(temperature, tabulated.temperature, tabulated.capacity))


def product_record(case: Case) -> dict[str, object]:
    """The product for machines: what it is made of, and its properties over temperature."""
    product = case.product
    rows = []
    for at in temperatures(case):
        conductivity, stored = conductivities(product.material, at)[0], capacity(product.material, at)
        rows.append(
            {
                **TEMPERATURE.record(temperature=at),
                **CONDUCTIVITY.record(conductivity=conductivity),
                **HEAT_CAPACITY.inside().record(heat_capacity=stored),
                **DIFFUSIVITY.inside().record(diffusivity=conductivity / stored),
            }
        )
    return {
        "material": product.material.name,
        "source": product.material.source,
        **TEMPERATURE.record(initial=product.initial),
        "composition": None if product.composition is None else dataclasses.asdict(product.composition),
        "changes_with_temperature": product.material.tabulated is not None,
        "properties": rows,
    }


def headspace_record(case: Case) -> dict[str, object] | None:
    """The headspace for machines, with its effective conductivity over temperature; None where there is none."""
    if case.headspace_height <= 0.0:
        return None
    headspace, gap = case.headspace, case.headspace.gap
    return {
        "model": headspace.model,
        "material": None if headspace.material is None else headspace.material.name,
        "source": None if headspace.material is None else headspace.material.source,
        "emissivity_product": None if gap is None else gap.emissivity_product,
        "emissivity_lid": None if gap is None else gap.emissivity_lid,
        **TEMPERATURE.record(sealed_at=None if gap is None else gap.sealed_at),
        **PRESSURE.record(pressure=None if gap is None else gap.pressure),
        "lid_wet": None if gap is None else gap.lid_wet,
        "effective_conductivity": _effective(case),
    }


def _effective(case: Case) -> list[dict[str, object]]:
    material, gap = case.headspace.material, case.headspace.gap
    rows: list[dict[str, object]] = []
    for at in temperatures(case):
        upwards, downwards = (0.0, 0.0) if material is None else conductivities(material, at)
        parts = None if gap is None else gap_parts(gap, at)
        rows.append(
            {
                **TEMPERATURE.record(temperature=at),
                **CONDUCTIVITY.record(
                    upwards=upwards,
                    downwards=downwards,
                    gas=None if parts is None else float(parts.gas),
                    radiation=None if parts is None else float(parts.radiation),
                    vapour=None if parts is None else float(parts.vapour),
                ),
                **PRESSURE.record(pressure=None if parts is None else float(parts.pressure)),
            }
        )
    return rows


def flow_record(case: Case) -> dict[str, object] | None:
    """Tell whether the product convects, for machines; None where nothing is said of its viscosity.

    ``map_holds`` is false for "convection" and None for "in between". The band lies above the inside of the base.
    """
    flow = case.product.flow
    if flow is None:
        return None
    return {
        "verdict": flow.verdict,
        "map_holds": {"conduction": True, "convection": False}.get(flow.verdict),
        "rayleigh": list(flow.rayleigh),
        **VISCOSITY.record(viscosity=[flow.viscosity.thickest, flow.viscosity.thinnest]),
        "viscosity_source": flow.viscosity.source,
        **LENGTH.record(length=flow.length),
        **DIFFERENCE.record(difference=flow.difference),
        **LENGTH.record(cold_band_above_base=_band(case, flow)),
    }


def _band(case: Case, flow: Flow) -> list[float] | None:
    """Place where a still convecting container is usually coldest: of no meaning for one that conducts."""
    return None if flow.verdict == "conduction" else [part * case.fill_height for part in LOWER_BAND]
