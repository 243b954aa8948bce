"""A result's figures as text, by the dotted names of their attributes, with uncertainty and unit."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from thermsim.assess.probe.advice import Recommendation
from thermsim.assess.simulate.result import Result
from thermsim.records.words.rounding import least_lethality_step, with_uncertainty

#: Unit of a figure, the factor from its SI unit, and the smallest uncertainty that is shown.
Unit = tuple[str, float, float]

#: By the figure's last name.
UNITS: Mapping[str, Unit] = {
    **dict.fromkeys(("r", "z", "distance", "moved"), ("mm", 1e3, 0.1)),
    **dict.fromkeys(("end_of_heating", "temperature"), ("degC", 1.0, 0.01)),
    **dict.fromkeys(("required_hold", "arrival", "f"), ("min", 1.0 / 60.0, 0.1)),
    # the smallest uncertainty of a lethality goes by its size
    **dict.fromkeys(("lethality", "heating_lethality", "least"), ("min", 1.0 / 60.0, 0.0)),
    "j": ("", 1.0, 0.001),
}
#: The same for what a reading has more than it should.
BIAS_UNITS: Mapping[str, Unit] = {
    **dict.fromkeys(("lethality", "heating_lethality", "cooling_lethality"), ("%", 100.0, 0.1)),
    **dict.fromkeys(("temperature", "cooling_temperature", "end_of_heating"), ("K", 1.0, 0.01)),
}


def figure(result: Result, name: str) -> str:
    """A figure with its numerical uncertainty and unit, as "5.90 +- 0.01 min".

    Parameters
    ----------
    result : Result
    name : str
        Dotted name of the attribute, as in ``result.uncertainty``; its last part is one of :data:`UNITS`. The place
        of a point, which was given, stands without an uncertainty.

    Returns
    -------
    str
    """
    return shown(_value(result, name), result.uncertainty.get(name), name.rpartition(".")[2])


def bias(result: Result, name: str) -> str:
    """What a reading has more than it should, as "+47.9 +- 0.1 %".

    Parameters
    ----------
    result : Result
        With a probe.
    name : str
        Dotted name of an attribute of a :class:`~thermsim.assess.probe.effect.Bias`; its last part is one of
        :data:`BIAS_UNITS`.

    Returns
    -------
    str
    """
    unit, factor, least = BIAS_UNITS[name.rpartition(".")[2]]
    return f"{signed(_value(result, name) * factor, result.uncertainty[name] * factor, least)} {unit}"


def over_reading(one: Recommendation) -> str:
    """What is left of a reading's error at a recommended depth, as "+2.3 +- 0.1 %"."""
    return f"{signed(100.0 * one.over_reading, 100.0 * one.uncertainty, 0.1)} %"


def measured(one: Recommendation) -> str:
    """The figure of the reading that a recommendation compares, as "7.26 +- 0.01 min"."""
    value = one.lethality if one.criterion == "least lethality" else one.heating_lethality
    return shown(value, one.reading_uncertainty * value, "lethality")


def true_name(one: Recommendation) -> str:
    """Dotted name of the figure that the reading at a recommended depth should show."""
    if one.criterion == "least lethality":
        return "cold_spot.least_lethality.lethality"
    return "cold_spot.slowest_heating.heating_lethality"


def shown(value: float, uncertainty: float | None, kind: str) -> str:
    """A value in SI units as text in the unit of its kind, one of :data:`UNITS`; the uncertainty if it is known."""
    unit, factor, least = UNITS[kind]
    least = least or least_lethality_step(value * factor)
    if uncertainty is None:
        digits = 3 if least < 0.01 else 1
        return f"{value * factor + 0.0:.{digits}f} {unit}".rstrip()
    return f"{with_uncertainty(value * factor, uncertainty * factor, least=least)} {unit}".rstrip()


def signed(value: float, uncertainty: float, least: float) -> str:
    """A value with its sign and its uncertainty."""
    text = with_uncertainty(value, uncertainty, least=least)
    return text if text.startswith("-") else f"+{text}"


def millimetres(length: float) -> str:
    """A length [m] in mm, to a tenth, without the unit."""
    # adding 0 turns -0.0 into 0.0
    return f"{round(1e3 * length, 1) + 0.0:.1f}"


def signed_millimetres(length: float) -> str:
    """A length [m] in mm, to a tenth, with its sign and without the unit."""
    text = millimetres(length)
    return text if text.startswith("-") or text == "0.0" else f"+{text}"


def _value(result: Result, name: str) -> Any:
    value: Any = result
    for step in name.split("."):
        value = value[int(step)] if isinstance(value, tuple) else getattr(value, step)
    return value
