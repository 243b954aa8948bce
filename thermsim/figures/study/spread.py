"""A spread: histograms of the figures with their percentiles, and one depth of the probe for all runs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from thermsim.assess.probe.mismatch import GOOD
from thermsim.assess.study.plan import FIGURES, StudyResult
from thermsim.assess.study.robust_depth import RobustDepth, robust_depth
from thermsim.figures import style
from thermsim.quantities import LENGTH, PART, mm, percent
from thermsim.records.study.sentences import PERCENTILES, shown_figures

#: Panels of histograms, at most.
PANELS = 6


def plot_histograms(result: StudyResult) -> Figure:
    """Draw a histogram of each figure over the independent runs."""
    names = [name for name in shown_figures(result) if result.sampled(name).size > 1][:PANELS]
    rows = (len(names) + 1) // 2
    with style.styled():
        figure = style.new_figure(48.0 * rows + 6.0)
        axes = figure.subplots(rows, 2, squeeze=False).ravel()
        for name, ax in zip(names, axes, strict=False):
            draw_histogram(result, name, ax=ax)
        for ax in axes[len(names) :]:
            ax.set_axis_off()
    return figure


def draw_histogram(result: StudyResult, name: str, *, ax: Axes) -> list[Line2D]:
    """Draw one histogram; upright lines at the percentiles, which are returned."""
    values = FIGURES[name].quantity.edge(result.sampled(name))
    # about the square root of their number
    ax.hist(values, bins=max(5, min(40, round(values.size**0.5))), color=style.PALE)
    lines = []
    for level, part in zip(np.percentile(values, PERCENTILES), PERCENTILES, strict=True):
        lines.append(
            ax.axvline(level, color=style.LEAST_LETHALITY, linestyle="-" if part == 50 else "--", linewidth=1.0)
        )
        ax.annotate(
            f"{part} %",
            (level, 1.0),
            xycoords=("data", "axes fraction"),
            xytext=(1, 1),
            textcoords="offset points",
            fontsize=style.SMALL - 1,
            rotation=60,
            va="bottom",
        )
    ax.set_xlabel(FIGURES[name].label)
    ax.set_ylabel("runs")
    return lines


@dataclass(frozen=True)
class DepthCurves:
    """Artists of one depth for all: worst and mean mismatch, mean over-reading, the share in the window, all [%]."""

    worst: Line2D
    mean: Line2D
    heating: Line2D
    within: Line2D


def plot_robust_depth(result: StudyResult) -> Figure:
    """Draw mismatch over depth, below it the over-reading until heating ends, and how often the tip is in the window.

    Raises
    ------
    ValueError
        If the study has no depth for all runs.
    """
    robust = robust_depth(result)
    if robust is None:
        raise ValueError("the study has no depth for all runs")
    with style.styled():
        figure = style.new_figure(160.0)
        axes = figure.subplots(3, 1, sharex=True, height_ratios=(3, 3, 2))
        draw_robust_depth(robust, ax=(axes[0], axes[1], axes[2]))
        figure.legend(*axes[0].get_legend_handles_labels(), loc="outside upper center", ncols=2)
    return figure


def draw_robust_depth(robust: RobustDepth, *, ax: tuple[Axes, Axes, Axes]) -> DepthCurves:
    """Draw the mismatch on the first axes, over-reading until heating ends on the second, the share on the third."""
    upper, middle, lower = ax
    depth = mm(robust.depth)
    (worst,) = upper.plot(depth, percent(robust.worst), color=style.LEAST_LETHALITY, label="largest of all runs")
    (mean,) = upper.plot(depth, percent(robust.mean), color=style.LINE, linestyle=":", label="mean of all runs")
    middle.fill_between(
        depth, percent(robust.heating[0]), percent(robust.heating[2]), color=style.PALE, linewidth=0
    )  # fmt: skip
    (heating,) = middle.plot(depth, percent(robust.heating[1]), color=style.LINE, linestyle=":")
    (within,) = lower.plot(depth, percent(robust.within), color=style.LEAST_LETHALITY)
    for at, colour, dashes, label in (
        (robust.chosen, style.LOUD, "-", "one depth for all"),
        (robust.least_mean, style.LINE, "-.", "least mean mismatch"),
    ):
        for one in ax:
            one.axvline(depth[at], color=colour, linewidth=0.9, linestyle=dashes, label=label)
    for one in (upper, middle):
        one.axhline(percent(GOOD), color=style.TARGET, linewidth=0.8, linestyle="--", label="good is at most this")
    middle.axhline(0.0, color=style.LINE, linewidth=0.7)
    # far from the cold spot both grow without bound and hide what matters
    largest = percent(robust.worst[robust.chosen])
    upper.set_ylim(0.0, min(upper.get_ylim()[1], 5 * largest + 5))
    middle.set_ylim(max(middle.get_ylim()[0], -5 * largest - 5), min(middle.get_ylim()[1], 5 * largest + 5))
    upper.set_ylabel(PART.axis("mismatch"))
    middle.set_ylabel(PART.axis("over-reading until\nheating ends, all runs"))
    lower.set_ylabel(PART.axis("tip in the\nrun's window"))
    lower.set_ylim(0.0, 102.0)
    lower.set_xlabel(LENGTH.axis("depth, outer face to tip"))
    return DepthCurves(worst, mean, heating, within)
