"""All figures of a solved case: from its best fields, and from those that show how sure they are."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.fields.apart import QUARTER, corner_of, nearby, slowness
from thermsim.assess.fields.curve import Curve
from thermsim.assess.fields.refinement import Refined
from thermsim.assess.simulate.result import ColdSpot, Findings
from thermsim.assess.spots.cold_spot import (
    ProductFields,
    SearchStencils,
    Spot,
    cold_spots,
    cold_zone,
    minima_near,
    stencil_at,
    tracks,
)
from thermsim.case.case import Case
from thermsim.errors import InputError
from thermsim.solve.grid.grid import Grid

Array = NDArray[np.float64]

#: How often the time of an arrival is looked for more closely, and at how many parts of the interval each time.
CLOSER, BETWEEN = 2, 16
#: A place inside is known no better than to this part of the distance of the middle grid's nodes: some micrometres.
CLOSELY = 1e-3
#: How the two cold spots are called.
SPOTS = ("least lethality", "slowest heating")


@dataclass(frozen=True)
class _Place:
    """A place that is followed: r, z [m], and what it is called."""

    name: str
    r: float
    z: float


def findings(case: Case, refined: Refined) -> list[Findings]:
    """Work all figures out from the best fields, and from the others with curves at the best cold spots.

    Parameters
    ----------
    case : Case
    refined : Refined
        Its fields.

    Returns
    -------
    list of Findings
        Of the best fields, one refinement earlier, and through time less well.

    Raises
    ------
    InputError
        If a place to follow lies where no heat goes.
    """
    asked = SearchStencils(refined.grid)
    ways = (refined.best, refined.coarser, refined.looser)
    products = [ProductFields(refined.grid, fields, asked) for fields in ways]
    tracked = tracks(products[0], ways[1:], refined.time, case.product.initial)
    minima, slowest = cold_spots(products)
    best = (minima[0][0], slowest[0])
    followed = [_Place(name, spot.r, spot.z) for name, spot in zip(SPOTS, best, strict=True)]
    followed += [_named(case, k, refined.grid) for k in range(len(case.points))]
    zones = [cold_zone(product, lows[0], case.lethality.zone) for product, lows in zip(products, minima, strict=True)]
    curves_of = [_curves(followed, product, refined.time) for product in products]
    found = []
    arrivals = [_arrivals(case, refined, products, curves_of[0][0], aim) for aim in case.lethality.reach]
    for k, (line, lows, slow, zone, curves) in enumerate(
        zip(tracked, minima, slowest, zones, curves_of, strict=True)
    ):
        reach = tuple((aim, when[k]) for aim, when in zip(case.lethality.reach, arrivals, strict=True))
        cold_spot = ColdSpot(
            least_lethality=lows[0],
            slowest_heating=slow,
            distance=math.hypot(lows[0].r - slow.r, lows[0].z - slow.z),
            minima=tuple(lows),
            zone=zone,
            track=line,
            arrivals=reach,
        )
        found.append(Findings(cold_spot, (curves[0], curves[1]), tuple(curves[2:]), case.process.heated_until))
    fields = refined.best.log_lethality, refined.best.end_of_heating
    moved = []
    for k, (field, spot) in enumerate(zip(fields, best, strict=True)):
        apart = [share * (field - way.ends[1 - k]) for share, way in zip(QUARTER, ways[1:], strict=True)]
        by_r, by_z = between_nodes(refined, field, spot)
        moved.append((by_r + off_axis(refined, field, spot, apart), by_z))
    corner = corner_of(case)
    by_grid = [_on_each_grid(case, refined, place) for place in followed]
    slowly = tuple(slowness(*values, corner=corner) for values in by_grid)
    fields_slow = max(slowness(*values) for values in by_grid[:2])
    near = tuple(
        nearby(refined, place.r, place.z) if refined.grid.holds_product(place.r, place.z) else None
        for place in followed
    )
    found[0] = replace(found[0], between=(moved[0], moved[1]), slow=slowly, fields_slow=fields_slow, near=near)
    return found


def _on_each_grid(case: Case, refined: Refined, place: _Place) -> list[Array]:
    """Each grid's own figures (3,) at a place: what lethality goes by, so that their errors can be compared."""
    values = []
    for grid, ends in zip(refined.family.grids, refined.ends, strict=True):
        block, stencil = stencil_at(grid, place.r, place.z)
        values.append(stencil.value(ends[:, *block]) * (math.log(10.0) / case.lethality.z, 1.0, 1.0))
    return values


def between_nodes(refined: Refined, field: Array, spot: Spot) -> tuple[float, float]:
    """Uncertainty of r and z of a minimum of a field [m] as it lies between nodes.

    That is by how much they change where the nodes of the middle grid alone are looked at; or half of it inside the
    product, where nodes lie on both sides and spacings halved leave a third of the error at most. That may happen
    to vanish off the axis there: by a small part of the nodes' distance besides.
    """
    grid = refined.family.grids[1]
    fewer = np.where(grid.product_nodes, field[np.ix_(*refined.family.nestings[1].common)], np.inf)
    column, level = refined.grid.reference(spot.r, spot.z)
    apart = np.abs(grid.columns - column)[:, None] + np.abs(grid.levels - level)
    node = np.unravel_index(int(np.where(grid.product_nodes, apart, np.inf).argmin()), apart.shape)
    r, z, _ = minima_near(grid, fewer[None], np.array([node]))[0]
    by = abs(float(r) - spot.r), abs(float(z) - spot.z)
    if not spot.inside:
        return by
    apart_r, apart_z = (np.gradient(lines)[k] for lines, k in zip((grid.columns, grid.levels), node, strict=True))
    return 0.5 * by[0] + CLOSELY * float(apart_r) * (spot.r > 0.0), 0.5 * by[1] + CLOSELY * float(apart_z)


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


def _arrivals(
    case: Case, refined: Refined, products: Sequence[ProductFields], curve: Curve, aim: float
) -> list[float | None]:
    """Time at which a place first reaches a temperature [degC], by each way of computing [s]; None for never.

    Straight lines between output times would be off by more than all else: the time is looked for between them. By
    the other ways it is earlier or later as they are warmer or colder then.
    """
    time, course = curve.time, curve.temperature
    above = np.flatnonzero(course >= aim)
    if above.size == 0 or above[0] == 0:
        return [float(time[0]) if above.size else None] * len(products)
    k = int(above[0])
    others = [course] * len(products)
    for _ in range(CLOSER):
        time = np.linspace(time[k - 1], time[k], BETWEEN + 1)
        ways = refined.family.courses(case, refined.found, time)
        others = [
            replace(product, fields=replace(product.fields, courses=way)).courses_at([(curve.r, curve.z)])[:, 0]
            for product, way in zip(products, ways, strict=True)
        ]
        course = others[0]
        k = 1 + int(np.argmax(np.append(course[1:-1] >= aim, True)))  # the last has, but for rounding
    rate = (course[k] - course[k - 1]) / (time[k] - time[k - 1])
    return [float(time[k] - (other[k] - aim) / rate) for other in others]


def _named(case: Case, number: int, grid: Grid) -> _Place:
    """A place that the case names, in the product or in a wall."""
    point = case.points[number]
    if grid.block_at(point.r, point.z) is None:
        raise InputError(
            f'point "{point.name}" (r = {point.r * 1e3:g} mm, z = {point.z * 1e3:g} mm) lies in the insulated '
            "headspace, where no temperature is computed; move it into the product or a wall"
        )
    return _Place(point.name, point.r, point.z)


def _curves(places: list[_Place], product: ProductFields, time: Array) -> list[Curve]:
    """The curves at places."""
    temperature = product.courses_at([(place.r, place.z) for place in places])
    spots: list[Spot] = [product.spot_at(place.r, place.z) for place in places]
    return [
        Curve(place.name, place.r, place.z, spot.lethality, spot.heating_lethality, spot.end_of_heating, time, course)
        for place, spot, course in zip(places, spots, np.ascontiguousarray(temperature.T), strict=True)
    ]
