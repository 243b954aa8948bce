"""The first look by the fin equation, in plain text for the terminal."""

from __future__ import annotations

import textwrap

from thermsim.assess.depth.fin import DIFFERS, QuickLook
from thermsim.assess.probe.mismatch import GOOD
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
        f"{'probe':<30}{'entry':<6}{'depth, mm':>10}{'mismatch, %':>13}{'over-reads, %':>15}{'heating, %':>12}"
        f"{'when it ends, K':>17}{'good':>7}",
    ]
    for one in look.looks:
        lines.append(
            f"{plain(one.probe.name, _NAME):<30}{one.probe.entry:<6}{millimetres(one.depth):>10}"
            f"{percent(one.mismatch):>13.1f}{percent(one.over_reading):>+15.1f}"
            f"{percent(one.heating_over_reading):>+12.1f}{one.end_of_heating:>+17.2f}"
            f"{'maybe' if may_be_good(one) else 'NO':>7}"
        )
    lines += textwrap.wrap(
        f"NO: a mismatch of more than {percent(GOOD):.0f} % with the cold spot's history, or more than that "
        "over-read until heating ends, which is the unsafe side; in the whole the errors of heating and of cooling "
        "partly cancel.",
        116,
    )
    lines += textwrap.wrap(f"Beware: {DIFFERS}", 116)
    lines += textwrap.wrap(f"Caution: {NO_VALIDATION} {CONDUCTION_ONLY}", 116)
    return [*lines, f"Worked out in {look.seconds:.1f} s."]
