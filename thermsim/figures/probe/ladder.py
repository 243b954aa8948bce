"""The ladder of depths: mismatch, what a probe reads, what its place has without it, and the depths recommended."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure, SubFigure
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon, Rectangle
from numpy.typing import ArrayLike

from thermsim.assess.probe.advice import Advice, Candidate, Rung
from thermsim.assess.probe.ladder import between
from thermsim.assess.probe.mismatch import GOOD
from thermsim.assess.simulate.result import Result
from thermsim.case.study import CRITERIA, Criterion
from thermsim.figures import style
from thermsim.figures.container.probe_outline import datum, outer_face
from thermsim.quantities import DEPTH, LENGTH, LETHALITY, PART, minutes, mm, percent
from thermsim.records.words.depth import elsewhere, not_through

#: The lethality is drawn with a logarithmic scale where it spans more than this ratio.
WIDE_RANGE = 4.0
#: The mismatch is drawn up to at least this [%].
STEEPEST = 40.0
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
        The recommended depths, this criterion's first; without one where the hole does not lead to the place.
    window : Polygon or Rectangle or None
        The depths whose mismatch is nearly the least; None where there is no such depth.
    """

    reading: Line2D
    without: Line2D
    truth: Line2D
    depths: tuple[Line2D, ...]
    window: Polygon | Rectangle | None


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
    """Draw the ladder of the case's own probe: mismatch, lethality of the whole process, and until heating ends.

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
            figure = style.new_figure(205.0)
        top, upper, lower = figure.subplots(3, 1, sharex=True)
        draw_mismatch(result, ax=top)
        draw_ladder(result, "least lethality", ax=upper)
        draw_ladder(result, "slowest heating", ax=lower)
        for ax in (top, upper):
            ax.set_xlabel("")
            ax.tick_params(labelbottom=False)
        _height_axis(result, top)
        entries = [dict(zip(*reversed(ax.get_legend_handles_labels()), strict=True)) for ax in (upper, lower)]
        # one column for each criterion, below what they share
        shared = [label for label in entries[0] if label in entries[1]]
        columns = [[*shared[k : k + 1], *sorted(entries[k].keys() - set(shared))] for k in (0, 1)]
        labels = [label for column in columns for label in column]
        figure.legend(
            [(entries[0] | entries[1])[label] for label in labels], labels, loc="outside upper center", ncols=2
        )
        figure.align_ylabels([top, upper, lower])
    return figure


def draw_mismatch(result: Result, *, ax: Axes) -> dict[Criterion, Line2D]:
    """Draw the mismatch [%] by both criteria over the insertion depth [mm], and up to where it is called good.

    Parameters
    ----------
    result : Result
        The result of a recommendation.
    ax : Axes
        Where to draw.

    Returns
    -------
    dict
        The line of each criterion.
    """
    candidate = advice_of(result).own
    profile, lines = candidate.profile, {}
    with style.styled():
        for criterion, dashes in zip(CRITERIA, ("-", "--"), strict=True):
            one = candidate.recommended(criterion)
            (lines[criterion],) = ax.plot(
                mm(profile.depth), percent(profile.of(criterion)), color=COLOURS[criterion], linestyle=dashes,
                label=f"with the place of {criterion}", marker="o" if profile.depth.size == 1 else None,
            )  # fmt: skip
            if elsewhere(result, criterion) is None:
                ax.axvline(mm(one.depth), color=COLOURS[criterion], linewidth=0.8, linestyle=dashes, zorder=2.5)
        own = candidate.recommended(advice_of(result).criterion)
        low, high = map(mm, own.window)
        ax.axvspan(low, high, color=COLOURS[own.criterion], alpha=0.13, linewidth=0.0, zorder=0.5)
        ax.axhspan(0.0, percent(GOOD), color=style.PALE, alpha=0.35, linewidth=0.0, zorder=0.4)
        # where the reading has nothing to do with the place any more the size does not matter
        least = percent(min(float(profile.of(criterion).min()) for criterion in CRITERIA))
        ax.set_ylim(0.0, max(STEEPEST, 3.0 * least))
        ax.set_title(f"Mismatch of lethal rates (grey: good, up to {percent(GOOD):g} %)")
        ax.set_xlabel(
            DEPTH.axis(f"Insertion depth from the {datum(candidate.probe, result.case.container)} to the tip")
        )
        ax.set_ylabel(PART.axis("Mismatch"))
        ax.legend(loc="best", fontsize=style.SMALL)
    return lines


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
            minutes(truth), color=colour, linewidth=1.0, linestyle="--", label=f"undisturbed {where} place", zorder=2
        )
        depths, window = _recommended(result, criterion, ax)
        values = [getattr(rung, name) for rung in candidate.ladder for name in names] + [truth]
        if max(values) > WIDE_RANGE * min(values):
            style.logarithmic(ax, (1.0, 1.5, 2.0, 3.0, 5.0, 7.0))
        ax.set_title("Whole process, cooling included" if whole else "Until heating ends")
        ax.set_xlabel(
            DEPTH.axis(f"{DEPTH.words} from the {datum(candidate.probe, result.case.container)} to the tip")
        )
        ax.set_ylabel(LETHALITY.axis())
    return Ladder(reading, without, line, depths, window)


def _rungs(
    candidate: Candidate, name: str, ax: Axes, colour: str, dashes: str | tuple[int, tuple[float, float]], label: str
) -> Line2D:
    """The rungs as dots, a smooth curve through them, and one entry for the legend."""
    ladder = candidate.ladder

    def figures(rungs: Sequence[Rung]) -> list[float]:
        return [minutes(getattr(rung, name)) for rung in rungs]

    if len(ladder) > 1:
        fine = between(ladder, np.linspace(ladder[0].depth, ladder[-1].depth, FINE))
        ax.plot([mm(rung.depth) for rung in fine], figures(fine), color=colour, linestyle=dashes, label="_")
    (dots,) = ax.plot(
        [mm(rung.depth) for rung in ladder],
        figures(ladder),
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
    result: Result, criterion: Criterion, ax: Axes
) -> tuple[tuple[Line2D, ...], Polygon | Rectangle | None]:
    """The window of this criterion, its recommended depth, and that of the other one."""
    candidate, window = advice_of(result).own, None
    place = elsewhere(result, criterion)
    if place is None:
        low, high = candidate.recommended(criterion).window
        window = ax.axvspan(mm(low), mm(high), color=COLOURS[criterion], alpha=0.13, linewidth=0.0, zorder=0.5)
        window.set_label(f"window: {LENGTH.number(low)} to {LENGTH.text(high)}")
    else:
        words = not_through(place).replace(" this", "\nthis")
        ax.plot([], [], linestyle="none", label=f"{criterion}: {words}")
    lines = []
    for name in sorted(CRITERIA, key=lambda one: one != criterion):
        if elsewhere(result, name) is not None:
            continue
        recommendation = candidate.recommended(name)
        lines.append(
            ax.axvline(
                mm(recommendation.depth),
                color=COLOURS[name],
                linewidth=1.5 if name == criterion else 0.8,
                linestyle="-" if name == criterion else (0, (1, 1.5)),
                label=f"depth for the {name}: {LENGTH.text(recommendation.depth)}" if name == criterion else "_",
                zorder=2.5,
            )
        )
    return tuple(lines), window


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
    second.set_xlabel(
        LENGTH.axis(
            f"Tip's distance from the {container.centre}, below 0 beyond it" if side else "Height z of the tip"
        )
    )
