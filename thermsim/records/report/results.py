"""The report's answer and its tables of results, each figure with its numerical uncertainty."""

from __future__ import annotations

from collections.abc import Iterator

from thermsim.assess.simulate.result import Result
from thermsim.assess.spots.cold_spot import Spot
from thermsim.quantities import LENGTH, PART, TIME, Quantity, minutes, mm, percent
from thermsim.records.report.markup import facts, paragraphs, table, typeset
from thermsim.records.words.figure_text import figure
from thermsim.records.words.input_range import MEANING, input_range_sentences
from thermsim.records.words.probe import named, phases

LEAST, SLOWEST = "cold_spot.least_lethality", "cold_spot.slowest_heating"
_HAPPENS = ("lethality", "heating_lethality", "end_of_heating")


def shown(result: Result, name: str) -> str:
    """A figure by its dotted name, as "5.90 ± 0.01 min", in one piece."""
    return typeset(figure(result, name))


def answer(result: Result) -> str:
    """The answer: both places, their lethality, and whether the target is reached, in plain words."""
    cold_spot, lethality = result.cold_spot, result.case.lethality
    least, slowest = cold_spot.least_lethality, cold_spot.slowest_heating
    end = minutes(result.case.process.heating_end)
    pairs = [
        (
            "Least lethality",
            f"F = {shown(result, f'{LEAST}.lethality')} at {_place(result, LEAST)}; {_where(result, least)}.",
        ),
        (
            "Slowest heating",
            f"{shown(result, f'{SLOWEST}.end_of_heating')} when heating ends ({end:.1f} min) at "
            f"{_place(result, SLOWEST)}; {_where(result, slowest)}. "
            f"F there is {shown(result, f'{SLOWEST}.lethality')}.",
        ),
        ("Distance between the two", f"{shown(result, 'cold_spot.distance')}."),
        *_input_range(result),
        *_target(result),
        *_probe(result),
    ]
    meaning = (
        f"F counts minutes at {lethality.reference:g} °C with z = {lethality.z:g} K. r is measured from the axis, z "
        "from the outside of the base. The figure after ± is the numerical uncertainty: it says how far the computed "
        "figure may lie from the exact solution of this model. It is not the uncertainty of the input data: the "
        "product's conductivity, the film coefficients and the fill usually vary by more."
    )
    return f'<div class="answer">\n{facts(pairs)}\n</div>\n{paragraphs([meaning], "small")}'


def _input_range(result: Result) -> Iterator[tuple[str, str]]:
    told = [sentence.replace("degC", "°C") for sentence in input_range_sentences(result)]
    if told:
        yield "Input range", f"{'; '.join(told)} ({MEANING})."


def _place(result: Result, name: str) -> str:
    return f"r = {shown(result, f'{name}.r')}, z = {shown(result, f'{name}.z')}"


def _where(result: Result, spot: Spot) -> str:
    depth = mm(result.case.container.outer_height - spot.z)
    within = "inside the product" if spot.inside else "on the product's surface"
    return f"{within}, {depth:.1f} mm below the container's top"


def _target(result: Result) -> Iterator[tuple[str, str]]:
    target = result.target
    if target is None:
        yield "Target", "The case names no target lethality."
        return
    asked = f"{minutes(target.lethality):g} min"
    if abs(target.least - target.lethality) <= result.uncertainty["target.least"]:
        verdict = f"Treat as NOT reached: F differs from the {asked} asked for by less than its uncertainty."
    elif target.reached:
        verdict = f"Reached: the place of least lethality gathers more than the {asked} asked for."
    else:
        verdict = f"NOT reached: the place of least lethality gathers less than the {asked} asked for."
    yield "Target", verdict
    if target.remark:
        yield "Hold for the target", f"{target.remark[0].upper()}{target.remark[1:]}."
    elif target.required_hold is not None:
        now = "" if target.hold is None else f" (now {minutes(target.hold):g} min)"
        yield (
            "Hold for the target",
            f"A hold of {shown(result, 'target.required_hold')}{now} would just reach it in this model, with the "
            "cooling counted.",
        )


def _probe(result: Result) -> Iterator[tuple[str, str]]:
    """What the case's probe reads."""
    effect = result.probe
    if effect is None:
        if result.case.probe is not None:
            yield "Probe", "Left out: its insertion is not given."
        return
    own_bias = phases(result, "probe.at_place").replace(" +- ", "\u00a0±\u00a0")
    yield (
        "The probe",
        f"{named(effect.probe)}, its tip {LENGTH.text(effect.depth)} from the outer face of the "
        f"{effect.probe.wall}, reads F = {shown(result, 'probe.reading.lethality')}. Its own bias, against its "
        f"place without it: {own_bias}.",
    )


def result_tables(result: Result) -> str:
    """Tables of both cold spots, all minima, the cold zone, the arrivals and the points."""
    heads = ("", "r", "z", "F, whole process", "F until heating ends", "T when heating ends")
    places = [("least lethality", LEAST), ("slowest heating", SLOWEST)]
    parts = ["<h3>The two cold spots</h3>", table(heads, [_row(result, *place) for place in places])]
    minima = [
        (
            *_row(result, f"{k + 1}", f"cold_spot.minima.{k}"),
            "inside" if spot.inside else "on a surface",
        )
        for k, spot in enumerate(result.cold_spot.minima)
    ]
    parts += ["<h3>All local minima of the lethality, lowest first</h3>", table((*heads, "where"), minima)]
    parts += ["<h3>The cold zone</h3>", _zone(result)]
    if result.cold_spot.arrivals:
        parts += ["<h3>Arrivals at the place of least lethality</h3>", facts(_arrivals(result))]
    if result.points:
        rows = [_row(result, curve.name, f"points.{k}") for k, curve in enumerate(result.points)]
        parts += ["<h3>Places that the case names</h3>", table(heads, rows)]
    return "\n".join(parts)


def _row(result: Result, label: str, name: str) -> tuple[str, ...]:
    return label, *(shown(result, f"{name}.{figure}") for figure in ("r", "z", *_HAPPENS))


def _zone(result: Result) -> str:
    zone = result.cold_spot.zone

    def bound(name: str, of: Quantity = LENGTH) -> str:
        return of.text(getattr(zone, name), result.uncertainty[f"cold_spot.zone.{name}"]).replace("+-", "±")

    return facts(
        [
            (
                "What it is",
                f"at most {percent(zone.margin):g} % more lethality than the least, connected to that place",
            ),
            ("r", f"{bound('r_low')} to {bound('r_high')}"),
            ("z", f"{bound('z_low')} to {bound('z_high')}"),
            ("Share of the product's volume", bound("part", PART)),
        ]
    )


def _arrivals(result: Result) -> Iterator[tuple[str, str]]:
    for k, (temperature, time) in enumerate(result.cold_spot.arrivals):
        unsure = result.uncertainty.get(f"cold_spot.arrivals.{k}")
        if time is None:
            text = "not reached"
        elif unsure is None:
            text = f"{TIME.text(time)} (a coarser computation does not reach it)"
        else:
            text = TIME.text(time, unsure).replace("+-", "±")
        yield f"{temperature:g} °C", text
