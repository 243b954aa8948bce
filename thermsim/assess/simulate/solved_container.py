"""A container without a probe, solved as closely as its accuracy needs: its figures, flat valleys, and its target."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import dataclass

from thermsim.assess.fields.cache import SolutionCache
from thermsim.assess.fields.refinement import Refined, refine
from thermsim.assess.simulate.findings import findings
from thermsim.assess.simulate.fineness import (
    FINEST_REFINEMENT,
    finer,
    first_refinement,
    output_times,
    time_tolerance,
)
from thermsim.assess.simulate.result import VALLEY, ColdSpot, Findings, Target
from thermsim.assess.simulate.uncertainty import uncertainties, worst_excess
from thermsim.assess.spots.brick import BrickSpots, brick_hold
from thermsim.assess.spots.cold_spot import ProductFields, reach_alike
from thermsim.assess.spots.hold import required_hold
from thermsim.assess.spots.zone import cold_zone
from thermsim.case.case import Case


@dataclass(frozen=True)
class SolvedContainer:
    """A container on grids fine enough for the accuracy asked for, or as fine as allowed.

    ``excess`` is the largest ratio of a figure's uncertainty to that accuracy.
    """

    refined: Refined
    best: Findings
    uncertainty: dict[str, float]
    excess: float
    refinement: float


def solved_container(
    case: Case, *, progress: Callable[[float], None] | None, kept: SolutionCache | None, once: bool
) -> SolvedContainer:
    """Solve a case without a probe on finer and finer grids, as far as its accuracy needs."""
    time, tolerance, refinement = output_times(case), time_tolerance(case), first_refinement(case.accuracy)
    while True:
        refined = refine(
            case,
            time=time,
            refinement=refinement,
            tolerance=tolerance,
            progress=progress,
            kept=kept,
            once=once,
        )
        best, *others = findings(case, refined)
        uncertainty = uncertainties(best, *others, tolerance=tolerance, lethality=case.lethality)
        excess = worst_excess(case, best, uncertainty)
        if excess <= 1.0 or refinement >= FINEST_REFINEMENT:
            return SolvedContainer(refined, best, uncertainty, excess, refinement)
        refinement = finer(refinement, excess)


def with_valleys(solved: SolvedContainer) -> ColdSpot:
    """The cold spots with where they cannot be told from others, which goes into their places' uncertainties."""
    refined, uncertainty = solved.refined, solved.uncertainty
    least, slowest = solved.best.cold_spot.least_lethality, solved.best.cold_spot.slowest_heating
    product = ProductFields.of(refined.grid, refined.best)
    alike = cold_zone(product, least, uncertainty["cold_spot.least_lethality.lethality"] / least.lethality)
    cold_spot = dataclasses.replace(solved.best.cold_spot, alike=alike)
    by_r, by_z = cold_spot.reach_of_valley  # the place is anywhere in it
    if alike.r_low == 0.0 and not refined.grid.smooth_on_axis:  # above a cone's point fields are known less well
        by_r = max(by_r, least.r, alike.r_high - least.r)
    reach = reach_alike(
        product, refined.best.end_of_heating, slowest, uncertainty["cold_spot.slowest_heating.end_of_heating"]
    )
    for name, by in (
        ("least_lethality", (by_r, by_z)),
        ("minima.0", (by_r, by_z)),
        ("slowest_heating", reach if max(reach) > VALLEY else (0.0, 0.0)),
    ):
        for axis, far in zip("rz", by, strict=True):
            figure = f"cold_spot.{name}.{axis}"
            uncertainty[figure] = max(uncertainty[figure], far)
    return cold_spot


def target_of(case: Case, solved: SolvedContainer, brick: BrickSpots | None) -> Target | None:
    """The target, whether it is reached and by which hold, with its uncertainties; None where there is none."""
    wanted, uncertainty = case.lethality.target, solved.uncertainty
    if wanted is None:
        return None
    least = (brick or solved.best.cold_spot).least_lethality.lethality
    unsure = uncertainty[f"{'brick' if brick else 'cold_spot'}.least_lethality.lethality"]
    found = (
        brick_hold(case, wanted, unsure=unsure / least)
        if brick
        else required_hold(
            case,
            wanted,
            tolerance=time_tolerance(case),
            solved=(solved.refined, solved.best.spots[0]),
            unsure=unsure / least,
        )
    )
    if found.hold is not None:
        uncertainty["target.required_hold"] = found.uncertainty
    uncertainty["target.least"] = unsure
    hold = None if case.process.hold is None else case.process.held
    return Target(wanted, least, hold, found.hold, found.remark)
