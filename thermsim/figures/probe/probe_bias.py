"""Offset of a probe's reading over time, and what other stems at its depth would do."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure, SubFigure
from matplotlib.lines import Line2D
from matplotlib.text import Annotation
from matplotlib.ticker import NullLocator

from thermsim.assess.depth.stems import conductivity_along
from thermsim.assess.fields.curve import Curve
from thermsim.assess.probe.advice import Stem
from thermsim.assess.probe.effect import Bias, ProbeEffect
from thermsim.assess.simulate.result import Result
from thermsim.figures import style
from thermsim.figures.container.histories import draw_medium, lay_out_process
from thermsim.figures.probe.ladder import advice_of
from thermsim.quantities import CONDUCTIVITY, DIFFERENCE, LENGTH, PART, TEMPERATURE, minutes, mm, percent
from thermsim.records.numbers.probe import offset, shown_spot
from thermsim.systems import told_bare


@dataclass(frozen=True)
class Readings:
    """Artists: the medium, the reading, its place without the probe, the undisturbed cold spot it is to show."""

    medium: Line2D
    reading: Line2D
    without: Line2D
    cold_spot: Line2D


@dataclass(frozen=True)
class Difference:
    """Artists: the reading less another curve, the largest values of both phases."""

    line: Line2D
    largest: tuple[Annotation, ...]


def effect_of(result: Result) -> ProbeEffect:
    """Effect of the probe, from a result that holds it.

    Raises
    ------
    ValueError
        If it holds none.
    """
    if result.probe is None:
        raise ValueError("the result holds no probe")
    return result.probe


def plot_bias(result: Result, *, figure: Figure | SubFigure | None = None) -> Figure | SubFigure:
    """Draw the reading beside what it should be, and below what it differs by, on one time axis.

    Parameters
    ----------
    result : Result
        The result of a run with a probe.
    figure : Figure or SubFigure, optional
        Where to draw; a new figure where left out.

    Returns
    -------
    Figure or SubFigure
    """
    with style.styled():
        if figure is None:
            figure = style.new_figure(150.0)
        upper, middle, lower = figure.subplots(3, 1, sharex=True, height_ratios=(3, 2, 2))
        draw_readings(result, ax=upper)
        draw_offset(result, ax=middle)
        draw_difference(result, ax=lower)
        for ax in (upper, middle):
            ax.set_xlabel("")
        figure.legend(*upper.get_legend_handles_labels(), loc="outside upper center", ncols=2)
        figure.align_ylabels([upper, middle, lower])
    return figure


def draw_readings(result: Result, *, ax: Axes) -> Readings:
    """Draw the temperatures [degC] of medium, reading, its place without the probe and the undisturbed cold spot."""
    effect, spot = effect_of(result), shown_spot(result)
    with style.styled():
        medium = draw_medium(result.case.process, ax)
        lines = [
            ax.plot(minutes(curve.time), curve.temperature, color=colour, linestyle=dashes, label=label, zorder=3)[0]
            for curve, colour, dashes, label in (
                (effect.reading, style.READING, "-", "read by the probe"),
                (effect.without_probe, style.WITHOUT_PROBE, style.WITHOUT_DASHES, "same place without the probe"),
                (spot, _colour(result), (0, (1, 1.2)), f"undisturbed place of {spot.name}"),
            )
        ]
        lay_out_process(result.case.process, ax, TEMPERATURE.axis())
    return Readings(medium, *lines)


def draw_difference(result: Result, *, ax: Axes) -> Difference:
    """Draw the reading less its place without the probe [K], and name the largest values of both phases."""
    effect = effect_of(result)
    label = "Reading − same place\nwithout the probe"
    return _less(result, effect.without_probe, effect.at_place, label, style.READING, ax)


def draw_offset(result: Result, *, ax: Axes) -> Difference:
    """Draw the reading less the cold spot that it is to show [K], and name the largest values of both phases."""
    return _less(result, shown_spot(result), offset(result), "Reading −\ncold spot", _colour(result), ax)


def _colour(result: Result) -> str:
    """The colour of the cold spot that the reading is to show."""
    return style.LEAST_LETHALITY if shown_spot(result) is result.spots[0] else style.SLOWEST_HEATING


def _less(result: Result, truth: Curve, bias: Bias, label: str, colour: str, ax: Axes) -> Difference:
    """Draw the reading less another curve; ``bias`` has the largest values."""
    reading = effect_of(result).reading
    with style.styled():
        ax.axhline(0.0, color=style.PALE, linewidth=0.8, zorder=1)
        (line,) = ax.plot(minutes(reading.time), reading.temperature - truth.temperature, color=colour, zorder=3)
        lay_out_process(result.case.process, ax, DIFFERENCE.axis(label))
        largest = [
            _name_largest(ax, minutes(when), value, colour)
            for value, when in (
                (bias.temperature, bias.temperature_time),
                (bias.cooling_temperature, bias.cooling_temperature_time),
            )
            if value != 0.0
        ]
        ax.margins(y=0.25)
    return Difference(line, tuple(largest))


def _name_largest(ax: Axes, time: float, value: float, colour: str) -> Annotation:
    """A dot on the curve and its value beyond it."""
    ax.plot([time], [value], marker="o", markersize=4.0, color=colour, zorder=4)
    above = value > 0.0
    return ax.annotate(
        f"{value:+z.1f} K".replace("-", "−"),
        (time, value),
        xytext=(0.0, 5.0 if above else -5.0),
        textcoords="offset points",
        ha="center",
        va="bottom" if above else "top",
        fontsize=style.SMALL,
        zorder=5,
    )


def plot_stems(result: Result, *, figure: Figure | SubFigure | None = None) -> Figure | SubFigure:
    """Draw what the probe does until heating ends, over the stem's diameter and over its conductivity.

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
            figure = style.new_figure(72.0)
        left, right = figure.subplots(1, 2, sharey=True)
        draw_stems(result, ax=(left, right))
        right.set_ylabel("")
        figure.legend(*left.get_legend_handles_labels(), loc="outside upper center", ncols=2)
    return figure


def draw_stems(result: Result, *, ax: tuple[Axes, Axes]) -> tuple[Line2D, Line2D]:
    """Draw the bias until heating ends [%] over the diameter [mm] on the first axes, over conductivity on the second.

    Returns
    -------
    (Line2D, Line2D)
        The two curves.
    """
    advice = advice_of(result)
    tip = advice.own.probe.segments[-1]
    own = tip.diameter, conductivity_along(tip)
    with style.styled():
        by_diameter = [stem for stem in advice.stems if math.isclose(stem.conductivity, own[1])]
        by_conductivity = [stem for stem in advice.stems if math.isclose(stem.diameter, own[0])]
        first = _stem_curve(ax[0], [(mm(stem.diameter), stem) for stem in by_diameter], own)
        ax[0].set_xlabel(LENGTH.axis("Stem diameter") + f"\n(conductivity {own[1]:.3g} W/mK)")
        ax[0].set_ylabel(PART.axis("Lethality until heating ends, against\nthe same place without the probe"))
        second = _stem_curve(ax[1], [(stem.conductivity, stem) for stem in by_conductivity], own)
        ax[1].set_xscale("log")
        values = np.asarray(second.get_xdata(), dtype=float)
        marks = _apart(values, own[1])
        ax[1].set_xticks(marks, [told_bare(f"{value:.3g}", CONDUCTIVITY) for value in marks])
        ax[1].xaxis.set_minor_locator(NullLocator())
        ax[1].set_xlabel(CONDUCTIVITY.axis("Conductivity along the stem") + f"\n(diameter {mm(own[0]):g} mm)")
    return first, second


def _stem_curve(ax: Axes, stems: list[tuple[float, Stem]], own: tuple[float, float]) -> Line2D:
    """The stems in growing order joined by a line, the probe's own ringed."""
    found = dict(sorted(stems, key=lambda pair: pair[0]))
    (line,) = ax.plot(
        list(found),
        [percent(stem.heating_bias) for stem in found.values()],
        color=style.READING,
        marker="o",
        markersize=4.0,
        label="stems at this depth",
    )
    here = [
        (x, percent(stem.heating_bias))
        for x, stem in found.items()
        if math.isclose(stem.diameter, own[0]) and math.isclose(stem.conductivity, own[1])
    ]
    ax.plot(
        *zip(*here, strict=True), linestyle="none", marker="o", markersize=9.5, markerfacecolor="none",
        markeredgecolor=style.SLOWEST_HEATING, markeredgewidth=1.6, label="this probe's own",
    )  # fmt: skip
    ax.axhline(0.0, color=style.PALE, linewidth=0.8, zorder=1)
    ax.margins(0.1)
    return line


def _apart(values: Sequence[float] | np.ndarray[tuple[int], np.dtype[np.float64]], own: float) -> list[float]:
    """The values whose numbers do not run into each other on a logarithmic axis; the own one always."""
    kept = [own]
    for value in values:
        if all(abs(math.log(value / other)) > math.log(1.6) for other in kept):
            kept.append(float(value))
    return sorted(kept)
