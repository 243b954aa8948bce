"""The report's parts about a probe's depth: the recommendation, and the tables that it rests on."""

from __future__ import annotations

from collections.abc import Iterator

from thermsim.assess.probe.advice import Advice, Setting, Stem
from thermsim.assess.simulate.result import Result
from thermsim.case.container import Container
from thermsim.quantities import LETHALITY, percent
from thermsim.records.numbers.probe import tip_at
from thermsim.records.report.markup import plain_mm
from thermsim.records.words.figure_text import (
    millimetres,
    signed_millimetres,
)
from thermsim.records.words.parts import Heading, Part, paragraphs, table

_READS = (
    "{0} [min]",
    "without",
    "{0} until heating ends [min]",
    "without",
    "T when heating ends [°C]",
    "without",
    "mismatch",
    "over-reading",
)
_SETTING = (
    "take [mm]",
    "sticks out [mm]",
    "tip at [mm]",
    "too deep by [mm]",
    "in the window",
    "{0} [min]",
    "mismatch",
    "until heating ends",
)
_STEM = (
    "stem diameter [mm]",
    "conductivity [W/mK]",
    "bias of lethality until heating ends",
    "of temperature when it ends",
)


def advice_tables(result: Result, advice: Advice) -> tuple[Part, ...]:
    """Tables of the ladder, of the hardware and of other stems: what the first section rests on."""
    parts: list[Part] = [
        Heading("The ladder of depths"),
        paragraphs(
            [f"Mismatch and over-reading for the {advice.criterion}. Without: the same place without the probe."],
            small=True,
        ),
        table(_heads(result, advice), _rungs(advice, result.case.container)),
    ]
    if advice.settings:
        parts.append(Heading("Settings of the hardware at hand, the nearest first"))
        heads = [head.format(result.case.lethality.symbol) for head in _SETTING]
        parts.append(table(heads, [_setting(one) for one in advice.settings]))
    if advice.stems:
        parts += [Heading("Other stems at this depth"), table(_STEM, [_stem(one) for one in advice.stems])]
    return tuple(parts)


def _heads(result: Result, advice: Advice) -> tuple[str, ...]:
    """Heads of the ladder's columns: one from the side moves along a radius."""
    tip = f"tip from the {result.case.container.centre} [mm]" if advice.own.probe.entry == "side" else "tip z [mm]"
    return "depth [mm]", tip, *(head.format(result.case.lethality.symbol) for head in _READS)


def _rungs(advice: Advice, container: Container) -> Iterator[tuple[str, ...]]:
    own = advice.own
    truth = own.recommended(advice.criterion).truth
    for rung in own.ladder:
        lethalities = (rung.lethality, rung.without_lethality, rung.heating_lethality, rung.without_heating)
        yield (
            millimetres(rung.depth),
            millimetres(tip_at(rung.depth, own.probe, container)),
            *(_minutes(lethality) for lethality in lethalities),
            f"{rung.end_of_heating:.2f}",
            f"{rung.without_end:.2f}",
            _percent(own.profile.at(rung.depth, advice.criterion), sign=False),
            _percent(rung.measure(advice.criterion) / truth - 1.0),
        )


def _percent(part: float, *, sign: bool = True) -> str:
    return f"{percent(part):{'+' if sign else ''}z.1f}\u00a0%"


def _minutes(lethality: float) -> str:
    """A lethality [s] in min; small ones with more decimals."""
    return LETHALITY.number(lethality, 2 if lethality >= 6.0 else 4)


def _setting(setting: Setting) -> tuple[str, ...]:
    take = " + ".join(plain_mm(height) for height in setting.spacers)
    take = f"spacers {take}" if take else "no spacer"
    if setting.length is not None:
        take = f"probe of {plain_mm(setting.length)}"
    return (
        take,
        "" if setting.stick_out is None else millimetres(setting.stick_out),
        millimetres(setting.depth),
        signed_millimetres(setting.misfit),
        "yes" if setting.in_window else "NO",
        *(
            ("-", "-", "-")
            if (one := setting.worth) is None
            else (
                LETHALITY.number(one.lethality),
                _percent(one.mismatch, sign=False),
                _percent(one.heating_over_reading),
            )
        ),
    )


def _stem(stem: Stem) -> tuple[str, ...]:
    return (
        plain_mm(stem.diameter),
        f"{stem.conductivity:.3g}",
        f"{percent(stem.heating_bias):+z.1f}\u00a0%",
        f"{stem.temperature:+z.2f}\u00a0K",
    )
