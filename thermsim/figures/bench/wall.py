"""The sheet for the wall: one page with the settings of one probe in a family of cases."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.figure import Figure

from thermsim.assess.simulate.cautions import NO_VALIDATION
from thermsim.assess.simulate.result import Result
from thermsim.figures import style
from thermsim.figures.bench.paper import DIM, FINE, HEAD, LEADING, MARGIN, TITLE, box, footer, rule, write
from thermsim.figures.bench.setting import bench_of
from thermsim.figures.bench.words import excess_as_set, hole_text
from thermsim.figures.container.probe_outline import datum
from thermsim.figures.paper import HEIGHT, WIDTH, new_page
from thermsim.notice import of_flow
from thermsim.quantities import LENGTH
from thermsim.systems import nominal, told_bare, told_lengths

#: Left edges of the columns [mm from the left margin], and type of the depths [pt].
COLUMNS, DEPTH = (0.0, 58.0, 88.0, 122.0), 13.0


def plot_wall_sheet(results: Sequence[Result], labels: Sequence[str], *, title: str, program: str) -> Figure:
    """Lay the page out: a line for each case, with its depth in large type unless its product convects.

    Parameters
    ----------
    results : sequence of Result
        With advice.
    labels : sequence of str
        What each case is called.
    title, program : str
        What the family is called; name and version of the program.
    """
    right = WIDTH - MARGIN
    with style.styled():
        figure = new_page()
        write(figure, "Settings of the probe", MARGIN, HEIGHT - MARGIN, 120.0, size=TITLE, weight="bold")
        y = write(figure, title, MARGIN, HEIGHT - MARGIN - 8.0, right - MARGIN, size=10.0, verbatim=True)
        faces = sorted({datum(bench_of(one).probe, one.case.container) for one in results})
        probes = ", ".join(sorted({f'"{bench_of(one).probe.name}"' for one in results}))
        face = " or the ".join(faces)
        said = f"Probe {probes}. All lengths in {told_lengths()}. Depths count from the {face} to the tip."
        y = write(figure, said, MARGIN, y, right - MARGIN, size=HEAD) - 2.0
        for result, name in zip(results, labels, strict=True):
            for notice in of_flow(result.notices):
                y = box(figure, f'"{name}": {notice.short}', y, colour=style.LOUD)
        heads = ("case", "depth", "window", "take and measure outside")
        for x, head in zip(COLUMNS, heads, strict=True):
            write(figure, head, MARGIN + x, y, 60.0, size=FINE, colour=DIM)
        y -= LEADING * FINE + 1.0
        for result, name in zip(results, labels, strict=True):
            rule(figure, (MARGIN, right), y, width=0.5)
            y = _line(figure, result, name, y - 1.2) - 1.6
        rule(figure, (MARGIN, right), y, width=0.5)
        write(figure, NO_VALIDATION, MARGIN, y - 2.0, right - MARGIN, size=FINE)
        footer(figure, ("put up by", "checked by", "process authority"), program, "on each case's own sheet", "")
    return figure


def _line(figure: Figure, result: Result, name: str, y: float) -> float:
    bench = bench_of(result)
    low, high = bench.recommended.window
    ends = [write(figure, name, MARGIN, y - 1.0, COLUMNS[1] - 2.0, size=HEAD, weight="bold", verbatim=True)]
    x = [MARGIN + left for left in COLUMNS]
    if result.case.product.convects:
        ends.append(write(figure, "no depth: the product flows; see its own sheet", x[1], y - 1.0, 110.0, size=HEAD))
        return min(ends)
    ends.append(write(figure, told_bare(LENGTH.number(bench.depth)), x[1], y, 30.0, size=DEPTH, weight="bold"))
    write(figure, f"{LENGTH.number(low)} to {LENGTH.text(high)}", x[2], y - 1.0, 34.0, size=HEAD)
    if not bench.at_hand:
        how = "none at hand: get hardware that reaches it"
    elif bench.probe.mount == "through":
        how = f"{nominal(bench.probe.length)} probe, {LENGTH.text(bench.stick_out)} out"
    else:
        stack = [part.length for part in bench.probe.segments if part.spacer]
        heights = bench.setting.spacers if bench.setting else stack
        how = f"spacers {' + '.join(LENGTH.number(one) for one in heights)} mm" if heights else "no spacer"
    probe, container, end = bench.probe, result.case.container, y - 1.0
    excess = excess_as_set(result, bench)
    seam = 0.0 if probe.entry == "side" else container.seam_above(probe.entry)
    measure = "; measure the seam" if container.seam is not None and container.seam.assumed else ""
    notes = [
        (f"hole {hole_text(probe, container)}" if probe.z is not None and probe.mount == "through" else "", DIM),
        (f"depth from the seam's edge {LENGTH.text(bench.depth + seam)}{measure}" if seam else "", DIM),
        ("OUT OF THE WINDOW" if bench.at_hand and bench.tolerance is None else "", style.LOUD),
        ("" if bench.recommended.good else "NO DEPTH IS GOOD", style.LOUD),
        (f"UNSAFE SIDE: {excess.text}" if excess.unsafe else "", style.LOUD),
    ]
    for size, (text, colour) in ((HEAD, (how, style.LINE)), *((FINE, note) for note in notes if note[0])):
        end = write(figure, text, x[3], end, WIDTH - MARGIN - x[3], size=size, colour=colour)
    return min(*ends, end)
