"""One run of a study: the case with its numbers changed, and the figures that it gives."""

from __future__ import annotations

import dataclasses
import math
import threading
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.depth.insertion import Climb
from thermsim.assess.depth.recommendation import MARGIN
from thermsim.assess.fields.cache import SolutionCache
from thermsim.assess.fields.refinement import Refined
from thermsim.assess.probe.advice import Candidate
from thermsim.assess.probe.ladder import between
from thermsim.assess.probe.mismatch import Truth
from thermsim.assess.simulate.result import Result
from thermsim.assess.simulate.simulation import from_side, simulate_container, with_probe
from thermsim.assess.spots.cold_spot import ProductFields
from thermsim.assess.study.plan import ALONG, Plan, StudyRun
from thermsim.assess.study.workers import give_back
from thermsim.case.case import Case
from thermsim.case.file.reader import varied_case
from thermsim.case.keys.paths import Trail
from thermsim.case.study import CRITERIA, Criterion
from thermsim.case.variation import with_numbers
from thermsim.errors import InputError, ThermsimError
from thermsim.solve.grid.body import SAME

Array = NDArray[np.float64]
#: What the runs that a worker makes leave for one another.
_KEPT = threading.local()


@dataclass(frozen=True)
class Setup:
    """Data that all runs of a study share: what is varied and what is wanted of it. It travels to the workers.

    ``case`` is what is varied where that is the case itself, not its file's ``text``; ``trails`` lead through the
    file's tables, ``paths`` through the nouns.
    """

    case: Case | None
    text: str
    file: str
    attachments: Mapping[str, str]
    trails: tuple[Trail, ...]
    paths: tuple[str, ...]
    required_hold: bool
    recommend_depth: bool
    criterion: Criterion
    depths: tuple[float, ...]

    def varied(self, values: Sequence[float]) -> Case:
        """The case with these values; one that is no number leaves it as it is."""
        known = [k for k, value in enumerate(values) if not math.isnan(value)]
        if self.case is not None:
            return with_numbers(self.case, {self.paths[k]: values[k] for k in known})
        given = {self.trails[k]: values[k] for k in known}
        return varied_case(self.text, given, name=self.file, attachments=self.attachments)


@dataclass(frozen=True)
class Task:
    """One run to be made: its number and the values of the quantities, in the units of their keys."""

    index: int
    setup: Setup
    values: tuple[float, ...]


#: Worth of the reading at the depths of the setup, by the names of :data:`thermsim.assess.study.plan.ALONG`.
Along = Mapping[str, tuple[float, ...]]
#: Gives the figures of a run by name, and what its reading is worth along the depths.
Compute = Callable[[Task], tuple[Mapping[str, float], Along]]


def setup_of(case: Case, plan: Plan) -> Setup:
    """Gather the data that the runs of a plan share."""
    study = plan.study
    return Setup(
        case.replace(study=None, text="", attachments={}) if study.of_nouns else None,
        case.text,
        case.file,
        dict(case.attachments),
        tuple(place.trail for place in plan.places),
        tuple(place.path for place in plan.places),
        study.required_hold,
        study.recommend_depth,
        study.criterion,
        tuple(plan.depths.tolist()),
    )


def attempt(compute: Compute, task: Task) -> StudyRun:
    """Make a run; whatever stops it becomes its failure, so that one bad run does not stop the others.

    Much memory that it leaves free goes back to the machine.
    """
    try:
        figures, along = compute(task)
    except ThermsimError as failure:
        return StudyRun(task.index, failure=str(failure).replace("\n", "; "))
    except Exception as failure:
        return StudyRun(task.index, failure=f"{type(failure).__name__}: {failure}".replace("\n", "; "))
    finally:
        give_back()
    return StudyRun(task.index, figures, along)


def compute_run(task: Task) -> tuple[Mapping[str, float], Along]:
    """Simulate one run.

    Returns
    -------
    figures : mapping of str to float
        By the names of :data:`thermsim.assess.study.plan.FIGURES`, SI units and degC.
    along : mapping of str to tuple of float
        At the depths of the setup; empty where no depth is recommended.

    Raises
    ------
    CaseError
        If a value is out of its range.
    NumericalError
        If the march cannot go on.
    """
    setup = task.setup
    case = setup.varied(task.values).replace(probes=())
    once = case.lethality.target is None  # as `simulate` has it, with the target dropped or not
    if not setup.required_hold:
        case = case.replace(lethality=dataclasses.replace(case.lethality, target=None))
    result, refined = simulate_container(case.replace(probe=None), kept=kept_here(), once=once)
    figures = _places(result)
    if setup.required_hold:
        target = result.target
        figures["required_hold"] = (
            math.nan if target is None or target.required_hold is None else target.required_hold
        )
    if setup.recommend_depth:
        return _recommended(setup, case, result, refined, figures)
    if case.probe is not None and case.probe.depth(case.container) is not None:
        figures |= _reading(with_probe(result, refined, case, kept=kept_here()))
    return figures, {}


def kept_here() -> SolutionCache:
    """Store of what the runs of this thread leave for one another."""
    if not hasattr(_KEPT, "runs"):
        _KEPT.runs = SolutionCache()
    return _KEPT.runs  # type: ignore[no-any-return]


def _places(result: Result) -> dict[str, float]:
    least, slowest = result.both_spots
    return {
        "least_lethality": least.lethality,
        "least_r": least.r,
        "least_z": least.z,
        "least_heating_lethality": least.heating_lethality,
        "least_end_of_heating": least.end_of_heating,
        "slowest_end_of_heating": slowest.end_of_heating,
        "slowest_r": slowest.r,
        "slowest_z": slowest.z,
        "slowest_lethality": slowest.lethality,
        "slowest_heating_lethality": slowest.heating_lethality,
        "distance": result.cold_spot.distance,
        "surface_z": result.case.surface,
        "bottom_z": result.case.bottom,
        "least_z_uncertainty": result.uncertainty[f"{result.body}.least_lethality.z"],
        "least_lethality_uncertainty": result.uncertainty[f"{result.body}.least_lethality.lethality"],
    }


def _reading(result: Result) -> dict[str, float]:
    effect = result.probe
    if effect is None:
        return {}
    return {
        "reading_lethality": effect.reading.lethality,
        "reading_heating_lethality": effect.reading.heating_lethality,
        "reading_end_of_heating": effect.reading.end_of_heating,
        "bias": effect.at_cold_spot.lethality,
        "bias_until_heating_ends": effect.at_cold_spot.heating_lethality,
        "own_bias": effect.at_place.lethality,
        "own_heating_bias": effect.at_place.heating_lethality,
    }


def _recommended(
    setup: Setup, case: Case, result: Result, refined: Refined, figures: dict[str, float]
) -> tuple[dict[str, float], Along]:
    """Climb the ladder of the case's own probe at its own entry."""
    if case.probe is None:
        raise InputError("the case has no [probe] whose depth could be recommended")
    background, spots, probe = None, result.spots, case.probe
    if probe.entry == "side":
        background, spots = from_side(result, refined)
        probe = case.at_height(probe, result.both_spots[0].z)
    least, slowest = (
        Truth(criterion, curve, case.lethality, case.process.heated_until)
        for criterion, curve in zip(CRITERIA, spots, strict=True)
    )
    climb = Climb(
        case=case,
        undisturbed=ProductFields.of(refined.grid, refined.best),
        background=background,
        truths=(least, slowest),
        criterion=setup.criterion,
        margin=MARGIN,
        sensor_accuracy=0.0,
        tolerance=result.effort.tolerance,
        advance=lambda: None,
    )
    candidate = climb.candidate(probe, own=False)
    if candidate is None:
        raise InputError("no depth is possible: the sensing length does not fit into the product")
    found = candidate.recommended(setup.criterion)
    truth = least if setup.criterion == "least lethality" else slowest
    figures |= {name: getattr(found, name) for name in (*ALONG, "heating_bias")}
    figures |= {
        "recommended_depth": found.depth,
        "window_low": found.window[0],
        "window_high": found.window[1],
    }
    return figures, _at_depths(candidate, truth, setup)


def _at_depths(candidate: Candidate, truth: Truth, setup: Setup) -> Along:
    """Worth of the reading at the setup's depths; NaN beyond the ends of the ladder."""
    ladder, place = candidate.ladder, truth.curve
    at, first, last = np.array(setup.depths), ladder[0].depth, ladder[-1].depth
    possible = (at >= first - SAME) & (at <= last + SAME)
    rungs = between(ladder, at[possible])

    def over(gathered: Iterable[float], due: float) -> Iterable[float]:
        return (part / due - 1.0 if due > 0.0 else 0.0 for part in gathered)

    found = {
        "mismatch": (candidate.profile.at(rung.depth, setup.criterion) for rung in rungs),
        "over_reading": over((rung.measure(setup.criterion) for rung in rungs), truth.aim),
        "heating_over_reading": over((rung.heating_lethality for rung in rungs), place.heating_lethality),
        "cooling_over_reading": over(
            (rung.lethality - rung.heating_lethality for rung in rungs), place.lethality - place.heating_lethality
        ),
    }
    along = {}
    for name, values in found.items():
        everywhere = np.full(at.size, np.nan)
        everywhere[possible] = list(values)
        along[name] = tuple(everywhere.tolist())
    return along
