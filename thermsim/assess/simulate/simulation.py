"""From a case to its result: solve, find the cold spots, and say how sure each figure is."""

from __future__ import annotations

import dataclasses
import math
import time as clock
from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.fields.cache import SolutionCache
from thermsim.assess.fields.curve import Curve
from thermsim.assess.fields.error_estimate import corner_of
from thermsim.assess.fields.refinement import ABOUT_A_STEM, Refined, refine
from thermsim.assess.probe.effect import ProbeEffect, by_all, probe_effects
from thermsim.assess.probe.place_uncertainty import place_uncertainties
from thermsim.assess.probe.uncertainty import end_of_stem, near_probe, slowness_of, uncertainty_of
from thermsim.assess.side.background import Background, BrickBackground, background_of
from thermsim.assess.side.effect import side_effects
from thermsim.assess.side.reading import Disturbed
from thermsim.assess.simulate.cautions import notices_of_result, worse_end
from thermsim.assess.simulate.containers import Containers
from thermsim.assess.simulate.findings import slowness_at
from thermsim.assess.simulate.fineness import (
    FINEST_REFINEMENT,
    finer,
    first_refinement,
    time_tolerance,
)
from thermsim.assess.simulate.probe_cautions import notices_of_probe
from thermsim.assess.simulate.result import Effort, EnergyBalance, Result
from thermsim.assess.simulate.solved_container import solved_container, target_of, with_valleys
from thermsim.assess.spots.brick import brick_spots
from thermsim.assess.spots.brick_field import unsolved
from thermsim.assess.spots.input_range import InputRange, cases_at_the_ends
from thermsim.case.case import Case
from thermsim.solve.grid.grid import Grid
from thermsim.solve.matrix.linear import in_one_thread

Array = NDArray[np.float64]


def simulate(
    case: Case,
    *,
    progress: Callable[[float], None] | None = None,
    kept: Containers | None = None,
    first: Callable[[Result], None] | None = None,
) -> Result:
    """Simulate a case and find its cold spots; with a probe whose insertion is known, also what that reads and does.

    Parameters
    ----------
    case : Case
        What is to be simulated.
    progress : callable, optional
        Called with the part of the work that is done (0 to 1); an error that it raises ends the work.
    kept : Containers, optional
        Holds what the last simulation left, and takes what this one leaves.
    first : callable, optional
        With ``kept`` called with the result of the container alone as soon as that is there: its hold, input range
        and probe follow.

    Returns
    -------
    Result
        With the numerical uncertainty of every figure. Where it is larger than the accuracy asked for although the
        grid was refined as far as allowed, ``notices`` say so.

    Raises
    ------
    NumericalError
        If the march cannot go on.
    InputError
        If a place to follow lies where no heat goes.

    Examples
    --------
    >>> import thermsim
    >>> case = thermsim.read_case("cases/jar.toml").replace(accuracy=thermsim.Accuracy(1.0, 0.2, 5e-3))
    >>> result = thermsim.simulate(case)
    >>> round(result.cold_spot.least_lethality.z, 3), result.temperature[-1].shape == result.grid.r.shape
    (0.106, True)
    """
    bare = case.replace(probe=None, probes=()) if case.probe or case.probes else case
    probed = case.probe is not None and case.probe.depth(case.container) is not None
    share = 0.5 if probed else 1.0

    runs = None if kept is None else kept.runs
    once = bare.lethality.target is None  # a hold is looked for with the same bases

    def made() -> tuple[Result, Refined]:
        advance = None if progress is None else lambda part: progress(part * share)
        if first is not None and runs is not None:
            fields = bare.replace(lethality=dataclasses.replace(bare.lethality, target=None))
            first(
                dataclasses.replace(simulate_container(fields, progress=advance, kept=runs, once=once)[0], case=case)
            )
            advance = None if progress is None else lambda _: progress(share)
        result, refined = simulate_container(bare, progress=advance, kept=runs, once=once)
        return with_input_range(result, runs), refined

    result, refined = kept.solved(bare, made) if kept else made()
    if probed:
        if first is not None:
            first(dataclasses.replace(result, case=case))
        return with_probe(result, refined, case, progress=progress, kept=runs)
    return dataclasses.replace(result, case=case)


def with_input_range(result: Result, kept: SolutionCache | None = None) -> Result:
    """Add both cold spots with the films of named media at the ends of their ranges, if any film is named so.

    Parameters
    ----------
    result : Result
        Of a container without its probe, as of :func:`simulate_container`.
    kept : SolutionCache, optional
        What earlier runs left.

    Returns
    -------
    Result
        With a notice where the worse end does not reach a target that the middle does.
    """
    ends = cases_at_the_ends(result.case)
    if ends is None:
        return result
    low, high = (simulate_container(end, kept=kept, once=True)[0].both_spots for end in ends)
    span = InputRange(low, high)
    result = dataclasses.replace(result, input_range=span)
    missed = worse_end(result)
    return result if missed is None else result.noting(missed)


@in_one_thread
def simulate_container(
    case: Case,
    *,
    progress: Callable[[float], None] | None = None,
    kept: SolutionCache | None = None,
    once: bool = False,
) -> tuple[Result, Refined]:
    """Simulate a case without a probe; also give the fields that a probe's reading is held against.

    Parameters, errors and the result are those of :func:`simulate`; ``kept`` holds what earlier runs left, and with
    ``once`` the family of grids is for no process but the case's own, where no hold is looked for.
    """
    began = clock.perf_counter()
    share = 0.8 if case.lethality.target else 1.0
    solved = solved_container(
        case,
        progress=None if progress is None else lambda part: progress(part * share),
        kept=kept,
        once=once and case.lethality.target is None,
    )
    refined, best, uncertainty = solved.refined, solved.best, solved.uncertainty
    cold_spot = with_valleys(solved)
    brick = None
    if not unsolved(case):
        brick, unsure = brick_spots(case)
        uncertainty |= {f"brick.{name}": value for name, value in unsure.items()}
    target = target_of(case, solved, brick)
    if progress is not None:
        progress(1.0)
    history, grid = refined.history, refined.grid
    outside = ~grid.product_nodes
    effort = Effort(
        nodes=int(grid.active.sum()),
        steps=history.steps,
        rejected=history.rejected,
        tolerance=time_tolerance(case),
        refinement=solved.refinement,
        seconds=clock.perf_counter() - began,
    )
    result = Result(
        case=case,
        grid=grid,
        time=refined.time,
        temperature=_conducting(grid, refined.best.temperature),
        end_of_heating=np.where(grid.active, refined.best.end_of_heating, np.nan),
        lethality=np.where(outside, np.nan, np.exp(refined.best.log_lethality)),
        heating_lethality=np.where(outside, np.nan, np.exp(refined.best.log_heating)),
        cold_spot=cold_spot,
        spots=best.spots,
        points=best.points,
        target=target,
        energy=EnergyBalance(history.heat_in, history.stored, history.energy_defect),
        uncertainty=uncertainty,
        effort=effort,
        notices=(),
        brick=brick,
    )
    return result.noting(*notices_of_result(result, solved.excess)), refined


@in_one_thread
def with_probe(
    result: Result,
    undisturbed: Refined,
    case: Case,
    *,
    progress: Callable[[float], None] | None = None,
    kept: SolutionCache | None = None,
    solved: Refined | Disturbed | None = None,
) -> Result:
    """Add what a probe reads and does to the result of its container without it.

    Parameters
    ----------
    result, undisturbed
        Of the same case without its probe, as of :func:`simulate_container`.
    case : Case
        With the probe, its insertion known.
    progress : callable, optional
        Called with the part of the work that is done (0.5 to 1).
    kept : SolutionCache, optional
        What earlier runs left.
    solved : Refined or list, optional
        The case solved before with a refinement of :func:`first_refinement`; from the side the stem's disturbances.

    Returns
    -------
    Result
    """
    began = clock.perf_counter()
    if case.probe is not None and case.probe.entry == "side":
        case = case.replace(probe=case.at_height(case.probe, result.both_spots[0].z))
        background, spots = from_side(result, undisturbed)
        result = dataclasses.replace(result, spots=spots)
        effect, unsure = _effect_from_side(result, background, case, solved if isinstance(solved, list) else None)
    else:
        before = None if isinstance(solved, list) else solved
        effect, unsure = _effect_on_axis(result, undisturbed, case, progress=progress, kept=kept, before=before)
    seconds = result.effort.seconds + clock.perf_counter() - began
    found = dataclasses.replace(
        result,
        case=case,
        probe=effect,
        uncertainty={**result.uncertainty, **{f"probe.{name}": value for name, value in unsure.items()}},
        effort=dataclasses.replace(result.effort, seconds=seconds),
    )
    return found.noting(*notices_of_probe(found))


def _effect_from_side(
    result: Result, background: Background, case: Case, disturbed: Disturbed | None
) -> tuple[ProbeEffect, dict[str, float]]:
    """Effect of a probe from the side, and its uncertainties by the figures' names."""
    tolerance = result.effort.tolerance
    effects, between = side_effects(
        case, background, result.spots[0], time=result.time, tolerance=tolerance, disturbed=disturbed
    )
    unsure = uncertainty_of(
        effects[0],
        effects[1:],
        case,
        tolerance=tolerance,
        known=_known_beside(result, background),
        counted=ABOUT_A_STEM,
    )  # about the stem the best is of two grids, held against that of the two coarser
    # a place among nodes is no better known than to half their distance, nor what happens there
    for name, half in between.items():
        unsure[f"least_lethality.{name}"] = max(unsure[f"least_lethality.{name}"], half)
    unsure["moved"] = max(unsure["moved"], math.hypot(between["r"], between["z"]))
    return effects[0], unsure


def _effect_on_axis(
    result: Result,
    undisturbed: Refined,
    case: Case,
    *,
    progress: Callable[[float], None] | None,
    kept: SolutionCache | None,
    before: Refined | None,
) -> tuple[ProbeEffect, dict[str, float]]:
    """Effect of a probe on the axis, solved as closely as the accuracy needs, and its uncertainties.

    ``before`` is its solution at the first refinement, where there is one.
    """
    tip = None if case.probe is None else case.probe.tip(case.container)
    if tip is None:
        raise ValueError("the probe's insertion is not known yet")
    spots = by_all(undisturbed, result.spots[0])
    without = slowness_at(case.replace(probe=None), undisturbed, 0.0, tip)
    # the container's grids may have been refined for a flat minimum's place: readings go by their own need
    refinement = first_refinement(case.accuracy)
    while True:
        probed = before or refine(
            case,
            time=result.time,
            field_time=result.time[-1:],
            refinement=refinement,
            tolerance=result.effort.tolerance,
            progress=None if progress is None else lambda part: progress(0.5 + 0.5 * part),
            kept=kept,
            once=True,
        )
        effect, *others = probe_effects(case, undisturbed, probed, spots)
        slow = slowness_of(probed.own_readings, case)
        unsure = uncertainty_of(
            effect,
            others,
            case,
            tolerance=result.effort.tolerance,
            known=result.uncertainty,
            slow=slow,
            without=without,
            near=near_probe(effect, undisturbed, probed),
            spots=spots,
        )
        unsure |= place_uncertainties(
            (effect, *others),
            undisturbed,
            probed,
            unsure,
            slow=slow,
            valley=result.cold_spot.reach_of_valley,
            corner=corner_of(case),
            end=end_of_stem(case, effect),
        )
        excess = max(
            unsure["reading.end_of_heating"] / case.accuracy.temperature,
            unsure["reading.lethality"] / (case.accuracy.lethality * effect.reading.lethality),
        )
        if excess <= 1.0 or refinement >= FINEST_REFINEMENT:
            return effect, unsure
        refinement, before = finer(refinement, excess), None


def from_side(result: Result, refined: Refined) -> tuple[Background, tuple[Curve, Curve]]:
    """The background that a probe from the side disturbs, and curves at the cold spots that it is compared with.

    Parameters are the result of the container without a probe and what it was solved to.
    """
    background = background_of(result.case.replace(probe=None, probes=()), refined, result.time)
    if result.brick is None or not isinstance(background, BrickBackground):
        return background, result.spots
    own = (result.brick.least_lethality, result.brick.slowest_heating)
    least, slowest = (background.curve(curve.name, spot) for curve, spot in zip(result.spots, own, strict=True))
    return background, (least, slowest)


def _known_beside(result: Result, background: Background) -> Mapping[str, float]:
    """Uncertainties of the cold spot that a probe from the side is compared with, under the cold spot's names."""
    known = result.uncertainty
    if not isinstance(background, BrickBackground):
        return known
    own, spot = "brick.least_lethality", "cold_spot.least_lethality"
    names = ("z", "lethality", "heating_lethality", "end_of_heating")
    return {
        **known,
        **{f"{spot}.{name}": known[f"{own}.{name}"] for name in names},
        f"{spot}.r": math.hypot(known[f"{own}.x"], known[f"{own}.y"]),
    }


def _conducting(grid: Grid, fields: Array) -> Array:
    """Fields (n, n_r, n_z) with NaN where nothing conducts."""
    active = grid.active
    return fields if active.all() else np.where(active, fields, np.nan)
