"""The report: one HTML page that stands by itself, the answer first, for the screen and for paper."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from importlib import resources

from thermsim.assess.cautions import CAUTIONS
from thermsim.assess.result import Result
from thermsim.records.markup import escaped, facts, paragraphs, table
from thermsim.records.report_inputs import input_tables
from thermsim.records.report_results import answer, result_tables

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
    style = resources.files("thermsim.records").joinpath("report.css").read_text("utf-8")
    warnings = paragraphs(result.warnings, "warning")
    body = [
        f"<header>\n<p class='kind'>Cold spot of a heated container</p>\n<h1>{escaped(title)}</h1>\n"
        f"<p class='small'>{escaped(case_name)} · {escaped(when)} · {escaped(program)}</p>\n</header>",
        f"<section class='first'>\n<h2>The answer</h2>\n{answer(result)}\n</section>",
        f"<section>\n<h2>Warnings of this run</h2>\n{warnings}\n</section>" if warnings else "",
        f"<section class='cautions'>\n<h2>Before you act on it</h2>\n{paragraphs(CAUTIONS)}\n</section>",
        "<section class='figures'>\n<h2>Figures</h2>\n"
        + "\n".join(_figure(name, svg) for name, svg in figures.items())
        + "\n</section>",
        f"<section>\n<h2>Results</h2>\n{result_tables(result)}\n</section>",
        f"<section>\n<h2>What went in</h2>\n{input_tables(result)}\n</section>",
        f"<section>\n<h2>Numerics</h2>\n{_numerics(result)}\n</section>",
        "<section>\n<h2>Where this page comes from</h2>\n"
        f"{_provenance(result, program, when, case_name)}\n</section>",
    ]
    return (
        "<!DOCTYPE html>\n<html lang='en'>\n<head>\n<meta charset='utf-8'/>\n"
        "<meta name='viewport' content='width=device-width, initial-scale=1'/>\n"
        f"<title>{escaped(title)}: cold spot</title>\n<style>\n{style}</style>\n</head>\n<body>\n<main>\n"
        + "\n".join(part for part in body if part)
        + "\n</main>\n</body>\n</html>\n"
    )


def _figure(title: str, svg: str) -> str:
    caption = f"<strong>{escaped(title)}.</strong> {escaped(CAPTIONS.get(title, ''))}"
    return f"<figure>\n{svg}\n<figcaption>{caption}</figcaption>\n</figure>"


def _numerics(result: Result) -> str:
    effort, energy = result.effort, result.energy
    n_r, n_z = result.grid.shape
    return facts(
        [
            ("Nodes of the finest grid", f"{effort.nodes} ({n_r} along r, {n_z} along z)"),
            ("Refinement", f"{effort.refinement:g} times the usual grid"),
            ("Time steps", f"{effort.steps} accepted, {effort.rejected} rejected"),
            ("Tolerance of a step", f"{effort.tolerance:g} K"),
            ("Heat taken up", f"{energy.heat_in / 1e3:.3f} kJ in, {energy.stored / 1e3:.3f} kJ stored"),
            ("Energy balance", f"closes to {abs(energy.relative_defect):.0e} of the heat"),
            (
                "Numerical uncertainty",
                "from a coarser grid and from looser time steps; figures are extrapolated from nested grids",
            ),
            ("Computing time", f"{effort.seconds:.1f} s"),
        ]
    )


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
