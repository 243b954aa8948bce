"""All figures of a comparison: as files, as SVG text for a page, and the report as PDF."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Protocol

import matplotlib as mpl
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure, SubFigure

from thermsim.assess.measured.result import Comparison, Measured
from thermsim.figures import style
from thermsim.figures.files import inline_svg, save_figure
from thermsim.figures.measured.curves import plot_measured, plot_measured_lethality
from thermsim.figures.measured.penetration import plot_penetration
from thermsim.records.measured.sentences import measured_answer


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
#: A page of the PDF in mm, the margin round its text, the text's size [pt] and its lines.
PAGE, MARGIN, PRINT, LINES = (210.0, 297.0), 16.0, 7.0, 84


def _each(found: Comparison) -> Iterator[tuple[str, str, Plot, Measured]]:
    """Every figure: short name, title, what draws it, and the container."""
    for place, one in enumerate(found.containers, 1):
        for name, title, plot in FIGURES:
            yield f"{name}-{place}", f"{title}: {one.name}", plot, one


def measured_svgs(found: Comparison) -> dict[str, str]:
    """All figures of a comparison as SVG elements that can stand in one page together, by title."""
    svgs: dict[str, str] = {}
    for name, title, plot, one in _each(found):
        # columns of one name are told apart by their number
        while title in svgs:
            title += " "
        svgs[title] = inline_svg(plot(found, one), name)
    return svgs


def save_measured_figures(found: Comparison, folder: Path, *, formats: Sequence[str] = ("png", "svg")) -> list[Path]:
    """Write all figures of a comparison into an existing folder; returns the files.

    Raises
    ------
    OSError
        If a file cannot be written.
    """
    written = []
    for name, _, plot, one in _each(found):
        figure = plot(found, one)
        written += [save_figure(figure, folder / f"figure-{name}.{suffix}") for suffix in formats]
    return written


def save_measured_pdf(found: Comparison, path: Path, *, program: str, when: str) -> Path:
    """Write the report as PDF: the answer in words with all cautions, then every figure; whole or not at all.

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
    OSError
        If the file cannot be written.
    """
    lines = [found.case.title, f"{found.run.file}  {when}  {program}", "", *measured_answer(found, full=True)]
    temporary = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with (
            mpl.rc_context({"pdf.fonttype": 42}),
            PdfPages(temporary, metadata={"CreationDate": None, "Title": found.case.title}) as pdf,
        ):
            pages = [lines[first : first + LINES] for first in range(0, len(lines), LINES)]
            for number, page in enumerate(pages, 1):
                pdf.savefig(_page(page, f"{number} / {len(pages)} of text"))
            for _, title, plot, one in _each(found):
                figure = style.new_figure(150.0)
                figure.suptitle(_drawable(title))
                part = figure.add_gridspec(1, 1)[0]
                plot(found, one, figure=figure.add_subfigure(part))
                pdf.savefig(figure)
        os.replace(temporary, path)
    finally:
        temporary.unlink(missing_ok=True)
    return path


def _page(lines: Sequence[str], foot: str) -> Figure:
    """A page of text, its lines as they are."""
    with style.styled():
        figure = Figure(figsize=(PAGE[0] * style.INCH, PAGE[1] * style.INCH))
        left = MARGIN / PAGE[0]
        figure.text(
            left,
            1.0 - MARGIN / PAGE[1],
            _drawable("\n".join(lines)),
            family="DejaVu Sans Mono",
            size=PRINT,
            va="top",
            linespacing=1.25,
        )
        figure.text(0.5, 0.5 * MARGIN / PAGE[1], foot, size=PRINT, ha="center")
    return figure


def _drawable(text: str) -> str:
    """Text without what would be taken as a formula, or what no letter stands for."""
    return re.sub(r"[^\x20-\x7e\xa0-\u024f\u0370-\u03ff\u0400-\u04ff\n]", "?", text).replace("$", r"\$")
