"""All figures of a comparison: as files, as SVG text for a page, and the report as PDF."""

from __future__ import annotations

import functools
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Protocol

from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure, SubFigure

from thermsim.assess.measured.result import Comparison, Measured
from thermsim.figures.files import Figured, Pictures, as_text, draw_once
from thermsim.figures.measured.curves import plot_measured, plot_measured_lethality
from thermsim.figures.measured.paper import MARGIN, Paper
from thermsim.figures.measured.penetration import plot_penetration
from thermsim.figures.paper import HEIGHT, WIDTH
from thermsim.records.files.atomic import whole_file
from thermsim.records.measured.report import paper_sections
from thermsim.records.measured.rows import flags_text
from thermsim.records.words.parts import Heading, Section


class Plot(Protocol):
    """Function that draws a figure of one container."""

    def __call__(
        self, found: Comparison, one: Measured, *, figure: Figure | SubFigure | None = None
    ) -> Figure | SubFigure:
        """Draw it."""


#: Short name, title, and what draws it, for each container.
FIGURES: Sequence[tuple[str, str, Plot]] = (
    ("curves", "Measured, computed and corrected", plot_measured),
    ("penetration", "Heat penetration", plot_penetration),
    ("lethality", "Lethality gathered", plot_measured_lethality),
)
#: Containers whose figures share a page of the PDF, and the room for a container's name [mm].
A_PAGE, NAMED = 2, 9.0


def _each(found: Comparison) -> Iterator[tuple[str, str, Plot, Measured]]:
    """Every figure: short name, title, what draws it, and the container."""
    for place, one in enumerate(found.containers, 1):
        for name, title, plot in FIGURES:
            yield f"{name}-{place}", f"{title}: {one.name}", plot, one


def draw_measured(found: Comparison, folder: Path | None, *, formats: Sequence[str] = ("png",)) -> Pictures:
    """Draw all figures of a comparison; see :func:`thermsim.figures.files.draw_once`."""
    figures: dict[str, Figured] = {}
    for name, title, plot, one in _each(found):
        # columns of one name are told apart by their number
        while title in figures:
            title += " "
        figures[title] = name, title, functools.partial(plot, found, one)
    return draw_once(figures.values(), folder, stem="figure", formats=formats)


def save_measured_pdf(found: Comparison, path: Path, *, program: str, when: str) -> Path:
    """Write the report as a PDF of A4 pages: the answer, tables, all cautions, then two containers a page in figures.

    Parameters
    ----------
    found : Comparison
    path : Path
    program, when : str
        Name and version of the program; date and time.

    Returns
    -------
    Path

    Raises
    ------
    InputError
        If the file cannot be written; it is written whole or not at all.
    """
    with (
        whole_file(path) as part,
        as_text(),
        PdfPages(part, metadata={"CreationDate": None, "Title": found.case.title}) as pdf,
    ):
        paper = Paper(pdf, f"{found.run.file}   {when}   {program}")
        below = [f"{found.run.file}, SHA-256 {found.run.sha256}", f"{program}, {when}"]
        paper.title(f"Measured run: {found.case.title or found.run.file}", below)
        paper.sections(paper_sections(found))
        for first in range(0, len(found.containers), A_PAGE):
            _figures(paper, found, found.containers[first : first + A_PAGE])
        paper.close()
    return path


def _figures(paper: Paper, found: Comparison, containers: Sequence[Measured]) -> None:
    """One page: each container's curves at the left, its heat penetration and lethality at the right."""
    page = paper.new_page()
    page.set_layout_engine("constrained")
    edge, width = MARGIN, (WIDTH - 2 * MARGIN) / 2
    height = (HEIGHT - 2 * MARGIN) / A_PAGE
    half = (height - NAMED) / 2
    grid = page.add_gridspec(
        3 * A_PAGE + 2,
        4,
        width_ratios=[edge, width, width, edge],
        height_ratios=[edge, *[NAMED, half, half] * A_PAGE, edge],
    )
    for place, one in enumerate(containers):
        top = 2 + 3 * place
        paper.y = MARGIN + place * height
        paper.sections([Section("", (Heading(f"{one.name}: {flags_text(one)}" if one.flags else one.name),))])
        left = page.add_subfigure(grid[top : top + 2, 1])
        plot_measured(found, one, figure=left)
        plot_penetration(found, one, figure=page.add_subfigure(grid[top, 2]))
        plot_measured_lethality(found, one, figure=page.add_subfigure(grid[top + 1, 2]))
