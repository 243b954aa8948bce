"""A measured curve beside the model: temperatures, what is left over, and the lethality gathered."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure, SubFigure
from numpy.typing import NDArray

from thermsim.assess.fields.lethality import gathered_lethality
from thermsim.assess.measured.result import Comparison, Measured
from thermsim.figures import style
from thermsim.figures.container.histories import draw_medium, lay_out_process
from thermsim.quantities import DIFFERENCE, LETHALITY, TEMPERATURE, minutes

Array = NDArray[np.float64]
#: Samples that are drawn of a curve at most: more are no more to see.
DRAWN = 2000


def thinned_for_drawing(size: int) -> slice:
    """Every so many samples, so that no more than :data:`DRAWN` are drawn."""
    return slice(None, None, max(1, -(-size // DRAWN)))


def doubt_of(one: Measured) -> str:
    """Mark behind what is corrected of a container that does not stand."""
    return "" if one.sound else ", IN DOUBT"


def plot_measured(
    found: Comparison, one: Measured, *, figure: Figure | SubFigure | None = None
) -> Figure | SubFigure:
    """Draw temperatures [degC] above measured less computed [K], over time [min].

    Parameters
    ----------
    found : Comparison
    one : Measured
        One of its containers.
    figure : Figure or SubFigure, optional
        Where to draw; a new figure where left out.

    Returns
    -------
    Figure or SubFigure
    """
    with style.styled():
        if figure is None:
            figure = style.new_figure(122.0)
        upper, lower = figure.subplots(2, 1, sharex=True, height_ratios=(3, 2))
        _temperatures(found, one, upper)
        _residuals(found, one, lower)
        upper.set_xlabel("")
        handles, labels = upper.get_legend_handles_labels()
        figure.legend(handles, labels, loc="outside upper center", ncols=2)
        figure.align_ylabels([upper, lower])
    return figure


def _temperatures(found: Comparison, one: Measured, ax: Axes) -> None:
    draw_medium(found.process, ax)
    some = thinned_for_drawing(one.time.size)
    ax.plot(
        minutes(one.time[some]),
        one.temperature[some],
        ".",
        color=style.WITHOUT_PROBE,
        markersize=2.5,
        label="measured",
    )
    model = one.fitted or one.as_case
    name = "fitted model's reading" if one.fitted else "model's reading, as the case says"
    ax.plot(minutes(one.time[some]), model.temperature[some], color=style.READING, linewidth=0.9, label=name)
    if one.corrected is not None:
        ax.plot(
            minutes(one.corrected.time),
            one.corrected.temperature,
            color=style.LEAST_LETHALITY,
            linestyle="--",
            label="cold spot without the probe" + doubt_of(one),
        )
    lay_out_process(found.process, ax, TEMPERATURE.axis(), named="_")


def _residuals(found: Comparison, one: Measured, ax: Axes) -> None:
    some = thinned_for_drawing(one.time.size)
    ax.axhline(0.0, color=style.LINE, linewidth=0.6)
    kinds = [(one.as_case, style.PALE, "case as it stands"), (one.fitted, style.READING, "fitted model")]
    for model, colour, name in kinds:
        if model is not None:
            off = one.temperature - model.temperature
            ax.plot(minutes(one.time[some]), off[some], color=colour, linewidth=0.8, label=name)
    ax.legend(loc="best")
    lay_out_process(found.process, ax, DIFFERENCE.axis("Measured less\ncomputed"), named="_")


def plot_measured_lethality(
    found: Comparison, one: Measured, *, figure: Figure | SubFigure | None = None
) -> Figure | SubFigure:
    """Draw the lethality [min] that the logger gathers, and that of the corrected cold spot, over time [min].

    Parameters
    ----------
    found : Comparison
    one : Measured
        One of its containers.
    figure : Figure or SubFigure, optional
        Where to draw; a new figure where left out.

    Returns
    -------
    Figure or SubFigure
    """
    with style.styled():
        if figure is None:
            figure = style.new_figure(80.0)
        ax = figure.subplots()
        some = thinned_for_drawing(one.time.size)
        ax.plot(
            minutes(one.time[some]),
            minutes(one.general.course[some]),
            color=style.WITHOUT_PROBE,
            label="the logger says",
        )
        spot = one.corrected
        if spot is not None:
            course = gathered_lethality(spot.time, spot.temperature, found.case.lethality)
            # straight lines between output times fall a little short of what was computed
            course = course * (spot.lethality / course[-1] if course[-1] > 0.0 else 1.0)
            ax.plot(
                minutes(spot.time),
                minutes(course),
                color=style.LEAST_LETHALITY,
                label="cold spot, no probe" + doubt_of(one),
            )
            low, high = (minutes(course) * end / spot.lethality for end in (spot.low, spot.high))
            ax.fill_between(minutes(spot.time), low, high, color=style.LEAST_LETHALITY, alpha=0.25, linewidth=0.0)
        target = found.plan.target if found.plan.target is not None else found.case.lethality.target
        if target is not None:
            ax.axhline(minutes(target), color=style.TARGET, linewidth=1.0, linestyle="--", label="target")
        lay_out_process(found.process, ax, LETHALITY.axis(), named="_")
        ax.set_ylim(bottom=0.0)
        ax.legend(loc="upper left")
    return figure
