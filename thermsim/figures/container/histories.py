"""Temperatures and gathered lethality over time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure, SubFigure
from matplotlib.lines import Line2D
from numpy.typing import NDArray

from thermsim.assess.fields.lethality import gathered_course
from thermsim.assess.simulate.result import Result
from thermsim.case.process import Process
from thermsim.figures import style
from thermsim.quantities import LETHALITY, TEMPERATURE, TIME, minutes


@dataclass(frozen=True)
class Histories:
    """Artists: the medium, both cold spots (least lethality first), the points, the end of heating."""

    medium: Line2D
    spots: tuple[Line2D, Line2D]
    points: tuple[Line2D, ...]
    heated_until: Line2D


@dataclass(frozen=True)
class Gathered:
    """Artists: the lethality at both cold spots (least lethality first), and the target if there is one."""

    spots: tuple[Line2D, Line2D]
    target: Line2D | None


def lay_out_process(process: Process, ax: Axes, label: str, *, named: str = "heating ends") -> Line2D:
    """Lay out axes over the time of a process, the upright one labelled; a vertical line where heating ends."""
    ax.set_xlabel(TIME.axis())
    ax.set_ylabel(label)
    ax.set_xlim(0.0, minutes(process.end))
    return ax.axvline(
        minutes(process.heated_until), color=style.LINE, linewidth=0.8, linestyle=(0, (1, 1.5)), label=named, zorder=1
    )


def draw_medium(process: Process, ax: Axes) -> Line2D:
    """Draw the temperature of the heating medium."""
    (line,) = ax.plot(
        minutes(np.concatenate([stage.time for stage in process.stages])),
        np.concatenate([stage.medium for stage in process.stages]),
        color=style.MEDIUM,
        linewidth=1.2,
        label="heating medium",
    )
    return line


def plot_temperatures(result: Result, *, ax: Axes) -> Histories:
    """Draw the temperatures [degC] of the medium, both cold spots and the points over time [min].

    Parameters
    ----------
    result : Result
        The result of a run.
    ax : Axes
        Where to draw.

    Returns
    -------
    Histories
    """
    with style.styled():
        medium = draw_medium(result.case.process, ax)
        spots = _spot_lines(result, ax, [curve.temperature for curve in result.spots])
        points = tuple(
            ax.plot(
                minutes(point.time),
                point.temperature,
                color=style.POINTS[k % len(style.POINTS)],
                linestyle=style.POINT_DASHES[(k // len(style.POINTS) + k) % len(style.POINT_DASHES)],
                linewidth=1.1,
                label=f'"{point.name}"',
            )[0]
            for k, point in enumerate(result.points)
        )
        end = lay_out_process(result.case.process, ax, TEMPERATURE.axis())
    return Histories(medium, spots, points, end)


def plot_gathered(result: Result, *, ax: Axes) -> Gathered:
    """Draw the lethality [min] gathered at both cold spots over time [min], and the target.

    Parameters
    ----------
    result : Result
        The result of a run.
    ax : Axes
        Where to draw.

    Returns
    -------
    Gathered
    """
    lethality = result.case.lethality
    with style.styled():
        curves = [minutes(gathered_course(curve, result.case)) for curve in result.spots]
        spots = _spot_lines(result, ax, curves)
        target = None
        if lethality.target is not None:
            target = ax.axhline(
                minutes(lethality.target), color=style.TARGET, linewidth=1.0, linestyle="--", label="target lethality"
            )
        lay_out_process(result.case.process, ax, LETHALITY.axis())
        ax.set_ylim(bottom=0.0)
    return Gathered(spots, target)


def plot_histories(result: Result, *, figure: Figure | SubFigure | None = None) -> Figure | SubFigure:
    """Draw temperatures above the gathered lethality, on one time axis.

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
    with style.styled():
        if figure is None:
            figure = style.new_figure(112.0 + 4.0 * (len(result.points) // 2))
        upper, lower = figure.subplots(2, 1, sharex=True, height_ratios=(3, 2))
        plot_temperatures(result, ax=upper)
        plot_gathered(result, ax=lower)
        upper.set_xlabel("")
        handles = {
            label: line for ax in (upper, lower) for line, label in zip(*ax.get_legend_handles_labels(), strict=True)
        }
        figure.legend(list(handles.values()), list(handles), loc="outside upper center", ncols=2)
        figure.align_ylabels([upper, lower])
    return figure


def _spot_lines(result: Result, ax: Axes, curves: list[NDArray[np.float64]]) -> tuple[Line2D, Line2D]:
    """One curve for each of the cold spots; the second is dashed so that both show where they coincide."""
    colours = (style.LEAST_LETHALITY, style.SLOWEST_HEATING)
    labels = ("place of least lethality", "slowest-heating place")
    lines = [
        ax.plot(minutes(spot.time), curve, color=colour, linestyle=dashes, label=label, zorder=3)[0]
        for spot, curve, colour, label, dashes in zip(
            result.spots, curves, colours, labels, ("-", (0, (4, 2))), strict=True
        )
    ]
    return lines[0], lines[1]
