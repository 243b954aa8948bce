"""The first look by the fin equation in plain text for the terminal."""

from __future__ import annotations

from thermsim.assess.depth.fin import DIFFERS, QuickLook
from thermsim.assess.probe.mismatch import GOOD
from thermsim.assess.simulate.cautions import notices_of_case
from thermsim.assess.simulate.probe_cautions import OFF_HEIGHT
from thermsim.quantities import LENGTH, percent
from thermsim.records.numbers.fin import may_be_good
from thermsim.records.words.answer import CAUTION
from thermsim.records.words.depth import entry_text
from thermsim.records.words.figure_text import millimetres
from thermsim.records.words.parts import Entry, Section, details, facts, flow_first, table
from thermsim.records.words.screen import screen_of
from thermsim.text import plain

_HEADS = ("probe", "entry", "depth, mm", "mismatch, %", "over-reads, %", "heating, %", "when it ends, K", "good")
_NO = (
    f"a mismatch of more than {percent(GOOD):.0f} % with the cold spot's history, or more than that over-read until "
    "heating ends, which is the unsafe side; in the whole the errors of heating and of cooling partly cancel"
)


def _off(look: QuickLook) -> list[Entry]:
    """Holes in the side wall that do not lie at the cold spot's height."""
    spot = look.cold_spot
    found = {one.probe.z for one in look.looks if one.probe.entry == "side" and one.probe.z is not None}
    return [
        (
            "Hole",
            f"from the side at z = {LENGTH.text(z)} the axis lies {LENGTH.text(abs(spot.z - z))} "
            f"{'below' if spot.z > z else 'above'} the cold spot's height: the full answer says what that costs",
        )
        for z in sorted(found)
        if abs(spot.z - z) > max(OFF_HEIGHT, look.case.accuracy.place)
    ]


def fin_sentences(look: QuickLook, *, full: bool = False) -> list[str]:
    """Lines for the terminal: a row for each probe and wall, and how the look differs from the full answer."""
    rows = [
        (
            plain(one.probe.name, 26),
            entry_text(one.probe),
            millimetres(one.depth),
            f"{percent(one.mismatch):.1f}",
            f"{percent(one.over_reading):+z.1f}",
            f"{percent(one.heating_over_reading):+z.1f}",
            f"{one.end_of_heating:+z.2f}",
            "maybe" if may_be_good(one) else "NO",
        )
        for one in look.looks
    ]
    about = [("NO", _NO), CAUTION, ("Time", f"worked out in {look.seconds:.1f} s")]
    return screen_of(
        [
            *flow_first(notices_of_case(look.case))[0],
            Section("", (facts([("First look", plain(look.case.title or look.case.file, 80))]), table(_HEADS, rows))),
            Section("", (facts([*_off(look), ("Beware", DIFFERS)]),)),
            *details(about),
        ],
        full=full,
    )
