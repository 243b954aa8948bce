"""From the tables of a case file to the fill."""

from __future__ import annotations

import math

from thermsim.case.container import SHALLOWEST, Container
from thermsim.case.keys.checks import Table, child, number
from thermsim.case.keys.tables import keys_of
from thermsim.case.product import Product, fill_faults
from thermsim.case.rules import ROUNDING
from thermsim.text import in_mm, printed


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
        table.fault(
            f"{name} = {printed(table.entries[name])} does not fit; the container holds "
            f"{math.floor(1e7 * container.volume) / 10:g} ml"
            if name == "volume_ml"
            else f"{name} = {printed(table.entries[name])} does not fit; the container holds "
            f"{math.floor(1e4 * product.material.density * container.volume) / 10:g} g of this product"
        )
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
    return f", which takes at least {_rounded_up(times * amount):g}{unit}"


def _rounded_up(limit: float) -> float:
    """A positive limit with four digits, rounded to the side on which it is kept."""
    step = 10.0 ** (math.floor(math.log10(limit)) - 3)
    return step * math.ceil(limit / step - 1e-9)
