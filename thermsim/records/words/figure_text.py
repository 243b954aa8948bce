"""A result's figures as text, by the dotted names of their attributes, with uncertainty and unit."""

from __future__ import annotations

from typing import Any

from thermsim.assess.probe.advice import Recommendation
from thermsim.assess.simulate.result import Result
from thermsim.quantities import BIAS, FIGURES, LENGTH, LETHALITY, PART


def figure(result: Result, name: str) -> str:
    """A figure with its numerical uncertainty and unit, as "5.90 +- 0.01 min".

    Parameters
    ----------
    result : Result
    name : str
        Dotted name of the attribute, as in ``result.uncertainty``; its last part is one of
        :data:`~thermsim.quantities.FIGURES`. The place
        of a point, which was given, stands without an uncertainty.

    Returns
    -------
    str
    """
    row = FIGURES[name.rpartition(".")[2]]
    return row.text(_value(result, name), result.uncertainty.get(name))


def bias(result: Result, name: str) -> str:
    """Excess of a reading, as "+47.9 +- 0.1 %".

    Parameters
    ----------
    result : Result
        With a probe.
    name : str
        Dotted name of an attribute of a :class:`~thermsim.assess.probe.effect.Bias`; its last part is one of
        :data:`~thermsim.quantities.BIAS`.

    Returns
    -------
    str
    """
    return BIAS[name.rpartition(".")[2]].text(_value(result, name), result.uncertainty[name], signed=True)


def over_reading(one: Recommendation) -> str:
    """Rest of a reading's error at a recommended depth, as "+2.3 +- 0.1 %"."""
    return PART.text(one.over_reading, one.uncertainty, signed=True)


def measured(one: Recommendation) -> str:
    """The figure of the reading that a recommendation compares, as "7.26 +- 0.01 min"."""
    value = one.lethality if one.criterion == "least lethality" else one.heating_lethality
    return LETHALITY.text(value, one.reading_uncertainty * value)


def true_name(result: Result, one: Recommendation) -> str:
    """Dotted name of the figure that the reading at a recommended depth should show."""
    if one.criterion == "least lethality":
        return f"{result.beside}.least_lethality.lethality"
    return f"{result.beside}.slowest_heating.heating_lethality"


def millimetres(length: float) -> str:
    """A length [m] in mm, to a tenth, without the unit."""
    return LENGTH.number(length)


def signed_millimetres(length: float) -> str:
    """A length [m] in mm, to a tenth, with its sign and without the unit."""
    text = millimetres(length)
    return text if text.startswith("-") or float(text) == 0.0 else f"+{text}"


def _value(result: Result, name: str) -> Any:
    value: Any = result
    for step in name.split("."):
        value = value[int(step)] if isinstance(value, tuple) else getattr(value, step)
    return value
