"""Figures that the ranges of film coefficients leave open, in words: apart from the numerical uncertainty."""

from __future__ import annotations

from thermsim.assess.simulate.result import Result
from thermsim.quantities import LENGTH, LETHALITY

#: What an input range is, for those who read the sentences.
MEANING = "films taken from a medium's name at the ends of what is usual; apart from the numerical uncertainty"


def input_range_sentences(result: Result) -> list[str]:
    """Both cold spots with all assumed films at their low and at their high ends."""
    found = result.input_range
    if found is None:
        return []
    sentences, symbol = [], result.case.lethality.symbol
    for name, (least, slowest) in (("low", found.low), ("high", found.high)):
        sentences.append(
            f"films {name}: {symbol} = {LETHALITY.text(least.lethality)} at r = {LENGTH.number(least.r)}, "
            f"z = {LENGTH.text(least.z)}; slowest heating {slowest.end_of_heating:.2f} degC when heating ends, "
            f"at r = {LENGTH.number(slowest.r)}, z = {LENGTH.text(slowest.z)}"
        )
    return sentences
