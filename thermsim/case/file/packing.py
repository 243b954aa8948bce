"""From the tables of a case file to the fill, and to what fills the headspace above."""

from __future__ import annotations

import math

from thermsim.case.container import SHALLOWEST, Container
from thermsim.case.file.context import Context
from thermsim.case.file.substances import material
from thermsim.case.keys.checks import Table
from thermsim.case.keys.tables import HEADSPACE_MODELS, keys_of
from thermsim.case.product import Headspace, Product, fill_faults
from thermsim.case.rules import ROUNDING, kept_limit
from thermsim.errors import InputError
from thermsim.physics.gap import ATMOSPHERE, GasGap, gap_remarks
from thermsim.text import either, in_mm

_GAS_ONLY = ("emissivity_product", "emissivity_lid")
_HUMID_ONLY = ("pressure_kPa", "sealed_at_C", "lid_wet")
#: Emissivities that a headspace's bounds take where the case says nothing: see :meth:`Headspace.of_gas`.
WET_FOOD, PLAIN_LID = 0.92, 0.85


def fill_height(top: Table, container: Container, product: Product) -> float:
    """Depth of the product [m]: it covers the base and is at most the container's inner height deep."""
    table = top.child("fill", required=True)
    given = [name for name in keys_of("fill") if name in table]
    if len(given) != 1:
        if not table.absent and not (table.meant and not given):
            what = f"{', '.join(given)} are given together" if given else "nothing is given"
            table.fault(f"{what}; give exactly one of {', '.join(keys_of('fill'))}")
        return math.nan
    name = given[0]
    value = table.number(name)
    height = container.inner_height
    shown = f"{table.shown(name)}"
    if name in ("headspace_mm", "height_mm"):
        filled = height - value if name == "headspace_mm" else value
    else:
        filled = _level_of(table, name, value, container, product)
    if math.isnan(filled):
        return math.nan
    found = list(fill_faults(filled, container))
    hint = _hint(name, filled, container, product) if found else ""
    for fault in found:
        table.fault(f"{shown} {fault.rule}{hint}")
    if found:
        return math.nan
    return height if height - filled <= ROUNDING else filled


def _level_of(table: Table, name: str, value: float, container: Container, product: Product) -> float:
    """Depth [m] of a product given by its fraction, its mass or its volume; NaN where it is not known."""
    if math.isnan(value + product.material.density + container.inner_height + container.profile.widest):
        return math.nan
    volume = value / _per_volume(name, container, product)
    if volume > container.volume * (1 + 1e-12):
        most = f"{math.floor(1e4 * product.material.density * container.volume) / 10:g} g of this product"
        most = f"{math.floor(1e7 * container.volume) / 10:g} ml" if name == "volume_ml" else most
        table.fault(f"{table.shown(name)} does not fit; the container holds {most}")
        return math.nan
    return container.level_of(volume)


def _per_volume(name: str, container: Container, product: Product) -> float:
    """Amount of one m3 of the product in the way in which the fill is given."""
    return {"fraction": 1.0 / container.volume, "mass_g": product.material.density, "volume_ml": 1.0}[name]


def _hint(name: str, filled: float, container: Container, product: Product) -> str:
    """The end of a sentence on a fill that is too shallow: the limit as the file says it, or another unit."""
    if not filled < container.crown + SHALLOWEST - ROUNDING:
        return ""
    least = container.crown + SHALLOWEST
    if container.rise is None or filled <= ROUNDING:
        larger = {"mass_g": "kg", "height_mm": "metres", "volume_ml": "litres"}.get(name)
        return f"; did you mean {larger}?" if larger and 1000 * filled <= container.inner_height + ROUNDING else ""
    if name == "headspace_mm":
        return f", which leaves at most {in_mm(container.inner_height - least)} mm above it"
    if name == "height_mm":
        return ""
    amount = container.volume_below(least) * _per_volume(name, container, product)
    times, unit = {"mass_g": (1e3, " g"), "volume_ml": (1e6, " ml"), "fraction": (1.0, "")}[name]
    return f", which takes at least {kept_limit(times * amount, 4, up=True):g}{unit}"


def headspace(top: Table, left: float, context: Context, *, met: tuple[float, float]) -> Headspace:
    """Filling of the room above the product, ``left`` so high [m].

    ``met`` are the lowest and highest temperature of product and medium [degC]; NaN stands for what is not known.
    """
    table = top.child("headspace")
    if "headspace" not in top:
        if left > 0 and "headspace" not in top.meant:
            top.fault(
                f"table [headspace] is missing; {in_mm(left)} mm are left above the product: "
                f"write model = {either(HEADSPACE_MODELS)}"
            )
        return Headspace("insulated")
    model = table.word("model", HEADSPACE_MODELS)
    _check_keys_of(table, model)
    filling = None
    if model == "fixed":
        if "material" not in table:
            table.missing("material", " (needed for model fixed)")
            return Headspace("insulated")
        filling = material(table, context)
    gap = _gap(table, model, left) if model in ("air", "humid") else None
    if left == 0:
        context.notes.append("The container is filled to the lid: [headspace] is not used.")
        return Headspace("insulated")
    if filling is not None:
        if not math.isnan(filling.conductivity):
            context.notes.append(
                f"The headspace conducts like a solid of {filling.conductivity:.3g} W/mK ({filling.name})."
            )
        return Headspace("fixed", filling)
    if gap is None or math.isnan(sum(met) + left):
        return Headspace("insulated")
    try:
        found = Headspace.of_gas(gap, met)
        context.notes.extend(gap_remarks(gap, low=met[0], high=met[1]))
    except InputError as failure:
        table.fault(str(failure))
        return Headspace("insulated")
    return found


def _check_keys_of(table: Table, model: str) -> None:
    """Keys that have no meaning with a model."""
    belongs = {
        "material": ("fixed",),
        **dict.fromkeys(_GAS_ONLY, ("air", "humid")),
        **dict.fromkeys(_HUMID_ONLY, ("humid",)),
    }
    for name, models in belongs.items():
        if model and model not in models:
            rule = f'has no meaning with model = "{model}"; leave it out, or write model = {either(models)}'
            table.refuse((name,), rule)


def _gap(table: Table, model: str, left: float) -> GasGap | None:
    """The gas gap that a table describes; None where it is at fault."""
    before = len(table.faults)
    product, lid = (table.number(name) for name in _GAS_ONLY)
    pressure = table.given_number("pressure_kPa")
    sealed = table.given_number("sealed_at_C")
    wet = table.flag("lid_wet")
    if model == "humid" and pressure is None and sealed is None:
        table.fault(
            "neither sealed_at_C nor pressure_kPa is given; give the temperature at which the container was closed, "
            "or the constant pressure that it is under"
        )
    if len(table.faults) > before or left == 0:
        return None
    return GasGap(
        "humid" if model == "humid" else "air",
        left,
        product,
        lid,
        pressure=ATMOSPHERE if pressure is None else pressure,
        sealed_at=sealed,
        lid_wet=wet,
    )
