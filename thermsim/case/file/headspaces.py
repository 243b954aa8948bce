"""From the table of a case file to what fills the headspace."""

from __future__ import annotations

import math
from collections.abc import Mapping

from thermsim.case.file.substances import material
from thermsim.case.keys.checks import Table, child, flag, given_number, missing, number, word
from thermsim.case.keys.tables import HEADSPACE_MODELS
from thermsim.case.product import Headspace
from thermsim.errors import InputError
from thermsim.physics.gap import ATMOSPHERE, GasGap, gap_remarks
from thermsim.physics.materials import Material
from thermsim.text import either, in_mm

_GAS_ONLY = ("emissivity_product", "emissivity_lid")
_HUMID_ONLY = ("pressure_kPa", "sealed_at_C", "lid_wet")
#: Emissivities that a headspace's bounds take where the case says nothing: see :meth:`Headspace.of_gas`.
WET_FOOD, PLAIN_LID = 0.92, 0.85


def headspace(
    top: Table,
    left: float,
    own: Mapping[str, Material],
    used: set[str],
    *,
    met: tuple[float, float],
    notes: list[str],
) -> Headspace:
    """Filling of the room above the product.

    Parameters
    ----------
    top : Table
        The whole case.
    left : float
        Height of the room [m]; NaN where it is not known.
    own, used
        The case's own materials, and the names used so far.
    met : (float, float)
        Lowest and highest temperature of product and medium [degC]; NaN where they are not known.
    notes : list of str
        Gets what was assumed.
    """
    table = child(top, "headspace", "headspace", "[headspace]")
    if "headspace" not in top.entries:
        if left > 0 and "headspace" not in top.meant:
            top.fault(
                f"table [headspace] is missing; {in_mm(left)} mm are left above the product: "
                f"write model = {either(HEADSPACE_MODELS)}"
            )
        return Headspace("insulated")
    model = word(table, "model", HEADSPACE_MODELS)
    _check_keys_of(table, model)
    filling = None
    if model == "fixed":
        if "material" not in table.entries:
            missing(table, "material", " (needed for model fixed)")
            return Headspace("insulated")
        filling = material(table, own, used)
    gap = _gap(table, model, left) if model in ("air", "humid") else None
    if left == 0:
        notes.append("The container is filled to the lid: [headspace] is not used.")
        return Headspace("insulated")
    if filling is not None:
        if not math.isnan(filling.conductivity):
            notes.append(f"The headspace conducts like a solid of {filling.conductivity:.3g} W/mK ({filling.name}).")
        return Headspace("fixed", filling)
    if gap is None or math.isnan(sum(met) + left):
        return Headspace("insulated")
    try:
        found = Headspace.of_gas(gap, met)
        notes += gap_remarks(gap, low=met[0], high=met[1])
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
        if model and name in table.entries and model not in models:
            table.fault(
                f'{name} has no meaning with model = "{model}"; leave it out, or write model = {either(models)}'
            )


def _gap(table: Table, model: str, left: float) -> GasGap | None:
    """The gas gap that a table describes; None where it is at fault."""
    before = len(table.faults)
    product, lid = (number(table, name) for name in _GAS_ONLY)
    pressure = given_number(table, "pressure_kPa")
    sealed = given_number(table, "sealed_at_C")
    wet = flag(table, "lid_wet")
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
