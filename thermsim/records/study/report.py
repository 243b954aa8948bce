"""The report of a study: one HTML page that stands by itself, the outcome first."""

from __future__ import annotations

from collections.abc import Mapping

from thermsim.assess.simulate.cautions import CAUTIONS
from thermsim.assess.study.plan import StudyResult
from thermsim.case.study import Vary
from thermsim.records.report.render import Page, html, pictures, provenance
from thermsim.records.study.sentences import quantity_label, study_sections
from thermsim.records.words.parts import Section, Table, paragraphs, table

#: How to read each figure, by its title.
CAPTIONS: Mapping[str, str] = {
    "Map of the scan": (
        "A cell for each run: above the height of the place of least lethality, from the outside of the base, below "
        "the least lethality. Cells are of one size, however the values lie; empty cells are runs that failed. Of "
        "one quantity: where in the section both cold spots go."
    ),
    "How the cold spots move": (
        "Above: heights of both cold spots and of the product's surface. Below: the least lethality. Where a curve "
        "jumps, a place far away has taken over: between two runs that differ so, both places are cold."
    ),
    "One quantity at a time": (
        "Each bar goes from the case as it is to what comes out with that quantity alone at one of its ends. Effects "
        "of several at once do not show here: a spread shows them."
    ),
    "One depth for all": (
        "Above: the mismatch of the reading over all runs, if the tip is set to a depth. The red line is the depth "
        "with the least worst case (of those within a point, the one that over-reads least until heating ends), the "
        "broken line that with the least mean. In the middle: what is read too high until heating ends, over all "
        "runs. Below: in how many of the runs the tip lies in the window of depths as good as that run's best."
    ),
    "Range of the results": "Each figure over the independent runs, with its 5, 50 and 95 % points.",
    "Influence of each quantity": (
        "First order: the part of the variance that a quantity explains alone. Total order: the part that would be "
        "left if all others were known. Thin lines are 95 % intervals by bootstrap: where they are long, more "
        "samples are needed. To narrow a figure, measure the quantity with the longest total-order bar."
    ),
}


def study_html(result: StudyResult, figures: Mapping[str, str], *, program: str, when: str, case_name: str) -> str:
    """Write a study as one HTML page with inline style and pictures, without scripts and links.

    Parameters
    ----------
    result : StudyResult
    figures : mapping of str to str
        Title to SVG element, in the order in which they are shown.
    program, when, case_name : str
        Name and version of the program, date and time, name of the case file.

    Returns
    -------
    str
        The page, which is well-formed XML after its first line.
    """
    seed = [("Seed", str(result.plan.study.seed))] if result.plan.study.kind == "spread" else []
    facts_of_run = [("Program", program), ("Written", when), ("Case", case_name), *seed]
    case = result.case
    z_and_r = paragraphs(["z counts from the outside of the base, r from the axis."], small=True)
    sections = [
        *study_sections(result),
        Section("How to read it", (z_and_r,)),
        Section("Before you act on it", (paragraphs(CAUTIONS),), "cautions"),
        Section("Figures", pictures(figures, CAPTIONS), "figures"),
        Section("What was varied", (_varied(result),)),
        provenance(facts_of_run, {case_name: case.text, **case.attachments}, case.text),
    ]
    kind = "Study: how the cold spot and the readings move"
    return html(Page(kind, case.title or case_name, "study", (case_name, when, program), tuple(sections)))


def _varied(result: StudyResult) -> Table:
    rows = [
        (quantity_label(result, k), "-" if place.value is None else f"{place.value:g}", place.unit, in_words(one))
        for k, (place, one) in enumerate(zip(result.plan.places, result.plan.study.vary, strict=True))
    ]
    return table(("key", "in the case", "unit", "varied"), rows)


def in_words(vary: Vary) -> str:
    """Variation of a quantity, in words."""
    ends = f"{vary.low:g} to {vary.high:g}" if vary.low is not None and vary.high is not None else ""
    if vary.distribution == "normal":
        cut = "".join(
            f", {side} {value:g}" for side, value in (("above", vary.low), ("below", vary.high)) if value is not None
        )
        return f"normal, mean {vary.mean:g}, standard deviation {vary.deviation:g}{cut}"
    if vary.distribution == "triangular":
        return f"triangular, {ends}, most likely {vary.mode:g}"
    if vary.values:
        listed = ", ".join(f"{value:g}" for value in vary.values)
        weights = f", weights {', '.join(f'{value:g}' for value in vary.weights)}" if vary.weights else ""
        return f"{vary.distribution} {listed}{weights}".strip()
    return f"{vary.distribution} {ends}".strip()
