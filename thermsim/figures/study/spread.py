"""A spread: histograms of the figures with their percentiles, and one depth of the probe for all runs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

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
    """Artists of one depth for all: worst case and mean of the error [%], the share in the window [%]."""

    worst: Line2D
    mean: Line2D
    within: Line2D


def plot_robust_depth(result: StudyResult) -> Figure:
    """Draw the error of the reading over the depth above, the probability of lying in the window below."""
    robust = robust_depth(result)
    if robust is None:
        raise ValueError("the study has no depth for all runs")
    with style.styled():
        figure = style.new_figure(130.0)
        axes = figure.subplots(2, 1, sharex=True, height_ratios=(3, 2))
        draw_robust_depth(robust, ax=(axes[0], axes[1]))
        figure.legend(*axes[0].get_legend_handles_labels(), loc="outside upper center", ncols=2)
    return figure


def draw_robust_depth(robust: RobustDepth, *, ax: tuple[Axes, Axes]) -> DepthCurves:
    """Draw errors on the first axes and the probability on the second."""
    upper, lower = ax
    depth = mm(robust.depth)
    upper.fill_between(
        depth,
        percent(robust.lowest),
        percent(robust.highest),
        color=style.LEAST_LETHALITY,
        alpha=0.2,
        linewidth=0,
        label="over-reading of all runs",
    )
    upper.plot(depth, percent(robust.expected), color=style.LEAST_LETHALITY, label="mean over-reading")
    (worst,) = upper.plot(depth, percent(robust.worst), color=style.LOUD, linestyle="--", label="largest error")
    (mean,) = upper.plot(
        depth, percent(robust.mean_error), color=style.LINE, linestyle=":", label="mean size of the error"
    )
    (within,) = lower.plot(depth, percent(robust.within), color=style.LEAST_LETHALITY)
    for at, colour, dashes, label in (
        (robust.minimax, style.LOUD, "-", "depth with the smallest worst case"),
        (robust.least_mean, style.LINE, ":", "depth with the smallest mean error"),
    ):
        for one in ax:
            one.axvline(depth[at], color=colour, linewidth=0.9, linestyle=dashes, label=label)
    upper.axhline(0.0, color=style.LINE, linewidth=0.7)
    # far from the cold spot errors grow without bound and hide what matters
    least = percent(robust.worst[robust.minimax])
    upper.set_ylim(max(percent(robust.lowest.min()) - 1.0, -5 * least - 2), min(upper.get_ylim()[1], 5 * least + 5))
    upper.set_ylabel(PART.axis("reading against the cold spot"))
    lower.set_ylabel(PART.axis("tip in the run's window"))
    lower.set_ylim(0.0, 102.0)
    lower.set_xlabel(LENGTH.axis("depth, outer face to tip"))
    return DepthCurves(worst, mean, within)
