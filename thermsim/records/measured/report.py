"""The report of a comparison: one HTML page that stands by itself, for the screen and for paper."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from importlib import resources

from thermsim.assess.measured.cautions import AUTHORITY, INTERVALS
from thermsim.assess.measured.result import Comparison, Measured
from thermsim.assess.simulate.cautions import CAUTIONS
from thermsim.quantities import LENGTH, LETHALITY, PART, TIME, minutes, percent
from thermsim.records.measured.sentences import (
    estimate_text,
    f_text,
    factors_text,
    j_text,
    lethality_text,
    misfit_text,
    straight_text,
)
from thermsim.records.report.markup import escaped, facts, film, paragraphs, plain_mm, table
from thermsim.records.words.answer import loud_first

#: How to read each figure, by its title.
CAPTIONS: Mapping[str, str] = {
    "Measured, computed and corrected": (
        "Above: the medium, what the logger read, the fitted model's reading, and the cold spot of the same "
        "container without the probe. Below: measured less computed. Grey is the case as it stood before the run, "
        "black the fitted model; a pattern that is not noise is something that the model lacks."
    ),
    "Heat penetration": (
        "Difference from the medium's temperature, on a logarithmic scale, over time. The thick line is the straight "
        "part that the factors are taken from; the tick on the axis is the corrected zero of the come-up."
    ),
    "Lethality gathered": (
        "Lethality as the logger reads it, and at the cold spot of the fitted model, no probe in it. The band is the "
        "interval that the fit leaves; the dotted line is where heating ends."
    ),
}


def measured_report_html(found: Comparison, figures: Mapping[str, str], *, program: str, when: str) -> str:
    """Write a comparison as one HTML page with inline style and pictures, without scripts and links.

    Parameters
    ----------
    found : Comparison
    figures : mapping of str to str
        Title to SVG element, in the order in which they are shown; a title may have more after a colon.
    program, when : str
        Name and version of the program; date and time.

    Returns
    -------
    str
        The page, which is well-formed XML after its first line.
    """
    title = found.case.title or found.run.file
    style = resources.files("thermsim.records.report").joinpath("report.css").read_text("utf-8")
    loud, others = loud_first(found.notes)
    body = [
        f"<header>\n<p class='kind'>A measured run compared with the model</p>\n<h1>{escaped(title)}</h1>\n"
        f"<p class='small'>{escaped(found.run.file)} · {escaped(when)} · {escaped(program)}</p>\n</header>",
        f"<section class='first'>\n<h2>The answer</h2>\n{_answer(found)}\n</section>",
    ]
    if loud:
        body.append(f"<section class='loud'>\n<h2>Warning</h2>\n{paragraphs(loud, 'warning')}\n</section>")
    cautions = paragraphs([AUTHORITY, *CAUTIONS])
    body += [
        f"<section class='cautions'>\n<h2>Before you act on it</h2>\n{cautions}\n</section>",
        f"<section>\n<h2>Verdict</h2>\n{_verdict(found)}\n</section>",
        f"<section>\n<h2>Holds for the target</h2>\n{_design(found)}\n</section>",
        "<section class='figures'>\n<h2>Figures</h2>\n"
        + "\n".join(_figure(name, svg) for name, svg in figures.items())
        + "\n</section>",
        *(f"<section>\n<h2>{escaped(one.name)}</h2>\n{_container(one)}\n</section>" for one in found.containers),
        f"<section>\n<h2>Notes</h2>\n{paragraphs([*others, INTERVALS], 'warning')}\n</section>",
        f"<section>\n<h2>What went in</h2>\n{_inputs(found)}\n</section>",
        f"<section>\n<h2>Where this page comes from</h2>\n{_provenance(found, program, when)}\n</section>",
    ]
    return (
        "<!DOCTYPE html>\n<html lang='en'>\n<head>\n<meta charset='utf-8'/>\n"
        "<meta name='viewport' content='width=device-width, initial-scale=1'/>\n"
        f"<title>{escaped(title)}: measured run</title>\n<style>\n{style}\n</style>\n</head>\n<body>\n<main>\n"
        + "\n".join(body)
        + "\n</main>\n</body>\n</html>\n"
    )


def _answer(found: Comparison) -> str:
    slow, lethality = found.containers[found.slowest], found.case.lethality
    pairs = [("Slowest container", slow.name)]
    if slow.corrected is not None:
        pairs += [
            ("Lethality of its cold spot", f"F = {lethality_text(slow)}, without the probe, by the fitted model"),
            (
                "Its logger says",
                f"{LETHALITY.text(slow.general.lethality)}: "
                f"{PART.text(slow.corrected.over_reading, signed=True)} of that; until heating ends "
                f"{PART.text(slow.corrected.heating_over_reading, signed=True)}",
            ),
        ]
    else:
        pairs.append(
            ("Its logger says", f"F = {LETHALITY.text(slow.general.lethality)}, not corrected for the probe")
        )
    outside = [check.name for check in found.checks if check.within is False]
    pairs.append(("Outside of limits", "; ".join(outside) if outside else "nothing that was checked"))
    meaning = f"F counts minutes at {lethality.reference:g} °C with z = {lethality.z:g} K. {AUTHORITY}"
    return f'<div class="answer">\n{facts(pairs)}\n</div>\n{paragraphs([meaning], "small")}'


def _verdict(found: Comparison) -> str:
    if not found.checks:
        return paragraphs(["Nothing was fitted: there is nothing to compare with limits."])
    stand = {True: "within", False: "OUTSIDE", None: "cannot be judged"}
    rows = [(check.name, check.statement, check.limit, stand[check.within]) for check in found.checks]
    return table(("what", "found", "limit", "stands"), rows) + "\n" + paragraphs([AUTHORITY], "small")


def _design(found: Comparison) -> str:
    if not found.design:
        return paragraphs(["Not computed: no target lethality is given, nothing was fitted, or it was not wanted."])
    rows = [
        (
            row.name,
            LETHALITY.text(row.lethality),
            "-" if row.hold is None else f"{TIME.number(row.hold)} ± {max(minutes(row.uncertainty), 0.1):.1f} min",
            "-" if row.heating is None else TIME.text(row.heating),
            row.remark,
        )
        for row in found.design
    ]
    meaning = (
        "For the planned process with the product as fitted in the slowest container, at the place of least "
        "lethality wherever that then is, cooling included, without the probe. The lethality is that of the planned "
        "time from steam on to cooling: a slow come-up shortens the hold. Margins for variations beyond "
        "these rows are the process authority's to set."
    )
    heads = ("deviation", "F of the planned time", "hold that just reaches the target", "steam on to cooling", "")
    return table(heads, rows) + "\n" + paragraphs([meaning], "small")


def _figure(title: str, svg: str) -> str:
    caption = f"<strong>{escaped(title)}.</strong> {escaped(CAPTIONS.get(title.partition(':')[0], ''))}"
    return f"<figure>\n{svg}\n<figcaption>{caption}</figcaption>\n</figure>"


def _container(one: Measured) -> str:
    general = one.general
    pairs = [
        ("Probe", f"{plain_mm(one.insertion)} mm deep" + (", as given for this column" if one.own_depth else "")),
        ("Samples", f"{one.time.size}, {TIME.number(one.time[0])} to {TIME.text(one.time[-1])}"),
        (
            "Lethality read",
            f"{LETHALITY.text(general.lethality)}, {LETHALITY.text(general.heating)} until heating ends",
        ),
        (
            "Sum of trapezoids",
            f"{LETHALITY.text(general.trapezoids)}, of which {minutes(general.trapezoidal_error):+.3f} min is its "
            "error (estimated by leaving out every second sample)",
        ),
        ("Case as it stands", misfit_text(one.as_case.misfit)),
    ]
    if one.fit is not None and one.fitted is not None:
        pairs.append(("Fitted model", misfit_text(one.fitted.misfit)))
    if one.predicted is not None:
        pairs.append(("Predicted at this depth", LETHALITY.text(one.predicted)))
    if one.corrected is not None:
        spot = one.corrected
        pairs += [
            (
                "Cold spot, no probe",
                f"F = {lethality_text(one)}, numerical uncertainty {LETHALITY.number(spot.numerical)} min, at r = "
                f"{LENGTH.text(spot.r)}, z = {LENGTH.text(spot.z)}; {spot.end_of_heating:.2f} °C when heating ends",
            ),
            ("Logger against it", PART.text(spot.over_reading, signed=True)),
        ]
    return "\n".join([facts(pairs), "<h3>Heat-penetration factors</h3>", _factors(one), *_fit(one)])


def _factors(one: Measured) -> str:
    rows = []
    readings = [("measured", one.heating, one.cooling), ("case", one.as_case.heating, one.as_case.cooling)]
    if one.fitted is not None:
        readings.append(("fitted model", one.fitted.heating, one.fitted.cooling))
    for name, heating, cooling in readings:
        for phase, found in (("h", heating), ("c", cooling)):
            if found is None:
                continue
            label = f"{name}, {'heating' if phase == 'h' else 'cooling'}"
            if found.line is None:
                rows.append((label, factors_text(found, phase), "", ""))
            else:
                rows.append((label, f_text(found.line, phase), j_text(found.line, phase), straight_text(found.line)))
    return table(("reading", "slope", "lag", "from"), rows)


def _fit(one: Measured) -> Iterator[str]:
    fit = one.fit
    if fit is None:
        return
    yield "<h3>What was fitted</h3>"
    yield paragraphs([estimate_text(estimate) + "." for estimate in fit.estimates])
    names = [estimate.name for estimate in fit.estimates]
    if len(names) > 1:
        yield "<h3>Correlation of what was fitted</h3>"
        yield table(
            ("", *names),
            [
                (name, *(f"{value:+.2f}" for value in row))
                for name, row in zip(names, fit.correlation.tolist(), strict=True)
            ],
        )
    yield paragraphs(
        [
            f"{one.time.size} samples; {fit.correlation_time:.1f} neighbouring ones count as one; "
            f"{'settled' if fit.converged else 'NOT settled'}."
        ],
        "small",
    )


def _inputs(found: Comparison) -> str:
    case, plan, material = found.case, found.plan, found.case.product.material
    limits = ", ".join(f"{name} = {value:g}" for name, value in vars(plan.limits).items())
    straight = (
        "found" if plan.straight is None else f"{minutes(plan.straight[0]):g} to {minutes(plan.straight[1]):g} min"
    )
    pairs = [
        ("Probes' columns", ", ".join(one.name for one in found.containers)),
        ("Medium", found.run.medium.name if found.run.medium else "as the case says"),
        ("Start of the process", f"{minutes(plan.columns.start):g} min of the record"),
        ("Heating ends", f"{minutes(found.process.heating_end):.2f} min"),
        ("Fitted", ", ".join(plan.fit) or "nothing"),
        ("Come-up credited", f"{percent(plan.credit):g} % (42 % by custom: common practice, no source)"),
        ("Straight part", f"{straight}; it ends {plan.floor:g} K from the medium"),
        ("Limits", f"{limits} (common practice, no source)"),
        (
            "Product in the case",
            f"{material.name}: {material.conductivity:g} W/mK, {material.density:g} kg/m³, "
            f"{material.specific_heat:g} J/kgK; {case.product.initial:g} °C at the start",
        ),
    ]
    films = [
        (stage.name, film(stage.film.side), film(stage.film.base), film(stage.film.lid))
        for stage in found.process.stages
    ]
    return facts(pairs) + "\n<h3>Film coefficients [W/m²K]</h3>\n" + table(("stage", "side", "base", "lid"), films)


def _provenance(found: Comparison, program: str, when: str) -> str:
    case, run = found.case, found.run
    rows = [(run.file, f"{run.data.size} bytes", run.sha256)]
    for name, text in [(case.file, case.text), *case.attachments.items()]:
        if text:
            rows.append((name, f"{len(text.splitlines())} lines", hashlib.sha256(text.encode("utf-8")).hexdigest()))
    parts = [
        facts([("Program", program), ("Written", when)]),
        table(("file", "size", "SHA-256"), rows),
        paragraphs(["The results file holds all of these: thermsim rerun computes this record again from it alone."]),
    ]
    if case.text:
        parts.append(
            f"<details open='open'>\n<summary>The case, word for word</summary>\n<pre>{escaped(case.text)}</pre>\n"
            "</details>"
        )
    return "\n".join(parts)
