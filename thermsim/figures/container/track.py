"""Track of the coldest point of the product over time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure, SubFigure
from matplotlib.lines import Line2D
from numpy.typing import NDArray

from thermsim.assess.simulate.result import Result
from thermsim.figures import style
from thermsim.figures.container.histories import lay_out_process
from thermsim.figures.container.outline import draw_outline, mark_place
from thermsim.figures.container.shape import shape_of
from thermsim.quantities import LENGTH, minutes, mm

Array = NDArray[np.float64]


@dataclass(frozen=True)
class TrackLines:
    """Artists: the coldest point while heating and while cooling, and the product's bounds.

    ``local`` is the side's radius at the coldest point's height, or the base's height at its radius, where it varies.
    """

    heating: Line2D
    cooling: Line2D
    bounds: tuple[Line2D, ...] = ()
    local: Line2D | None = None


def plot_track_height(result: Result, *, ax: Axes) -> TrackLines:
    """Draw the height z [mm] of the coldest point over time [min], between the product's base and surface."""
    case, track = result.case, result.cold_spot.track
    bounds = (case.container.floor, case.surface)
    rise = case.container.rise
    base = None if rise is None else case.container.floor + rise.at(track.r)
    return _plot_over_time(result, ax, track.z, bounds=bounds, local=base, label="z of the coldest\npoint")


def plot_track_radius(result: Result, *, ax: Axes) -> TrackLines:
    """Draw the radius r [mm] of the coldest point over time [min], between the axis and the product's widest side."""
    container, track = result.case.container, result.cold_spot.track
    bounds = (0.0, LENGTH.si_value(float(shape_of(result.case).product[:, 0].max())))
    side = None if container.profile.is_straight else container.profile.radius(track.z - container.floor)
    return _plot_over_time(result, ax, track.r, bounds=bounds, local=side, label="r of the coldest\npoint")


def plot_track_path(result: Result, *, ax: Axes) -> TrackLines:
    """Draw the coldest point's places in the right half of the section [mm]."""
    track = result.cold_spot.track
    with style.styled():
        draw_outline(shape_of(result.case), ax, fill=True)
        lines = _dots(result, ax, mm(track.r), mm(track.z))
        mark_place(
            result.cold_spot.slowest_heating,
            ax,
            marker=style.SLOWEST_MARKER,
            size=style.SLOWEST_SIZE,
            colour=style.SLOWEST_HEATING,
            label="slowest heating",
        )
        edge = mm(0.06 * result.case.container.outer_radius)
        ax.set_xlim(-edge, mm(result.case.container.outer_radius) + edge)
        ax.locator_params(axis="x", nbins=3)
    return lines


def plot_track(result: Result, *, figure: Figure | SubFigure | None = None) -> Figure | SubFigure:
    """Draw the coldest point's height and radius over time, and its places in the section.

    Parameters
    ----------
    result : Result
        The result of a run.
    figure : Figure or SubFigure, optional
        Where to draw; a new figure where left out.

    Returns
    -------
    Figure or SubFigure
    """
    container = result.case.container
    shape = container.outer_height / container.outer_radius
    with style.styled():
        if shape > 1.3:
            figure = figure or style.new_figure(96.0)
            panels = figure.subplot_mosaic([["z", "path"], ["r", "path"]], width_ratios=(2.2, min(1.4, 3.2 / shape)))
        else:
            figure = figure or style.new_figure(min(104.0 + 100.0 * shape, 180.0))
            panels = figure.subplot_mosaic([["z"], ["r"], ["path"]], height_ratios=(1, 1, max(2.6 * shape, 0.5)))
        plot_track_height(result, ax=panels["z"])
        plot_track_radius(result, ax=panels["r"])
        plot_track_path(result, ax=panels["path"])
        panels["z"].sharex(panels["r"])
        panels["z"].tick_params(labelbottom=False)
        panels["z"].set_xlabel("")
        entries = [panels[name].get_legend_handles_labels() for name in ("z", "r", "path")]
        handles = {label: handle for pair in entries for handle, label in zip(*pair, strict=True)}
        figure.legend(list(handles.values()), list(handles), loc="outside upper center", ncols=3)
        figure.align_ylabels([panels["z"], panels["r"]])
    return figure


def _plot_over_time(
    result: Result,
    ax: Axes,
    place: Array,
    *,
    bounds: tuple[float, float],
    local: Array | None,
    label: str,
) -> TrackLines:
    """One coordinate of the coldest point over time; ``local`` is the product's bound where it is at that time."""
    with style.styled():
        lines = _dots(result, ax, minutes(result.cold_spot.track.time), mm(place))
        edges = tuple(
            ax.axhline(
                mm(bound), color=style.PALE, linewidth=0.9, label="product's bounds" if k == 0 else "_", zorder=1
            )
            for k, bound in enumerate(bounds)
        )
        here = None
        if local is not None:
            (here,) = ax.plot(
                minutes(result.cold_spot.track.time),
                mm(local),
                color=style.PALE,
                linewidth=0.9,
                linestyle=(0, (4, 2)),
                label="bound at that place",
                zorder=1,
            )
        lay_out_process(result.case.process, ax, LENGTH.axis(label))
        span = mm(bounds[1] - bounds[0])
        ax.set_ylim(mm(bounds[0]) - 0.06 * span, mm(bounds[1]) + 0.06 * span)
    return TrackLines(lines.heating, lines.cooling, edges, here)


def _dots(result: Result, ax: Axes, x: Array, y: Array) -> TrackLines:
    """Dots and not a line: the coldest point can jump. NaN places are left out."""
    track = result.cold_spot.track
    known = ~np.isnan(track.r)
    heating = track.time <= result.case.process.heated_until

    def dots(which: NDArray[np.bool_], size: float, face: str, label: str) -> Line2D:
        (line,) = ax.plot(
            x[which],
            y[which],
            linestyle="none",
            marker="o",
            markersize=size,
            color=style.COLDEST_POINT,
            markerfacecolor=face,
            markeredgewidth=0.7,
            label=label,
            clip_on=False,
            zorder=4,
        )
        # the frame holds the dots; an empty set of them would claim all the room
        line.set_in_layout(False)
        return line

    return TrackLines(
        dots(known & heating, 1.8, style.COLDEST_POINT, "coldest while heating"),
        dots(known & ~heating, 3.2, "white", "coldest in cooling"),
    )
