"""The temperature round a probe's tip when heating ends: what the stem leads in, where the product is coldest."""

from __future__ import annotations

from dataclasses import dataclass

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import Normalize
from matplotlib.contour import QuadContourSet
from matplotlib.figure import Figure, SubFigure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.patheffects import withStroke
from numpy.typing import NDArray

from thermsim.assess.simulate.result import Result
from thermsim.figures import style
from thermsim.figures.container.maps import level_text, temperature_levels
from thermsim.figures.container.outline import crossings, draw_outline, finer, mark_place, mirrored
from thermsim.figures.container.probe_outline import draw_probe, mark_sensing
from thermsim.figures.container.shape import shape_of
from thermsim.figures.probe.probe_bias import effect_of
from thermsim.quantities import TEMPERATURE, TIME, mm
from thermsim.solve.grid.grid import touched

Array = NDArray[np.float64]

#: Width and height of the window, in radii of the tip, and the least of them [mm].
RADII, LEAST = 12.0, 12.0
#: Isotherms are labelled at this part of the window's half width.
LABELS = 0.65


@dataclass(frozen=True)
class TipMap:
    """Artists of the figure: colour bands, isotherms, the probe's parts (the tip's last), the sensing length.

    ``least_lethality`` is the product's own place of least lethality with the probe in it; None where it lies
    outside of the window.
    """

    bands: QuadContourSet
    lines: QuadContourSet
    probe: tuple[Rectangle, ...]
    sensing: Line2D
    least_lethality: Line2D | None


def window_round_tip(result: Result) -> tuple[float, float, float]:
    """Half width, and lower and upper height z of the window round the tip [mm], clipped to the container."""
    effect, container = effect_of(result), result.case.container
    size = max(mm(RADII * effect.probe.tip_radius), LEAST)
    tip, top = mm(effect.reading.z), mm(container.outer_height)
    return (
        min(size / 2, mm(container.outer_radius)),
        max(tip - size / 2, 0.0),
        min(tip + size / 2, top),
    )


def plot_tip(result: Result, *, figure: Figure | SubFigure | None = None) -> Figure | SubFigure:
    """Draw the temperature map round the tip.

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
    half, low, high = window_round_tip(result)
    with style.styled():
        if figure is None:
            figure = style.new_figure(min(92.0 * (high - low) / (2 * half), 100.0) + 44.0)
        ax = figure.subplots()
        draw_tip(result, ax=ax)
        figure.legend(*ax.get_legend_handles_labels(), loc="outside upper center", ncols=2)
    return figure


def draw_tip(result: Result, *, ax: Axes) -> TipMap:
    """Draw bands, isotherms, the probe's outline and its sensing length.

    Parameters
    ----------
    result : Result
        The result of a run with a probe.
    ax : Axes
        Where to draw.

    Returns
    -------
    TipMap
    """
    effect, case = effect_of(result), result.case
    half, low, high = window_round_tip(result)
    with style.styled():
        for outline in draw_outline(shape_of(case, effect.probe), ax):
            if outline.get_xy()[:, 1].min() >= high:
                # what is out of sight needs no entry in the legend
                outline.set_label("_")
        bands, lines = _isotherms(result, ax)
        parts = draw_probe(effect.probe, case.container, ax=ax)
        for part in parts:
            # seen on dark bands and on light ones
            part.set(edgecolor="white", linewidth=1.0)
            part.set_path_effects([withStroke(linewidth=2.4, foreground="black")])
        sensing = mark_sensing(effect.probe, case.container, ax=ax)
        spot, least = effect.least_lethality, None
        if mm(spot.r) <= half and low <= mm(spot.z) <= high:
            least = mark_place(
                spot,
                ax,
                marker=style.LEAST_MARKER,
                size=style.LEAST_SIZE,
                colour=style.LEAST_LETHALITY,
                label="least lethality with the probe in place",
            )
        ax.set_xlim(-half, half)
        ax.set_ylim(low, high)
        ax.set_title(f"When heating ends ({TIME.text(case.process.heated_until)})")
        bar = ax.figure.colorbar(bands, ax=ax, location="bottom", shrink=0.7, aspect=26, pad=0.03)
        bar.set_label(TEMPERATURE.axis())
        ticks = [float(level) for level in lines.levels]
        bar.set_ticks(ticks, labels=[_printed(level) for level in ticks])
        bar.minorticks_off()
    return TipMap(bands, lines, parts, sensing, least)


def _printed(level: float) -> str:
    return level_text(level, TEMPERATURE)


def _isotherms(result: Result, ax: Axes) -> tuple[QuadContourSet, QuadContourSet]:
    """Colour bands and labelled lines in the window, whose own range of temperatures sets the levels."""
    effect = effect_of(result)
    half, low, high = window_round_tip(result)
    if effect.grid is None or effect.end_of_heating is None:
        raise ValueError("of a probe from the side there is a section through its stem instead")
    r, z, field = finer(effect.grid, effect.end_of_heating)
    inside = (mm(r) <= half) & (mm(z) >= low) & (mm(z) <= high)
    # one place beyond the window on each side, so that it is filled to its edges
    around = touched(inside[1:, 1:] | inside[:-1, 1:] | inside[1:, :-1] | inside[:-1, :-1])
    rows, columns = (np.flatnonzero(around.any(axis=axis)) for axis in (1, 0))
    block = slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)
    bands_at, lines_at = temperature_levels(field[around])
    shown = np.clip(field[block], bands_at[0], bands_at[-1])
    across, along, values = mirrored(mm(r[block]), mm(z[block]), shown)
    masked = np.ma.masked_invalid(values)
    norm = Normalize(bands_at[0], bands_at[-1])
    cmap = mpl.colormaps[style.TEMPERATURE_MAP]
    bands = ax.contourf(across, along, masked, levels=bands_at, cmap=cmap, norm=norm, zorder=0.8)
    bands.set_rasterized(True)
    colours = ["black" if norm(level) > 0.55 else "white" for level in lines_at]
    lines = ax.contour(across, along, masked, levels=lines_at, colors=colours, linewidths=0.7, zorder=2)
    places = _label_places(lines, -LABELS * half)
    ax.clabel(lines, fmt=_printed, fontsize=style.SMALL - 0.5, inline_spacing=2, manual=places)
    return bands, lines


def _label_places(lines: QuadContourSet, r: float) -> list[tuple[float, float]]:
    """Places of the isotherms' labels [mm]: where they first cross an upright line left of the probe."""
    found = (crossings(path, along="z", at=r)[:1] for path in lines.get_paths())
    return [(r, float(z)) for crossed in found for z in crossed]
