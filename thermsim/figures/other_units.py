"""A finished figure in the units that the reader asked for: axes marked at round numbers of those, and its texts."""

from __future__ import annotations

import re
from collections.abc import Callable

from matplotlib.axis import Axis
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.ticker import AutoLocator, FuncFormatter, LogLocator, MaxNLocator, ScalarFormatter

from thermsim.quantities import SHOWN, Quantity
from thermsim.systems import told, told_axis

#: Label of a text that is somebody's own and stays as it is.
VERBATIM = "verbatim"


class _Round(MaxNLocator):
    """Marks at round numbers of another unit than the axis is drawn in."""

    def __init__(self, row: Quantity) -> None:
        super().__init__(nbins=7, steps=[1, 2, 2.5, 5, 10])
        self.row, self.other = row, row.others[0]

    def tick_values(self, vmin: float, vmax: float) -> list[float]:
        """The marks between two ends, in the unit of the axis."""
        low, high = (self.other.edge(self.row.si_value(end)) for end in (vmin, vmax))
        return [self.row.edge(self.other.si_value(float(mark))) for mark in super().tick_values(low, high)]


class _RoundLog(LogLocator):
    """The same on a logarithmic scale."""

    def __init__(self, row: Quantity) -> None:
        super().__init__(subs=(1.0, 2.0, 5.0), numticks=50)
        self.row, self.other = row, row.others[0]

    def tick_values(self, vmin: float, vmax: float) -> list[float]:
        """The marks between two ends, in the unit of the axis."""
        low, high = (self.other.edge(self.row.si_value(end)) for end in (vmin, vmax))
        return [self.row.edge(self.other.si_value(float(mark))) for mark in super().tick_values(low, high)]


def tell_in_asked_units(figure: Figure) -> None:
    """Change a figure's axes and texts, if other units than the metric ones are asked for."""
    if SHOWN.get() == "metric":
        return
    axes = [ax for whole in figure.axes for ax in (whole, *whole.child_axes)]
    marked: set[int] = set()
    for axis in (one for ax in axes for one in (ax.xaxis, ax.yaxis)):
        row, label = told_axis(axis.label.get_text())
        axis.label.set_text(_set(label))
        if row is not None:
            _mark(axis, row)
        ticks = axis.get_major_ticks()
        marked |= {id(axis.label), *(id(text) for tick in ticks for text in (tick.label1, tick.label2))}
    for text in figure.findobj(Text):
        if id(text) not in marked and text.get_label() != VERBATIM:
            text.set_text(_set(told(text.get_text())))


def _set(text: str) -> str:
    """A text with its degrees as they are set on paper; "[degF]" names an axis of differences."""
    return re.sub(r"(?<!\[)degF", "°F", text)


def _mark(axis: Axis, row: Quantity) -> None:
    """Put an axis's marks at round numbers; those that were written by hand were told as they were written."""
    logarithmic = isinstance(axis.get_major_locator(), LogLocator)
    if logarithmic:
        axis.set_major_locator(_RoundLog(row))
    elif isinstance(axis.get_major_locator(), AutoLocator | _Round):
        axis.set_major_locator(_Round(row))
    if logarithmic or isinstance(axis.get_major_formatter(), ScalarFormatter):
        axis.set_major_formatter(FuncFormatter(_writer(row)))


def _writer(row: Quantity) -> Callable[[float, int | None], str]:
    other = row.others[0]
    return lambda value, _: f"{round(other.edge(row.si_value(value)), 9):g}"
