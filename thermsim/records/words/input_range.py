"""What the ranges of film coefficients leave open, in words: apart from the numerical uncertainty."""

from __future__ import annotations

from thermsim.assess.simulate.result import Result

#: What an input range is, for those who read the sentences.
MEANING = "films taken from a medium's name at the ends of what is usual; apart from the numerical uncertainty"


def input_range_sentences(result: Result) -> list[str]:
    """Both cold spots with all assumed films at their low and at their high ends."""
    found = result.input_range
    if found is None:
        return []
    sentences = []
    for name, (least, slowest) in (("low", found.low), ("high", found.high)):
        sentences.append(
            f"films {name}: F = {least.lethality / 60:.3g} min at r = {least.r * 1e3:.1f}, "
            f"z = {least.z * 1e3:.1f} mm; slowest heating {slowest.end_of_heating:.2f} degC when heating ends, "
            f"at r = {slowest.r * 1e3:.1f}, z = {slowest.z * 1e3:.1f} mm"
        )
    return sentences
