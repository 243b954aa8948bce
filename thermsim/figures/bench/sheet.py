"""The bench sheet: one A4 page for whoever drills the hole, sets the probe and reads it."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from thermsim.assess.probe.advice import Rung
from thermsim.assess.simulate.result import Result
from thermsim.figures import style
from thermsim.figures.bench.brick import draw_brick, draw_edge
from thermsim.figures.bench.cautions import cautions
from thermsim.figures.bench.drawing import draw_bench, printed_scale
from thermsim.figures.bench.flowing import heights, of_the_trade
from thermsim.figures.bench.paper import (
    BIG,
    BODY,
    DIM,
    FINE,
    LEADING,
    MARGIN,
    TITLE,
    box,
    footer,
    heading,
    rule,
    write,
)
from thermsim.figures.bench.setting import Bench, Row, bench_of
from thermsim.figures.bench.side import draw_side
from thermsim.figures.bench.words import blocks, confirm_sentence, loud, what_it_is
from thermsim.figures.container.probe_outline import outer_face
from thermsim.figures.paper import HEIGHT, WIDTH, new_page
from thermsim.quantities import LENGTH, LETHALITY, TEMPERATURE, mm
from thermsim.systems import told_bare, told_columns, told_lengths

#: Where the text begins beside the drawing, and where values begin beside their labels [mm from the left].
COLUMN, VALUES = 111.0, 139.0
#: Height of the drawing and of what is written below it [mm].
DRAWING, CAPTION = 94.0, 5.0
#: Least height at which the page's own words end, above the lines to sign on [mm].
FOOT = 27.0
#: Left edges of the confirmation table's columns [mm from the left margin].
TABLE = (3.0, 22.0, 49.0, 87.0, 122.0, 160.0)


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
    if result.case.product.convects:
        bench = of_the_trade(result, bench)
    with style.styled():
        figure, end = _laid_out(result, bench, short=False)
        if end < FOOT:
            figure, _ = _laid_out(result, bench, short=True)
        footer(figure, ("set by", "checked by", "process authority"), program, digest, date)
    return figure


def crowded(result: Result, bench: Bench) -> bool:
    """True where the page has no room for what confirms the place, which then goes to the next one."""
    with style.styled():
        return not result.case.product.convects and _laid_out(result, bench, short=False)[1] < FOOT


def _laid_out(result: Result, bench: Bench, *, short: bool) -> tuple[Figure, float]:
    """The page without its foot, and where it ends [mm]; ``short``: what confirms the place is on the next one."""
    figure = new_page()
    y = _header(figure, result, bench, HEIGHT - MARGIN)
    for sentence in loud(result, bench):
        y = box(figure, sentence, y, colour=style.LOUD)
    top = y - 1.0
    right = top
    for head, rows in blocks(result, bench):
        right = _block(figure, head, rows, right)
    left = _drawing(figure, result, bench, top)
    left = _cautions(figure, result, bench, left)
    y = min(left, right) - 1.0
    if short:
        # under the column that ends higher
        x, y = (COLUMN, right) if right > left else (MARGIN, left)
        return figure, write(figure, "Depths that confirm the place: on the next page.", x, y - 1.0, COLUMN - MARGIN)
    if result.case.product.convects:
        return figure, _heights(figure, result, y)
    return figure, confirmation(figure, result, bench, y)


def _header(figure: Figure, result: Result, bench: Bench, y: float) -> float:
    """Write the head of the page and the case that it belongs to."""
    right = WIDTH - MARGIN
    write(figure, "Bench sheet", MARGIN, y, 60.0, size=TITLE, weight="bold")
    figure.text(
        right / WIDTH,
        (y - 1.5) / HEIGHT,
        f"all lengths in {told_lengths()}; print at 100 %",
        ha="right",
        va="top",
        fontsize=FINE,
    )
    y = write(
        figure, result.case.title or "case without a title", MARGIN, y - 8.0, right - MARGIN, size=10.0, verbatim=True
    )
    y = write(figure, what_it_is(result, bench), MARGIN, y - 0.4, right - MARGIN, size=FINE)
    rule(figure, (MARGIN, right), y - 1.0, width=1.2)
    return y - 3.0


def _block(figure: Figure, head: str, rows: Sequence[Row], y: float) -> float:
    """A heading and its rows beside the drawing: labels at the left, values at the right."""
    right = WIDTH - MARGIN
    y = heading(figure, head, y, COLUMN)
    rule(figure, (COLUMN, right), y + 0.3, width=0.4, colour=style.PALE)
    y -= 0.6
    for row in rows:
        size, weight = (BIG, "bold") if row.big else (BODY, "bold" if row.strong else "normal")
        drop = 1.6 if row.big else 0.0
        ends = (
            write(figure, row.label, COLUMN, y - drop, VALUES - COLUMN - 1.0, size=FINE, colour=DIM),
            write(figure, row.value, VALUES, y, right - VALUES, size=size, weight=weight),
        )
        y = min(ends) - 0.5
    return y - 2.0


def _drawing(figure: Figure, result: Result, bench: Bench, top: float) -> float:
    """The section at the left, its scale written below."""
    width, bottom = COLUMN - MARGIN - 4.0, top - DRAWING
    ax = figure.add_axes((MARGIN / WIDTH, bottom / HEIGHT, width / WIDTH, DRAWING / HEIGHT))
    side, brick = bench.probe.entry == "side", result.case.container.brick is not None
    draw = (draw_edge if brick else draw_side) if side else draw_brick if brick else draw_bench
    drawing = draw(result, bench, ax=ax, paper=(width, DRAWING))
    for written in (*drawing.dimensions, *drawing.labels):
        written.set_text(told_bare(written.get_text()))
    what = "Sections" if draw is draw_brick else "Section"
    text = f"{what} through the {result.case.container.centre}, scale {printed_scale(drawing.scale)}"
    write(figure, text, MARGIN, bottom, width, size=FINE)
    return bottom - CAPTION


def confirmation(figure: Figure, result: Result, bench: Bench, y: float) -> float:
    """A table of the depth and of those round it, with what to expect at each."""
    y = heading(figure, "Confirm the place: depths round it, and what the probe should show there", y, MARGIN)
    outside, symbol = bench.probe.mount == "through", result.case.lethality.symbol
    heads = [
        "depth",
        "stick-out" if outside else "spacers together",
        f"tip from the {result.case.container.centre}" if bench.probe.entry == "side" else "height z of the tip",
        TEMPERATURE.axis("when heating ends"),
        LETHALITY.axis(f"{symbol} until heating ends"),
        LETHALITY.axis(f"{symbol} in all"),
    ]
    places = [MARGIN + left for left in TABLE]
    rows = sorted([bench.reading, *bench.confirmation], key=lambda rung: rung.depth)
    # the first three are lengths, whose unit stands at the head of the page
    units = [f"[{LENGTH.unit}]", f"[{LENGTH.unit}]", f"[{LENGTH.unit}]", *heads[3:]]
    told_heads, cells = told_columns(units, [_cells(result, bench, rung) for rung in rows])
    for x, head in zip(places, [*heads[:3], *told_heads[3:]], strict=True):
        write(figure, head, x, y, 40.0, size=FINE, colour=DIM)
    y -= LEADING * FINE + 0.4
    for rung, texts in zip(rows, cells, strict=True):
        rule(figure, (MARGIN, WIDTH - MARGIN), y + 0.2, width=0.3, colour=style.PALE)
        weight = "bold" if rung is bench.reading else "normal"
        for x, text in zip(places, texts, strict=True):
            write(figure, text, x, y - 0.4, 40.0, weight=weight)
        y -= LEADING * BODY + 0.7
    return write(figure, confirm_sentence(bench, symbol), MARGIN, y - 0.6, WIDTH - 2 * MARGIN, size=BODY)


def _heights(figure: Figure, result: Result, y: float) -> float:
    """Heights to measure at where the product convects, with room for what is read there."""
    y = heading(figure, "Measure at several heights: the lowest reading decides, not this sheet", y, MARGIN)
    read = "read when heating ends", f"{result.case.lethality.symbol} read"
    heads = ("above the inside of the base", "depth from the datum", "at hand", *read)
    places = [MARGIN + left for left in (3.0, 45.0, 76.0, 126.0, 160.0)]
    for x, head in zip(places, heads, strict=True):
        write(figure, head, x, y, 45.0, size=FINE, colour=DIM)
    y -= LEADING * FINE + 1.0
    for cells in heights(result):
        rule(figure, (MARGIN, WIDTH - MARGIN), y + 0.2, width=0.3, colour=style.PALE)
        for x, text in zip(places, cells, strict=False):
            write(figure, text, x, y - 1.0, 45.0)
        for x in places[3:]:
            rule(figure, (x, x + 24.0), y - 5.0, width=0.5)
        y -= LEADING * BODY + 2.6
    return y


def _cells(result: Result, bench: Bench, rung: Rung) -> list[str]:
    deeper = rung.depth - bench.depth
    spacers = sum(segment.length for segment in bench.probe.segments if segment.spacer)
    set_by = bench.stick_out - deeper if bench.probe.mount == "through" else spacers + deeper
    inwards = 1.0 if bench.probe.entry == "base" else -1.0
    height = outer_face(bench.probe, result.case.container) + mm(inwards * rung.depth)
    return [
        LENGTH.number(rung.depth),
        LENGTH.number(set_by),
        _place(LENGTH.si_value(height), bench, result.case.container.centre),
        f"{rung.end_of_heating:.1f}",
        *(LETHALITY.text(one).partition(" ")[0] for one in (rung.heating_lethality, rung.lethality)),
    ]


def _place(height: float, bench: Bench, centre: str) -> str:
    """The tip's height z, or its distance from the axis: which side of that it is on is told in words."""
    if bench.probe.entry != "side" or LENGTH.number(height) == LENGTH.number(abs(height)):
        return LENGTH.number(height)
    return f"{LENGTH.number(-height)} past the {centre}"


def _cautions(figure: Figure, result: Result, bench: Bench, y: float) -> float:
    """Warnings to heed at the bench, in a frame below the drawing."""
    top, width = y, COLUMN - MARGIN - 6.0
    y = heading(figure, "Cautions", y - 2.0, MARGIN + 3.0)
    for sentence in cautions(result, bench.probe):
        write(figure, "•", MARGIN + 3.0, y, 5.0, size=FINE)
        y = write(figure, sentence, MARGIN + 5.5, y, width - 8.0, size=FINE) - 0.4
    figure.add_artist(
        Rectangle(
            (MARGIN / WIDTH, (y - 1.0) / HEIGHT), width / WIDTH, (top - y + 1.0) / HEIGHT,
            fill=False, edgecolor=style.LINE, linewidth=0.9,
        )
    )  # fmt: skip
    return y - 3.0
