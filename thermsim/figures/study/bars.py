"""Influences on a figure: bars of a tornado, and Sobol indices with their intervals."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.container import BarContainer
from matplotlib.figure import Figure

from thermsim.assess.study.plan import FIGURES, StudyResult
from thermsim.assess.study.robust_depth import robust_depth
from thermsim.assess.study.sensitivity import Indices, sobol_indices, tornado
from thermsim.figures import style
from thermsim.quantities import LENGTH
from thermsim.records.study.sentences import quantity_name, short_lines, shown_figures

PITCH = 8.0
#: Figures of a tornado, in the order of preference, and how many panels there are.
_TORNADOES = ("least_lethality", "least_z", "recommended_depth", "bias", "required_hold", "slowest_end_of_heating")
PANELS = 4
#: Figures whose indices are drawn.
_INDEXED = ("least_lethality", "least_z", "recommended_depth", "bias")


def plot_tornado(result: StudyResult) -> Figure:
    """Draw a panel of bars for each of the most telling figures."""
    names = [name for name in _TORNADOES if name in shown_figures(result)][:PANELS]
    with style.styled():
        figure = style.new_figure(len(names) * (1.4 * PITCH * len(result.plan.places) + 20.0))
        for name, ax in zip(names, figure.subplots(len(names), 1, squeeze=False)[:, 0], strict=True):
            draw_tornado(result, name, ax=ax)
        figure.legend(*ax.get_legend_handles_labels(), loc="outside upper center", ncols=2)
    return figure


def draw_tornado(result: StudyResult, name: str, *, ax: Axes) -> list[BarContainer]:
    """Draw what each quantity alone does to a figure, the longest bar first: its low end and its high end."""
    bars = tornado(result, name)
    drawn = []
    # one above the other: both ends may lie on the same side of the case as it is
    for end, colour, offset in (("low", style.SLOWEST_HEATING, 0.16), ("high", style.LEAST_LETHALITY, -0.16)):
        ends = FIGURES[name].quantity.edge(np.array([getattr(bar, end) for bar in bars]))
        base = FIGURES[name].quantity.edge(np.array([bar.base for bar in bars]))
        label = f"quantity at its {end} end"
        drawn.append(
            ax.barh(offset - np.arange(len(bars)), ends - base, left=base, height=0.3, color=colour, label=label)
        )
    ax.axvline(FIGURES[name].quantity.edge(bars[0].base), color=style.LINE, linewidth=0.8)
    vary = result.plan.study.vary
    names = [
        f"{short_lines(quantity_name(result, bar.quantity))}\n{one.low:g} to {one.high:g}"
        for bar, one in ((bar, vary[bar.quantity]) for bar in bars)
    ]
    ax.set_yticks(-np.arange(len(bars)), names)
    ax.tick_params(axis="y", length=0)
    ax.set_xlabel(FIGURES[name].label)
    return drawn


def plot_sobol(result: StudyResult) -> Figure:
    """Draw first- and total-order indices of the most telling figures."""
    panels = indexed(result)
    with style.styled():
        figure = style.new_figure(len(panels) * (PITCH * len(result.plan.places) + 18.0))
        axes = figure.subplots(len(panels), 1, squeeze=False, sharex=True)[:, 0]
        for (title, indices), ax in zip(panels, axes, strict=True):
            draw_sobol(result, indices, ax=ax)
            ax.set_title(title)
        axes[0].legend(loc="best")
        axes[-1].set_xlabel("part of the variance")
    return figure


def indexed(result: StudyResult) -> list[tuple[str, Indices]]:
    """Titles and indices of the figures that have them."""
    found = []
    for name in _INDEXED:
        indices = sobol_indices(result, result.figures[name]) if result.shown(name) else None
        if indices is not None:
            found.append((name.replace("_", " "), indices))
    robust = robust_depth(result)
    if robust is not None and robust.mismatch_indices is not None:
        found.append((f"mismatch at {LENGTH.text(robust.best)}", robust.mismatch_indices))
    return found


def draw_sobol(result: StudyResult, indices: Indices, *, ax: Axes) -> tuple[BarContainer, BarContainer]:
    """Draw the indices of one figure, the largest total first."""
    order = np.argsort(-indices.total)
    rows = -np.arange(order.size)
    drawn = []
    for values, interval, offset, colour, label in (
        (indices.first, indices.first_interval, 0.2, style.MEDIUM, "first order"),
        (indices.total, indices.total_interval, -0.2, style.LEAST_LETHALITY, "total order"),
    ):
        # a percentile interval need not hold the estimate itself
        spread = np.abs(np.clip([values - interval[:, 0], interval[:, 1] - values], 0.0, None))[:, order]
        drawn.append(
            ax.barh(
                rows + offset,
                values[order],
                height=0.38,
                xerr=spread,
                color=colour,
                label=label,
                error_kw={"elinewidth": 0.9, "capsize": 2.0},
            )
        )
    ax.set_yticks(rows, [short_lines(quantity_name(result, int(k))) for k in order])
    ax.tick_params(axis="y", length=0)
    ax.axvline(0.0, color=style.LINE, linewidth=0.7)
    return drawn[0], drawn[1]
