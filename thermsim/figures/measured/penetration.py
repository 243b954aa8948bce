"""Heat penetration: what is left to the medium's temperature on a logarithmic scale, and the straight part."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure, SubFigure
from matplotlib.ticker import FormatStrFormatter, LogLocator
from numpy.typing import NDArray

from thermsim.assess.curves.heat_penetration import Penetration
from thermsim.assess.measured.result import Comparison, Measured
from thermsim.figures import style
from thermsim.figures.measured.curves import thinned_for_drawing
from thermsim.quantities import DIFFERENCE, TIME, minutes

Array = NDArray[np.float64]
#: Less than this is not drawn [K].
LEAST_DRAWN = 0.05


def plot_penetration(
    found: Comparison, one: Measured, *, figure: Figure | SubFigure | None = None
) -> Figure | SubFigure:
    """Draw heating and, where there is one, cooling: measured, fitted model, and the line of the factors.

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
        phases = [("Heating", one.heating, 1.0, found.process.stages[0].start, found.process.heated_until)]
        if one.cooling is not None:
            phases.append(("Cooling", one.cooling, -1.0, found.process.heated_until, found.process.end))
        axes = figure.subplots(1, len(phases), squeeze=False)[0]
        for ax, phase in zip(axes, phases, strict=True):
            _phase(one, *phase, ax=ax)
        axes[0].set_ylabel(DIFFERENCE.axis("Left to the medium's\ntemperature"))
        handles, labels = axes[0].get_legend_handles_labels()
        figure.legend(handles, labels, loc="outside upper center", ncols=3)
    return figure


def _phase(
    one: Measured, title: str, factors: Penetration, sign: float, begin: float, end: float, *, ax: Axes
) -> None:
    """One phase; ``sign`` is 1 for heating and -1 for cooling, times in s."""
    within = (one.time >= begin) & (one.time <= end)
    time = one.time[within]
    some = thinned_for_drawing(time.size)
    model = one.fitted or one.as_case

    def left(temperature: Array) -> Array:
        found = sign * (factors.medium - temperature[within])
        return np.where(found > LEAST_DRAWN, found, np.nan)

    ax.semilogy(
        minutes(time[some]),
        left(one.temperature)[some],
        ".",
        color=style.WITHOUT_PROBE,
        markersize=2.5,
        label="measured",
    )
    ax.semilogy(minutes(time[some]), left(model.temperature)[some], color=style.READING, linewidth=0.8, label="model")
    line = factors.line
    if line is not None:
        first = abs(factors.medium - factors.start)
        for ends, width in (((factors.zero, line.end), 0.8), ((line.start, line.end), 2.6)):
            at = np.array(ends)
            ax.semilogy(
                minutes(at),
                first * line.j * 10.0 ** (-(at - line.zero) / line.f),
                color=style.SLOWEST_HEATING,
                linewidth=width,
                label="straight part" if width > 1.0 else None,
            )
        letter = "h" if sign > 0.0 else "c"
        title += f"\nf{letter} {TIME.text(line.f)}, j{letter} {line.j:.2f}{'' if one.factors_stand else ' IN DOUBT'}"
    ax.axvline(minutes(factors.zero), ymax=0.06, color=style.LINE, linewidth=1.2)
    # 40 and 60 K rather than powers of ten
    ax.yaxis.set_major_locator(LogLocator(subs=(1.0, 2.0, 4.0, 6.0)))
    ax.yaxis.set_major_formatter(FormatStrFormatter("%g"))
    ax.yaxis.set_minor_formatter("")
    ax.set_title(title)
    ax.set_xlabel(TIME.axis())
