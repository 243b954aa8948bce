"""Figures of a result for JSON: under the attribute's name, in the unit that files use, with that unit at its end."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from thermsim.assess.fields.curve import Curve
from thermsim.quantities import FIGURES, TEMPERATURE, TIME, Quantity

AT_A_PLACE = ("lethality", "heating_lethality", "end_of_heating")
SPOT = ("r", "z", *AT_A_PLACE)
Rows = Mapping[str, Quantity]


def figures(whole: object, names: tuple[str, ...], rows: Rows = FIGURES) -> dict[str, object]:
    """Attributes of a part of the result under their keys, in their units."""
    return {rows[name].key(): rows[name].edge(getattr(whole, name)) for name in names}


def course(curve: Curve) -> dict[str, object]:
    """The temperatures of a curve and their times."""
    return {**TIME.record(time=curve.time.tolist()), **TEMPERATURE.record(temperature=curve.temperature.tolist())}


def uncertain(
    known: Mapping[str, float], where: str, names: tuple[str, ...], rows: Rows = FIGURES
) -> dict[str, object]:
    """The uncertainties of figures under the figures' keys; those that are not known are left out.

    Parameters
    ----------
    known : mapping of str to float
        Uncertainties by the dotted names of the attributes.
    where : str
        Dotted name of the part that the attributes belong to.
    names : tuple of str
        The attributes.
    rows : mapping, optional
        Quantities by the attributes' names.
    """
    return {
        rows[name].key(): rows[name].edge(known[f"{where}.{name}"]) for name in names if f"{where}.{name}" in known
    }


def json_ready(value: object) -> object:
    """The same with Python's own numbers, and None in place of those that JSON has no word for."""
    if isinstance(value, np.bool_):
        return bool(value)
    if isinstance(value, dict):
        return {key: json_ready(item) for key, item in value.items()}
    if isinstance(value, list):
        return [json_ready(item) for item in value]
    if isinstance(value, float | np.floating):
        return float(value) if math.isfinite(value) else None
    return value
