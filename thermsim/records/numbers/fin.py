"""The first look by the fin equation, as plain numbers in mm, min and degC."""

from __future__ import annotations

from thermsim.assess.depth.fin import DIFFERS, FinLook, QuickLook
from thermsim.assess.probe.mismatch import GOOD
from thermsim.records.numbers.keys import MM, PERCENT


def may_be_good(look: FinLook) -> bool:
    """Whether a look leaves hope that the full answer calls the depth good."""
    return look.mismatch <= GOOD and look.heating_over_reading <= GOOD


def fin_record(look: QuickLook) -> dict[str, object]:
    """The look's figures under the keys of the full answer's candidates."""
    return {
        "method": "fin",
        "title": look.case.title,
        "cold_spot": {"r_mm": look.cold_spot.r * MM, "z_mm": look.cold_spot.z * MM},
        "candidates": [
            {
                "name": one.probe.name,
                "entry": one.probe.entry,
                "z_mm": None if one.probe.z is None else one.probe.z * MM,
                "insertion_mm": one.depth * MM,
                "mismatch_percent": one.mismatch * PERCENT,
                "over_reading_percent": one.over_reading * PERCENT,
                "heating_over_reading_percent": one.heating_over_reading * PERCENT,
                "heating_bias_percent": one.heating_bias * PERCENT,
                "end_of_heating_K": one.end_of_heating,
                "may_be_good": may_be_good(one),
            }
            for one in look.looks
        ],
        "differs": DIFFERS,
        "seconds": look.seconds,
    }
