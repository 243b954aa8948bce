"""The report's parts about a probe's depth: the recommendation, and the tables that it rests on."""

from __future__ import annotations

from collections.abc import Iterator

from thermsim.assess.probe.advice import Advice, Candidate, Recommendation, Stem
from thermsim.assess.probe.hardware import Setting
from thermsim.assess.probe.mismatch import GOOD
from thermsim.assess.simulate.result import Result
from thermsim.case.container import Container
from thermsim.case.study import CRITERIA
from thermsim.quantities import LETHALITY, percent
from thermsim.records.numbers.probe import correction_factor, phase_factors, tip_at
from thermsim.records.report.markup import facts, paragraphs, plain_mm, table, typeset
from thermsim.records.words.depth import (
    SETTINGS,
    by_phase,
    confirmation_sentence,
    heating_bias,
    how_to_set,
    mismatch,
    other_criteria,
    reads,
    setting_sentence,
    window,
)
from thermsim.records.words.figure_text import (
    figure,
    measured,
    millimetres,
    over_reading,
    signed_millimetres,
    true_name,
)

_DEPTH = ("depth [mm]", "window [mm]")
_LADDER = (
    "depth [mm]",
    "tip z [mm]",
    "F [min]",
    "without",
    "F until heating ends [min]",
    "without",
    "T when heating ends [°C]",
    "without",
    "mismatch",
    "over-reading",
)
_SETTING = ("take", "sticks out [mm]", "tip at [mm]", "too deep by [mm]", "in the window")
_STEM = (
    "stem diameter [mm]",
    "conductivity [W/mK]",
    "bias of lethality until heating ends",
    "of temperature when it ends",
)


def advice_answer(result: Result, advice: Advice) -> str:
    """How deep the probe should go, with the hardware at hand, in plain words."""
    margin = advice.own.recommended(advice.criterion).margin
    meaning = (
        "The depth counts from the outer face of the wall that is entered to the tip. The mismatch is how far the "
        "reading's lethal rate is from that of the place it is to show, added up over the process without regard to "
        "sign, as a part of that place's lethality: errors of heating and cooling cannot cancel in it. Within the "
        f"window it is at most {percent(margin):g} points above its least. A correction factor turns the lethality "
        "that is read into what it should be, in this case alone: another fill, product or process has another. The "
        "figure after ± is the numerical uncertainty."
    )
    return f'<div class="answer">\n{facts(_advised(result, advice))}\n</div>\n{paragraphs([meaning], "small")}'


def _advised(result: Result, advice: Advice) -> Iterator[tuple[str, str]]:
    own = advice.own
    chosen = own.recommended(advice.criterion)
    yield "Recommended depth", f"{how_to_set(own, chosen)}. Probe: {own.probe.name}."
    if not chosen.good:
        yield (
            "Verdict",
            f"NOT GOOD: the mismatch, or the over-reading until heating ends, is above {percent(GOOD):g} %.",
        )
    yield from _worth(result, chosen)
    for criterion in other_criteria(advice):
        one = own.recommended(criterion)
        yield f"Or, to show the {criterion}", f"{how_to_set(own, one)}. The probe {_signs(reads(result, one))}."
    for k, setting in enumerate(advice.settings[:SETTINGS]):
        yield "" if k else "With the hardware at hand", f"{setting_sentence(setting, own.probe)}."
    if result.case.stock is not None and not advice.settings:
        yield "With the hardware at hand", "Nothing brings the tip to a depth that is possible."
    if len(own.ladder) > 1:
        sentence = confirmation_sentence(advice)
        yield "To confirm it", f"{sentence[0].upper()}{sentence[1:]}."


def _worth(result: Result, one: Recommendation) -> Iterator[tuple[str, str]]:
    yield "How well it follows", f"{_signs(mismatch(one)).capitalize()} of lethality: it {by_phase(one)}."
    yield "What it reads there", f"The probe {_signs(reads(result, one))}."
    yield "Correction", _correction(one)
    own_bias = _signs(heating_bias(result, one))
    yield "The probe's own bias", f"Until heating ends {own_bias} of lethality, against its place without it."


def _correction(one: Recommendation) -> str:
    """The factors for both phases, and the single one where they are alike."""
    factor, phases = correction_factor(one), phase_factors(one)
    apart = f"lethality until heating ends × {phases['heating']:.3f}, in cooling × {phases['cooling']:.3f}"
    if factor is None:
        return f"{apart}; no single factor serves, as the two phases differ by more than the window."
    return f"whole lethality × {factor:.3f} ({apart})."


def _signs(text: str) -> str:
    return text.replace(" +- ", "\u00a0±\u00a0")


def advice_tables(result: Result, advice: Advice) -> str:
    """Tables of the criteria, the candidates, the ladder, the hardware, the confirmation depths and other stems."""
    own = advice.own
    aims = ("what it is to show", *_DEPTH, "mismatch", "reads", "should read", "over-reading")
    compared = (
        "probe",
        "entry",
        *_DEPTH,
        "mismatch",
        "over-reading until heating ends",
        "in cooling",
        "in all",
        "good",
    )
    parts = [
        "<h3>What the reading is to show</h3>",
        table(aims, [_criterion(result, own.recommended(criterion)) for criterion in CRITERIA]),
        "<h3>Probes and entries, the good ones first, by their mismatch</h3>",
        table(compared, [_candidate(advice, one) for one in advice.candidates]),
        "<h3>The ladder of depths</h3>",
        paragraphs(
            [f"Mismatch and over-reading for the {advice.criterion}. Without: the same place without the probe."],
            "small",
        ),
        table(_heads(advice), _rungs(advice, result.case.container)),
    ]
    if advice.settings:
        parts.append("<h3>Settings of the hardware at hand, the nearest first</h3>")
        parts.append(table(_SETTING, [_setting(one) for one in advice.settings]))
    if advice.confirmation:
        depths = ", ".join(f"{millimetres(depth)} mm" for depth in advice.confirmation)
        parts += ["<h3>Confirmation depths</h3>", paragraphs([f"{depths}. {_confirm(advice)}"])]
    if advice.stems:
        parts += ["<h3>Other stems at this depth</h3>", table(_STEM, [_stem(one) for one in advice.stems])]
    return "\n".join(parts)


def _criterion(result: Result, one: Recommendation) -> tuple[str, ...]:
    what = "whole process" if one.criterion == "least lethality" else "until heating ends"
    return (
        f"{one.criterion} ({what})",
        millimetres(one.depth),
        window(one),
        _percent(one.mismatch, sign=False),
        typeset(measured(one)),
        typeset(figure(result, true_name(one))),
        typeset(over_reading(one)),
    )


def _candidate(advice: Advice, candidate: Candidate) -> tuple[str, ...]:
    one = candidate.recommended(advice.criterion)
    return (
        f"{candidate.probe.name} (own)" if candidate is advice.own else candidate.probe.name,
        candidate.probe.entry if candidate.probe.z is None else f"side, z = {millimetres(candidate.probe.z)} mm",
        millimetres(one.depth),
        window(one),
        _percent(one.mismatch, sign=False),
        _percent(one.heating_over_reading),
        _percent(one.cooling_over_reading),
        typeset(over_reading(one)),
        "yes" if one.good else "NO",
    )


def _heads(advice: Advice) -> tuple[str, ...]:
    """Heads of the ladder's columns: one from the side moves along a radius."""
    if advice.own.probe.entry != "side":
        return _LADDER
    return (_LADDER[0], "tip from the axis [mm]", *_LADDER[2:])


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
    return f"{percent(part):{'+' if sign else ''}.1f}\u00a0%"


def _minutes(lethality: float) -> str:
    """A lethality [s] in min; small ones with more decimals."""
    return LETHALITY.number(lethality, 2 if lethality >= 6.0 else 4)


def _setting(setting: Setting) -> tuple[str, ...]:
    take = " + ".join(plain_mm(height) for height in setting.spacers)
    take = f"spacers {take} mm" if take else "no spacer"
    if setting.length is not None:
        take = f"probe of {plain_mm(setting.length)} mm"
    return (
        take,
        "" if setting.stick_out is None else millimetres(setting.stick_out),
        millimetres(setting.depth),
        signed_millimetres(setting.misfit),
        "yes" if setting.in_window else "NO",
    )


def _confirm(advice: Advice) -> str:
    return (
        "Measured there too, the readings tell whether the prediction holds: when heating ends they differ from that "
        f"at the recommended depth by at least twice, or four times, the sensor's {advice.sensor_accuracy:g} K."
    )


def _stem(stem: Stem) -> tuple[str, ...]:
    return (
        plain_mm(stem.diameter),
        f"{stem.conductivity:g}",
        f"{percent(stem.heating_bias):+.1f}\u00a0%",
        f"{stem.temperature:+.2f}\u00a0K",
    )
