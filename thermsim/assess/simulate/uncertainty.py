"""How sure each figure is: the same figures from a coarser computation and from looser time steps."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.fields.refinement import COUNTED, differences
from thermsim.assess.simulate.result import Findings
from thermsim.assess.spots.cold_spot import Spot

Array = NDArray[np.float64]

#: No temperature is claimed to be better known than this many time tolerances.
TOLERANCES = 2.5
PLACE_FIGURES = ("r", "z")
CURVE_FIGURES = ("lethality", "heating_lethality", "end_of_heating")
ZONE_FIGURES = ("r_low", "r_high", "z_low", "z_high", "part")


def uncertainties(
    best: Findings, coarser: Findings, looser: Findings, *, tolerance: float, z: float
) -> dict[str, float]:
    """Numerical uncertainty of every figure, in its own SI unit, by the figure's dotted name.

    A third of the sum of the differences to the coarser and to the looser computation; see
    :mod:`thermsim.assess.fields.refinement` for why a third. The others' curves are those at the best cold spots,
    so that a place and what happens there are not counted twice. No temperature is claimed better than a few time
    tolerances, no lethality better than what that much temperature is worth: where differences happen to vanish,
    errors do not.

    Parameters
    ----------
    best, coarser, looser : Findings
        What the three computations say.
    tolerance : float
        Of the time steps [K].
    z : float
        The lethality's [K].
    """
    figures = _figures(best)
    others = [_figures(coarser), _figures(looser)]
    found = differences(figures, others)
    for k, spot in enumerate(best.cold_spot.minima):
        for figure in (*PLACE_FIGURES, *CURVE_FIGURES):
            found[f"cold_spot.minima.{k}.{figure}"] = sum(
                part * abs(getattr(spot, figure) - getattr(_nearest(spot, other.cold_spot.minima), figure))
                for part, other in zip(COUNTED, (coarser, looser), strict=True)
            )
    least_temperature = TOLERANCES * tolerance
    least_lethality = least_temperature * math.log(10.0) / z
    for name, value in figures.items():
        kind = name.rpartition(".")[2]
        if kind in ("temperature", "end_of_heating"):
            found[name] = max(found[name], least_temperature)
        elif kind in ("lethality", "heating_lethality"):
            found[name] = max(found[name], least_lethality * float(value))
    zone = best.cold_spot.zone
    for figure, step in (("r_low", 0), ("r_high", 0), ("z_low", 1), ("z_high", 1)):
        found[f"cold_spot.zone.{figure}"] = max(found[f"cold_spot.zone.{figure}"], zone.resolution[step])
    for figure in (*PLACE_FIGURES, *CURVE_FIGURES):  # the first is the least-lethality place itself
        found[f"cold_spot.minima.0.{figure}"] = found[f"cold_spot.least_lethality.{figure}"]
    return found


def _figures(findings: Findings) -> dict[str, float | Array]:
    """All figures by their dotted names."""
    cold_spot = findings.cold_spot
    figures: dict[str, float | Array] = {"cold_spot.distance": cold_spot.distance}
    for which, curve in zip(("least_lethality", "slowest_heating"), findings.spots, strict=True):
        for figure in PLACE_FIGURES:
            figures[f"cold_spot.{which}.{figure}"] = getattr(getattr(cold_spot, which), figure)
        for figure in CURVE_FIGURES:
            figures[f"cold_spot.{which}.{figure}"] = getattr(curve, figure)
        figures[f"cold_spot.{which}.temperature"] = curve.temperature
    for figure in ZONE_FIGURES:
        figures[f"cold_spot.zone.{figure}"] = getattr(cold_spot.zone, figure)
    for k, (_, arrival) in enumerate(cold_spot.arrivals):
        if arrival is not None:
            figures[f"cold_spot.arrivals.{k}"] = arrival
    # while heating: a jump at the surface, where the coldest point goes then, is never resolved in its first instants
    heating = cold_spot.track.time < findings.heating_end
    figures["cold_spot.track.temperature"] = cold_spot.track.temperature[heating]
    for k, curve in enumerate(findings.points):
        for figure in CURVE_FIGURES:
            figures[f"points.{k}.{figure}"] = getattr(curve, figure)
        figures[f"points.{k}.temperature"] = curve.temperature
    return figures


def _nearest(spot: Spot, others: tuple[Spot, ...]) -> Spot:
    """The minimum of another computation that corresponds to this one."""
    return min(others, key=lambda other: math.hypot(other.r - spot.r, other.z - spot.z))
