"""From the tables of a case file to its materials, the product, its fill and its headspace."""

from __future__ import annotations

import math
from collections.abc import Mapping

from thermsim.case.checks import Table, child, either, given_word, in_mm, missing, number, printed, word
from thermsim.case.container import Container
from thermsim.case.keys import HEADSPACE_MODELS, HEADSPACE_MODELS_NOT_HANDLED, keys_of
from thermsim.case.materials import Material, find_material, library
from thermsim.case.product import Headspace, Product
from thermsim.case.profile import height_of
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


def product(top: Table, own: Mapping[str, Material], used: set[str]) -> Product:
    """The product: its material and its temperature at the start."""
    table = child(top, "product", "product", "[product]", required=True)
    return Product(material(table, own, used), number(table, "initial_C"))


def fill_height(top: Table, container: Container, product: Product) -> float:
    """Depth of the product [m]: it covers the base and is at most the container's inner height deep."""
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
    else:
        if name != "fraction" and _is_brick(top):
            table.fault(
                f"{shown} has no meaning beside brick_mm: the cylinder that is computed holds more than the brick; "
                "give headspace_mm, height_mm or fraction"
            )
            return math.nan
        filled = _level_of(table, name, value, container, product)
    if filled < container.crown + SHALLOWEST - _ROUNDING:
        _report_shallow(table, name, filled, container, product)
        return math.nan
    return _whole_or_headspace(table, shown, filled, height)


def _is_brick(top: Table) -> bool:
    container = top.entries.get("container")
    return isinstance(container, dict) and "brick_mm" in container


def _level_of(table: Table, name: str, value: float, container: Container, product: Product) -> float:
    """Depth [m] of a product given by its fraction, its mass or its volume; NaN where it is not known."""
    if math.isnan(value + product.material.density + container.inner_height + container.profile.widest):
        return math.nan
    volume = value / _per_volume(name, container, product)
    if volume > container.volume * (1 + 1e-12):
        table.fault(
            f"{name} = {printed(table.entries[name])} does not fit; the container holds "
            f"{math.floor(1e7 * container.volume) / 10:g} ml"
            if name == "volume_ml"
            else f"{name} = {printed(table.entries[name])} does not fit; the container holds "
            f"{math.floor(1e4 * product.material.density * container.volume) / 10:g} g of this product"
        )
        return math.nan
    return height_of(volume + (container.rise.volume if container.rise else 0.0), container.profile)


def _per_volume(name: str, container: Container, product: Product) -> float:
    """How much one m3 of the product is in the way in which the fill is given."""
    return {"fraction": 1.0 / container.volume, "mass_g": product.material.density, "volume_ml": 1.0}[name]


def _report_shallow(table: Table, name: str, filled: float, container: Container, product: Product) -> None:
    shown, height = f"{name} = {printed(table.entries[name])}", container.inner_height
    if container.rise is not None:
        least = container.crown + SHALLOWEST
        if name == "headspace_mm":
            limit = f"at most {in_mm(height - least)} mm are possible"
        elif name == "height_mm":
            limit = f"at least {in_mm(least)} mm are needed"
        else:
            amount = container.volume_below(least) * _per_volume(name, container, product)
            times, unit = {"mass_g": (1e3, " g"), "volume_ml": (1e6, " ml"), "fraction": (1.0, "")}[name]
            limit = f"at least {_rounded_up(times * amount):g}{unit} are needed"
        table.fault(f"{shown} does not cover the base, which rises to {in_mm(container.crown)} mm; {limit}")
        return
    larger = {"mass_g": "kg", "height_mm": "metres", "volume_ml": "litres"}.get(name)
    hint = f"; did you mean {larger}?" if larger and 1000 * filled <= height + _ROUNDING else ""
    table.fault(
        f"{shown} fills {1000 * filled:.3g} mm of the container; at least {in_mm(SHALLOWEST)} mm are needed{hint}"
    )


def _rounded_up(limit: float) -> float:
    """A positive limit with four digits, rounded to the side on which it is kept."""
    step = 10.0 ** (math.floor(math.log10(limit)) - 3)
    return step * math.ceil(limit / step - 1e-9)


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
