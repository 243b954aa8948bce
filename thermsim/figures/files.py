"""All figures of a result: as files in a folder, and as SVG text for a page."""

from __future__ import annotations

import contextlib
import functools
import hashlib
import io
import re
import warnings
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple, TypeAlias

import matplotlib as mpl
from matplotlib.axis import Tick
from matplotlib.figure import Figure, SubFigure
from matplotlib.text import Text
from matplotlib.ticker import LogFormatter

from thermsim.assess.simulate.result import Result
from thermsim.figures.bench.form import plot_form
from thermsim.figures.bench.sheet import plot_bench_sheet
from thermsim.figures.container.histories import plot_histories
from thermsim.figures.container.maps import plot_maps
from thermsim.figures.container.properties import changing, plot_properties
from thermsim.figures.container.section import plot_section
from thermsim.figures.container.track import plot_track
from thermsim.figures.other_units import tell_in_asked_units
from thermsim.figures.probe.candidates import plot_candidates
from thermsim.figures.probe.ladder import plot_ladder
from thermsim.figures.probe.probe_bias import plot_bias, plot_stems
from thermsim.figures.probe.stem import plot_stem
from thermsim.figures.probe.tip import plot_tip
from thermsim.figures.two_processes import in_two_processes
from thermsim.records.files.atomic import whole_file, write_text
from thermsim.records.report.page import report_html
from thermsim.version import PROGRAM


@dataclass(frozen=True)
class Drawn:
    """A figure: short name, title, the function that draws it, and whether a result has what it shows."""

    name: str
    title: str
    plot: Callable[[Result], Figure | SubFigure]
    applies: Callable[[Result], bool] = lambda result: True


def _probed(result: Result) -> bool:
    return result.probe is not None


def _on_axis(result: Result) -> bool:
    return result.probe is not None and result.probe.grid is not None


def _from_side(result: Result) -> bool:
    return result.probe is not None and result.probe.section is not None


def _advised(result: Result) -> bool:
    return result.advice is not None


def _compared(result: Result) -> bool:
    return result.advice is not None and len(result.advice.candidates) > 1


def _with_stems(result: Result) -> bool:
    return result.advice is not None and bool(result.advice.stems)


def bench_sheet(result: Result, *, date: str = "") -> Figure:
    """The bench sheet of a result, with this program's version and the SHA-256 of the case's text in UTF-8."""
    return plot_bench_sheet(result, **_origin(result), date=date)


def record_form(result: Result, *, date: str = "") -> Figure:
    """The bench sheet's second page, which is filled in."""
    return plot_form(result, **_origin(result), date=date)


def _origin(result: Result) -> dict[str, str]:
    """Program and case that a page comes from."""
    text = result.case.text
    digest = hashlib.sha256(text.encode("utf-8")).hexdigest() if text else ""
    return {"program": PROGRAM, "digest": digest}


#: All figures, in the order in which they are shown.
FIGURES = (
    Drawn("section", "Section of the container", plot_section),
    Drawn("ladder", "How deep the probe should go", plot_ladder, _advised),
    Drawn("candidates", "Probes and entries compared", plot_candidates, _compared),
    Drawn("bias", "What the probe does to the reading", plot_bias, _probed),
    Drawn("tip", "Temperature round the tip", plot_tip, _on_axis),
    Drawn("stem", "Temperature round the stem", plot_stem, _from_side),
    Drawn("stems", "Other stems at this depth", plot_stems, _with_stems),
    Drawn("maps", "Temperature and lethality in the section", plot_maps),
    Drawn("histories", "Temperatures and lethality over time", plot_histories),
    Drawn("track", "The coldest point over time", plot_track),
    Drawn("properties", "Properties over temperature", plot_properties, changing),
    Drawn("bench", "Bench sheet", bench_sheet, _advised),
    Drawn("form", "Record of the containers", record_form, _advised),
)


def figures_of(result: Result) -> list[Drawn]:
    """The figures that a result has the data for."""
    return [kind for kind in FIGURES if kind.applies(result)]


#: Short name, title, and the function that draws a figure.
Figured: TypeAlias = tuple[str, str, Callable[[], Figure | SubFigure]]
#: Dots per inch of pixel formats.
RESOLUTION = 200

# text stays text (it can be searched and read aloud); a fixed salt makes the same figure the same file
_TEXT = {"svg.fonttype": "none", "svg.hashsalt": "thermsim", "pdf.fonttype": 42}
# without dates for the same reason
_DATES = {"svg": {"Date": None}, "pdf": {"CreationDate": None}}


class Pictures(NamedTuple):
    """Figures drawn: the files written, and by title SVG elements that can stand in one page together."""

    written: list[Path]
    svgs: dict[str, str]


def draw_once(
    figures: Iterable[Figured],
    folder: Path | None,
    *,
    stem: str,
    formats: Sequence[str],
    pages: Sequence[Callable[[], Path]] = (),
) -> Pictures:
    """Draw each of several figures once, for its files and for a page.

    Parameters
    ----------
    figures : iterable of (str, str, callable)
        Short name, title, and the function that draws it.
    folder : Path or None
        An existing folder; None: no files.
    stem : str
        Beginning of the files' names: ``<stem>-<name>.<format>``.
    formats : sequence of str
        File formats, as matplotlib names them.
    pages : sequence of callable, optional
        What write files of their own, and say which; they are first.

    Raises
    ------
    OSError
        If a file cannot be written.
    """

    def drawn(kind: Figured) -> Pictures:
        name, title, plot = kind
        files = [Path(folder) / f"{stem}-{name}.{suffix}" for suffix in formats] if folder is not None else []
        with _as_written(plot()) as figure:
            svg = _svg_of(figure)
            figure.set_layout_engine("none")  # laid out once: each format finds its parts in place
            for path in files:
                if path.suffix == ".svg":
                    write_text(path, svg)
                else:
                    with whole_file(path) as part:
                        _save(figure, part, path.suffix.lstrip("."))
        return Pictures(files, {title: _as_element(svg, name)})

    jobs: list[Callable[[], Pictures]] = [
        functools.partial(lambda write: Pictures([write()], {}), one) for one in pages
    ]
    jobs += [functools.partial(drawn, kind) for kind in figures]
    found = in_two_processes(lambda job: job(), jobs)
    return Pictures(
        [path for one in found for path in one.written],
        {title: svg for one in found for title, svg in one.svgs.items()},
    )


def draw_figures(
    result: Result,
    folder: Path | None,
    *,
    stem: str = "",
    formats: Sequence[str] = (),
    pages: Sequence[Callable[[], Path]] = (),
) -> Pictures:
    """Draw all figures that a result has the data for; parameters as of :func:`draw_once`."""
    figures = ((kind.name, kind.title, functools.partial(kind.plot, result)) for kind in figures_of(result))
    return draw_once(figures, folder, stem=stem, formats=formats, pages=pages)


def save_figures(result: Result, folder: Path, *, stem: str, formats: Sequence[str] = ("png",)) -> list[Path]:
    """Write all figures that a result has the data for, each under a temporary name first.

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

    Examples
    --------
    >>> from pathlib import Path
    >>> import thermsim
    >>> result = thermsim.simulate(thermsim.read_case("cases/jar.toml"))
    >>> thermsim.save_figures(result, Path("."), stem="jar")[0]  # doctest: +SKIP
    PosixPath('jar-section.png')
    """
    return draw_figures(result, folder, stem=stem, formats=formats).written


def save_bench_sheet(result: Result, path: Path, *, date: str = "") -> Path:
    """Write the bench sheet, usually as PDF with its form: the same result and date give the same file.

    Parameters
    ----------
    result : Result
        The result of a recommendation.
    path : Path
        The file; its suffix says the format.
    date : str, optional
        Day of the run; a line to write on where left out.

    Returns
    -------
    Path

    Raises
    ------
    ValueError
        If the result holds no advice.
    OSError
        If the file cannot be written.
    """
    return save_figure(bench_sheet(result, date=date), path, record_form(result, date=date))


def save_figure(figure: Figure | SubFigure, path: Path, *further: Figure) -> Path:
    """Write a figure to a file whose suffix says the format; an older file stays until the new one is whole.

    Of a PDF ``further`` figures are the pages that follow; other formats have one page.
    """
    kind = path.suffix.lstrip(".")
    with whole_file(path) as part:
        if further and kind == "pdf":
            from matplotlib.backends.backend_pdf import PdfPages  # only here: it takes as long to load as to draw

            with as_text(), PdfPages(part, metadata=_DATES[kind]) as pdf:
                for page in (figure, *further):
                    with _as_written(page) as whole:
                        pdf.savefig(whole)
        else:
            with _as_written(figure) as whole:
                _save(whole, part, kind)
    return path


def _save(figure: Figure, file: Path | io.StringIO, kind: str) -> None:
    """Write a figure in a format, as it stands."""
    more: dict[str, Any] = {"pil_kwargs": {"compress_level": 3}} if kind == "png" else {}  # in half the time
    figure.savefig(file, format=kind, dpi=RESOLUTION, metadata=_DATES.get(kind), **more)


def report_of(result: Result, case_name: str, *, when: str, figures: Mapping[str, str] | None = None) -> str:
    """The report of a result as one page of HTML, its figures in it; ``case_name`` where the case has no file.

    ``figures`` are the SVG elements by title where they are drawn already.
    """
    figures = draw_figures(result, None).svgs if figures is None else figures
    return report_html(result, figures, program=PROGRAM, when=when, case_name=result.case.file or case_name)


def inline_svg(figure: Figure | SubFigure, prefix: str) -> str:
    """A figure as an SVG element without prolog and metadata, its ids beginning with ``prefix``."""
    with _as_written(figure) as whole:
        return _as_element(_svg_of(whole), prefix)


def _svg_of(figure: Figure) -> str:
    """The text of a figure's SVG file."""
    text = io.StringIO()
    _save(figure, text, "svg")
    return text.getvalue()


def _as_element(svg: str, prefix: str) -> str:
    """An SVG file's text as an element of a page."""
    svg = svg[svg.index("<svg") :]
    svg = re.sub(r"<metadata>.*?</metadata>\s*", "", svg, flags=re.DOTALL)
    return re.sub(r'(\bid="|href="#|url\(#)', rf"\g<1>{prefix}-", svg)


def as_text() -> contextlib.AbstractContextManager[None]:
    """Settings in force while figures are written: of a PDF until its last page is closed, with its typefaces."""
    return mpl.rc_context(_TEXT)  # type: ignore[arg-type]


@contextlib.contextmanager
def _as_written(figure: Figure | SubFigure) -> Iterator[Figure]:
    """The figure that a part belongs to, as only a whole one can be written, its texts as their users wrote them."""
    whole: Figure = figure.get_figure(root=True)
    axes = [axis for ax in whole.axes for axis in (ax.xaxis, ax.yaxis)]
    powers = {
        id(label)
        for axis in axes
        if isinstance(axis.get_major_formatter(), LogFormatter)
        for tick in axis.findobj(Tick)
        for label in (tick.label1, tick.label2)
    }
    for text in whole.findobj(Text):
        shown = text.get_text()
        # numbers at a logarithmic axis are powers; what else there is are names, no formulas
        if id(text) not in powers:
            text.set_parse_math(False)
            # a space that keeps a number and its unit together is none of the printable signs
            signs = (sign if sign.isprintable() or sign in "\n\u00a0" else "?" for sign in shown.replace(r"\$", "$"))
            text.set_text("".join(signs))
    tell_in_asked_units(whole)
    with as_text(), warnings.catch_warnings():
        # letters that the typeface lacks are boxes
        warnings.filterwarnings("ignore", "Glyph .* missing from", UserWarning)
        yield whole
