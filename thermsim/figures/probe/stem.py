"""The section through a probe from the side when heating ends: the temperature round it, and what it changes."""

from __future__ import annotations

from dataclasses import dataclass

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import Normalize, TwoSlopeNorm
from matplotlib.contour import QuadContourSet
from matplotlib.figure import Figure, SubFigure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from numpy.typing import NDArray

from thermsim.assess.probe.effect import StemSection
from thermsim.assess.simulate.result import Result
from thermsim.figures import style
from thermsim.figures.container.cut import as_cut
from thermsim.figures.container.maps import level_text, temperature_levels
from thermsim.figures.container.outline import draw_outline
from thermsim.figures.container.probe_outline import draw_probe, mark_sensing
from thermsim.figures.container.shape import shape_of
from thermsim.figures.probe.probe_bias import effect_of
from thermsim.quantities import DIFFERENCE, LENGTH, TEMPERATURE, TIME, mm
from thermsim.solve.march.history import hermite_sum, hermite_weights
from thermsim.systems import row_shown

Array = NDArray[np.float64]

#: What is drawn above and below the probe, at most, in radii of the container.
ROOM = 0.62
#: Parts into which each interval between nodes is cut, so that lines drawn are smooth.
TIMES = 4
#: Levels of the change on either side of none.
LEVELS = 5


@dataclass(frozen=True)
class StemMap:
    """Artists of one field: colour bands, lines, the probe's parts (the tip's last), the sensing length."""

    bands: QuadContourSet
    lines: QuadContourSet
    probe: tuple[Rectangle, ...]
    sensing: Line2D


def section_of(result: Result) -> StemSection:
    """The section through the stem.

    Raises
    ------
    ValueError
        If the result holds none.
    """
    section = effect_of(result).section
    if section is None:
        raise ValueError("the result holds no section through a stem from the side")
    return section


def plot_stem(result: Result, *, figure: Figure | SubFigure | None = None) -> Figure | SubFigure:
    """Draw the temperature above and what the probe changes in it below.

    Parameters
    ----------
    result : Result
        Of a case with a probe from the side.
    figure : Figure or SubFigure, optional
        Where to draw; a new figure where left out.

    Returns
    -------
    Figure or SubFigure
    """
    with style.styled():
        if figure is None:
            figure = style.new_figure(140.0)
        upper, lower = figure.subplots(2, 1, sharex=True)
        draw_stem(result, ax=upper, change=False)
        draw_stem(result, ax=lower, change=True)
        upper.set_xlabel("")
        upper.tick_params(labelbottom=False)
    return figure


def draw_stem(result: Result, *, ax: Axes, change: bool) -> StemMap:
    """Draw the temperature when heating ends, or what the probe changes in it.

    Parameters
    ----------
    result : Result
        Of a case with a probe from the side.
    ax : Axes
        Where to draw.
    change : bool
        The change [K] in place of the temperature [degC].

    Returns
    -------
    StemMap
    """
    result = as_cut(result)
    effect, section, case = effect_of(result), section_of(result), result.case
    container, height = case.container, mm(effect.probe.z or 0.0)
    room = mm(ROOM * container.outer_radius)
    low, high = max(height - room, 0.0), min(height + room, mm(container.outer_height))
    field = section.end_of_heating - section.without_probe if change else section.end_of_heating
    x, z, values = _finer(section, np.where(np.isnan(section.without_probe), np.nan, field))
    shown = values[:, (mm(z) >= low) & (mm(z) <= high)]
    if change:
        most = max(float(np.nanmax(np.abs(shown))), 1e-3)
        least, largest = min(float(np.nanmin(shown)), 0.0), max(float(np.nanmax(shown)), 0.0)
        bands_at = np.linspace(least, largest, 31)
        kelvin = row_shown(DIFFERENCE)
        rounded = kelvin.si_value(_round_levels(kelvin.edge(most)))
        lines_at = rounded[(rounded >= least) & (rounded <= largest)]
        norm: Normalize = TwoSlopeNorm(0.0, -most, most)
        cmap = mpl.colormaps[style.CHANGE_MAP]
    else:
        bands_at, lines_at = temperature_levels(shown)
        norm, cmap = Normalize(bands_at[0], bands_at[-1]), mpl.colormaps[style.TEMPERATURE_MAP]
    with style.styled():
        masked = np.ma.masked_invalid(np.clip(values, bands_at[0], bands_at[-1])).T
        bands = ax.contourf(mm(x), mm(z), masked, levels=bands_at, cmap=cmap, norm=norm, zorder=0.8)
        bands.set_rasterized(True)
        colours = ["black" if change or norm(level) > 0.55 else "white" for level in lines_at]
        lines = ax.contour(mm(x), mm(z), masked, levels=lines_at, colors=colours, linewidths=0.7, zorder=2)
        row = DIFFERENCE if change else TEMPERATURE

        def printed(level: float) -> str:
            return level_text(level, row)

        ax.clabel(lines, fmt=printed, fontsize=style.SMALL - 0.5, inline_spacing=2)
        draw_outline(shape_of(case), ax)
        parts = draw_probe(effect.probe, container, ax=ax)
        sensing = mark_sensing(effect.probe, container, ax=ax)
        out = max(part.get_x() + part.get_width() for part in parts)
        ax.set_xlim(mm(-container.outer_radius) - 1.0, min(out, mm(1.35 * container.outer_radius)) + 1.0)
        ax.set_ylim(low, high)
        ax.set_aspect("equal")
        end = f"when heating ends ({TIME.text(case.process.heated_until)})"
        ax.set_title(f"What the probe changes, {end}" if change else f"Temperature {end}")
        ax.set_xlabel(LENGTH.axis(f"Distance from the {container.centre} towards the entry"))
        ax.set_ylabel(LENGTH.axis("Height z"))
        bar = ax.figure.colorbar(bands, ax=ax, location="right", aspect=22, pad=0.02)
        bar.set_label(row.axis())
        ticks = [float(level) for level in lines.levels]
        bar.set_ticks(ticks, labels=[printed(level) for level in ticks])
        bar.minorticks_off()
    return StemMap(bands, lines, parts, sensing)


def _round_levels(most: float) -> Array:
    """Round levels on either side of none, about so many up to the largest; none itself is left out."""
    step = most / LEVELS
    unit = 10.0 ** np.floor(np.log10(step))
    step = unit * min((1.0, 2.0, 5.0, 10.0), key=lambda part: abs(part * unit - step))
    count = int(most / step)
    return np.asarray(step * np.array([k for k in range(-count, count + 1) if k]))


def _finer(section: StemSection, field: Array) -> tuple[Array, Array, Array]:
    """A field between the nodes, cubic along both axes, from where all is known along x."""
    known = ~np.isnan(field).all(axis=1)
    first, last = np.flatnonzero(known)[[0, -1]]
    inside = slice(int(first), int(last) + 1)
    x, values = section.x[inside], field[inside]
    fine_x, fine_z = (_cut(nodes) for nodes in (x, section.z))
    return fine_x, fine_z, _between(section.z, _between(x, values, fine_x).T, fine_z).T


def _between(nodes: Array, values: Array, fine: Array) -> Array:
    """Values (n, m) at places between the nodes, cubic with the slopes of the nodes beside them."""
    slopes = np.gradient(values, nodes, axis=0)
    return hermite_sum(*hermite_weights(nodes, fine), values, slopes)


def _cut(nodes: Array) -> Array:
    parts = np.arange(TIMES) / TIMES
    return np.append((nodes[:-1, None] + np.diff(nodes)[:, None] * parts).ravel(), nodes[-1])
