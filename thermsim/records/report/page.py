"""The report: one HTML page that stands by itself, the answer first, for the screen and for paper."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from importlib import resources

from thermsim.assess.simulate.cautions import CAUTIONS
from thermsim.assess.simulate.result import Result
from thermsim.quantities import ENERGY
from thermsim.records.report.advice import advice_answer, advice_tables
from thermsim.records.report.inputs import input_tables
from thermsim.records.report.markup import escaped, facts, paragraphs, table
from thermsim.records.report.probe import effect_tables
from thermsim.records.report.results import answer, result_tables
from thermsim.records.words.answer import loud_first, map_first

#: The figure that has a page of its own.
BENCH_SHEET = "Bench sheet"
#: How to read each figure, by its title.
CAPTIONS: Mapping[str, str] = {
    "Section of the container": (
        "To scale, except that the lines round thin walls have a least width. Triangle: the place of least "
        "lethality. Disc: the slowest-heating place. A place beside the axis is a ring round it and is drawn on both "
        "sides. Dashed edges have no wall: what is behind them meets the medium."
    ),
    "Temperature and lethality in the section": (
        "First the temperatures when heating ends, then what the whole process, cooling included, is worth. Lines "
        "join places of equal value; the ticks of the colour bar give the lines' values. The dashed white line "
        "bounds the cold zone, within which the lethality is nearly the least. A hatched headspace is taken as "
        "insulated."
    ),
    "Temperatures and lethality over time": (
        "Above: the medium, both cold spots and the places the case names. Below: the lethality gathered so far at "
        "both cold spots. The dotted line marks the end of heating: what is gathered to its right is gathered in "
        "cooling, and depends on how the container is cooled."
    ),
    "The coldest point over time": (
        "Height and radius of the coldest point in the product. It wanders while heating and goes to the outside "
        "when cooling begins; nothing is drawn while the core still has its first temperature. Dots that lie far "
        "apart are jumps from one cold region to another."
    ),
    "Properties over temperature": (
        "What the product conducts and stores at the temperatures of this process, and what the headspace carries as "
        "if it were a solid: still gas, radiation between the two faces, and vapour from a wet face to a colder one."
    ),
    "How deep the probe should go": (
        "Each dot is a depth that was computed: what the probe reads there, and what the same place has without it; "
        "the distance between the two curves is the probe's own doing. The dashed level is what the reading should "
        "be: where the reading lies above it, the record credits heat that the product did not get. The upright line "
        "is the depth recommended for the panel's criterion, the tinted band its window; the fine dotted line is the "
        "depth for the other criterion."
    ),
    "Probes and entries compared": (
        "Each row is a probe at one entry, set to its own best depth; the case's own is in bold. Left: how far its "
        "reading is from what it should show. Right: what the probe itself adds until heating ends. Bars to the "
        "right read high, which is the unsafe side; hatched bars reach out of the shaded range that is called good. "
        "A short bar on the left beside a long one on the right means errors that cancel."
    ),
    "What the probe does to the reading": (
        "Above: what the probe reads, what its place has without it, and the undisturbed place of least lethality. "
        "Below: the reading less its place without the probe. Above zero the probe reads high. The dots mark the "
        "largest differences while heating and in cooling: where they have different signs, the two errors hide each "
        "other in the total."
    ),
    "Other stems at this depth": (
        "The probe's own bias until heating ends if its stem were thinner or thicker, and if it conducted less or "
        "better, everything else and the depth kept. The ring is the probe as it is. The nearer to zero, the less "
        "there is to correct; another stem may have another best depth."
    ),
    "Temperature round the tip": (
        "The outlined probe and the product round its tip when heating ends. Lines join places of equal temperature: "
        "without a probe they would run on undisturbed, and where they bend along the stem, heat flows in it. The "
        "reading is the mean over the marked sensing length."
    ),
    "Temperature round the stem": (
        "The plane through the axes of the container and of the probe when heating ends: above the temperature, "
        "below what the probe changes in it. The change is carried some way into the product; where it reaches the "
        "sensing length, the reading is off."
    ),
    BENCH_SHEET: (
        "For the bench: printed at its full size it fills a page of its own, to scale. The depth counts from the "
        "outer face of the wall that is entered to the tip; what sticks out counts from the same face to the probe's "
        "outer end. Measure before the container is closed and again afterwards: outside of the window these figures "
        "do not hold."
    ),
}


def report_html(result: Result, figures: Mapping[str, str], *, program: str, when: str, case_name: str) -> str:
    """Write a result as one HTML page with inline style and pictures, without scripts and links.

    Parameters
    ----------
    result : Result
        The result of a run.
    figures : mapping of str to str
        Title to SVG element, in the order in which they are shown.
    program : str
        Name and version of the program.
    when : str
        Date and time of the run.
    case_name : str
        Name of the case file.

    Returns
    -------
    str
        The page, which is well-formed XML after its first line.
    """
    title = result.case.title or case_name
    style = resources.files("thermsim.records.report").joinpath("report.css").read_text("utf-8")
    kind = "Cold spot of a heated container"
    if result.advice is not None:
        kind = "Insertion depth of a probe, and cold spot of a heated container"
    body = [
        f"<header>\n<p class='kind'>{kind}</p>\n<h1>{escaped(title)}</h1>\n"
        f"<p class='small'>{escaped(case_name)} · {escaped(when)} · {escaped(program)}</p>\n</header>",
        *_first_sections(result),
        f"<section class='cautions'>\n<h2>Before you act on it</h2>\n{paragraphs(CAUTIONS)}\n</section>",
        "<section class='figures'>\n<h2>Figures</h2>\n"
        + "\n".join(_figure(name, svg) for name, svg in figures.items() if name != BENCH_SHEET)
        + "\n</section>",
        *_results(result),
        f"<section>\n<h2>What went in</h2>\n{input_tables(result)}\n</section>",
        f"<section>\n<h2>Numerics</h2>\n{_numerics(result)}\n</section>",
        "<section>\n<h2>Where this page comes from</h2>\n"
        f"{_provenance(result, program, when, case_name)}\n</section>",
    ]
    if BENCH_SHEET in figures:
        body.append(f"<section class='sheet'>\n{_figure(BENCH_SHEET, figures[BENCH_SHEET])}\n</section>")
    return (
        "<!DOCTYPE html>\n<html lang='en'>\n<head>\n<meta charset='utf-8'/>\n"
        "<meta name='viewport' content='width=device-width, initial-scale=1'/>\n"
        f"<title>{escaped(title)}: cold spot</title>\n<style>\n{style}</style>\n</head>\n<body>\n<main>\n"
        + "\n".join(body)
        + "\n</main>\n</body>\n</html>\n"
    )


def _first_sections(result: Result) -> list[str]:
    """What to do, where that was asked; then what must not be missed; then the answer and the other warnings."""
    loud, others = loud_first(result.warnings)
    first, loud = map_first(loud)
    found = [f"<section class='first'>\n<h2>The answer</h2>\n{answer(result)}\n</section>"]
    if loud:
        found.append(f"<section class='loud'>\n<h2>Warning</h2>\n{paragraphs(loud, 'warning')}\n</section>")
    if result.advice is not None:
        advised = advice_answer(result, result.advice)
        found = [
            f"<section class='first'>\n<h2>How deep the probe should go</h2>\n{advised}\n</section>",
            *found[1:],
            found[0].replace("The answer", "The cold spot", 1),
        ]
    if first:
        heading = f"This map {first[0].partition(':')[0].lower()}"
        found.insert(0, f"<section class='loud'>\n<h2>{heading}</h2>\n{paragraphs(first, 'warning')}\n</section>")
    if others:
        notes = paragraphs(others, "warning")
        found.append(f"<section>\n<h2>Warnings of this run</h2>\n{notes}\n</section>")
    return found


def _results(result: Result) -> list[str]:
    """The tables of results, each part a section."""
    parts = [("Results", result_tables(result))]
    if result.probe is not None:
        parts.insert(0, ("The probe's reading", effect_tables(result, result.probe)))
    if result.advice is not None:
        parts.insert(0, ("The recommendation in full", advice_tables(result, result.advice)))
    return [f"<section>\n<h2>{title}</h2>\n{tables}\n</section>" for title, tables in parts]


def _figure(title: str, svg: str) -> str:
    caption = f"<strong>{escaped(title)}.</strong> {escaped(CAPTIONS.get(title, ''))}"
    return f"<figure>\n{svg}\n<figcaption>{caption}</figcaption>\n</figure>"


def _numerics(result: Result) -> str:
    effort, energy = result.effort, result.energy
    n_r, n_z = result.grid.shape
    return facts(
        [
            ("Nodes of the finest grid", f"{effort.nodes} ({n_r} along r, {n_z} along z)"),
            *_probed_nodes(result),
            ("Refinement", f"{effort.refinement:g} times the usual grid"),
            ("Time steps", f"{effort.steps} accepted, {effort.rejected} rejected"),
            ("Tolerance of a step", f"{effort.tolerance:g} K"),
            (
                "Net heat over the whole process",
                f"{ENERGY.text(energy.heat_in)} taken in less given off, {ENERGY.text(energy.stored)} more stored",
            ),
            ("Energy balance", f"closes to {abs(energy.relative_defect):.0e} of the heat"),
            (
                "Numerical uncertainty",
                "from a coarser grid and from looser time steps; figures are extrapolated from nested grids",
            ),
            ("Computing time", f"{effort.seconds:.1f} s"),
        ]
    )


def _probed_nodes(result: Result) -> Iterator[tuple[str, str]]:
    effect = result.probe
    if effect is not None and effect.section is not None:
        yield "Nodes about the stem", f"{effect.section.nodes}, and a grid of half as fine spacings"
    elif effect is not None and effect.grid is not None:
        n_r, n_z = effect.grid.shape
        yield "Nodes with the probe", f"{effect.grid.active.sum()} ({n_r} along r, {n_z} along z)"


def _provenance(result: Result, program: str, when: str, case_name: str) -> str:
    case = result.case
    rows = [(case_name, case.text), *case.attachments.items()]
    parts = [
        facts([("Program", program), ("Computed", when), ("Case", case_name)]),
        table(("file", "lines", "SHA-256 of the text"), [(name, *_fingerprint(text)) for name, text in rows if text]),
    ]
    if case.text:
        parts.append(f"<details open='open'>\n<summary>The case, word for word</summary>\n"
                     f"<pre>{escaped(case.text)}</pre>\n</details>")  # fmt: skip
    else:
        parts = [parts[0], paragraphs(["The case was made in a program, not read from a file."])]
    return "\n".join(parts)


def _fingerprint(text: str) -> tuple[str, str]:
    """Number of lines, and the SHA-256 of the text in UTF-8."""
    return f"{len(text.splitlines())}", hashlib.sha256(text.encode("utf-8")).hexdigest()
