"""A study in plain text: what was varied, a table for the bench, what the figures hang on, one depth for all."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.study.cautions import notices_of_study
from thermsim.assess.study.plan import FIGURES, StudyResult
from thermsim.assess.study.robust_depth import RobustDepth, robust_depth
from thermsim.assess.study.sensitivity import Indices, sobol_indices, tornado
from thermsim.quantities import LENGTH, mm, percent, quantity_of
from thermsim.records.words.answer import CAUTION
from thermsim.records.words.parts import Entry, Heading, Part, Section, details, facts, flow_first, noticed, table
from thermsim.records.words.screen import screen_of
from thermsim.systems import row_shown, told_axis
from thermsim.text import plain

Array = NDArray[np.float64]
#: Figures in the tables, in their order, and how they are headed, {0} for the name of the lethality.
HEADS = {
    "least_lethality": "least {0}",
    "least_z": "z of it",
    "least_r": "r of it",
    "slowest_end_of_heating": "slowest T",
    "slowest_z": "z of it",
    "reading_lethality": "{0} read",
    "bias": "bias",
    "recommended_depth": "depth",
    "mismatch": "mismatch",
    "heating_over_reading": "heating",
    "over_reading": "in all",
    "bias_until_heating_ends": "while heating",
    "required_hold": "hold",
}
#: Of these a scan of two quantities has tables.
_CROSSED = ("least_lethality", "least_z", "slowest_z", "bias", "recommended_depth", "required_hold")
#: Longer paths go on two lines in a figure.
LONG_LABEL = 24
PERCENTILES = (5, 50, 95)


def study_answer(result: StudyResult, *, full: bool = False) -> list[str]:
    """Findings of a study as lines of text (ASCII, save for the user's own words): the short screen, or all of it."""
    places = ("Places", "z from the outside of the base, r from the axis")
    return screen_of([*study_sections(result), *details([places, CAUTION])], full=full)


def study_sections(result: StudyResult) -> list[Section]:
    """Variation, dangers, the tables for the bench, and one depth for all."""
    flows, notices = flow_first(notices_of_study(result))
    found = [
        *flows,
        Section("The study", (facts([*_found(result), ("Study", _what(result))]),)),
        *noticed("Danger", notices, "danger"),
        *noticed("Warnings and notes", notices, "warning", "note"),
    ]
    if not result.good.any():
        return found
    tables: list[tuple[Part, ...]] = [
        ((Heading(title), table(heads, rows)) if title else (table(heads, rows),))
        for title, (heads, *rows) in study_tables(result)
    ]
    more = [*_indices(result), *_depth(result)]
    depth = [Section("What it hangs on, and one depth for all", (facts(more, framed=True),))] if more else []
    further = tuple(part for parts in tables[1:] for part in parts)
    outcome = [Section("Outcome", tables[0]), Section("Further figures", further, detail=True)]
    return [*found, *depth, *(outcome if further else outcome[:1])]


def quantity_label(result: StudyResult, k: int) -> str:
    """A quantity as it is shown: its path, which ends with the unit."""
    return plain(result.plan.places[k].path, 80)


def quantity_name(result: StudyResult, k: int) -> str:
    """A quantity in words with its unit, for an axis: "fill: headspace [mm]", "hold: film [W/m2K]"."""
    place = result.plan.places[k]
    above, _, key = place.path.rpartition(".")
    words = key.removesuffix(f"_{quantity_of(key).suffix}").replace("_", " ")
    unit = f" [{place.unit}]" if place.unit else ""
    return plain(
        f"{above.removeprefix('process.stage.').removeprefix('materials.').replace('.', ', ')}: {words}{unit}", 80
    )


def short_lines(label: str) -> str:
    """A quantity's name on two lines, where it is a long one: figures have little room for names."""
    above, _, last = label.rpartition(": ")
    return f"{above}:\n{last}" if above and len(label) > LONG_LABEL else label


def shown_figures(result: StudyResult) -> list[str]:
    """Figures that a table of the study shows."""
    return [name for name in HEADS if result.shown(name)]


def study_tables(result: StudyResult) -> list[tuple[str, list[list[str]]]]:
    """Short tables for the bench, each with its title ("" for none) and its heads first.

    Of a scan of one quantity every run, of two a table of each figure; of a tornado its ends, of a spread
    percentiles.
    """
    study = result.plan.study
    if study.kind == "spread":
        return [("", _spread_rows(result))]
    if study.kind == "tornado":
        return [("", _tornado_rows(result))]
    if len(study.vary) == 1:
        return [("", _scan_rows(result))]
    across = f"{quantity_label(result, 0)} downwards, {quantity_label(result, 1)} to the right"
    return [
        (f"{_label(name)}: {across}", _crossed(result, name)) for name in shown_figures(result) if name in _CROSSED
    ]


def _what(result: StudyResult) -> str:
    plan = result.plan
    names = ", ".join(quantity_label(result, k) for k in range(len(plan.places)))
    drawn = ""
    if plan.study.kind == "spread":
        samples = f"{plan.study.samples} points, twice," if plan.study.indices else f"{plan.study.samples} points"
        drawn = f"; {samples} by {plan.study.sampler} sampling, seed {plan.study.seed}"
    return f"{plan.study.kind} of {names}; {plan.runs} runs{drawn}"


def _found(result: StudyResult) -> Iterator[Entry]:
    """Between what the figures lie that matter most."""
    symbol = result.case.lethality.symbol
    named = (("Least lethality", "least_lethality", f"{symbol} ="), ("Its place", "least_z", "z ="),
             ("Hold", "required_hold", "that just reaches the target:"),
             ("Own depths", "recommended_depth", "each run's own best depth is"))  # fmt: skip
    for label, name, words in named:
        if result.shown(name):
            values = result.figures[name][np.isfinite(result.figures[name])]
            low, high = (number(name, float(value)) for value in (values.min(), values.max()))
            span = low if low == high else f"{low} to {high}"
            least = _least_at(result) if name == "least_lethality" and low != high else ""
            yield label, f"{words} {span} {row_shown(FIGURES[name].quantity).unit} over {values.size} runs{least}"


def _least_at(result: StudyResult) -> str:
    """Setting of the least lethality: of a scan all that varies, of a tornado what is not as in the case."""
    plan = result.plan
    if plan.study.kind == "spread":
        return ""
    run = int(np.nanargmin(result.figures["least_lethality"]))
    settings = [
        f"{quantity_label(result, k)} = {plan.values[run, k]:g}"
        for k in range(len(plan.places))
        if plan.study.kind == "scan" or plan.values[run, k] != plan.values[0, k]
    ]
    return f"; least at {', '.join(settings) or 'the case as it is'}"


def number(name: str, value: float) -> str:
    """A figure in the unit that is asked for, with the decimals that are worth showing."""
    if not np.isfinite(value):
        return "-"
    row = row_shown(FIGURES[name].quantity)
    return row.number(value, row.digits)


def _head(result: StudyResult, name: str) -> str:
    return f"{HEADS[name].format(result.case.lethality.symbol)} {row_shown(FIGURES[name].quantity).unit}"


def _label(name: str) -> str:
    """A figure with the unit that is asked for."""
    return told_axis(FIGURES[name].label)[1]


def _scan_rows(result: StudyResult) -> list[list[str]]:
    names = shown_figures(result)
    rows = [[quantity_label(result, 0), *(_head(result, name) for name in names)]]
    for run, (value,) in enumerate(result.plan.values):
        rows.append([f"{value:g}", *(number(name, result.figures[name][run]) for name in names)])
    return rows


def _crossed(result: StudyResult, name: str) -> list[list[str]]:
    """One figure of a scan of two quantities."""
    down, right = (one.values for one in result.plan.study.vary)
    values = result.figures[name].reshape(len(down), len(right))
    heads = ["", *(f"{value:g}" for value in right)]
    return [
        heads,
        *([f"{value:g}", *(number(name, x) for x in row)] for value, row in zip(down, values, strict=True)),
    ]


def _tornado_rows(result: StudyResult) -> list[list[str]]:
    """Quantities by what they do to the least lethality, each with the figures at its two ends."""
    names = shown_figures(result)
    rows = [["", *(_head(result, name) for name in names)]]
    rows.append(["as it is", *(number(name, result.figures[name][0]) for name in names)])
    for bar in tornado(result, "least_lethality"):
        place = result.plan.study.vary[bar.quantity]
        for end, run in ((place.low, 1 + 2 * bar.quantity), (place.high, 2 + 2 * bar.quantity)):
            label = f"{quantity_label(result, bar.quantity)} = {end:g}"
            rows.append([label, *(number(name, result.figures[name][run]) for name in names)])
    return rows


def _spread_rows(result: StudyResult) -> list[list[str]]:
    """Percentiles of the figures over the independent runs."""
    rows = [["", "lowest", *(f"{part} %" for part in PERCENTILES), "highest"]]
    for name in shown_figures(result):
        values = result.sampled(name)
        if values.size:
            levels = [values.min(), *np.percentile(values, PERCENTILES), values.max()]
            rows.append([_label(name), *(number(name, float(level)) for level in levels)])
    return rows


def ranked(result: StudyResult, indices: Indices) -> str:
    """Quantities by their total-order indices, in words."""
    order = np.argsort(-indices.total)
    return ", ".join(
        f"{quantity_label(result, int(k))} {indices.total[k]:.2f} ({indices.total_interval[k, 0]:.2f} to "
        f"{indices.total_interval[k, 1]:.2f})"
        for k in order
    )


def _indices(result: StudyResult) -> Iterator[Entry]:
    for name in ("least_lethality", "least_z", "bias"):
        indices = sobol_indices(result, result.figures[name]) if result.shown(name) else None
        if indices is not None:
            what = name.replace("_", " ")
            yield "Depends on", f"{what}, total-order Sobol indices: {ranked(result, indices)}"


def depth_sentences(result: StudyResult, robust: RobustDepth) -> Iterator[Entry]:
    """Readings at one depth for all runs, by label."""
    k, mean = robust.chosen, robust.least_mean
    tolerance, criterion = result.plan.study.tip_tolerance, result.plan.study.criterion
    around = f", the tip within {mm(tolerance):g} mm of it" if tolerance else ""
    bad = robust.runs - int(robust.good[k])
    verdict = f"NOT GOOD in {bad} of the runs" if bad else "good in all"
    heating, in_all = (_ends(values[:, k]) for values in (robust.heating, robust.in_all))
    what = "in all" if criterion == "least lethality" else "of what it compares"
    beyond = ", at the end of what is possible: a better one may lie beyond" if robust.choice.at_limit else ""
    yield (
        "Depth for all",
        f"{LENGTH.text(robust.best)}{around}: over {robust.runs} runs the mismatch with the {criterion} is at most "
        f"{percent(robust.worst[k]):.1f} %, {percent(robust.mean[k]):.1f} % on average ({verdict}); the least worst "
        f"case, and of those within a point the least over-reading until heating ends{beyond}",
    )
    yield (
        "",
        f"it reads {heating} until heating ends, {in_all} {what}. The tip lies in the run's own window in "
        f"{percent(robust.within[k]):.0f} % of all places of the tip in all runs",
    )
    yield (
        "",
        f"the least mean mismatch, {percent(robust.mean[mean]):.1f} %, is at "
        f"{LENGTH.text(float(robust.depth[mean]))} (worst there {percent(robust.worst[mean]):.1f} %, in the window "
        f"{percent(robust.within[mean]):.0f} %)",
    )
    measure = robust.to_measure()
    if measure is None:
        why = "nothing varies" if result.plan.study.indices else "indices = false in [study]"
        yield "Measure better", f"not known: {why}"
        return
    yield (
        "Measure better",
        f"{quantity_label(result, measure)}: measuring it better reduces that mismatch most",
    )
    if robust.mismatch_indices is not None:
        yield "", f"the mismatch there, total-order Sobol indices: {ranked(result, robust.mismatch_indices)}"
    if robust.depth_indices is not None:
        yield "", f"each run's own best depth, likewise: {ranked(result, robust.depth_indices)}"


def _ends(values: Array) -> str:
    """Lowest and highest of a range, as "-0.3 to +6.2 %"."""
    return f"{percent(values[0]):+z.1f} to {percent(values[2]):+z.1f} %"


def _depth(result: StudyResult) -> Iterator[Entry]:
    robust = robust_depth(result)
    if robust is not None:
        yield from depth_sentences(result, robust)
    elif result.plan.study.recommend_depth and result.plan.study.kind == "spread":
        yield "Depth for all", "none: no depth is possible in every run"
