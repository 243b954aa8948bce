"""All figures of a result: as files in a folder, and as SVG text for a page."""

from __future__ import annotations

import io
import os
import re
from collections.abc import Callable, Sequence
from pathlib import Path

import matplotlib as mpl
from matplotlib.figure import Figure, SubFigure

from thermsim.assess.result import Result
from thermsim.figures.histories import plot_histories
from thermsim.figures.maps import plot_maps
from thermsim.figures.section import plot_section
from thermsim.figures.track import plot_track

#: Short name, title and function of each figure.
FIGURES: tuple[tuple[str, str, Callable[[Result], Figure | SubFigure]], ...] = (
    ("section", "Section of the container", plot_section),
    ("maps", "Temperature and lethality in the section", plot_maps),
    ("histories", "Temperatures and lethality over time", plot_histories),
    ("track", "The coldest point over time", plot_track),
)
#: Dots per inch of pixel formats.
RESOLUTION = 200

# text stays text (it can be searched and read aloud); a fixed salt makes the same figure the same file
_SVG = {"svg.fonttype": "none", "svg.hashsalt": "thermsim"}


def save_figures(result: Result, folder: Path, *, stem: str, formats: Sequence[str] = ("png", "svg")) -> list[Path]:
    """Write all figures of a result, each under a temporary name first.

    Parameters
    ----------
    result : Result
        The result of a run.
    folder : Path
        An existing folder.
    stem : str
        Beginning of the files' names: ``<stem>-<figure>.<format>``.
    formats : sequence of str, optional
        File formats, as matplotlib names them.

    Returns
    -------
    list of Path
        The files written.

    Raises
    ------
    OSError
        If a file cannot be written.
    """
    written = []
    for name, _, plot in FIGURES:
        figure = plot(result)
        for kind in formats:
            written.append(save_figure(figure, folder / f"{stem}-{name}.{kind}"))
    return written


def save_figure(figure: Figure | SubFigure, path: Path) -> Path:
    """Write a figure to a file whose suffix says the format; an older file stays until the new one is whole."""
    kind = path.suffix.lstrip(".")
    temporary = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with mpl.rc_context(_SVG):  # type: ignore[arg-type]
            _whole(figure).savefig(
                temporary, format=kind, dpi=RESOLUTION, metadata={"Date": None} if kind == "svg" else None
            )
        os.replace(temporary, path)
    finally:
        temporary.unlink(missing_ok=True)
    return path


def figure_svgs(result: Result) -> dict[str, str]:
    """All figures of a result as SVG elements that can stand in one page together.

    Returns
    -------
    dict of str to str
        Title to SVG text; ids differ from figure to figure.
    """
    return {title: inline_svg(plot(result), name) for name, title, plot in FIGURES}


def inline_svg(figure: Figure | SubFigure, prefix: str) -> str:
    """A figure as an SVG element without prolog and metadata, its ids beginning with ``prefix``."""
    text = io.StringIO()
    with mpl.rc_context(_SVG):  # type: ignore[arg-type]
        _whole(figure).savefig(
            text, format="svg", dpi=RESOLUTION, metadata=dict.fromkeys(("Date", "Creator", "Format", "Type"))
        )
    svg = text.getvalue()
    svg = svg[svg.index("<svg") :]
    svg = re.sub(r"<metadata>.*?</metadata>\s*", "", svg, flags=re.DOTALL)
    return re.sub(r'(\bid="|href="#|url\(#)', rf"\g<1>{prefix}-", svg)


def _whole(figure: Figure | SubFigure) -> Figure:
    """The figure that a part belongs to: only a whole one can be written."""
    return figure.get_figure(root=True)
