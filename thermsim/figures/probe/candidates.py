"""Probes and entries beside each other: the error left at the best depth, and what the probe itself does."""

from __future__ import annotations

from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.container import BarContainer
from matplotlib.figure import Figure, SubFigure

from thermsim.assess.probe.advice import GOOD, Advice, Recommendation
from thermsim.assess.simulate.result import Result
from thermsim.figures import style
from thermsim.figures.container.shape import MM
from thermsim.figures.probe.ladder import advice_of

#: Height of a row on paper [mm].
PITCH = 9.0
#: Part of the panel's width that a number beside a bar needs.
NUMBER = 0.3


@dataclass(frozen=True)
class Bars:
    """Artists: a bar for each candidate, in the order of the advice: over-reading, bias until heating ends."""

    over_reading: BarContainer
    heating_bias: BarContainer


def plot_candidates(result: Result, *, figure: Figure | SubFigure | None = None) -> Figure | SubFigure:
    """Draw the candidates, the best first, for the criterion that was chosen.

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
            figure = style.new_figure(PITCH * len(advice_of(result).candidates) + 28.0)
        left, right = figure.subplots(1, 2, sharey=True)
        draw_candidates(result, ax=(left, right))
    return figure


def draw_candidates(result: Result, *, ax: tuple[Axes, Axes]) -> Bars:
    """Draw the over-reading [%] on the first axes and the bias until heating ends [%] on the second."""
    advice = advice_of(result)
    found = [candidate.recommended(advice.criterion) for candidate in advice.candidates]
    with style.styled():
        over = _bars(found, [one.over_reading for one in found], ax[0])
        ax[0].set_title(f"Reading against the true\n{advice.criterion}")
        bias = _bars(found, [one.heating_bias for one in found], ax[1])
        ax[1].set_title("Until heating ends, against\nits place without the probe")
        _name_rows(advice, found, ax[0])
        ax[1].tick_params(axis="y", length=0, labelleft=False)
    return Bars(over, bias)


def _name_rows(advice: Advice, found: list[Recommendation], ax: Axes) -> None:
    """Probe, entry and depth of each row; the case's own in bold."""
    names = [
        f"{candidate.probe.name}\n{candidate.probe.entry}, {one.depth * MM:.1f} mm"
        for candidate, one in zip(advice.candidates, found, strict=True)
    ]
    ax.set_yticks([-k for k in range(len(found))], names)
    ax.tick_params(axis="y", length=0)
    ax.get_yticklabels()[advice.chosen].set_fontweight("bold")
    ax.set_ylim(-len(found) + 0.45, 0.55)


def _bars(found: list[Recommendation], values: list[float], ax: Axes) -> BarContainer:
    """A bar with its number for each value; hatched where it is not within what is called good, which is shaded."""
    percent = [100.0 * value for value in values]
    good = [abs(value) <= GOOD for value in values]
    bars = ax.barh(
        [-k for k in range(len(found))],
        percent,
        height=0.5,
        color=[style.PASSED if fine else style.FAILED for fine in good],
        hatch=["" if fine else "xxxx" for fine in good],
        edgecolor="white",
        linewidth=0.0,
        zorder=2,
    )
    ax.axvspan(-100.0 * GOOD, 100.0 * GOOD, color=style.PALE, alpha=0.25, linewidth=0.0, zorder=0.5)
    ax.axvline(0.0, color=style.LINE, linewidth=0.7, zorder=3)
    low, high = min(-100.0 * GOOD, *percent), max(100.0 * GOOD, *percent)
    room = NUMBER * (high - low)
    ax.set_xlim(low - (room if min(percent) < 0.0 else 0.0), high + (room if max(percent) >= 0.0 else 0.0))
    for k, value in enumerate(percent):
        ax.annotate(
            f"{value:+.1f}".replace("-", "−"),
            (value, -k),
            xytext=(3.0 if value >= 0.0 else -3.0, 0.0),
            textcoords="offset points",
            va="center",
            ha="left" if value >= 0.0 else "right",
            fontsize=style.SMALL,
        )
    ax.set_xlabel(f"[%] (shaded: within {100.0 * GOOD:g} %)")
    return bars
