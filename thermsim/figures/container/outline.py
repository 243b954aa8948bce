"""The container's outline, the cold spots and the cold zone, mirrored about the axis, for drawings in (r, z)."""

from __future__ import annotations

from typing import Literal

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import PathPatch, Polygon, Rectangle
from matplotlib.path import Path
from matplotlib.patheffects import withStroke
from numpy.typing import NDArray

from thermsim.assess.simulate.result import Result
from thermsim.assess.spots.cold_spot import Spot
from thermsim.case.case import Case
from thermsim.figures import style
from thermsim.figures.container.shape import Shape
from thermsim.quantities import R, Z, mm, percent
from thermsim.solve.grid.grid import Grid, touched
from thermsim.solve.grid.lines import prolongation
from thermsim.solve.matrix.linear import in_one_thread

Array = NDArray[np.float64]

#: A place nearer to the axis than this [m] is drawn once.
ON_AXIS = 1e-6


def mirrored(r: Array, z: Array, field: Array) -> tuple[Array, Array, Array]:
    """Mirror places and a field, each (n, m), the first row on the axis, about the axis: (2 n - 1, m)."""
    across, along, values = (np.concatenate([part[:0:-1], part]) for part in (r, z, field))
    across[: r.shape[0] - 1] *= -1.0
    return across, along, values


@in_one_thread
def finer(grid: Grid, field: Array, *, times: int = 4) -> tuple[Array, Array, Array]:
    """A field between the nodes, cubic within each layer, so that lines drawn through it are as smooth as it is.

    Parameters
    ----------
    grid : Grid
        The nodes.
    field : ndarray, shape (n_r, n_z)
        Node values; NaN at nodes of which nothing is known.
    times : int, optional
        Parts into which each interval between nodes is cut.

    Returns
    -------
    r, z : ndarray, shape (m_r, m_z)
        Places in the container [m].
    field : ndarray, shape (m_r, m_z)
        Values; NaN inside quadrilaterals with an unknown corner.
    """
    along_r, along_z = (
        prolongation(layer, np.repeat(layer, times)).matrix() for layer in (grid.layer_r, grid.layer_z)
    )
    known = ~np.isnan(field)
    whole = known[1:, 1:] & known[:-1, 1:] & known[1:, :-1] & known[:-1, :-1]
    shown = touched(np.repeat(np.repeat(whole, times, axis=0), times, axis=1))
    values = along_r @ np.where(known, field, 0.0) @ along_z.T
    # the places are carried over like the values, so that lines stay smooth where those of the grid bend
    r, z = (along_r @ places @ along_z.T for places in (grid.r, grid.z))
    return r, z, np.where(shown, values, np.nan)


def crossings(path: Path, *, along: Literal["r", "z"], at: float) -> Array:
    """Crossings of a path with a straight line through the section.

    Parameters
    ----------
    path : Path
        Through places (r, z).
    along : {"r", "z"}
        Which way the line runs.
    at : float
        Its other coordinate, in the path's unit.

    Returns
    -------
    ndarray, shape (n,)
        Places on the line, growing.
    """
    places = np.asarray(path.vertices, dtype=float)
    on, off = (places[:, 0], places[:, 1] - at) if along == "r" else (places[:, 1], places[:, 0] - at)
    crossed = (off[:-1] < 0.0) != (off[1:] < 0.0)
    if path.codes is not None:
        crossed &= np.asarray(path.codes)[1:] != Path.MOVETO
    k = np.flatnonzero(crossed)
    return np.sort(on[k] - off[k] * (on[k + 1] - on[k]) / (off[k + 1] - off[k]))


def draw_outline(shape: Shape, ax: Axes, *, fill: bool = False) -> list[Polygon]:
    """Outline the walls, the inside and the product's surface [mm]; hatch an insulated headspace.

    Parameters
    ----------
    shape : Shape
        What to draw.
    ax : Axes
        Where to draw; gets equal scales, limits and axis labels.
    fill : bool, optional
        Colour walls and headspace too; otherwise only lines are drawn (over a map).

    Returns
    -------
    list of Polygon
    """
    drawn: list[Polygon] = []

    def add(outline: Array, **looks: object) -> None:
        patch = Polygon(outline, closed=True, joinstyle="miter", **looks)
        ax.add_patch(patch)
        drawn.append(patch)

    line: dict[str, object] = {"edgecolor": style.LINE, "linewidth": 0.8}
    if shape.headspace is not None:
        if shape.case.headspace.model == "insulated":
            looks: dict[str, object] = {
                "facecolor": "white",
                "hatch": "////",
                "edgecolor": style.PALE,
                "linewidth": 0.0,
            }
            add(shape.headspace, **looks, label="insulated headspace")
        elif fill:
            add(shape.headspace, facecolor=style.HEADSPACE, edgecolor="none")
        ax.plot(*shape.surface.T, color=style.LINE, linewidth=1.1)
    add(shape.inside, fill=False, **line)
    for part in shape.walls:
        for outline in part.outlines:
            add(outline, **line, facecolor=style.WALL if fill else "none")
    frame_section(shape.case, ax)
    return drawn


def frame_section(case: Case, ax: Axes) -> None:
    """Equal scales, limits a little outside the container, and axis labels with units."""
    radius, height = mm(case.container.outer_radius), mm(case.container.outer_height)
    edge = 0.03 * max(radius, height / 2)
    ax.set_xlim(-radius - edge, radius + edge)
    ax.set_ylim(-edge, height + edge)
    ax.set_aspect("equal", adjustable="box")
    ax.set_xlabel(R.axis())
    ax.set_ylabel(Z.axis())
    ax.locator_params(axis="x", nbins=5 if height < 4 * radius else 2)
    ax.locator_params(axis="y", nbins=6 if height > radius else 3)
    ax.spines[:].set_visible(False)


def mark_place(spot: Spot, ax: Axes, *, marker: str, size: float, colour: str, label: str) -> Line2D:
    """Mark a place on both sides of the axis, or once where it lies on the axis."""
    r = [0.0] if spot.r < ON_AXIS else [mm(-spot.r), mm(spot.r)]
    (line,) = ax.plot(
        r,
        [mm(spot.z)] * len(r),
        linestyle="none",
        marker=marker,
        markersize=size,
        markerfacecolor=colour,
        markeredgecolor="white",
        markeredgewidth=0.7,
        label=label,
        zorder=6,
        clip_on=False,
    )
    line.set_path_effects([withStroke(linewidth=1.9, foreground="black")])
    return line


def mark_cold_spots(result: Result, ax: Axes) -> tuple[Line2D, Line2D]:
    """Mark the slowest-heating and the least-lethality place; returns (least lethality, slowest heating).

    Where no place in a long zone can be told from that of least lethality, a band shows how far that reaches.
    """
    cold_spot = result.cold_spot
    if (valley := cold_spot.valley) is not None:
        ax.add_patch(
            Rectangle(
                (-mm(valley.r_high), mm(valley.z_low)),
                2 * mm(valley.r_high),
                mm(valley.z_high - valley.z_low),
                facecolor=style.LEAST_LETHALITY,
                edgecolor="white",
                alpha=0.5,
                linewidth=0.7,
                label="as cold within the uncertainty",
                zorder=5.5,
            )
        )
    slowest = mark_place(
        cold_spot.slowest_heating,
        ax,
        marker=style.SLOWEST_MARKER,
        size=style.SLOWEST_SIZE,
        colour=style.SLOWEST_HEATING,
        label="slowest heating",
    )
    least = mark_place(
        cold_spot.least_lethality,
        ax,
        marker=style.LEAST_MARKER,
        size=style.LEAST_SIZE,
        colour=style.LEAST_LETHALITY,
        label="least lethality",
    )
    return least, slowest


def cold_zone_outlines(result: Result, ax: Axes, *, times: int = 4) -> list[Array]:
    """Closed outlines [mm] of the cold zone: at most (1 + margin) times the least lethality, about the cold spot.

    ``ax`` is left as it was; ``times`` as for :func:`finer`.
    """
    zone, grid = result.cold_spot.zone, result.grid
    r, z, field = mirrored(*finer(grid, np.log(result.lethality), times=times))
    level = np.log1p(zone.margin) + np.log(result.cold_spot.least_lethality.lethality)
    levels = [min(float(np.nanmin(field)), level) - 1.0, level]
    filled = ax.contourf(mm(r), mm(z), np.ma.masked_invalid(field), levels=levels, colors="none")
    polygons = filled.get_paths()[0].to_polygons()
    filled.remove()
    # regions that are as cold but not connected to the cold spot reach out of the zone's bounds, which are read off a
    # lattice of 400 by 400 intervals
    reach = mm(zone.r_high + 0.01 * result.case.container.outer_radius)
    slack = mm(0.01 * result.case.fill_height)
    low, high = mm(zone.z_low) - slack, mm(zone.z_high) + slack
    return [
        np.asarray(shape)
        for shape in polygons
        if np.abs(np.asarray(shape)[:, 0]).max() <= reach
        and low <= np.asarray(shape)[:, 1].min()
        and np.asarray(shape)[:, 1].max() <= high
    ]


def draw_cold_zone(result: Result, ax: Axes) -> PathPatch:
    """Outline the cold zone."""
    kept = cold_zone_outlines(result, ax)
    path = Path.make_compound_path(*(Path(shape, closed=True) for shape in kept)) if kept else Path(np.empty((0, 2)))
    patch = PathPatch(
        path,
        fill=False,
        edgecolor="white",
        linewidth=1.1,
        linestyle=(0, (4, 2)),
        label=f"cold zone (least + {percent(result.cold_spot.zone.margin):g} %)",
        zorder=5,
    )
    patch.set_path_effects([withStroke(linewidth=2.4, foreground="black")])
    ax.add_patch(patch)
    return patch
