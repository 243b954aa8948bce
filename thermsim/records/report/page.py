"""The report: one HTML page that stands by itself, the answer first, for the screen and for paper."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from thermsim.assess.simulate.cautions import CAUTIONS
from thermsim.assess.simulate.result import Result
from thermsim.quantities import ENERGY
from thermsim.records.report.advice import advice_tables
from thermsim.records.report.inputs import input_parts
from thermsim.records.report.probe import effect_parts
from thermsim.records.report.render import Page, html, pictures, provenance
from thermsim.records.report.results import result_parts
from thermsim.records.words.answer import bench_sections, more_of_the_first, notes_of, verdict_sections
from thermsim.records.words.parts import Facts, Section, facts, paragraphs

#: Figures that have a page of their own, and that beside what is to be set.
SHEETS, DRAWING = ("Bench sheet", "Record of the containers"), "Section of the container"
#: How to read each figure, by its title.
CAPTIONS: Mapping[str, str] = {
    DRAWING: (
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
        "depth for the other criterion. There is neither where a hole in the side is not at the height of that place."
    ),
    "Probes and entries compared": (
        "Each row is a probe at one entry, set to its own best depth; the case's own is in bold. Left: how far its "
        "reading is from what it should show. Right: what it reads until heating ends, against the cold spot that it "
        "should show. Bars to the right read high, which is the unsafe side; hatched bars reach out of the shaded "
        "range that is called good. A short bar on the left beside a long one on the right means errors that cancel."
    ),
    "What the probe does to the reading": (
        "Above: what the probe reads, what its place has without it, and the undisturbed cold spot. Middle: the "
        "reading less the cold spot, which is to be taken off the curve. Below: the reading less its place without "
        "the probe. Above zero the probe reads high. The dots mark the largest differences while heating and in "
        "cooling: where they have different signs, the two errors hide each other in the total."
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
    SHEETS[0]: (
        "For the bench: printed at its full size it fills a page of its own, to scale. The depth counts from the "
        "outer face of the wall that is entered to the tip; what sticks out counts from the same face to the probe's "
        "outer end. Measure before the container is closed and again afterwards: outside of the window these figures "
        "do not hold."
    ),
    SHEETS[1]: (
        "The sheet's second page: a line for each container, filled in by hand as it is closed. What the sheet asks "
        "for stands above the lines; what counts is what was measured."
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
    kind = "Cold spot of a heated container"
    if result.advice is not None:
        kind = "Insertion depth of a probe, and cold spot of a heated container"
    names = SHEETS if result.advice is None else (*SHEETS, DRAWING)
    apart = {name: pictures({name: svg}, CAPTIONS) for name, svg in figures.items() if name in names}
    drawn = pictures({name: svg for name, svg in figures.items() if name not in apart}, CAPTIONS)
    case = result.case
    facts_of_run = [("Program", program), ("Computed", when), ("Case", case_name)]
    sections = [
        *verdict_sections(result),
        Section("Before you act on it", (paragraphs(CAUTIONS),), "cautions"),
        *bench_sections(result, *apart.get(DRAWING, ())),
        Section("How to read it", (paragraphs(_meaning(result), small=True),)),
        *notes_of(result),
        *more_of_the_first(result),
        Section("Figures", drawn, "figures"),
        *_results(result),
        Section("What went in", input_parts(result)),
        Section("Numerics", (_numerics(result),)),
        provenance(facts_of_run, {case_name: case.text, **case.attachments}, case.text),
        *(Section("", apart[name], "sheet") for name in SHEETS if name in apart),
    ]
    return html(Page(kind, case.title or case_name, "cold spot", (case_name, when, program), tuple(sections)))


def _meaning(result: Result) -> Iterator[str]:
    """Guide to reading the answer."""
    lethality = result.case.lethality
    if result.advice is not None:
        yield (
            "The depth counts from the outer face of the wall that is entered to the tip. The correction factor "
            "turns the lethality that is read into what it should be, in this case alone: another fill, product or "
            "process has another."
        )
    yield (
        f"{lethality.symbol} counts minutes at {lethality.reference_text} degC with "
        f"z = {lethality.z_text} K. r is measured from the axis, z from the outside of the base. The figure "
        "after +- is the numerical uncertainty: it says how far the computed figure may lie from the "
        "exact solution of this model. It is not the uncertainty of the input data: "
        "the product's conductivity, the heat-transfer coefficients and the fill usually vary by more."
    )


def _results(result: Result) -> Iterator[Section]:
    """The tables of results."""
    if result.advice is not None:
        yield Section("The recommendation in full", advice_tables(result, result.advice))
    if result.probe is not None:
        yield Section("The probe's reading", effect_parts(result, result.probe))
    yield Section("Results", result_parts(result))


def _numerics(result: Result) -> Facts:
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
