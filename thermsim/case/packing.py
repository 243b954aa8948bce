"""From the tables of a case file to the container, the product in it, its fill and its headspace."""

from __future__ import annotations

import math
from collections.abc import Mapping

from thermsim.case.checks import Table, child, either, given_number, given_word, in_mm, missing, number, printed, word
from thermsim.case.container import Container, Wall
from thermsim.case.keys import HEADSPACE_MODELS, HEADSPACE_MODELS_NOT_HANDLED, keys_of
from thermsim.case.materials import Material, find_material, library
from thermsim.case.product import Headspace, Product
from thermsim.errors import InputError

THINNEST_HEADSPACE = 1e-4  # m; anything thinner is a slip of the pen or no headspace
SHALLOWEST = 2e-3  # m; a product less deep than this is a slip of the pen
_ROUNDING = 1e-9  # m; what turning millimetres into metres and back may leave over
_NO_MATERIAL = Material("", math.nan, math.nan, math.nan)


def own_materials(top: Table, notes: list[str]) -> Mapping[str, Material]:
    """Materials that the case file brings along, by name."""
    tables = top.entries.get("materials", {})
    if not isinstance(tables, dict):
        top.fault(f'materials = {printed(tables)} is not a table; write [materials."name"] for each material')
        return {}
    found = {}
    for name in tables:
        shown = f"[materials.{printed(name)}]"
        inside = Table(top.file, "[materials]", tables, {}, top.faults)
        table = child(inside, name, "materials", shown)
        found[name] = Material(
            name,
            number(table, "conductivity_W_mK"),
            number(table, "density_kg_m3"),
            number(table, "specific_heat_J_kgK"),
            given_word(table, "source") or f"given in {top.file}",
        )
        if name in library():
            notes.append(f"Material {printed(name)} is the case's own and stands in for the library's.")
    return found


def material(table: Table, own: Mapping[str, Material], used: set[str], key: str = "material") -> Material:
    """The material that a table names under a key; its name is added to ``used``."""
    name = word(table, key)
    if not name:
        return _NO_MATERIAL
    used.add(name)
    try:
        return find_material(name, own)
    except InputError as failure:
        table.fault(str(failure) if key == "material" else f"{key}: {failure}")
        return _NO_MATERIAL


def container(top: Table, own: Mapping[str, Material], used: set[str], notes: list[str]) -> Container:
    """The container and its walls."""
    table = child(top, "container", "container", "[container]", required=True)
    if isinstance(table.entries.get("inner_diameter_mm"), list):
        table.fault(
            f"inner_diameter_mm = {printed(table.entries['inner_diameter_mm'])}: a taper is not handled by this "
            "version; allowed here: one number"
        )
        diameter = math.nan
    else:
        diameter = number(table, "inner_diameter_mm")
    height = number(table, "inner_height_mm")
    walls: dict[str, Wall | None] = {}
    for name in ("side", "base", "lid"):
        walls[name] = None
        if name in table.entries:
            written = f'{name} = {{ material = "...", thickness_mm = ... }}'
            wall = child(table, name, "container.wall", f"[container] {name}", written=written)
            walls[name] = Wall(material(wall, own, used), number(wall, "thickness_mm"))
        elif not table.absent:
            notes.append(f"No {name} wall is given: what is behind it meets the medium.".replace("side wall", "side"))
    return Container(diameter, height, walls["side"], walls["base"], walls["lid"], given_number(table, "initial_C"))


def product(top: Table, own: Mapping[str, Material], used: set[str]) -> Product:
    """The product: its material and its temperature at the start."""
    table = child(top, "product", "product", "[product]", required=True)
    return Product(material(table, own, used), number(table, "initial_C"))


def fill_height(top: Table, container: Container, product: Product) -> float:
    """Depth of the product [m]: above zero, at most the container's inner height."""
    table = child(top, "fill", "fill", "[fill]", required=True)
    given = [name for name in keys_of("fill") if name in table.entries]
    if len(given) != 1:
        if not table.absent and not (table.meant and not given):
            what = f"{', '.join(given)} are given together" if given else "nothing is given"
            table.fault(f"{what}; give exactly one of {', '.join(keys_of('fill'))}")
        return math.nan
    name = given[0]
    value = number(table, name)
    height = container.inner_height
    shown = f"{name} = {printed(table.entries[name])}"
    area = container.inner_area
    if name == "headspace_mm":
        filled = height - value
        if filled <= _ROUNDING:
            table.fault(f"{shown} leaves no room for a product; the container is {in_mm(height)} mm high inside")
            return math.nan
    elif name == "height_mm":
        filled = value
        if filled > height + _ROUNDING:
            table.fault(f"{shown} is more than the container's inner height, {in_mm(height)} mm")
            return math.nan
    elif name == "fraction":
        filled = value * height
    else:
        filled = value / (product.material.density * area)
        if filled > height + _ROUNDING:
            fits = 1000 * product.material.density * area * height
            table.fault(f"{shown} does not fit; the container holds {math.floor(fits * 10) / 10:g} g of this product")
            return math.nan
    if filled < SHALLOWEST - _ROUNDING:
        _report_shallow(table, name, filled, height)
        return math.nan
    return _whole_or_headspace(table, shown, filled, height)


def _report_shallow(table: Table, name: str, filled: float, height: float) -> None:
    larger = {"mass_g": "kg", "height_mm": "metres"}.get(name)
    hint = f"; did you mean {larger}?" if larger and 1000 * filled <= height + _ROUNDING else ""
    table.fault(
        f"{name} = {printed(table.entries[name])} fills {1000 * filled:.3g} mm of the container; at least "
        f"{in_mm(SHALLOWEST)} mm are needed{hint}"
    )


def _whole_or_headspace(table: Table, shown: str, filled: float, height: float) -> float:
    left = height - filled
    if left <= _ROUNDING:
        return height
    if left < THINNEST_HEADSPACE - _ROUNDING:
        table.fault(
            f"{shown} leaves a headspace of {in_mm(left)} mm; it must be none at all or at least "
            f"{in_mm(THINNEST_HEADSPACE)} mm"
        )
        return math.nan
    return filled


def headspace(top: Table, left: float, own: Mapping[str, Material], used: set[str], notes: list[str]) -> Headspace:
    """What fills the room above the product, ``left`` [m] high (NaN where that is not known)."""
    table = child(top, "headspace", "headspace", "[headspace]")
    if "headspace" not in top.entries:
        if left > 0 and "headspace" not in top.meant:
            top.fault(
                f"table [headspace] is missing; {in_mm(left)} mm are left above the product: "
                f"write model = {either(HEADSPACE_MODELS)}"
            )
        return Headspace("insulated")
    model = table.entries.get("model")
    if model in HEADSPACE_MODELS_NOT_HANDLED:
        table.fault(
            f"model = {printed(model)} is not handled by this version; allowed here: {either(HEADSPACE_MODELS)}"
        )
        return Headspace("insulated")
    model = word(table, "model", HEADSPACE_MODELS)
    if model == "fixed":
        if "material" not in table.entries:
            missing(table, "material", " (needed for model fixed)")
            return Headspace("insulated")
        filling = material(table, own, used)
    elif model == "insulated" and "material" in table.entries:
        table.fault('material has no meaning with model = "insulated"; leave it out, or write model = "fixed"')
    if left == 0:
        notes.append("The container is filled to the lid: [headspace] is not used.")
        return Headspace("insulated")
    if model != "fixed":
        return Headspace("insulated")
    if not math.isnan(filling.conductivity):
        notes.append(f"The headspace conducts like a solid of {filling.conductivity:g} W/mK ({filling.name}).")
    return Headspace("fixed", filling)
