"""A scan: a map of two quantities with the figures in it, and a cut that shows how both cold spots move."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import QuadMesh
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import NullLocator
from numpy.typing import NDArray

from thermsim.assess.study.plan import FIGURES, StudyResult
from thermsim.figures import style
from thermsim.quantities import R, Z, minutes
from thermsim.records.study.sentences import quantity_name
from thermsim.systems import told_axis, told_bare

Array = NDArray[np.float64]
#: A map with more cells than this has no numbers in them.
NUMBERED = 120
#: Curves of a cut, at most.
CURVES = 3
#: Heights that differ by less are one [mm].
SAME_MM = 1e-6


def grid_shape(result: StudyResult) -> tuple[int, ...]:
    """Number of values of each quantity."""
    return tuple(len(one.values) for one in result.plan.study.vary)


def plot_scan_map(result: StudyResult) -> Figure:
    """Draw the height of the place of least lethality and the least lethality over both quantities.

    Of a scan of one quantity: where in the section both cold spots go.
    """
    with style.styled():
        if len(grid_shape(result)) == 1:
            figure = style.new_figure(92.0)
            draw_wandering(result, ax=figure.subplots())
            return figure
        figure = style.new_figure(160.0)
        for name, ax in zip(("least_z", "least_lethality"), figure.subplots(2, 1), strict=True):
            mesh = draw_map(result, name, ax=ax)
            bar = figure.colorbar(mesh, ax=ax)
            bar.set_label(FIGURES[name].label)
    return figure


def draw_map(result: StudyResult, name: str, *, ax: Axes) -> QuadMesh:
    """Draw a figure as one cell for each run, its number in it; cells of failed runs stay empty."""
    first, second = (np.array(one.values) for one in result.plan.study.vary)
    values = FIGURES[name].quantity.edge(result.figures[name]).reshape(grid_shape(result)).T
    colours = style.LETHALITY_MAP if "lethality" in name else "viridis"
    across, up = np.arange(first.size), np.arange(second.size)
    mesh = ax.pcolormesh(across, up, values, shading="nearest", cmap=colours)
    if values.size <= NUMBERED:
        middle = (np.nanmin(values) + np.nanmax(values)) / 2
        for (k, j), value in np.ndenumerate(values):
            if np.isfinite(value):
                colour = "white" if value < middle else "black"
                number = told_bare(f"{value:.1f}", FIGURES[name].quantity)
                ax.text(j, k, number, color=colour, ha="center", va="center", fontsize=style.SMALL - 1)
    # cells are of one size, however the values lie
    for k, (axis, places, shown) in enumerate(((ax.xaxis, across, first), (ax.yaxis, up, second))):
        row, _ = told_axis(quantity_name(result, k))
        step = max(1, places.size // 12)
        numbers = (f"{value:g}" for value in shown[::step])
        axis.set_ticks(places[::step], [one if row is None else told_bare(one, row) for one in numbers])
        axis.set_minor_locator(NullLocator())
    ax.set_xlabel(quantity_name(result, 0))
    ax.set_ylabel(quantity_name(result, 1))
    return mesh


def draw_wandering(result: StudyResult, *, ax: Axes) -> None:
    """Draw the ways of both cold spots through r and z, a mark for each run, dark for low values of the quantity."""
    values = result.plan.values[:, 0]
    norm = Normalize(values.min(), values.max())
    for spot, marker, size in (("slowest", style.SLOWEST_MARKER, 46), ("least", style.LEAST_MARKER, 26)):
        r, z = (FIGURES[f"{spot}_{axis}"].quantity.edge(result.figures[f"{spot}_{axis}"]) for axis in "rz")
        ax.plot(r, z, color=style.PALE, linewidth=0.8, clip_on=False)
        drawn = ax.scatter(
            r, z, c=values, norm=norm, cmap="viridis", marker=marker, s=size, edgecolors=style.LINE, linewidths=0.4,
            clip_on=False, zorder=3,
        )  # fmt: skip
        # colours are the quantity's: the marks in the legend have none
        label = "least lethality" if spot == "least" else "slowest heating"
        ax.scatter([], [], marker=marker, s=size, facecolors="white", edgecolors=style.LINE, label=label)
    ax.set_xlim(left=0.0, right=max(1.0, ax.get_xlim()[1]))
    ax.set_xlabel(R.axis())
    ax.set_ylabel(Z.axis())
    ax.legend()
    figure = ax.get_figure(root=True)
    if figure is not None:
        figure.colorbar(drawn, ax=ax).set_label(quantity_name(result, 0))


def plot_scan_cut(result: StudyResult) -> Figure:
    """Draw heights of both cold spots, and the least lethality, over the first quantity."""
    with style.styled():
        figure = style.new_figure(140.0)
        upper, lower = figure.subplots(2, 1, sharex=True)
        draw_heights(result, ax=upper)
        draw_cut(result, "least_lethality", ax=lower)
        lower.set_xlabel(quantity_name(result, 0))
        handles, labels = upper.get_legend_handles_labels()
        title = quantity_name(result, 1) if len(grid_shape(result)) > 1 else None
        figure.legend(handles, labels, title=title, loc="outside upper center", ncols=2)
    return figure


def draw_heights(result: StudyResult, *, ax: Axes) -> list[Line2D]:
    """Draw the heights of both cold spots and of the product's surface; a line style for each second value."""
    lines = []
    for cut, (label, runs) in enumerate(cuts(result)):
        across = result.plan.values[runs, 0]
        for spot, colour, marker in (
            ("slowest", style.SLOWEST_HEATING, style.SLOWEST_MARKER),
            ("least", style.LEAST_LETHALITY, style.LEAST_MARKER),
        ):
            what = "least lethality" if spot == "least" else "slowest heating"
            lines += ax.plot(
                across,
                FIGURES[f"{spot}_z"].quantity.edge(result.figures[f"{spot}_z"][runs]),
                color=colour,
                marker=marker,
                markersize=4,
                linestyle=_dashes(cut),
                label=f"{what}{label}",
            )
    surfaces = [FIGURES["surface_z"].quantity.edge(result.figures["surface_z"][runs]) for _, runs in cuts(result)]
    # where all runs failed there is none
    known = [cut for cut, z in enumerate(surfaces) if np.isfinite(z).any()]
    apart = np.nan_to_num([np.abs(surfaces[cut] - surfaces[known[0]]) for cut in known]).max()
    # one line where the second quantity does not move the surface
    for cut in known if apart > SAME_MM else known[:1]:
        across = result.plan.values[cuts(result)[cut][1], 0]
        label = "product's surface" if cut == known[0] else "_nolegend_"
        ax.plot(across, surfaces[cut], color=style.PALE, linewidth=1.0, linestyle=_dashes(cut), label=label, zorder=1)
    ax.set_ylabel(Z.axis())
    return lines


def draw_cut(result: StudyResult, name: str, *, ax: Axes) -> list[Line2D]:
    """Draw a figure over the first quantity."""
    lines = []
    for cut, (label, runs) in enumerate(cuts(result)):
        lines += ax.plot(
            result.plan.values[runs, 0],
            FIGURES[name].quantity.edge(result.figures[name][runs]),
            color=style.LEAST_LETHALITY,
            marker=".",
            linestyle=_dashes(cut),
            label=label,
        )
    own, target = result.plan.places[0].value, result.case.lethality.target
    if own is not None:
        ax.axvline(own, color=style.PALE, linewidth=1.0, linestyle=":", zorder=1)
        ax.annotate(
            "the case", (own, 1.0), xycoords=("data", "axes fraction"), xytext=(2, -2), textcoords="offset points",
            va="top", fontsize=style.SMALL, color=style.MEDIUM,
        )  # fmt: skip
    if name == "least_lethality" and target is not None:
        ax.axhline(minutes(target), color=style.TARGET, linewidth=1.0, linestyle="--", zorder=1)
        ax.annotate(
            "target", (1.0, minutes(target)), xycoords=("axes fraction", "data"), xytext=(-2, 2),
            textcoords="offset points", ha="right", va="bottom", fontsize=style.SMALL, color=style.TARGET,
        )  # fmt: skip
    ax.set_ylabel(FIGURES[name].label)
    return lines


def cuts(result: StudyResult) -> list[tuple[str, NDArray[np.int64]]]:
    """Runs along the first quantity: for some values of the second, what the label adds and the runs' numbers."""
    shape = grid_shape(result)
    runs = np.arange(result.plan.runs).reshape(shape)
    if len(shape) == 1:
        return [("", runs)]
    chosen = np.unique(np.linspace(0, shape[1] - 1, min(CURVES, shape[1])).round().astype(int))
    second, own = result.plan.study.vary[1], result.plan.places[1].value
    if own is not None:
        # the case's own value, or the nearest to it, takes the place of the nearest that would be shown
        at = int(np.argmin(np.abs(np.asarray(second.values) - own)))
        chosen[int(np.argmin(np.abs(chosen - at)))] = at
    return [(f", {second.values[k]:g}", runs[:, k]) for k in chosen]


def _dashes(cut: int) -> str:
    return style.POINT_DASHES[cut % len(style.POINT_DASHES)]
