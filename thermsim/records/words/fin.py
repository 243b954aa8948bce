"""The first look by the fin equation: in plain text for the terminal, and as plain numbers in mm, min and degC."""

from __future__ import annotations

import textwrap

from thermsim.assess.depth.fin import DIFFERS, QuickLook
from thermsim.assess.probe.advice import GOOD
from thermsim.assess.simulate.cautions import CONDUCTION_ONLY, NO_VALIDATION
from thermsim.quantities import percent
from thermsim.records.numbers.fin import may_be_good
from thermsim.records.words.figure_text import millimetres
from thermsim.text import plain

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
            f"{percent(one.over_reading):>+17.1f}{percent(one.heating_bias):>+12.1f}{one.end_of_heating:>+17.2f}"
            f"{'maybe' if may_be_good(one) else 'NO':>7}"
        )
    lines += textwrap.wrap(
        f"NO: more than {percent(GOOD):.0f} % over-read, or more than that added by the probe itself until heating "
        "ends, which is the unsafe side; errors of heating and of cooling partly cancel in the whole.",
        116,
    )
    lines += textwrap.wrap(f"Beware: {DIFFERS}", 116)
    lines += textwrap.wrap(f"Caution: {NO_VALIDATION} {CONDUCTION_ONLY}", 116)
    return [*lines, f"Worked out in {look.seconds:.1f} s."]
