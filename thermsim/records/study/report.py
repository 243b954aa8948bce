"""The report of a study: one HTML page that stands by itself, the outcome first."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from importlib import resources

from thermsim.assess.simulate.cautions import CAUTIONS
from thermsim.assess.study.plan import StudyResult
from thermsim.assess.study.robust_depth import robust_depth
from thermsim.case.study import Vary
from thermsim.records.report.markup import escaped, facts, paragraphs, table
from thermsim.records.study.sentences import (
    depth_sentences,
    failures_told,
    quantity_label,
    study_tables,
    study_warnings,
)

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
        "Above: how far the reading is from the truth over all runs, if the tip is set to a depth. The red line is "
        "the depth with the smallest worst case, the dotted line that with the smallest mean error. Below: in how "
        "many of the runs the tip then lies in the window of depths that are as good as the best one of that run."
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
    title = result.case.title or case_name
    style = resources.files("thermsim.records.report").joinpath("report.css").read_text("utf-8")
    body = [
        f"<header>\n<p class='kind'>Study: how the cold spot and the readings move</p>\n<h1>{escaped(title)}</h1>\n"
        f"<p class='small'>{escaped(case_name)} · {escaped(when)} · {escaped(program)}</p>\n</header>",
        f"<section>\n<h2>Outcome</h2>\n{_outcome(result)}\n</section>",
        f"<section class='cautions'>\n<h2>Before you act on it</h2>\n{paragraphs(CAUTIONS)}\n</section>",
        "<section class='figures'>\n<h2>Figures</h2>\n"
        + "\n".join(_figure(name, svg) for name, svg in figures.items())
        + "\n</section>",
        f"<section>\n<h2>What was varied</h2>\n{_varied(result)}\n</section>",
        "<section>\n<h2>Where this page comes from</h2>\n"
        f"{_provenance(result, program, when, case_name)}\n</section>",
    ]
    return (
        "<!DOCTYPE html>\n<html lang='en'>\n<head>\n<meta charset='utf-8'/>\n"
        "<meta name='viewport' content='width=device-width, initial-scale=1'/>\n"
        f"<title>{escaped(title)}: study</title>\n<style>\n{style}</style>\n</head>\n<body>\n<main>\n"
        + "\n".join(body)
        + "\n</main>\n</body>\n</html>\n"
    )


def _outcome(result: StudyResult) -> str:
    parts = []
    if result.failures:
        parts.append(paragraphs(failures_told(result)))
    loud = [f"{label}: {text}" for label, text in study_warnings(result)] if result.good.any() else []
    if loud:
        parts.append(paragraphs(loud))
    robust = robust_depth(result)
    if robust is not None:
        told = facts((label or "…", text) for label, text in depth_sentences(result, robust))
        parts.append(f'<div class="answer">\n{told}\n</div>')
    for title, (heads, *rows) in study_tables(result):
        parts += [f"<h3>{escaped(title)}</h3>" if title else "", table(heads, rows)]
    parts.append(paragraphs(["z counts from the outside of the base, r from the axis."], "small"))
    return "\n".join(parts)


def _figure(name: str, svg: str) -> str:
    caption = f"<strong>{escaped(name)}.</strong> {escaped(CAPTIONS.get(name, ''))}"
    return f"<figure>\n{svg}\n<figcaption>{caption}</figcaption>\n</figure>"


def _varied(result: StudyResult) -> str:
    rows = [
        (quantity_label(result, k), "-" if place.value is None else f"{place.value:g}", place.unit, in_words(one))
        for k, (place, one) in enumerate(zip(result.plan.places, result.plan.study.vary, strict=True))
    ]
    return table(("key", "in the case", "unit", "varied"), rows)


def in_words(vary: Vary) -> str:
    """How a quantity is varied."""
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


def _provenance(result: StudyResult, program: str, when: str, case_name: str) -> str:
    text = result.case.text
    digest = hashlib.sha256(text.encode("utf-8")).hexdigest()
    seed = [("Seed", str(result.plan.study.seed))] if result.plan.study.kind == "spread" else []
    parts = [
        facts([("Program", program), ("Written", when), ("Case", case_name), *seed, ("SHA-256 of the case", digest)]),
        f"<details open='open'>\n<summary>The case, word for word</summary>\n<pre>{escaped(text)}</pre>\n</details>",
    ]
    return "\n".join(parts)
