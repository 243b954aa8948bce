"""From the tables of a case file to the fill."""

from __future__ import annotations

import math

from thermsim.case.container import Container
from thermsim.case.keys.checks import Table, child, number
from thermsim.case.keys.tables import keys_of
from thermsim.case.product import Product
from thermsim.case.profile import height_of
from thermsim.text import in_mm, printed

THINNEST_HEADSPACE = 1e-4  # m; anything thinner is a slip of the pen or no headspace
SHALLOWEST = 2e-3  # m; a product less deep than this is a slip of the pen
_ROUNDING = 1e-9  # m; what turning millimetres into metres and back may leave over


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
