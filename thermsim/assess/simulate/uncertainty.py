"""Uncertainty of each figure: the same figures from a coarser computation and from looser time steps."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.fields.curve import Curve
from thermsim.assess.fields.error_estimate import (
    LEFT,
    PLACE,
    QUARTER,
    curve_uncertainty,
    gathering,
    spread,
)
from thermsim.assess.fields.refinement import COUNTED, differences
from thermsim.assess.simulate.result import Findings
from thermsim.assess.spots.cold_spot import Spot
from thermsim.assess.spots.place_uncertainty import on_another
from thermsim.case.case import Case, Lethality

Array = NDArray[np.float64]

PLACE_FIGURES = ("r", "z")
CURVE_FIGURES = ("lethality", "heating_lethality", "end_of_heating")
ZONE_FIGURES = ("r_low", "r_high", "z_low", "z_high", "part")
SPOTS = ("least_lethality", "slowest_heating")
#: What counts of the difference of the cold zone's bounds to the coarser ones, and of its part: its edge and the
#: least within are off alike. Like :data:`thermsim.assess.fields.lattice.KNOWN` choices, made on drawn cases: of
#: seeds 23 and 71 of the benchmark ``honesty``.
ZONE, PART = 1.0 / 5.0, 1.0 / 7.0
#: What counts, for that part, of what its bounds are uncertain by: on coarser grids one side may grow as another
#: shrinks. A choice likewise: of seeds 29 and 71.
BY_BOUNDS = 0.65
#: What counts, for its bounds, of what the lethality is uncertain by: all grids may happen to agree on one. Likewise.
BY_LETHALITY = 0.25
#: What counts, for an arrival, of what coarser grids change of the temperature as a rule, before it and during all
#: of heating; and of what looser steps change. Choices likewise: of seeds 17 and 23.
ELSEWHERE = ((0.6, 0.8), (0.8, 0.8))


def uncertainties(
    best: Findings, coarser: Findings, looser: Findings, *, tolerance: float, lethality: Lethality
) -> dict[str, float]:
    """Numerical uncertainty of every figure, in its own SI unit, by the figure's dotted name.

    What counts of the differences to the coarser and to the looser computation: of what happens at a place see
    :mod:`thermsim.assess.fields.error_estimate`, of places a quarter and a third, and more where errors at either
    cold spot are seen to fall slowly. The others' curves are those at the best cold spots, so that a place and what
    happens there are not counted twice. A place is found between nodes: by how much it moves where every other node
    is left out counts too; one inside that another computation has on a surface may lie there. An arrival is as
    uncertain as the temperature is then, over its rate.

    Parameters
    ----------
    best, coarser, looser : Findings
        What the three computations say.
    tolerance : float
        Of the time steps [K].
    lethality : Lethality
        Reference temperature and z.
    """
    others = (coarser, looser)
    slow = best.slowness or (1.0,) * (2 + len(best.points))
    near = best.near or (None,) * len(slow)
    # of what is read off whole fields, of places and of the track, the cold spots tell
    fields_slow = max(slow[:2])
    figures, beside = _figures(best), [_figures(other) for other in others]
    found: dict[str, float] = {}
    for of, value in figures.items():
        share = QUARTER[0] if ".zone." not in of else PART if of.endswith(".part") else ZONE
        found |= differences({of: value}, beside, (fields_slow * share, QUARTER[1]))
    for (name, curve, those), slower, around in zip(_curves(best, others), slow, near, strict=True):
        unsure = curve_uncertainty(
            curve,
            those,
            lethality=lethality,
            heated_until=best.heated_until,
            tolerance=tolerance,
            counted=QUARTER if around is None else PLACE,
            in_wall=around is None,
            slow=slower,
            near=around,
        )
        found |= {f"{name}.{figure}": value for figure, value in unsure.items()}
    found["cold_spot.track.temperature"] += LEFT * tolerance
    for which, moved in zip(SPOTS, best.between, strict=True):
        for axis, by in zip(PLACE_FIGURES, moved, strict=True):
            found[f"cold_spot.{which}.{axis}"] += by
        there = on_another([getattr(way.cold_spot, which) for way in (best, *others)])
        for axis, by in zip(PLACE_FIGURES, there, strict=True):
            found[f"cold_spot.{which}.{axis}"] = max(found[f"cold_spot.{which}.{axis}"], by)
    found["cold_spot.distance"] += math.hypot(*(by for moved in best.between for by in moved))
    for k, spot in enumerate(best.cold_spot.minima):
        for figure in (*PLACE_FIGURES, *CURVE_FIGURES):
            found[f"cold_spot.minima.{k}.{figure}"] = sum(
                part * abs(getattr(spot, figure) - getattr(_nearest(spot, other.cold_spot.minima), figure))
                for part, other in zip(COUNTED, others, strict=True)
            )
    zone = best.cold_spot.zone
    least = found["cold_spot.least_lethality.lethality"] / best.spots[0].lethality
    worth = zone.bounds_within(BY_LETHALITY * least)
    for figure, step in (("r_low", 0), ("r_high", 0), ("z_low", 1), ("z_high", 1)):
        name = f"cold_spot.zone.{figure}"
        found[name] += zone.resolution[step]
        if getattr(zone, figure) > 0.0:  # on the axis it is exact
            found[name] = max(found[name], worth[step])
    part, bounds = "cold_spot.zone.part", [found[f"cold_spot.zone.{bound}"] for bound in ZONE_FIGURES[:4]]
    found[part] = max(found[part], BY_BOUNDS * zone.part_within(max(bounds[:2]), max(bounds[2:])))
    for figure in (*PLACE_FIGURES, *CURVE_FIGURES):  # the first is the least-lethality place itself
        found[f"cold_spot.minima.0.{figure}"] = found[f"cold_spot.least_lethality.{figure}"]
    _count_arrivals(found, best, others, slow[0], tolerance, lethality.z)
    return found


def _curves(best: Findings, others: tuple[Findings, Findings]) -> Iterator[tuple[str, Curve, tuple[Curve, Curve]]]:
    """Every curve with its name and what the others say of it."""
    for k, which in enumerate(SPOTS):
        yield f"cold_spot.{which}", best.spots[k], (others[0].spots[k], others[1].spots[k])
    for k, point in enumerate(best.points):
        yield f"points.{k}", point, (others[0].points[k], others[1].points[k])


def _count_arrivals(
    found: dict[str, float],
    best: Findings,
    others: tuple[Findings, Findings],
    slow: float,
    tolerance: float,
    z: float,
) -> None:
    """Count as uncertain by how much arrivals differ, or what the temperature about then is uncertain by is worth."""
    curve = best.spots[0]
    shares, counted = ((slow * part, loose) for part, loose in (PLACE, QUARTER))
    for k, (aim, arrival) in enumerate(best.cold_spot.arrivals):
        if arrival is None or arrival <= curve.time[0]:
            continue
        rate = float(np.interp(arrival, curve.time, np.gradient(curve.temperature, curve.time)))
        near = Lethality(aim, z)
        part = gathering(curve.time, aim - np.abs(curve.temperature - aim), near, curve.time[0], np.inf)
        about = LEFT * tolerance
        # differences may change their sign just then: as much as they are elsewhere they may be there, or most of it
        for share, parts, other in zip(counted, ELSEWHERE, others, strict=True):
            apart = curve.temperature - other.spots[0].temperature
            times = arrival, best.heated_until
            elsewhere = [one * _typical(apart[curve.time <= until]) for one, until in zip(parts, times, strict=True)]
            about += share * max(spread(part, apart), *elsewhere)
        name = f"cold_spot.arrivals.{k}"
        own = differences(
            {name: arrival}, [{name: other.cold_spot.arrivals[k][1] or 0.0} for other in others], shares
        )
        found[name] = max(own[name], about / rate if rate > 0.0 else math.inf)


def _typical(apart: Array) -> float:
    """Root mean square of a difference."""
    return math.sqrt(float(np.mean(apart**2)))


def _figures(findings: Findings) -> dict[str, float | Array]:
    """Places and what is read off whole fields, by their dotted names."""
    cold_spot = findings.cold_spot
    figures: dict[str, float | Array] = {"cold_spot.distance": cold_spot.distance}
    for which in SPOTS:
        for figure in PLACE_FIGURES:
            figures[f"cold_spot.{which}.{figure}"] = getattr(getattr(cold_spot, which), figure)
    for figure in ZONE_FIGURES:
        figures[f"cold_spot.zone.{figure}"] = getattr(cold_spot.zone, figure)
    for k, (_, arrival) in enumerate(cold_spot.arrivals):
        if arrival is not None:
            figures[f"cold_spot.arrivals.{k}"] = arrival
    # while heating: a jump at the surface, where the coldest point goes then, is never resolved in its first instants
    heating = cold_spot.track.time < findings.heated_until
    figures["cold_spot.track.temperature"] = cold_spot.track.temperature[heating]
    return figures


def _nearest(spot: Spot, others: tuple[Spot, ...]) -> Spot:
    """The minimum of another computation that corresponds to this one."""
    return min(others, key=lambda other: math.hypot(other.r - spot.r, other.z - spot.z))


def worst_excess(case: Case, findings: Findings, uncertainty: dict[str, float]) -> float:
    """The largest ratio of a figure's uncertainty to the accuracy asked for, over the cold spots and the points."""
    accuracy = case.accuracy
    excess = 0.0
    spots = {
        "cold_spot.least_lethality": findings.cold_spot.least_lethality,
        "cold_spot.slowest_heating": findings.cold_spot.slowest_heating,
    }
    places: dict[str, Spot | Curve] = {**spots, **{f"points.{k}": point for k, point in enumerate(findings.points)}}
    for name, place in places.items():
        excess = max(excess, uncertainty[f"{name}.end_of_heating"] / accuracy.temperature)
        for figure in ("lethality", "heating_lethality"):
            excess = max(excess, uncertainty[f"{name}.{figure}"] / (accuracy.lethality * getattr(place, figure)))
    for name in spots:
        excess = max(excess, math.hypot(uncertainty[f"{name}.r"], uncertainty[f"{name}.z"]) / accuracy.place)
    return excess
