"""All figures of a solved case: from its best fields, and from those that show how sure they are."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.fields.curve import Curve
from thermsim.assess.fields.error_estimate import QUARTER, corner_of, nearby, slowness
from thermsim.assess.fields.refinement import Refined
from thermsim.assess.simulate.result import ColdSpot, Findings
from thermsim.assess.spots.cold_spot import (
    ProductFields,
    SearchStencils,
    Spot,
    cold_spots,
    stencil_at,
    tracks,
)
from thermsim.assess.spots.place_uncertainty import between_nodes, off_axis, off_level, off_surface
from thermsim.assess.spots.zone import cold_zone
from thermsim.case.case import Case
from thermsim.errors import InputError
from thermsim.solve.grid.grid import Grid

Array = NDArray[np.float64]

#: How often the time of an arrival is looked for more closely, and at how many parts of the interval each time.
CLOSER, BETWEEN = 2, 16
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
    curves_of = [curves_at(followed, product, refined.time) for product in products]
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
    near = tuple(
        nearby(refined, place.r, place.z) if refined.grid.holds_product(place.r, place.z) else None
        for place in followed
    )
    found[0] = replace(
        found[0],
        between=(
            _between(refined, refined.best.log_lethality, 1, best[0]),
            _between(refined, refined.best.end_of_heating, 0, best[1]),
        ),
        slowness=tuple(slowness_at(case, refined, place.r, place.z) for place in followed),
        near=near,
    )
    return found


def _between(refined: Refined, field: Array, number: int, spot: Spot) -> tuple[float, float]:
    """Uncertainty of r and z [m] of a minimum of one of the fields' ends, as it may lie between nodes or off them."""
    others = (refined.coarser.ends[number], refined.looser.ends[number])
    apart = [share * (field - other) for share, other in zip(QUARTER, others, strict=True)]
    by_r, by_z = between_nodes(refined, field, spot)
    by_r += off_axis(refined, field, spot, apart) + off_surface(refined, field, spot, apart)
    return by_r, by_z + off_level(refined, field, spot, apart)


def slowness_at(case: Case, refined: Refined, r: float, z: float) -> float:
    """Slowness with which errors fall at a place [m]: see :func:`thermsim.assess.fields.error_estimate.slowness`.

    By each grid's own figures: what lethality goes by, so that their errors can be compared.
    """
    values = []
    for grid, ends in zip(refined.family.grids, refined.ends, strict=True):
        block, stencil = stencil_at(grid, r, z)
        values.append(stencil.value(ends[:, *block]) * (math.log(10.0) / case.lethality.z, 1.0, 1.0))
    return slowness(*values, corner=corner_of(case))


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


def curves_at(places: Sequence[_Place | Curve], product: ProductFields, time: Array) -> list[Curve]:
    """The curves at places."""
    temperature = product.courses_at([(place.r, place.z) for place in places])
    spots: list[Spot] = [product.spot_at(place.r, place.z) for place in places]
    return [
        Curve(place.name, place.r, place.z, spot.lethality, spot.heating_lethality, spot.end_of_heating, time, course)
        for place, spot, course in zip(places, spots, np.ascontiguousarray(temperature.T), strict=True)
    ]
