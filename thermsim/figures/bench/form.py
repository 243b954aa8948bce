"""The second page of a bench sheet: a form that is filled in as the containers are closed, a line for each."""

from __future__ import annotations

from collections.abc import Iterator

from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from thermsim.assess.simulate.result import Result
from thermsim.figures import style
from thermsim.figures.bench.cautions import pieces_caution
from thermsim.figures.bench.paper import BODY, DIM, FINE, LEADING, MARGIN, TITLE, box, footer, heading, rule, write
from thermsim.figures.bench.setting import Bench, bench_of, hole_height
from thermsim.figures.bench.sheet import confirmation, crowded
from thermsim.figures.paper import HEIGHT, WIDTH, new_page
from thermsim.notice import of_flow
from thermsim.quantities import LENGTH, MASS
from thermsim.systems import told_lengths

#: Lines of the form, and the height of each [mm].
LINES, LINE = 12, 9.5
#: Room that is left for remarks [mm].
REMARKS = 18.0
#: Where the numbers of containers come from stands beside them.
HOW_MANY = (
    "How many: ten or more containers with probes in each run, at the coldest place of the retort, and two runs or "
    "more; where these differ, a third (common practice, from memory). The process authority says how many."
)
WHAT_TO_WRITE = (
    "Write what was measured, not what was asked for; what can be measured outside, again after closing; the fill "
    "weight of the product alone; the vacuum with its unit. Drop no container: say why it does not count."
)


def plot_form(result: Result, *, program: str, digest: str, date: str = "") -> Figure:
    """Lay the form out; parameters and errors are those of the bench sheet."""
    bench = bench_of(result)
    right = WIDTH - MARGIN
    with style.styled():
        figure = new_page()
        y = HEIGHT - MARGIN
        write(figure, "Record of the containers", MARGIN, y, 120.0, size=TITLE, weight="bold")
        units = f"all lengths in {told_lengths()}"
        figure.text(right / WIDTH, (y - 1.5) / HEIGHT, units, ha="right", va="top", fontsize=FINE)
        title = result.case.title or "case without a title"
        y = write(figure, title, MARGIN, y - 8.0, right - MARGIN, size=10.0, verbatim=True) - 1.0
        for notice in of_flow(result.notices):
            y = box(figure, notice.short, y, colour=style.LOUD)
        y = write(figure, WHAT_TO_WRITE, MARGIN, y, right - MARGIN) - 3.0
        for k, what in enumerate(("run", "retort and place in it", "date and time")):
            x = MARGIN + 61.5 * k
            rule(figure, (x, x + 57.0), y - 6.0, width=0.5)
            write(figure, what, x, y - 6.8, 55.0, size=FINE, colour=DIM)
        y = _table(figure, result, bench, y - 14.0)
        y = write(figure, HOW_MANY, MARGIN, y - 2.0, right - MARGIN) - 1.0
        if result.case.product.pieces:
            y = heading(figure, "Pieces", y, MARGIN)
            y = write(figure, pieces_caution(result.case.product.pieces), MARGIN, y, right - MARGIN) - 1.0
        if crowded(result, bench):
            confirmation(figure, result, bench, y)
        footer(figure, ("filled in by", "checked by", "process authority"), program, digest, date)
    return figure


def columns(result: Result, bench: Bench) -> Iterator[tuple[str, str, float]]:
    """Each column's head, what the sheet asks for, and its width [mm]."""
    case = result.case
    flows = case.product.convects
    through = bench.probe.mount == "through"
    pieces = case.product.pieces
    yield "container", "as asked for", 24.0
    yield "channel", "", 17.0
    yield "depth as set", "" if flows else LENGTH.text(bench.depth), 26.0
    if through:
        yield "stick-out", "" if flows else LENGTH.text(bench.stick_out), 23.0
        if bench.probe.z is not None:
            height = LENGTH.text(hole_height(bench.probe, case.container))
            yield "hole's height", "" if flows else height, 23.0
    yield "fill weight", MASS.text(filled(result)), 25.0
    yield "vacuum", "", 20.0
    if pieces:
        yield "in a piece / beside", "", 24.0
    yield "initials", "", 18.0
    yield "remarks", "", 0.0


def filled(result: Result) -> float:
    """Mass of the product that a container is computed with [kg]."""
    return result.case.product_volume * result.case.product.material.density


def _table(figure: Figure, result: Result, bench: Bench, y: float) -> float:
    right, x = WIDTH - MARGIN, MARGIN
    top = y
    edges = []
    told = list(columns(result, bench))
    narrower = min(1.0, (right - x - REMARKS) / sum(width for *_, width in told))
    for head, asked, width in told:
        width = narrower * width or right - x
        edges.append(x)
        write(figure, head, x + 1.0, y, width - 1.0, size=FINE, colour=DIM)
        write(figure, asked, x + 1.0, y - 5.0, width - 1.0, weight="bold")
        x += width
    y -= 5.0 + LEADING * BODY + 1.5
    for k in range(LINES + 1):
        rule(figure, (MARGIN, right), y - k * LINE, width=0.5 if k else 1.0)
    bottom = y - LINES * LINE
    for edge in edges[1:]:
        _upright(figure, edge, (bottom, top))
    return bottom


def _upright(figure: Figure, x: float, ends: tuple[float, float]) -> None:
    figure.add_artist(Line2D([x / WIDTH] * 2, [ends[0] / HEIGHT, ends[1] / HEIGHT], color=style.PALE, linewidth=0.5))
