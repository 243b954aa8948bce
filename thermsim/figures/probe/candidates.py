"""Probes and entries beside each other: the mismatch left at the best depth, and what is read until heating ends."""

from __future__ import annotations

from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.container import BarContainer
from matplotlib.figure import Figure, SubFigure

from thermsim.assess.probe.advice import Advice, Recommendation
from thermsim.assess.probe.mismatch import GOOD
from thermsim.assess.simulate.result import Result
from thermsim.figures import style
from thermsim.figures.probe.ladder import advice_of
from thermsim.quantities import LENGTH, percent
from thermsim.records.words.depth import entry_name
from thermsim.systems import told

#: Height of a row on paper [mm].
PITCH = 9.0
#: Part of the panel's width that a number beside a bar needs.
NUMBER = 0.3


@dataclass(frozen=True)
class Bars:
    """Artists: a bar for each candidate, in the order of the advice."""

    mismatch: BarContainer
    heating_over_reading: BarContainer


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
    """Draw the mismatch [%] on the first axes and the over-reading until heating ends [%] on the second."""
    advice = advice_of(result)
    found = [candidate.recommended(advice.criterion) for candidate in advice.candidates]
    with style.styled():
        mismatch = _bars(found, [one.mismatch for one in found], ax[0], sign="")
        ax[0].set_title(f"Mismatch with the place\nof {advice.criterion}")
        over = _bars(found, [one.heating_over_reading for one in found], ax[1])
        ax[1].set_title("Over-reading there\nuntil heating ends")
        _name_rows(advice, found, ax[0])
        ax[1].tick_params(axis="y", length=0, labelleft=False)
    return Bars(mismatch, over)


def _name_rows(advice: Advice, found: list[Recommendation], ax: Axes) -> None:
    """Probe, entry and depth of each row; the case's own in bold."""
    names = [
        f"{candidate.probe.name}\n{entry_name(candidate.probe)}, {told(LENGTH.text(one.depth))}"
        for candidate, one in zip(advice.candidates, found, strict=True)
    ]
    ax.set_yticks([-k for k in range(len(found))], names)
    ax.tick_params(axis="y", length=0)
    ax.get_yticklabels()[advice.chosen].set_fontweight("bold")
    ax.set_ylim(-len(found) + 0.45, 0.55)


def _bars(found: list[Recommendation], values: list[float], ax: Axes, sign: str = "+") -> BarContainer:
    """A bar with its number for each value; hatched where it is not within what is called good, which is shaded."""
    shown = [percent(value) for value in values]
    good = [value <= GOOD for value in values]
    bars = ax.barh(
        [-k for k in range(len(found))],
        shown,
        height=0.5,
        color=[style.PASSED if fine else style.FAILED for fine in good],
        hatch=["" if fine else "xxxx" for fine in good],
        edgecolor="white",
        linewidth=0.0,
        zorder=2,
    )
    least = percent(-GOOD) if sign else 0.0
    ax.axvspan(least, percent(GOOD), color=style.PALE, alpha=0.25, linewidth=0.0, zorder=0.5)
    ax.axvline(0.0, color=style.LINE, linewidth=0.7, zorder=3)
    low, high = min(least, *shown), max(percent(GOOD), *shown)
    room = NUMBER * (high - low)
    ax.set_xlim(low - (room if min(shown) < 0.0 else 0.0), high + (room if max(shown) >= 0.0 else 0.0))
    for k, value in enumerate(shown):
        ax.annotate(
            f"{value:{sign}z.1f}".replace("-", "−"),
            (value, -k),
            xytext=(3.0 if value >= 0.0 else -3.0, 0.0),
            textcoords="offset points",
            va="center",
            ha="left" if value >= 0.0 else "right",
            fontsize=style.SMALL,
        )
    ax.set_xlabel(f"[%] (shaded: up to {percent(GOOD):g} %)")
    return bars
