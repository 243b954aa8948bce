"""The ladder of depths: what a probe reads at each, what its place has without it, and the depths recommended."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure, SubFigure
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon, Rectangle
from matplotlib.ticker import FuncFormatter, LogLocator, NullLocator
from numpy.typing import ArrayLike

from thermsim.assess.probe.advice import CRITERIA, Advice, Candidate, Criterion, Rung
from thermsim.assess.probe.ladder import interpolated
from thermsim.assess.simulate.result import Result
from thermsim.figures import style
from thermsim.figures.container.probe_outline import datum, outer_face
from thermsim.figures.container.shape import MM

MINUTE = 60.0
#: The lethality is drawn with a logarithmic scale where it spans more than this ratio.
WIDE_RANGE = 4.0
#: Depths at which the curves through the rungs are drawn.
FINE = 101
#: The colour of each criterion is that of its cold spot.
COLOURS = {"least lethality": style.LEAST_LETHALITY, "slowest heating": style.SLOWEST_HEATING}


@dataclass(frozen=True)
class Ladder:
    """Artists of one criterion.

    Parameters
    ----------
    reading, without : Line2D
        The rungs: what the probe reads, and what its place has without it.
    truth : Line2D
        What the reading should be.
    depths : tuple of Line2D
        The recommended depths, this criterion's first.
    window : Polygon or Rectangle
        The depths at which the reading is nearly that at the recommended one.
    """

    reading: Line2D
    without: Line2D
    truth: Line2D
    depths: tuple[Line2D, Line2D]
    window: Polygon | Rectangle


def advice_of(result: Result) -> Advice:
    """The advice that a result holds.

    Raises
    ------
    ValueError
        If it holds none.
    """
    if result.advice is None:
        raise ValueError("the result holds no advice about a depth")
    return result.advice


def plot_ladder(result: Result, *, figure: Figure | SubFigure | None = None) -> Figure | SubFigure:
    """Draw the ladder of the case's own probe: the whole process above, until heating ends below.

    Parameters
    ----------
    result : Result
        The result of a recommendation.
    figure : Figure or SubFigure, optional
        Where to draw; a new figure where left out.

    Returns
    -------
    Figure or SubFigure
    """
    with style.styled():
        if figure is None:
            figure = style.new_figure(158.0)
        upper, lower = figure.subplots(2, 1, sharex=True)
        draw_ladder(result, "least lethality", ax=upper)
        draw_ladder(result, "slowest heating", ax=lower)
        upper.set_xlabel("")
        upper.tick_params(labelbottom=False)
        _height_axis(result, upper)
        entries = [dict(zip(*reversed(ax.get_legend_handles_labels()), strict=True)) for ax in (upper, lower)]
        # one column for each criterion, below what they share
        shared = [label for label in entries[0] if label in entries[1]]
        columns = [[*shared[k : k + 1], *sorted(entries[k].keys() - set(shared))] for k in (0, 1)]
        labels = [label for column in columns for label in column]
        figure.legend(
            [(entries[0] | entries[1])[label] for label in labels], labels, loc="outside upper center", ncols=2
        )
        figure.align_ylabels([upper, lower])
    return figure


def draw_ladder(result: Result, criterion: Criterion, *, ax: Axes) -> Ladder:
    """Draw the lethality [min] that a criterion compares over the insertion depth [mm].

    Parameters
    ----------
    result : Result
        The result of a recommendation.
    criterion : {"least lethality", "slowest heating"}
        The lethality of the whole process, or that until heating ends.
    ax : Axes
        Where to draw.

    Returns
    -------
    Ladder
    """
    candidate = advice_of(result).own
    whole = criterion == "least lethality"
    names = ("lethality", "without_lethality") if whole else ("heating_lethality", "without_heating")
    truth = result.spots[0].lethality if whole else result.spots[1].heating_lethality
    with style.styled():
        reading = _rungs(candidate, names[0], ax, style.READING, "-", "read by the probe")
        without = _rungs(
            candidate, names[1], ax, style.WITHOUT_PROBE, style.WITHOUT_DASHES, "same place without the probe"
        )
        colour = COLOURS[criterion]
        where = "least-lethality" if whole else "slowest-heating"
        line = ax.axhline(
            truth / MINUTE, color=colour, linewidth=1.0, linestyle="--", label=f"undisturbed {where} place", zorder=2
        )
        depths, window = _recommended(candidate, criterion, ax)
        values = [getattr(rung, name) for rung in candidate.ladder for name in names] + [truth]
        if max(values) > WIDE_RANGE * min(values):
            _logarithmic(ax)
        ax.set_title("Whole process, cooling included" if whole else "Until heating ends")
        ax.set_xlabel(f"Insertion depth from the {datum(candidate.probe, result.case.container)} to the tip [mm]")
        ax.set_ylabel("Lethality F [min]")
    return Ladder(reading, without, line, depths, window)


def _rungs(
    candidate: Candidate, name: str, ax: Axes, colour: str, dashes: str | tuple[int, tuple[float, float]], label: str
) -> Line2D:
    """The rungs as dots, a smooth curve through them, and one entry for the legend."""
    ladder = candidate.ladder

    def minutes(rungs: tuple[Rung, ...]) -> list[float]:
        return [getattr(rung, name) / MINUTE for rung in rungs]

    if len(ladder) > 1:
        fine = tuple(interpolated(ladder, float(x)) for x in np.linspace(ladder[0].depth, ladder[-1].depth, FINE))
        ax.plot([rung.depth * MM for rung in fine], minutes(fine), color=colour, linestyle=dashes, label="_")
    (dots,) = ax.plot(
        [rung.depth * MM for rung in ladder],
        minutes(ladder),
        linestyle="none",
        marker="o",
        markersize=3.6,
        color=colour,
        markeredgecolor="white",
        markeredgewidth=0.5,
        label="_",
        zorder=4,
    )
    ax.plot([], [], color=colour, linestyle=dashes, marker="o", markersize=3.6, label=label)
    return dots


def _recommended(
    candidate: Candidate, criterion: Criterion, ax: Axes
) -> tuple[tuple[Line2D, Line2D], Polygon | Rectangle]:
    """The window of this criterion, its recommended depth, and that of the other one."""
    own = candidate.recommended(criterion)
    low, high = (depth * MM for depth in own.window)
    window = ax.axvspan(low, high, color=COLOURS[criterion], alpha=0.13, linewidth=0.0, zorder=0.5)
    lines = []
    for name in sorted(CRITERIA, key=lambda one: one != criterion):
        recommendation = candidate.recommended(name)
        lines.append(
            ax.axvline(
                recommendation.depth * MM,
                color=COLOURS[name],
                linewidth=1.5 if name == criterion else 0.8,
                linestyle="-" if name == criterion else (0, (1, 1.5)),
                label=f"depth for the {name}: {recommendation.depth * MM:.1f} mm" if name == criterion else "_",
                zorder=2.5,
            )
        )
    window.set_label(f"reading within {100 * own.margin:g} %: {low:.1f} to {high:.1f} mm")
    return (lines[0], lines[1]), window


def _logarithmic(ax: Axes) -> None:
    """A logarithmic scale with plain numbers."""
    ax.set_yscale("log")
    ax.yaxis.set_major_locator(LogLocator(subs=(1.0, 1.5, 2.0, 3.0, 5.0, 7.0), numticks=50))
    ax.yaxis.set_minor_locator(NullLocator())
    ax.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))


def _height_axis(result: Result, ax: Axes) -> None:
    """The tip's height z above the outside of the base, above the panel."""
    probe, container = advice_of(result).own.probe, result.case.container
    face, inwards = outer_face(probe, container), 1.0 if probe.entry == "base" else -1.0

    def height(depth: ArrayLike) -> ArrayLike:
        return face + inwards * np.asarray(depth)

    def depth(height: ArrayLike) -> ArrayLike:
        return inwards * (np.asarray(height) - face)

    second = ax.secondary_xaxis("top", functions=(height, depth))
    second.spines["top"].set_visible(True)
    side = probe.entry == "side"
    second.set_xlabel("Tip's distance from the axis, below 0 beyond it [mm]" if side else "Height z of the tip [mm]")
