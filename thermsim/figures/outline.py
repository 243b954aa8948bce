"""The container's outline, the cold spots and the cold zone, mirrored about the axis, for drawings in (r, z)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import PathPatch, Rectangle
from matplotlib.path import Path
from matplotlib.patheffects import withStroke
from numpy.typing import NDArray

from thermsim.assess.cold_spot import Spot
from thermsim.assess.result import Result
from thermsim.case.case import Case
from thermsim.case.container import Wall
from thermsim.figures import style
from thermsim.solve.grid import Grid, touched
from thermsim.solve.lines import prolongation

Array = NDArray[np.float64]

#: Millimetres in a metre.
MM = 1e3
#: A place nearer to the axis than this [m] is drawn once.
ON_AXIS = 1e-6


@dataclass(frozen=True)
class Part:
    """A wall as it is drawn: its name and its rectangles (left, bottom, width, height) [mm], both halves."""

    name: str
    wall: Wall
    rectangles: tuple[tuple[float, float, float, float], ...]


def wall_parts(case: Case) -> tuple[Part, ...]:
    """The container's walls as rectangles of the section [mm], lid first; those that are left out are left out."""
    container = case.container
    inner, outer = container.inner_radius * MM, container.outer_radius * MM
    floor, ceiling, top = container.floor * MM, container.ceiling * MM, container.outer_height * MM
    parts = []
    if container.lid:
        parts.append(Part("lid", container.lid, ((-outer, ceiling, 2 * outer, top - ceiling),)))
    if container.side:
        halves = tuple((left, floor, outer - inner, ceiling - floor) for left in (-outer, inner))
        parts.append(Part("side", container.side, halves))
    if container.base:
        parts.append(Part("base", container.base, ((-outer, 0.0, 2 * outer, floor),)))
    return tuple(parts)


def headspace_rectangle(case: Case) -> tuple[float, float, float, float] | None:
    """The headspace as (left, bottom, width, height) [mm]; None where the container is full."""
    if case.headspace_height <= 0.0:
        return None
    inner = case.container.inner_radius * MM
    return -inner, case.surface * MM, 2 * inner, case.headspace_height * MM


def mirrored(r: Array, field: Array) -> tuple[Array, Array]:
    """Mirror places (n,), the first on the axis, and a field (n, m) about the axis: (2 n - 1,), (2 n - 1, m)."""
    return np.concatenate([-r[:0:-1], r]), np.concatenate([field[:0:-1], field])


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
    r, z : ndarray, shapes (m_r,) and (m_z,)
        Places [m].
    field : ndarray, shape (m_r, m_z)
        Values; NaN inside rectangles with an unknown corner.
    """
    layers = [np.repeat(layer, times) for layer in (grid.layer_r, grid.layer_z)]
    along_r, along_z = (
        prolongation((nodes, coarse), (np.empty(fine.size + 1), fine))
        for nodes, coarse, fine in zip((grid.r, grid.z), (grid.layer_r, grid.layer_z), layers, strict=True)
    )
    known = ~np.isnan(field)
    whole = known[1:, 1:] & known[:-1, 1:] & known[1:, :-1] & known[:-1, :-1]
    shown = touched(np.repeat(np.repeat(whole, times, axis=0), times, axis=1))
    values = along_r @ np.where(known, field, 0.0) @ along_z.T
    # the places are carried over like the values: the spacing changes smoothly with the node's number
    return along_r @ grid.r, along_z @ grid.z, np.where(shown, values, np.nan)


def draw_outline(case: Case, ax: Axes, *, fill: bool = False) -> list[Rectangle]:
    """Outline the walls, the inside and the product's surface [mm]; hatch an insulated headspace.

    Parameters
    ----------
    case : Case
        What to draw.
    ax : Axes
        Where to draw; gets equal scales, limits and axis labels.
    fill : bool, optional
        Colour walls and headspace too; otherwise only lines are drawn (over a map).

    Returns
    -------
    list of Rectangle
    """
    container = case.container
    drawn: list[Rectangle] = []

    def add(place: tuple[float, float, float, float], **looks: object) -> None:
        left, bottom, width, height = place
        patch = Rectangle((left, bottom), width, height, **looks)  # type: ignore[arg-type]
        ax.add_patch(patch)
        drawn.append(patch)

    line: dict[str, object] = {"edgecolor": style.LINE, "linewidth": 0.8}
    headspace = headspace_rectangle(case)
    if headspace is not None:
        if case.headspace.model == "insulated":
            looks: dict[str, object] = {
                "facecolor": "white",
                "hatch": "////",
                "edgecolor": style.PALE,
                "linewidth": 0.0,
            }
            add(headspace, **looks, label="insulated headspace")
        elif fill:
            add(headspace, facecolor=style.HEADSPACE, edgecolor="none")
        left, bottom, width, _ = headspace
        ax.plot([left, left + width], [bottom, bottom], color=style.LINE, linewidth=1.1)
    inside = container.inner_diameter * MM, container.inner_height * MM
    add((-inside[0] / 2, container.floor * MM, *inside), fill=False, **line)
    for part in wall_parts(case):
        for place in part.rectangles:
            add(place, **line, facecolor=style.WALL if fill else "none")
    frame_section(case, ax)
    return drawn


def frame_section(case: Case, ax: Axes) -> None:
    """Equal scales, limits a little outside the container, and axis labels with units."""
    radius, height = case.container.outer_radius * MM, case.container.outer_height * MM
    edge = 0.03 * max(radius, height / 2)
    ax.set_xlim(-radius - edge, radius + edge)
    ax.set_ylim(-edge, height + edge)
    ax.set_aspect("equal", adjustable="box")
    ax.set_xlabel("r [mm]")
    ax.set_ylabel("z [mm]")
    ax.locator_params(axis="x", nbins=5 if height < 4 * radius else 2)
    ax.locator_params(axis="y", nbins=6 if height > radius else 3)
    ax.spines[:].set_visible(False)


def mark_place(spot: Spot, ax: Axes, *, marker: str, size: float, colour: str, label: str) -> Line2D:
    """Mark a place on both sides of the axis, or once where it lies on the axis."""
    r = [0.0] if spot.r < ON_AXIS else [-spot.r * MM, spot.r * MM]
    (line,) = ax.plot(
        r,
        [spot.z * MM] * len(r),
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
    """Mark the slowest-heating and the least-lethality place; returns (least lethality, slowest heating)."""
    cold_spot = result.cold_spot
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


def draw_cold_zone(result: Result, ax: Axes) -> PathPatch:
    """Outline the cold zone: at most (1 + margin) times the least lethality, connected to the cold spot."""
    zone, grid = result.cold_spot.zone, result.grid
    r, z, field = finer(grid, np.log(result.lethality))
    r, field = mirrored(r * MM, field)
    z = z * MM
    level = np.log1p(zone.margin) + np.log(result.cold_spot.least_lethality.lethality)
    levels = [min(float(np.nanmin(field)), level) - 1.0, level]
    filled = ax.contourf(r, z, np.ma.masked_invalid(field).T, levels=levels, colors="none")
    polygons = filled.get_paths()[0].to_polygons()
    filled.remove()
    # regions that are as cold but not connected to the cold spot reach out of the zone's bounds, which are read off a
    # lattice of 400 by 400 intervals
    reach = zone.r_high * MM + 0.01 * r[-1]
    slack = 0.01 * result.case.fill_height * MM
    low, high = zone.z_low * MM - slack, zone.z_high * MM + slack
    kept = [
        np.asarray(shape)
        for shape in polygons
        if np.abs(np.asarray(shape)[:, 0]).max() <= reach
        and low <= np.asarray(shape)[:, 1].min()
        and np.asarray(shape)[:, 1].max() <= high
    ]
    path = Path.make_compound_path(*(Path(shape, closed=True) for shape in kept)) if kept else Path(np.empty((0, 2)))
    patch = PathPatch(
        path,
        fill=False,
        edgecolor="white",
        linewidth=1.1,
        linestyle=(0, (4, 2)),
        label=f"cold zone (least + {100 * zone.margin:g} %)",
        zorder=5,
    )
    patch.set_path_effects([withStroke(linewidth=2.4, foreground="black")])
    ax.add_patch(patch)
    return patch
