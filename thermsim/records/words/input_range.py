"""Figures that the ranges of film coefficients leave open, in words: apart from the numerical uncertainty."""

from __future__ import annotations

from thermsim.assess.simulate.result import Result
from thermsim.assess.spots.cold_spot import Spot
from thermsim.quantities import LENGTH, LETHALITY, TEMPERATURE, Quantity
from thermsim.systems import told

#: What an input range is, for those who read the sentences.
MEANING = "films taken from a medium's name at the ends of what is usual; apart from the numerical uncertainty"


def input_range_sentence(result: Result) -> str:
    """Both cold spots with all assumed films at their low and at their high ends; empty where none is assumed."""
    found = result.input_range
    if found is None:
        return ""
    (low, slow), (high, slow_high) = found.low, found.high

    def place(one: Spot, other: Spot) -> str:
        r, z = (_both(LENGTH, getattr(one, axis), getattr(other, axis)) for axis in "rz")
        return f"r = {r}, z = {z}"

    lethality = _both(LETHALITY, low.lethality, high.lethality)
    ends = _both(TEMPERATURE, slow.end_of_heating, slow_high.end_of_heating)
    return (
        f"films low to high: {result.case.lethality.symbol} = {lethality} at {place(low, high)}; slowest heating "
        f"{ends} when heating ends, at {place(slow, slow_high)}"
    )


def _both(quantity: Quantity, low: float, high: float) -> str:
    """A figure at both ends, once where it is the same."""
    one, other = quantity.text(low), quantity.text(high)
    return one if told(one) == told(other) else f"{one.removesuffix(quantity.unit)}to {other}"
