"""The report of a comparison: one HTML page that stands by itself, for the screen and for paper."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from thermsim.assess.measured.cautions import INTERVALS
from thermsim.assess.measured.result import Comparison, Measured
from thermsim.assess.simulate.cautions import CAUTIONS
from thermsim.quantities import minutes, percent
from thermsim.records.measured.sentences import (
    container_entries,
    doubt_of_factors,
    estimate_text,
    f_text,
    factors_text,
    first_sections,
    j_text,
    straight_text,
)
from thermsim.records.report.markup import film
from thermsim.records.report.render import Page, html, pictures, provenance
from thermsim.records.words.parts import Heading, Part, Section, Table, facts, noticed, paragraphs, table

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
    facts_of_run = [
        ("Program", program),
        ("Written", when),
        ("Logger's file", f"{found.run.file}, {found.run.data.size} bytes, SHA-256 {found.run.sha256}"),
        ("Made again", "the results file holds all of these: thermsim rerun computes this record from it alone"),
    ]
    case = found.case
    sections = [
        *first_sections(found),
        Section("Before you act on it", (paragraphs(CAUTIONS),), "cautions"),
        Section("Figures", pictures(figures, CAPTIONS), "figures"),
        *(Section(one.name, tuple(_container(found, one))) for one in found.containers),
        *noticed("Notes", found.notices, "warning", "note"),
        Section("Intervals", (paragraphs([INTERVALS]),)),
        Section("What went in", _inputs(found)),
        provenance(facts_of_run, {case.file: case.text, **case.attachments}, case.text),
    ]
    return html(
        Page(
            "A measured run beside the model",
            case.title or found.run.file,
            "measured run",
            (found.run.file, when, program),
            tuple(sections),
        )
    )


def paper_sections(found: Comparison) -> list[Section]:
    """The sections of the document on paper: those of the page, the containers' figures as tables."""
    return [
        *first_sections(found),
        Section("Before you act on it", (paragraphs(CAUTIONS),)),
        Section("Heat-penetration factors and fits", tuple(_all_fits(found))),
        *noticed("Notes", found.notices, "warning", "note"),
        Section("Intervals", (paragraphs([INTERVALS], small=True),)),
        Section("What went in", _inputs(found)),
    ]


def _all_fits(found: Comparison) -> Iterator[Part]:
    """A row a container of its factors, and one of what was fitted."""
    rows = []
    for one in found.containers:
        lines = [
            (of.line if of is not None else None, letter) for of, letter in ((one.heating, "h"), (one.cooling, "c"))
        ]
        rows.append(
            (
                one.name,
                *(
                    text(line, letter) + doubt_of_factors(one) if line else "-"
                    for line, letter in lines
                    for text in (f_text, j_text)
                ),
                f"{one.as_case.misfit.rms:.2f} K",
                f"{one.fitted.misfit.rms:.2f} K" if one.fitted else "-",
            )
        )
    yield table(("can", "fh", "jh", "fc", "jc", "rms to the case", "to the fit"), rows)
    fits = [
        (one.name, *(estimate_text(estimate) for estimate in one.fit.estimates))
        for one in found.containers
        if one.fit is not None
    ]
    if fits:
        yield table(("can", *found.plan.fit), fits)


def _container(found: Comparison, one: Measured) -> Iterator[Part]:
    yield facts(container_entries(found, one))
    yield Heading("Heat-penetration factors")
    yield _factors(one)
    yield from _fit(one)


def _factors(one: Measured) -> Table:
    rows = []
    readings = [("measured", one.heating, one.cooling), ("case", one.as_case.heating, one.as_case.cooling)]
    if one.fitted is not None:
        readings.append(("fitted model", one.fitted.heating, one.fitted.cooling))
    for name, heating, cooling in readings:
        doubt = doubt_of_factors(one) if name == "measured" else ""
        for phase, found in (("h", heating), ("c", cooling)):
            if found is None:
                continue
            label = f"{name}, {'heating' if phase == 'h' else 'cooling'}"
            if found.line is None:
                rows.append((label, factors_text(found, phase), "", ""))
            else:
                f, j = f_text(found.line, phase), j_text(found.line, phase)
                rows.append((label, f + doubt, j + doubt, straight_text(found.line)))
    return table(("reading", "slope", "lag", "from"), rows)


def _fit(one: Measured) -> Iterator[Part]:
    fit = one.fit
    if fit is None:
        return
    yield Heading("What was fitted")
    yield paragraphs([estimate_text(estimate) + "." for estimate in fit.estimates])
    names = [estimate.name for estimate in fit.estimates]
    if len(names) > 1:
        yield Heading("Correlation of what was fitted")
        yield table(
            ("", *names),
            [
                (name, *(f"{value:+z.2f}" for value in row))
                for name, row in zip(names, fit.correlation.tolist(), strict=True)
            ],
        )
    yield paragraphs(
        [
            f"{one.time.size} samples; {fit.correlation_time:.1f} neighbouring ones count as one; "
            f"{'settled' if fit.converged else 'NOT settled'}."
        ],
        small=True,
    )


def _inputs(found: Comparison) -> tuple[Part, ...]:
    case, plan, material = found.case, found.plan, found.case.product.material
    limits = ", ".join(f"{name} = {value:g}" for name, value in vars(plan.limits).items())
    straight = (
        "found" if plan.straight is None else f"{minutes(plan.straight[0]):g} to {minutes(plan.straight[1]):g} min"
    )
    pairs = [
        ("Probes' columns", ", ".join(one.name for one in found.containers)),
        ("Medium", found.run.medium.name if found.run.medium else "as the case says"),
        ("Start of the process", f"{minutes(plan.columns.start):g} min of the record"),
        ("Heating ends", f"{minutes(found.process.heated_until):.2f} min"),
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
    return facts(pairs), Heading("Heat-transfer coefficients [W/m²K]"), table(("stage", "side", "base", "lid"), films)
