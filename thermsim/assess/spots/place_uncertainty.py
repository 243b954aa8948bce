"""Uncertainty of the place of a minimum: between nodes, at the axis, and on a surface that it may lie off."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.fields.refinement import Refined
from thermsim.assess.spots.cold_spot import Spot, minima_near
from thermsim.solve.grid.grid import Grid

Array = NDArray[np.float64]

#: A place inside is known no better than to this part of the distance of the middle grid's nodes: some micrometres.
CLOSELY = 1e-3


def between_nodes(refined: Refined, field: Array, spot: Spot) -> tuple[float, float]:
    """Uncertainty of r and z of a minimum of a field [m] as it lies between nodes.

    That is by how much nodes that are left out move it, and as that may happen to vanish, a little besides.
    """
    changed, least = nodes_left_out(refined, field, spot), closely(refined, spot)
    return abs(changed[0]) + least[0], abs(changed[1]) + least[1]


def closely(refined: Refined, spot: Spot) -> tuple[float, float]:
    """Least uncertainty of r and z [m] of a place inside the product; r of one on the axis is exact."""
    if not spot.inside:
        return 0.0, 0.0
    grid = refined.family.grids[1]
    node = _nearest(grid, refined.grid.reference(spot.r, spot.z))
    apart_r, apart_z = (np.gradient(lines)[k] for lines, k in zip((grid.columns, grid.levels), node, strict=True))
    return CLOSELY * float(apart_r) * (spot.r > 0.0), CLOSELY * float(apart_z)


def nodes_left_out(refined: Refined, field: Array, spot: Spot) -> tuple[float, float]:
    """Change of r and z of a minimum of a field [m] as it counts, where the nodes of the middle grid alone are seen.

    Half of it counts inside the product, where nodes lie on both sides and spacings halved leave a third of the
    error at most.
    """
    grid = refined.family.grids[1]
    fewer = np.where(grid.product_nodes, field[np.ix_(*refined.family.nestings[1].common)], np.inf)
    node = _nearest(grid, refined.grid.reference(spot.r, spot.z))
    r, z, _ = minima_near(grid, fewer[None], np.array([node]))[0]
    share = 0.5 if spot.inside else 1.0
    return share * (float(r) - spot.r), share * (float(z) - spot.z)


def _nearest(grid: Grid, place: tuple[float, float]) -> tuple[int, int]:
    """The product's node nearest to a place in the reference section [m]."""
    apart = np.abs(grid.columns - place[0])[:, None] + np.abs(grid.levels - place[1])
    row, column = np.unravel_index(int(np.where(grid.product_nodes, apart, np.inf).argmin()), apart.shape)
    return int(row), int(column)


def on_another(spots: Sequence[Spot]) -> tuple[float, float]:
    """Uncertainty of r and z of a place [m] that is inside by the best computation and on a surface by another.

    Or the other way round. It may as well lie there; ``spots`` are by all computations, the best first.
    """
    best, *others = spots
    there = [(abs(one.r - best.r), abs(one.z - best.z)) for one in others if one.inside != best.inside]
    by_r, by_z = np.max(there, axis=0, initial=0.0).tolist() if there else (0.0, 0.0)
    return by_r, by_z


def off_axis(refined: Refined, field: Array, spot: Spot, apart: Sequence[Array]) -> float:
    """Uncertainty of r of a minimum of a field on the axis [m]; 0 of any other.

    Where the field bends upwards across the axis by less than that is uncertain by, it may as well have its minimum
    off it: as far as it would fall then, with what goes with the fourth power of r. ``apart`` are fields of what
    counts of the differences to the coarser and to the looser one.
    """
    grid = refined.grid
    level = int(np.abs(grid.levels - grid.reference(spot.r, spot.z)[1]).argmin())
    if spot.r > 0.0 or not grid.product_nodes[:3, level].all():
        return 0.0
    r = grid.r[1:3, level]
    rises = np.stack([one[1:3, level] - one[0, level] for one in (field, *apart)], axis=1)
    (bend, *off), (fourth, *_) = np.linalg.solve(np.stack([r**2, r**4], axis=1), rises).tolist()
    least = bend - sum(abs(one) for one in off)
    return min(math.sqrt(-least / (2.0 * fourth)), float(r[1])) if least < 0.0 < fourth else 0.0


def off_surface(refined: Refined, field: Array, spot: Spot, apart: Sequence[Array]) -> float:
    """Uncertainty of r of a minimum of a field on a surface that faces outwards [m]; 0 of any other.

    Up to where the field rises outwards by more than its rise is uncertain by, a minimum off the surface cannot be
    told from one on it. ``apart`` are fields of what counts of the differences to the coarser and to the looser one.
    """
    grid = refined.grid
    column, height = grid.reference(spot.r, spot.z)
    first, level = (int(np.abs(lines - x).argmin()) for lines, x in ((grid.columns, column), (grid.levels, height)))
    if spot.inside or first == 0 or grid.product_nodes[first - 1, level]:
        return 0.0
    r, product = grid.r[first:, level], grid.product_nodes[first:, level]
    # parabolas about the axis
    reach = _unclear(r**2, product, field[first:, level], [one[first:, level] for one in apart])
    return math.sqrt(float(r[0]) ** 2 + reach) - float(r[0])


def off_level(refined: Refined, field: Array, spot: Spot, apart: Sequence[Array]) -> float:
    """Uncertainty of z of a minimum of a field on a surface that faces up or down [m]; 0 of any other.

    Parameters are those of :func:`off_surface`.
    """
    grid = refined.grid
    place = grid.reference(spot.r, spot.z)
    column, first = (
        int(np.abs(lines - x).argmin()) for lines, x in zip((grid.columns, grid.levels), place, strict=True)
    )
    product = np.pad(grid.product_nodes[column], 1)
    below, above = bool(product[first]), bool(product[first + 2])
    if spot.inside or below == above:
        return 0.0
    into = (column, slice(first, None, 1 if above else -1))
    rise = grid.z[into] - grid.z[column, first]
    return _unclear(np.abs(rise), grid.product_nodes[into], field[into], [one[into] for one in apart])


def _unclear(x: Array, product: NDArray[np.bool_], values: Array, apart: Sequence[Array]) -> float:
    """Distance from the first of nodes ``x`` (n,) up to where values do not rise by more than that is uncertain by.

    From the last node within to the first one beyond it goes with the rise; beyond the product there is nothing.
    """
    rise = np.where(product, values - values[0], np.inf)
    off = np.sum([np.abs(one - one[0]) for one in apart], axis=0)
    k = int(np.argmax(np.append(rise[:-1] > off[:-1], True)))
    if k == 0:  # nothing but a wall lies farther out
        return 0.0
    low = max(float(rise[k - 1]), 0.0)
    share = min(max(float(off[k]) - low, 0.0) / (float(rise[k]) - low), 1.0) if np.isfinite(rise[k]) else 0.0
    return float(x[k - 1] - x[0] + share * (x[k] - x[k - 1]))
