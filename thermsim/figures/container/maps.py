"""Maps of the container's section: the temperature at a time, and the lethality of the whole process."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LogNorm, Normalize
from matplotlib.contour import QuadContourSet
from matplotlib.figure import Figure, SubFigure
from matplotlib.lines import Line2D
from matplotlib.patches import PathPatch
from matplotlib.ticker import LogLocator, MaxNLocator
from numpy.typing import NDArray

from thermsim.assess.simulate.result import Result
from thermsim.figures import style
from thermsim.figures.container.outline import (
    crossings,
    draw_cold_zone,
    draw_outline,
    finer,
    mark_cold_spots,
    mirrored,
)
from thermsim.figures.container.shape import shape_of
from thermsim.quantities import LETHALITY, TEMPERATURE, TIME, Quantity, minutes, mm
from thermsim.systems import row_shown

Array = NDArray[np.float64]

#: The lethality is drawn with a logarithmic scale where it spans more than this ratio.
WIDE_RANGE = 15.0
#: Letters that find room below a colour bar, two between numbers included.
BAR_LETTERS = 32
#: No more than this many decades are drawn.
DECADES = 6.0


@dataclass(frozen=True)
class Map:
    """Artists of a map: colour bands, labelled lines, the two cold spots and the cold zone."""

    bands: QuadContourSet
    lines: QuadContourSet
    least_lethality: Line2D
    slowest_heating: Line2D
    cold_zone: PathPatch


def temperature_at(result: Result, time: float | None = None) -> Array:
    """Temperature [degC] of all nodes when heating ends, or at a time [s], linear between the output times."""
    if time is None:
        return result.end_of_heating
    after = int(np.clip(np.searchsorted(result.time, time), 1, result.time.size - 1))
    low, high = result.time[after - 1], result.time[after]
    part = float(np.clip((time - low) / (high - low), 0.0, 1.0))
    return np.asarray((1.0 - part) * result.temperature[after - 1] + part * result.temperature[after])


def plot_temperature_map(result: Result, *, ax: Axes, time: float | None = None) -> Map:
    """Draw the temperature of product, walls and headspace in the mirrored section.

    Parameters
    ----------
    result : Result
        The result of a run.
    ax : Axes
        Where to draw.
    time : float, optional
        Process time [s]; the end of heating where left out.

    Returns
    -------
    Map
    """
    with style.styled():
        field = temperature_at(result, time)
        when = result.case.process.heated_until if time is None else time
        phase = "when\nheating ends" if time is None else "in\nthe section"
        ax.set_title(f"Temperature {phase} ({TIME.text(when)})")
        return _draw(result, ax, field, temperature_levels(field), TEMPERATURE.axis(), TEMPERATURE)


def plot_lethality_map(result: Result, *, ax: Axes) -> Map:
    """Draw the lethality of the whole process in the mirrored product; logarithmic where it spans decades.

    Parameters
    ----------
    result : Result
        The result of a run.
    ax : Axes
        Where to draw.

    Returns
    -------
    Map
    """
    with style.styled():
        field = minutes(result.lethality)
        ax.set_title("Lethality of\nthe whole process")
        lethality = result.case.lethality
        label = f"{LETHALITY.axis(lethality.symbol)} at {lethality.reference_text} °C, z = {lethality.z_text} K"
        return _draw(result, ax, field, lethality_levels(field), label, LETHALITY)


def linear_levels(low: float, high: float) -> tuple[Array, Array]:
    """Levels of the colour bands and of the labelled lines over a range: four bands from line to line."""
    lines = np.asarray(MaxNLocator(nbins=6, steps=[1, 2, 5, 10]).tick_values(low, high))
    bands = np.linspace(lines[0], lines[-1], 4 * (lines.size - 1) + 1)
    width = bands[1] - bands[0]
    return bands[(bands > low - width) & (bands < high + width)], lines[(lines > low) & (lines < high)]


def temperature_levels(field: Array) -> tuple[Array, Array]:
    """The same over a field [degC], round in the unit that is asked for."""
    shown, low, high = row_shown(TEMPERATURE), float(np.nanmin(field)), float(np.nanmax(field))
    if high - low < 1e-3:  # all of it one temperature
        low, high = low - 0.5, high + 0.5
    bands, lines = linear_levels(float(shown.edge(low)), float(shown.edge(high)))
    return np.asarray(shown.si_value(bands)), np.asarray(shown.si_value(lines))


def level_text(level: float, row: Quantity) -> str:
    """A level beside its line, in the unit that is asked for."""
    return f"{row_shown(row).edge(row.si_value(level)):.6g}"


def lethality_levels(field: Array) -> tuple[Array, Array]:
    """Levels of the colour bands and of the labelled lines [min] for a lethality field [min]."""
    high = float(np.nanmax(field))
    low = max(float(np.nanmin(field)), high * 10.0**-DECADES)
    if high / low <= WIDE_RANGE:
        if high / low < 1.0 + 1e-6:
            low, high = 0.95 * low, 1.05 * high
        return linear_levels(low, high)
    decades = np.log10(high / low)
    each = 10 if decades < 2.0 else 5
    first, last = np.floor(each * np.log10(low)), np.ceil(each * np.log10(high))
    bands = 10.0 ** (np.arange(first, last + 1) / each)
    lines = np.asarray(
        LogLocator(subs=(1.0, 2.0, 5.0) if decades < 2.5 else (1.0,), numticks=50).tick_values(low, high)
    )
    return bands, lines[(lines > low) & (lines < high)]


def plot_maps(
    result: Result, *, figure: Figure | SubFigure | None = None, time: float | None = None
) -> Figure | SubFigure:
    """Draw the temperature map and the lethality map: side by side, or above each other for a flat container.

    Parameters
    ----------
    result : Result
        The result of a run.
    figure : Figure or SubFigure, optional
        Where to draw; a new figure where left out.
    time : float, optional
        Process time of the temperature map [s]; the end of heating where left out.

    Returns
    -------
    Figure or SubFigure
    """
    container = result.case.container
    shape = container.outer_height / (2 * container.outer_radius)
    flat = shape < 0.75
    with style.styled():
        if figure is None:
            panel = style.WIDTH - 16.0 if flat else (style.WIDTH - 28.0) / 2
            height = min(max(panel * shape, 14.0), 130.0)
            figure = style.new_figure((2 if flat else 1) * (height + 36.0) + 14.0)
        panels = figure.subplots(2 if flat else 1, 1 if flat else 2, squeeze=False).ravel()
        plot_temperature_map(result, ax=panels[0], time=time)
        plot_lethality_map(result, ax=panels[1])
        if not flat:
            panels[1].yaxis.label.set_visible(False)
        _add_legend(panels[1], figure)
    return figure


def _add_legend(ax: Axes, figure: Figure | SubFigure) -> None:
    """Name the marks above the panels; the cold zone by a line, as its outline would not fit into a legend."""
    handles, labels = ax.get_legend_handles_labels()
    known = dict(zip(labels, handles, strict=True))
    for label, handle in known.items():
        if isinstance(handle, PathPatch):
            known[label] = Line2D(
                [], [], color="white", linewidth=1.1, linestyle=(0, (4, 2)), path_effects=handle.get_path_effects()
            )
    order = sorted(known, key=lambda label: ("spot" in label, "least" not in label[:5], label))
    figure.legend([known[label] for label in order], order, loc="outside upper center", ncols=2, handlelength=3.2)


def _draw(result: Result, ax: Axes, field: Array, levels: tuple[Array, Array], label: str, row: Quantity) -> Map:
    """Bands, lines, outlines, marks and a colour bar on one axes."""
    lethality = row is LETHALITY
    bands_at, lines_at = levels
    logarithmic = lethality and bands_at[0] > 0 and bands_at[-1] / bands_at[0] > WIDE_RANGE
    draw_outline(shape_of(result.case), ax, fill=lethality)
    # a lethality is smooth in its logarithm; what lies below the scale is drawn at its end
    r, z, values = finer(result.grid, np.log(field) if lethality else field)
    drawn = np.maximum(np.exp(values), bands_at[0]) if lethality else np.clip(values, bands_at[0], bands_at[-1])
    r, z, drawn = mirrored(mm(r), mm(z), drawn)
    masked = np.ma.masked_invalid(drawn)
    cmap = mpl.colormaps[style.LETHALITY_MAP if lethality else style.TEMPERATURE_MAP]
    norm = (LogNorm if logarithmic else Normalize)(bands_at[0], bands_at[-1])
    bands = ax.contourf(r, z, masked, levels=bands_at, cmap=cmap, norm=norm, zorder=0.8)
    # hundreds of thousands of corners would swell a vector file
    bands.set_rasterized(True)
    # dark lines on light bands, light lines on dark ones
    colours = ["black" if norm(level) > 0.55 else "white" for level in lines_at]
    lines = ax.contour(r, z, masked, levels=lines_at, colors=colours, linewidths=0.6, zorder=2)
    places = _label_places(result, lines)

    def printed(level: float) -> str:
        return level_text(level, row)

    ax.clabel(lines, fmt=printed, fontsize=style.SMALL - 0.5, inline_spacing=2, manual=places)
    zone = draw_cold_zone(result, ax)
    least, slowest = mark_cold_spots(result, ax)
    bar = ax.figure.colorbar(bands, ax=ax, location="bottom", shrink=0.9, aspect=22, pad=0.03)
    bar.set_label(label)
    ticks = _sparse(lines_at, printed)
    bar.set_ticks(ticks, labels=[printed(level) for level in ticks])
    bar.minorticks_off()
    return Map(bands, lines, least, slowest, zone)


def _sparse(levels: Array, printed: Callable[[float], str]) -> list[float]:
    """Every level, or every other and so on, so that their numbers find room below a colour bar."""
    for stride in range(1, levels.size + 1):
        kept = [float(level) for level in levels[::stride]]
        if sum(len(printed(level)) + 2 for level in kept) <= BAR_LETTERS:
            break
    return kept


def _label_places(result: Result, lines: QuadContourSet) -> list[tuple[float, float]]:
    """Places of the lines' labels [mm]: along one height within the product, right of the axis, not too close."""
    container, depth = result.case.container, result.case.fill_height
    low, high = container.floor + 0.3 * depth, container.floor + 0.7 * depth
    height = float(np.clip(result.cold_spot.slowest_heating.z, low, high))
    radius = mm(container.radius_at(height))
    # about 4 mm on paper, where the height of a tall container sets the scale
    apart = 0.15 * radius * max(1.0, mm(depth) / (4.0 * radius))
    places: list[tuple[float, float]] = []
    for path in lines.get_paths():
        crossed = crossings(path, along="r", at=mm(height))
        for r in crossed[(crossed > apart) & (crossed < radius - apart / 2)][:1]:
            if all(abs(r - other) > apart for other, _ in places):
                places.append((float(r), mm(height)))
    return places
