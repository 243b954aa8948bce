"""From the tables of a case file to its materials and its product: constant, by tables, or by composition."""

from __future__ import annotations

import dataclasses
import math

from thermsim.case.container import Container
from thermsim.case.file.context import Context
from thermsim.case.keys.checks import Table
from thermsim.case.keys.systems import WrittenList, in_own_units
from thermsim.case.keys.tables import keys_of
from thermsim.case.process import Process
from thermsim.case.product import Product
from thermsim.errors import InputError
from thermsim.physics.composition import composition_faults, composition_of
from thermsim.physics.convection import Viscosity, constant_viscosity, find_thickness, viscosity_from_table
from thermsim.physics.materials import Material, find_material, library
from thermsim.physics.mixing import (
    DEFAULT_RULE,
    RULES,
    conductivity_range,
    material_of,
    mixture_properties,
    table_faults,
    table_material,
)
from thermsim.text import printed

_NO_MATERIAL = Material("", math.nan, math.nan, math.nan)
#: Temperatures [degC] between which a composition is tabulated: its equations' range, without water that freezes; and
#: where all of its water is frozen or bound.
_THAWED, _FROZEN = (0.0, 150.0), (-40.0, -1.0)


def own_materials(top: Table, context: Context) -> None:
    """Add the materials that the case file brings along."""
    tables = top.entries.get("materials", {})
    if not isinstance(tables, dict):
        top.fault(f'materials = {printed(tables)} is not a table; write [materials."name"] for each material')
        return
    for name in tables:
        shown = f"[materials.{printed(name)}]"
        inside = Table(top.file, "[materials]", tables, {}, top.faults)
        table = inside.child(name, "materials", where=shown)
        context.tables[f"material {printed(name)}"] = table
        context.notes.extend(_on_scales(table))
        context.own[name] = _own_material(table, name)
        if name in library():
            context.notes.append(f"Material {printed(name)} is the case's own and stands in for the library's.")


def _on_scales(table: Table) -> list[str]:
    """On which scale temperatures stand in tables under keys of the other system of units."""
    return [
        f"{table.where}: {printed(value).rpartition('written ')[2][:-1]}: the table's temperatures are taken in degF."
        for name, value in table.entries.items()
        if isinstance(value, WrittenList) and name in table.keys and table.keys[name].tabled
    ]


def _own_material(table: Table, name: str) -> Material:
    """A material of constant numbers, or of tables over temperature where any is given as one."""
    keys = {"conductivity": "conductivity_W_mK", "density": "density_kg_m3", "specific_heat": "specific_heat_J_kgK"}
    source = table.given_word("source") or f"given in {table.file}"
    if not any(isinstance(table.entries.get(key), list) for key in keys.values()):
        conductivity, density, specific_heat = (table.number(key) for key in keys.values())
        return Material(name, conductivity, density, specific_heat, source)
    values: dict[str, object] = {}
    before = len(table.faults)
    for what, key in keys.items():
        values[what] = table.entries.get(key)
        if isinstance(values[what], list):
            faults = table_faults(key, values[what])
            for fault in faults or _out_of_range(key, values[what]):
                table.fault(fault)
        else:
            values[what] = table.number(key)
    if len(table.faults) > before:
        return _NO_MATERIAL
    try:
        return table_material(name, **values, source=source)  # type: ignore[arg-type]
    except InputError as failure:
        table.fault(str(failure).partition(": ")[2])
        return _NO_MATERIAL


def _out_of_range(key: str, pairs: object) -> list[str]:
    """Values of a table that a constant property may not have either."""
    allowed = keys_of("materials")[key]
    return [
        f"{key} = {printed(value)} at {at:g} degC must be from {allowed.low:g} to {allowed.high:g} {allowed.unit}"
        for at, value in pairs  # type: ignore[attr-defined]
        if not allowed.low <= value <= allowed.high
    ]


def material(table: Table, context: Context, key: str = "material") -> Material:
    """The material that a table names under a key; its name is added to those that are used."""
    name = table.word(key)
    if not name:
        return _NO_MATERIAL
    context.used.add(name)
    try:
        return find_material(name, context.own)
    except InputError as failure:
        table.fault(str(failure) if key == "material" else f"{key}: {failure}")
        return _NO_MATERIAL


def product(top: Table, context: Context) -> Product:
    """The product: its material, named or by its composition, and its temperature at the start."""
    table = top.child("product", required=True)
    context.notes.extend(_on_scales(table))
    if "composition" not in table:
        if "mixing_rule" in table:
            table.fault("mixing_rule has no meaning without composition; leave it out, or give the composition")
        if "material" not in table and not (table.absent or "material" in table.meant):
            table.fault("its material is missing; give material or composition")
            return Product(_NO_MATERIAL, table.number("initial_C"))
        return Product(material(table, context), table.number("initial_C"))
    start = table.number("initial_C")
    if "material" in table:
        table.fault("material and composition are given together; give one of them")
    rule = table.given_word("mixing_rule", tuple(RULES)) or DEFAULT_RULE
    shares = table.entries["composition"]
    if not isinstance(shares, dict):
        table.fault(f"composition = {printed(shares)} is not a table; write {{ water = ..., protein = ..., ... }}")
        return Product(_NO_MATERIAL, start)
    faults = composition_faults(shares)
    for fault in faults:
        table.fault(f"composition: {fault}")
    if faults or math.isnan(start):
        return Product(_NO_MATERIAL, start)
    composition = composition_of(shares)
    low, high = _FROZEN if composition.ice > 0.0 else _THAWED
    if not low <= start <= high:
        table.fault(
            f"initial_C = {start:g} with this composition must be from {low:g} to {high:g} degC"
            + (": ice that melts is not handled" if composition.ice > 0.0 else ": water that freezes is not handled")
        )
        return Product(_NO_MATERIAL, start)
    try:
        made = material_of(composition, rule=rule, low=low, high=high, reference=start, name="by composition")
    except InputError as failure:
        table.fault(f"composition: {failure}")
        return Product(_NO_MATERIAL, start)
    leaves = conductivity_range(composition, start)
    thinned = [float(mixture_properties(composition, at, rule=rule).density) for at in (start, high)]
    context.notes.append(
        f"Properties follow from the composition ({composition}), by the component equations of Choi and Okos (1986) "
        f'and the rule "{rule}": {made.conductivity:.3g} W/mK at {start:g} degC. Structure leaves '
        f"{float(leaves.series):.2g} to {float(leaves.parallel):.2g} W/mK open ({float(leaves.isotropic_low):.2g} to "
        f"{float(leaves.isotropic_high):.2g} W/mK without a preferred direction), the equations another "
        f"{100 * float(leaves.scatter):.0f} %. The volume is kept as it warms, though by these equations the density "
        f"falls by {100 * (1 - thinned[1] / thinned[0]):.1f} % up to {high:g} degC; the mass is that at the start."
    )
    return Product(made, start, composition)


def as_it_is(top: Table, product: Product, container: Container, filled: float, process: Process) -> Product:
    """The product with its pieces named, and with a verdict on whether it convects where that can be told."""
    entries = top.entries.get("product")
    if not isinstance(entries, dict):
        return product
    table = Table(top.file, "[product]", in_own_units(entries, "product"), keys_of("product"), top.faults)
    product = dataclasses.replace(product, pieces=table.given_word("pieces") or "")
    given = [name for name in ("viscosity_Pa_s", "thickness") if name in table]
    if not given:
        return product
    if len(given) > 1:
        table.fault("viscosity_Pa_s and thickness are given together; give one of them")
        return product
    known = product.material.density * product.material.conductivity + product.initial + filled
    if not process.stages or math.isnan(known + container.profile.widest):
        return product
    low, high = process.medium_range
    try:
        viscosity = _viscosity(table, min(low, product.initial), max(high, product.initial))
    except InputError as failure:
        table.fault(str(failure))
        return product
    if viscosity is None:
        return product
    return dataclasses.replace(product, flow=product.flow_in(container, filled, (low, high), viscosity))


def _viscosity(table: Table, low: float, high: float) -> Viscosity | None:
    """The viscosity that a product is given, for temperatures that it meets [degC]; None where it is at fault."""
    if "thickness" in table:
        name = table.word("thickness")
        return find_thickness(name) if name else None
    value = table.entries["viscosity_Pa_s"]
    if isinstance(value, list):
        faults = table_faults("viscosity_Pa_s", value)
        for fault in faults:
            table.fault(fault)
        if faults:
            return None
        return viscosity_from_table([at for at, _ in value], [v for _, v in value], low=low, high=high)
    number_given = table.number("viscosity_Pa_s")
    return None if math.isnan(number_given) else constant_viscosity(number_given)
