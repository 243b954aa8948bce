"""The first look by the fin equation as plain numbers in mm, min and degC."""

from __future__ import annotations

from thermsim.assess.depth.fin import DIFFERS, FinLook, QuickLook
from thermsim.assess.probe.mismatch import GOOD
from thermsim.assess.simulate.cautions import notices_of_case
from thermsim.quantities import DIFFERENCE, LENGTH, PART
from thermsim.records.numbers.summary import notices_record


def may_be_good(look: FinLook) -> bool:
    """Tell whether a look leaves hope that the full answer calls the depth good."""
    return look.mismatch <= GOOD and look.heating_over_reading <= GOOD


def fin_record(look: QuickLook) -> dict[str, object]:
    """The look's figures under the keys of the full answer's candidates."""
    return {
        "method": "fin",
        "title": look.case.title,
        "cold_spot": LENGTH.record(r=look.cold_spot.r, z=look.cold_spot.z),
        "candidates": [
            {
                "name": one.probe.name,
                "entry": one.probe.entry,
                **LENGTH.record(z=one.probe.z, insertion=one.depth),
                **PART.record(
                    mismatch=one.mismatch,
                    over_reading=one.over_reading,
                    heating_over_reading=one.heating_over_reading,
                    heating_bias=one.heating_bias,
                ),
                **DIFFERENCE.record(end_of_heating=one.end_of_heating),
                "may_be_good": may_be_good(one),
            }
            for one in look.looks
        ],
        "differs": DIFFERS,
        "notices": notices_record(notices_of_case(look.case)),
        "seconds": look.seconds,
    }
