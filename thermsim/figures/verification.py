"""The verification figure: every error against its bound, and the observed orders in space and time."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.container import BarContainer
from matplotlib.figure import Figure, SubFigure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import LogLocator, NullLocator

from thermsim.assess.verify.verification import Convergence, Row
from thermsim.figures import style
from thermsim.quantities import DIFFERENCE, DURATION

#: Ratios of error to bound below this are drawn as this.
LEAST_RATIO = 1e-4
#: Height of a row on paper [mm], and the size of its type [pt].
PITCH, FINE = 3.9, 6.5


def plot_verification(
    rows: Sequence[Row], space: Convergence, time: Convergence, *, figure: Figure | SubFigure | None = None
) -> Figure | SubFigure:
    """Draw the errors as parts of their bounds, and the errors against spacing and against step.

    Parameters
    ----------
    rows : sequence of Row
        The table.
    space, time : Convergence
        The two refinements.
    figure : Figure or SubFigure, optional
        Where to draw; a new figure where left out.

    Returns
    -------
    Figure or SubFigure
    """
    with style.styled():
        bars = PITCH * (len(rows) + len({row.case for row in rows})) + 18.0
        if figure is None:
            figure = style.new_figure(bars + 52.0)
        upper, lower = np.asarray(figure.subfigures(2, 1, height_ratios=(bars, 52.0))).ravel()
        plot_error_bars(rows, ax=upper.add_subplot())
        left, right = lower.subplots(1, 2)
        plot_convergence(space, ax=left, xlabel="spacing (finest grid = 1)")
        plot_convergence(time, ax=right, xlabel=DURATION.axis("time step"))
    return figure


def plot_error_bars(rows: Sequence[Row], *, ax: Axes) -> BarContainer:
    """Draw a bar for each row, the cases one below the other: error / bound, logarithmic, with the bound at 1."""
    with style.styled():
        ratio = np.array([max(abs(row.error) / row.bound, LEAST_RATIO) for row in rows])
        # what is not a number is not within its bound: its bar runs across
        ratio = np.where(np.isfinite(ratio), ratio, 1e3)
        places, headings = _places(rows)
        bars = ax.barh(
            places,
            ratio,
            height=0.62,
            color=[style.PASSED if row.passed else style.FAILED for row in rows],
            hatch=["" if row.passed else "xxxx" for row in rows],
            edgecolor="white",
            linewidth=0.0,
        )
        ax.set_xscale("log")
        low = 10.0 ** np.floor(np.log10(ratio.min()) - 0.1)
        ax.set_xlim(low, max(10.0, 10.0 ** np.ceil(np.log10(ratio.max()))))
        ax.set_ylim(min(places) - 0.6, max(headings.values()) + 0.6)
        labels = [(place, row.quantity) for place, row in zip(places, rows, strict=True)]
        ax.set_yticks([place for place, _ in labels], [label for _, label in labels], fontsize=FINE)
        ax.tick_params(axis="y", length=0)
        ax.axvline(1.0, color=style.LINE, linewidth=1.0)
        across = ax.get_yaxis_transform()
        for case, place in headings.items():
            ax.text(-0.01, place, case, transform=across, va="center", ha="right", fontsize=FINE + 0.5, weight="bold")
        for place, row in zip(places, rows, strict=True):
            text = f"{abs(row.error):.2g} of {row.bound:.2g} {row.unit}"
            ax.text(1.01, place, text, transform=across, va="center", fontsize=FINE - 0.5)
        handles: list[Artist] = [Line2D([], [], color=style.LINE, linewidth=1.0), Patch(facecolor=style.PASSED)]
        names = ["bound", "kept"]
        if not all(row.passed for row in rows):
            handles.append(Patch(facecolor=style.FAILED, hatch="xxxx", edgecolor="white"))
            names.append("not kept")
        ax.legend(handles, names, loc="lower right", bbox_to_anchor=(1.0, 1.0), ncols=3, borderaxespad=0.0)
        ax.set_xlabel("error / bound [-]")
    return bars


def _places(rows: Sequence[Row]) -> tuple[list[int], dict[str, int]]:
    """Heights of the rows and of the headings over the rows of one case, falling from the top to 0."""
    places: list[int] = []
    headings: dict[str, int] = {}
    place = len(rows) + len(dict.fromkeys(row.case for row in rows))
    for k, row in enumerate(rows):
        if k == 0 or row.case != rows[k - 1].case:
            place -= 1
            headings.setdefault(row.case, place)
        place -= 1
        places.append(place)
    return places, headings


def plot_convergence(study: Convergence, *, ax: Axes, xlabel: str) -> Line2D:
    """Draw an error against its size, both logarithmic, with a line of the order observed."""
    with style.styled():
        size, error = np.asarray(study.size), np.asarray(study.error)
        (line,) = ax.loglog(size, error, linestyle="none", marker="o", markersize=4.0, color=style.PASSED, zorder=3)
        # the line goes through the points' middle
        middle = np.exp(np.log(error).mean() - study.order * np.log(size).mean())
        ends = np.array([size.min(), size.max()])
        ax.plot(ends, middle * ends**study.order, color=style.PALE, linewidth=1.0)
        ax.set_title(f"observed order {study.order:.2f}")
        ax.set_xlabel(xlabel)
        ax.set_ylabel(DIFFERENCE.axis("error"))
        ax.margins(0.12)
        ax.set_xticks(size, [f"{value:.3g}" for value in size])
        ax.xaxis.set_minor_locator(NullLocator())
        ax.yaxis.set_major_locator(LogLocator(numticks=6))
    return line
