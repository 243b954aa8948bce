"""The first look by the fin equation: in plain text for the terminal, and as plain numbers in mm, min and degC."""

from __future__ import annotations

import textwrap

from thermsim.assess.advice import GOOD
from thermsim.assess.cautions import CONDUCTION_ONLY, NO_VALIDATION
from thermsim.assess.fin import DIFFERS, FinLook, QuickLook
from thermsim.case.checks import plain
from thermsim.records.figure_text import millimetres
from thermsim.records.keys import MM, PERCENT

_NAME = 26


def fin_sentences(look: QuickLook) -> list[str]:
    """Lines for the terminal: a row for each probe and wall, and how the look differs from the full answer."""
    lines = [
        f"First look     {plain(look.case.title or look.case.file, 80)}",
        f"{'probe':<30}{'entry':<6}{'depth, mm':>10}{'over-reading, %':>17}{'heating, %':>12}{'when it ends, K':>17}"
        f"{'good':>7}",
    ]
    for one in look.looks:
        lines.append(
            f"{plain(one.probe.name, _NAME):<30}{one.probe.entry:<6}{millimetres(one.depth):>10}"
            f"{PERCENT * one.over_reading:>+17.1f}{PERCENT * one.heating_bias:>+12.1f}{one.end_of_heating:>+17.2f}"
            f"{'maybe' if may_be_good(one) else 'NO':>7}"
        )
    lines += textwrap.wrap(
        f"NO: more than {PERCENT * GOOD:.0f} % over-read, or more than that added by the probe itself until heating "
        "ends, which is the unsafe side; errors of heating and of cooling partly cancel in the whole.",
        116,
    )
    lines += textwrap.wrap(f"Beware: {DIFFERS}", 116)
    lines += textwrap.wrap(f"Caution: {NO_VALIDATION} {CONDUCTION_ONLY}", 116)
    return [*lines, f"Worked out in {look.seconds:.1f} s."]


def may_be_good(look: FinLook) -> bool:
    """Whether a look leaves hope that the full answer calls the depth good."""
    return abs(look.over_reading) <= GOOD and look.heating_bias <= GOOD


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
                "over_reading_percent": one.over_reading * PERCENT,
                "heating_bias_percent": one.heating_bias * PERCENT,
                "end_of_heating_K": one.end_of_heating,
                "may_be_good": may_be_good(one),
            }
            for one in look.looks
        ],
        "differs": DIFFERS,
        "seconds": look.seconds,
    }
