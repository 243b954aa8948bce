"""The bench sheet: one A4 page for whoever drills the hole, sets the probe and reads it."""

from __future__ import annotations

import re
from collections.abc import Sequence

from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.textpath import text_to_path

from thermsim.assess.probe.advice import Rung
from thermsim.assess.simulate.result import Result
from thermsim.figures import style
from thermsim.figures.bench.drawing import draw_bench, printed_scale
from thermsim.figures.bench.setting import Bench, bench_of
from thermsim.figures.bench.side import draw_side
from thermsim.figures.bench.words import REPLICATES, Row, blocks, cautions, loud, what_it_is
from thermsim.figures.container.probe_outline import outer_face
from thermsim.quantities import LENGTH, LETHALITY, TEMPERATURE, mm
from thermsim.systems import told, told_bare, told_columns, told_lengths

#: The page and its margins [mm].
WIDTH, HEIGHT, MARGIN = 210.0, 297.0, 13.0
#: Where the text begins beside the drawing, and where values begin beside their labels [mm from the left].
COLUMN, VALUES = 111.0, 139.0
#: Type sizes [pt], and the height of a line on paper for each point of type [mm].
BODY, FINE, HEAD, TITLE, BIG, LEADING = 8.2, 7.2, 9.0, 14.0, 15.0, 0.49
#: Height of the drawing and of what is written below it [mm].
DRAWING, CAPTION = 94.0, 5.0
#: Left edges of the confirmation table's columns [mm from the left margin].
TABLE = (3.0, 22.0, 50.0, 82.0, 120.0, 160.0)
DIM = "#444444"


def plot_bench_sheet(result: Result, *, program: str, digest: str, date: str = "") -> Figure:
    """Lay the page out.

    Parameters
    ----------
    result : Result
        The result of a recommendation.
    program : str
        Name and version of the program.
    digest : str
        Fingerprint of the case.
    date : str, optional
        Day of the run; a line to write on where left out.

    Returns
    -------
    Figure
        210 mm wide and 297 mm high.

    Raises
    ------
    ValueError
        If the result holds no advice.
    """
    bench = bench_of(result)
    with style.styled():
        figure = Figure(figsize=(WIDTH * style.INCH, HEIGHT * style.INCH))
        y = _header(figure, result, bench, HEIGHT - MARGIN)
        for sentence in loud(result, bench):
            y = _box(figure, sentence, y, colour=style.LOUD)
        top = y - 1.0
        right = top
        for heading, rows in blocks(result, bench):
            right = _block(figure, heading, rows, right)
        left = _drawing(figure, result, bench, top)
        left = _cautions(figure, bench, left)
        y = _confirmation(figure, result, bench, min(left, right) - 1.0)
        y = _heading(figure, "Replicates", y, MARGIN)
        _write(figure, REPLICATES, MARGIN, y, WIDTH - 2 * MARGIN, size=FINE)
        _footer(figure, program, digest, date)
    return figure


def _write(
    figure: Figure,
    text: str,
    x: float,
    y: float,
    width: float,
    *,
    size: float = BODY,
    colour: str = style.LINE,
    weight: str = "normal",
    verbatim: bool = False,
) -> float:
    """Write a paragraph from a place [mm from the left and from the bottom] downwards; returns where it ends."""
    for line in folded(text if verbatim else told(text).replace("degF", "°F"), width, size=size, weight=weight):
        figure.text(x / WIDTH, y / HEIGHT, line, ha="left", va="top", fontsize=size, color=colour, fontweight=weight)
        y -= LEADING * size
    return y


def folded(text: str, width: float, *, size: float, weight: str = "normal") -> list[str]:
    """Break a text into lines no wider than a width on paper [mm]; a number stays with its unit."""
    font = FontProperties(family=["DejaVu Sans"], size=size, weight=weight)
    lines: list[str] = []
    for word in re.sub(r"(?<=\d) (?=(%|mm|in|min|K|°C|°F)\b|%)", "\N{NO-BREAK SPACE}", text).split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        points = text_to_path.get_text_width_height_descent(longer, font, ismath=False)[0]
        if lines and points / 72.0 / style.INCH <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def _rule(figure: Figure, x: tuple[float, float], y: float, *, width: float = 0.6, colour: str = style.LINE) -> None:
    figure.add_artist(Line2D([x[0] / WIDTH, x[1] / WIDTH], [y / HEIGHT, y / HEIGHT], color=colour, linewidth=width))


def _header(figure: Figure, result: Result, bench: Bench, y: float) -> float:
    """Write the head of the page and the case that it belongs to."""
    right = WIDTH - MARGIN
    _write(figure, "Bench sheet", MARGIN, y, 60.0, size=TITLE, weight="bold")
    figure.text(
        right / WIDTH,
        (y - 1.5) / HEIGHT,
        f"all lengths in {told_lengths()}; print at 100 %",
        ha="right",
        va="top",
        fontsize=FINE,
    )
    y = _write(
        figure, result.case.title or "case without a title", MARGIN, y - 8.0, right - MARGIN, size=10.0, verbatim=True
    )
    y = _write(figure, what_it_is(result, bench), MARGIN, y - 0.4, right - MARGIN, size=FINE)
    _rule(figure, (MARGIN, right), y - 1.0, width=1.2)
    return y - 3.0


def _box(figure: Figure, text: str, y: float, *, colour: str) -> float:
    """A paragraph in a frame; its first words are loud by their colour."""
    inside = _write(figure, text, MARGIN + 3.0, y - 2.0, WIDTH - 2 * MARGIN - 6.0, colour=colour, weight="bold")
    figure.add_artist(
        Rectangle(
            (MARGIN / WIDTH, (inside - 1.0) / HEIGHT), (WIDTH - 2 * MARGIN) / WIDTH, (y - inside + 1.0) / HEIGHT,
            fill=False, edgecolor=colour, linewidth=1.4,
        )
    )  # fmt: skip
    return inside - 3.0


def _heading(figure: Figure, text: str, y: float, x: float) -> float:
    return _write(figure, text, x, y, WIDTH - MARGIN - x, size=HEAD, weight="bold") - 0.6


def _block(figure: Figure, heading: str, rows: Sequence[Row], y: float) -> float:
    """A heading and its rows beside the drawing: labels at the left, values at the right."""
    right = WIDTH - MARGIN
    y = _heading(figure, heading, y, COLUMN)
    _rule(figure, (COLUMN, right), y + 0.3, width=0.4, colour=style.PALE)
    y -= 0.6
    for row in rows:
        size, weight = (BIG, "bold") if row.big else (BODY, "bold" if row.strong else "normal")
        drop = 1.6 if row.big else 0.0
        ends = (
            _write(figure, row.label, COLUMN, y - drop, VALUES - COLUMN - 1.0, size=FINE, colour=DIM),
            _write(figure, row.value, VALUES, y, right - VALUES, size=size, weight=weight),
        )
        y = min(ends) - 0.5
    return y - 2.0


def _drawing(figure: Figure, result: Result, bench: Bench, top: float) -> float:
    """The section at the left, its scale written below."""
    width, bottom = COLUMN - MARGIN - 4.0, top - DRAWING
    ax = figure.add_axes((MARGIN / WIDTH, bottom / HEIGHT, width / WIDTH, DRAWING / HEIGHT))
    draw = draw_side if bench.probe.entry == "side" else draw_bench
    drawing = draw(result, bench, ax=ax, paper=(width, DRAWING))
    for written in (*drawing.dimensions, *drawing.labels):
        written.set_text(told_bare(written.get_text()))
    text = f"Section through the axis, scale {printed_scale(drawing.scale)}"
    _write(figure, text, MARGIN, bottom, width, size=FINE)
    return bottom - CAPTION


def _confirmation(figure: Figure, result: Result, bench: Bench, y: float) -> float:
    """A table of the depth and of those round it, with what to expect at each."""
    y = _heading(figure, "Confirm the place: depths round it, and what the probe should show there", y, MARGIN)
    outside = bench.probe.mount == "through"
    heads = [
        "depth",
        "stick-out" if outside else "spacers together",
        "tip from the axis" if bench.probe.entry == "side" else "height z of the tip",
        TEMPERATURE.axis("when heating ends"),
        LETHALITY.axis("F until heating ends"),
        LETHALITY.axis("F in all"),
    ]
    places = [MARGIN + left for left in TABLE]
    rows = sorted([bench.reading, *bench.confirmation], key=lambda rung: rung.depth)
    # the first three are lengths, whose unit stands at the head of the page
    units = [f"[{LENGTH.unit}]", f"[{LENGTH.unit}]", f"[{LENGTH.unit}]", *heads[3:]]
    told_heads, cells = told_columns(units, [_cells(result, bench, rung) for rung in rows])
    for x, head in zip(places, [*heads[:3], *told_heads[3:]], strict=True):
        _write(figure, head, x, y, 40.0, size=FINE, colour=DIM)
    y -= LEADING * FINE + 0.4
    for rung, texts in zip(rows, cells, strict=True):
        _rule(figure, (MARGIN, WIDTH - MARGIN), y + 0.2, width=0.3, colour=style.PALE)
        weight = "bold" if rung is bench.reading else "normal"
        for x, text in zip(places, texts, strict=True):
            _write(figure, text, x, y - 0.4, 40.0, weight=weight)
        y -= LEADING * BODY + 0.7
    note = (
        "Bold: the depth of this sheet. Less F in all than expected here says that the cold spot lies nearer there."
        if bench.confirmation
        else "No further depths can be told apart here."
    )
    return _write(figure, note, MARGIN, y - 0.4, WIDTH - 2 * MARGIN, size=FINE) - 2.0


def _cells(result: Result, bench: Bench, rung: Rung) -> list[str]:
    deeper = rung.depth - bench.depth
    spacers = sum(segment.length for segment in bench.probe.segments if segment.spacer)
    set_by = bench.stick_out - deeper if bench.probe.mount == "through" else spacers + deeper
    inwards = 1.0 if bench.probe.entry == "base" else -1.0
    height = outer_face(bench.probe, result.case.container) + mm(inwards * rung.depth)
    return [
        LENGTH.number(rung.depth),
        LENGTH.number(set_by),
        LENGTH.number(LENGTH.si_value(height)),
        f"{rung.end_of_heating:.1f}",
        LETHALITY.number(rung.heating_lethality),
        LETHALITY.number(rung.lethality),
    ]


def _cautions(figure: Figure, bench: Bench, y: float) -> float:
    """Warnings to heed at the bench, in a frame below the drawing."""
    top, width = y, COLUMN - MARGIN - 6.0
    y = _heading(figure, "Cautions", y - 2.0, MARGIN + 3.0)
    for sentence in cautions(bench.probe):
        _write(figure, "•", MARGIN + 3.0, y, 5.0, size=FINE)
        y = _write(figure, sentence, MARGIN + 5.5, y, width - 8.0, size=FINE) - 0.4
    figure.add_artist(
        Rectangle(
            (MARGIN / WIDTH, (y - 1.0) / HEIGHT), width / WIDTH, (top - y + 1.0) / HEIGHT,
            fill=False, edgecolor=style.LINE, linewidth=0.9,
        )
    )  # fmt: skip
    return y - 3.0


def _footer(figure: Figure, program: str, digest: str, date: str) -> None:
    """Lines to sign on, and where the page comes from."""
    y, right = 25.0, WIDTH - MARGIN
    for k, what in enumerate(("set by", "checked by", "process authority")):
        x = MARGIN + 61.5 * k
        _rule(figure, (x, x + 57.0), y, width=0.5)
        _write(figure, f"{what}, date", x, y - 0.8, 55.0, size=FINE, colour=DIM)
    y -= 7.0
    _rule(figure, (MARGIN, right), y, width=0.4, colour=style.PALE)
    y = _write(figure, f"{program}, computed {date or '_' * 16}", MARGIN, y - 1.0, right - MARGIN, size=FINE)
    _write(figure, f"case SHA-256 {digest or 'none: not read from a file'}", MARGIN, y, right - MARGIN, size=FINE)
