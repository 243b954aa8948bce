"""The report's tables of materials, and of what changes with temperature: the product, and the headspace's parts."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from thermsim.case.case import Case
from thermsim.physics.gap import gap_parts
from thermsim.physics.materials import Material
from thermsim.quantities import DIFFUSIVITY, HEAT_CAPACITY, PRESSURE
from thermsim.records.numbers.substances import capacity, conductivities, temperatures
from thermsim.records.report.assembly import probe_materials
from thermsim.records.words.parts import Heading, Part, paragraphs, table


def substance_tables(case: Case) -> Iterator[Part]:
    """The materials and their properties over temperature, as pieces of a page."""
    yield Heading("Materials")
    yield table(
        ("material", "k [W/mK]", "density [kg/m³]", "heat [J/kgK]", "ρc [MJ/m³K]", "used for", "source"),
        [_row(case, material, used) for material, used in _uses(case).items()],
    )
    if any(material.tabulated is not None for material in _uses(case)):
        low, high = case.met
        yield paragraphs(
            [
                f"Where properties change with temperature, k and ρc are given from the least to the most between "
                f"{low:g} and {high:g} °C; density and heat are those at the temperature that the source names."
            ],
            small=True,
        )
    if case.product.material.tabulated is not None:
        yield Heading("The product over temperature")
        yield table(("°C", "k [W/mK]", "ρc [MJ/m³K]", "k/(ρc) [mm²/s]"), _product(case))
    if case.headspace.gap is not None and case.headspace_height > 0.0:
        yield Heading("What the headspace conducts")
        yield table(
            ("°C", "gas", "radiation", "vapour", "all, upwards", "all, downwards", "pressure [kPa]"), _headspace(case)
        )
        yield paragraphs(["Effective conductivities in W/mK, as if the headspace were a solid."], small=True)


def _uses(case: Case) -> dict[Material, list[str]]:
    """The materials of a case, and what each is used for."""
    container = case.container
    uses: dict[Material, list[str]] = {case.product.material: ["product"]}
    if case.headspace.material is not None and case.headspace_height > 0.0:
        uses.setdefault(case.headspace.material, []).append("headspace")
    for name, wall in (("lid", container.lid), ("side", container.side), ("base", container.base)):
        if wall is not None:
            uses.setdefault(wall.material, []).append(name)
    for name, material in probe_materials(case):
        if name not in uses.setdefault(material, []):
            uses[material].append(name)
    return uses


def _row(case: Case, material: Material, used: list[str]) -> tuple[str, ...]:
    conducted, stored = f"{material.conductivity:g}", f"{material.capacity / 1e6:.4g}"
    tabulated = material.tabulated
    if tabulated is not None:
        low, high = case.met
        within = [at for at in tabulated.temperature if low < at < high]
        every = np.array([low, *within, high])
        conducted = _span(np.array([conductivities(material, float(at)) for at in every]))
        stored = _span(np.array([capacity(material, float(at)) for at in every]) / 1e6)
    return (
        material.name,
        conducted,
        f"{material.density:.6g}",
        f"{material.specific_heat:.6g}",
        stored,
        ", ".join(used),
        material.source or "the case, no source given",
    )


def _span(values: np.ndarray) -> str:
    low, high = f"{values.min():.3g}", f"{values.max():.3g}"
    return low if low == high else f"{low} to {high}"


def _product(case: Case) -> Iterator[tuple[str, ...]]:
    for at in temperatures(case):
        conducted, stored = conductivities(case.product.material, at)[0], capacity(case.product.material, at)
        yield f"{at:g}", f"{conducted:.4f}", HEAT_CAPACITY.number(stored), DIFFUSIVITY.number(conducted / stored)


def _headspace(case: Case) -> Iterator[tuple[str, ...]]:
    gap, material = case.headspace.gap, case.headspace.material
    if gap is None or material is None:
        return
    for at in temperatures(case):
        parts, both = gap_parts(gap, at), conductivities(material, at)
        shares = (float(part) for part in (parts.gas, parts.radiation, parts.vapour))
        yield f"{at:g}", *(f"{one:.3g}" for one in (*shares, *both)), f"{PRESSURE.edge(float(parts.pressure)):.4g}"
