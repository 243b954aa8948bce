"""From a case and a measured run to what they say together: factors, fit, corrected record, verdict, design."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.curves.fit import Fit, Parameter, fit_curve
from thermsim.assess.curves.general_method import general_method
from thermsim.assess.curves.heat_penetration import cooling_penetration, heating_penetration
from thermsim.assess.fields.family import extrapolated
from thermsim.assess.measured.cautions import notices_on
from thermsim.assess.measured.doubts.explanation import Held
from thermsim.assess.measured.doubts.failure import failure_of
from thermsim.assess.measured.doubts.whole_run import (
    LEAST_APART,
    doubts_of_run,
    ended_later,
    flagged_by_run,
    record_stands,
)
from thermsim.assess.measured.fitting import fitted_all, modelled
from thermsim.assess.measured.lattice import Lattice
from thermsim.assess.measured.model import START, Probed, ProbeModel, check_names, courses_of_pair, reading_of_pair
from thermsim.assess.measured.process_design import design
from thermsim.assess.measured.result import CLOCK_TOO_FAR, USUAL_FIT, Comparison, DesignRow, Measured, Plan
from thermsim.assess.measured.stem import StemChanges
from thermsim.assess.measured.verdict import verdict
from thermsim.assess.side.background import check_edge
from thermsim.assess.simulate.simulation import simulate_container
from thermsim.case.case import Case
from thermsim.case.file.measured_medium import process_of
from thermsim.case.mounting import reach_of
from thermsim.case.probe import Probe
from thermsim.case.process import Process
from thermsim.case.product import Headspace
from thermsim.errors import InputError
from thermsim.loggers.run import FEWEST, Course, Run
from thermsim.notice import as_given

Array = NDArray[np.float64]

#: What is asked where nothing is said.
USUAL = Plan()
#: A gas is not tabulated below this, the freezing point of what condenses from it [degC].
COLDEST = 1.0
#: A hold is looked for that is longer by so much at most [s].
LONGEST = 3600.0
#: And one that is shorter by this part of it at most.
SHORTEST = -0.9
#: Readings may be beyond what medium and start allow by so much, for noise and calibration [K].
BEYOND = 5.0


def compare(
    case: Case, run: Run, plan: Plan = USUAL, *, progress: Callable[[float], None] | None = None
) -> Comparison:
    """Hold a measured run against the model, and fit the model to it.

    Parameters
    ----------
    case : Case
        The containers, the probe with its insertion, and the process where the run has no medium's column.
    run : Run
        As of :func:`thermsim.loggers.run.read_run` with ``plan.columns``.
    plan : Plan, optional
        What is wanted.
    progress : callable, optional
        Called with the part of the work that is done (0 to 1).

    Returns
    -------
    Comparison

    Raises
    ------
    InputError
        If the case has no probe whose insertion is known, a depth does not fit it, what is to be fitted cannot be,
        or the readings are none of food in this medium.
    NumericalError
        If a march cannot go on.

    Examples
    --------
    >>> import thermsim
    >>> columns = thermsim.Columns(probes=("Can 1 [°C]",), medium="Retort [°C]")
    >>> run = thermsim.read_run("cases/measured_can_run.csv", columns)
    >>> plan = thermsim.Plan(columns, fit=(), design=False)  # nothing is fitted: quick, and nothing is corrected
    >>> found = thermsim.compare(thermsim.read_case("cases/measured_can.toml"), run, plan)
    >>> print(f"F0 {found.containers[0].general.lethality / 60:.1f} min as read")
    F0 11.5 min as read
    """
    if case.probe is None or case.probe.depth(case.container) is None:
        raise InputError(
            f"{case.file or 'the case'}: has no [probe] with its insertion_mm; the reading cannot be "
            "computed without it"
        )
    case = _at_a_height(case, case.probe)
    check_names(plan.fit)
    check_names(plan.together)
    process, notes = process_of(run, case)
    case = _with_gas_for(case, process)
    measured = case.replace(process=process)
    others = np.unique(np.concatenate([course.time for course in (*run.courses, run.medium) if course is not None]))
    others = others[(others >= 0.0) & (others <= process.end)]
    lattice = Lattice(measured, process)
    known: dict[float, tuple[Probed, Probed]] = {}
    inputs = [_container(measured, course, plan, others, lattice, known) for course in run.courses]
    share = 0.6 if plan.design else 1.0
    tell = progress or (lambda part: None)
    containers = fitted_all(measured, inputs, plan, lattice, progress=lambda part: tell(share * part))
    if record_stands(case.process, run):
        containers = _as_held(measured, run, plan, others, containers, lattice)
    containers = _predicted(inputs, containers)
    doubts = tuple(doubts_of_run(case.process, process, run, containers))
    containers = [flagged_by_run(doubts, one) for one in containers]
    slowest, designed = slowest_of(containers)
    rows: tuple[DesignRow, ...] = ()
    target = plan.target if plan.target is not None else case.lethality.target
    if plan.design and plan.fit and target is not None and containers[designed].whole:
        fit, time = containers[designed].fit, containers[designed].time
        as_planned = ProbeModel(_placed(case, run.courses[designed]), case.process, plan.fit, time)
        rows = design(
            *_designed(as_planned, fit),
            target,
            plan.deviations,
            progress=lambda part: tell(share + (1.0 - share) * part),
        )
    checks = verdict(measured, containers, plan, slowest, target)
    tell(1.0)
    given = as_given((*run.notes, *notes))
    found = Comparison(case, plan, run, process, tuple(containers), slowest, checks, rows, given, designed)
    return dataclasses.replace(found, notices=(*found.notices, *notices_on(found)))


def _with_gas_for(case: Case, process: Process) -> Case:
    """The case with its gas tabulated for what a record meets beyond the plan, and for all starts of a fit."""
    gap, start = case.headspace.gap, case.product.initial
    if gap is None:
        return case
    ends = (*case.met, *process.medium_range)
    low, high = min(ends), max(ends)
    try:
        headspace = Headspace.of_gas(gap, (min(low, max(start - START, COLDEST)), max(high, start + START)))
    except InputError:  # it would boil at the hottest start: what is met has to do
        headspace = Headspace.of_gas(gap, (low, high))
    return case.replace(headspace=headspace)


def slowest_of(containers: Sequence[Measured]) -> tuple[int, int]:
    """Indices of the container with the least lethality, and of that among those that stand, if any does."""
    counted = [k for k, one in enumerate(containers) if one.whole] or range(len(containers))
    slowest = min(counted, key=lambda k: containers[k].lethality)
    standing = [k for k in counted if containers[k].sound] or [slowest]
    return slowest, min(standing, key=lambda k: containers[k].lethality)


def _at_a_height(case: Case, probe: Probe) -> Case:
    """The case with a probe from the side at the height of the cold spot where none is given; others as they are.

    Raises
    ------
    InputError
        If it is through the edge of a brick that is not solved in three dimensions.
    """
    if probe.entry != "side":
        return case
    if case.container.brick is not None:
        check_edge(case)
    if probe.z is not None:
        return case
    result, _ = simulate_container(case.replace(probe=None, probes=()), once=True)
    return case.replace(probe=case.at_height(probe, result.both_spots[0].z))


def _placed(case: Case, course: Course) -> Case:
    """The case with its probe as deep as a container's own."""
    probe = case.probe
    if course.insertion is None or probe is None:
        return case
    reach = reach_of(case.container, case.fill_height, probe)
    shown = f'the depth of column "{course.name}", {1e3 * course.insertion:g} mm,'
    first, last = reach.product
    deepest = min(last, probe.length) if probe.mount == "through" else last
    if not first < course.insertion <= deepest:
        raise InputError(f"{shown} must be above {1e3 * first:.4g} and at most {1e3 * deepest:.4g} mm for this probe")
    try:
        return case.replace(probe=probe.at_depth(course.insertion, case.container))
    except ValueError as failure:
        raise InputError(f"{shown} is not possible: {failure}") from None


def _container(
    case: Case,
    course: Course,
    plan: Plan,
    others: Array,
    lattice: Lattice,
    known: dict[float, tuple[Probed, Probed]],
) -> tuple[ProbeModel, Measured]:
    """A container's reading up to where its probe fails, and what the case as it stands says of it.

    ``known`` keeps the case's own readings by depth, which several containers share.
    """
    case, process = _placed(case, course), case.process
    within = (course.time >= 0.0) & (course.time <= process.end)
    if within.sum() < FEWEST:
        raise InputError(
            f'column "{course.name}": only {int(within.sum())} readings lie within the process, which is '
            f"{process.end / 60:.6g} min long; at least {FEWEST} are needed"
        )
    time, temperature = course.time[within], course.temperature[within]
    depth = float((case.probe.depth(case.container) if case.probe else None) or 0.0)
    if depth not in known:
        known[depth] = courses_of_pair(case, finer=True, change=lattice.changes.at(depth, finer=True))
    reading = extrapolated(*(course.at(time) for course in known[depth]))
    failure = failure_of(time, temperature, reading, others, process)
    kept = slice(None) if failure is None else slice(max(FEWEST, int(np.searchsorted(time, failure.time) + 1)))
    time, temperature, reading = time[kept], temperature[kept], reading[kept]
    if failure is None:
        _check_possible(course.name, temperature, case, process)
    model = ProbeModel(case, process, plan.fit, time, lattice, lattice.changes)
    return model, Measured(
        name=course.name,
        insertion=depth,
        own_depth=course.insertion is not None,
        own_clock=course.own_clock,
        channel=course.number,
        time=time,
        temperature=temperature,
        general=general_method(time, temperature, case.lethality, heated_until=process.heated_until),
        heating=heating_penetration(
            time, temperature, process, credit=plan.credit, floor=plan.floor, part=plan.straight
        ),
        cooling=cooling_penetration(time, temperature, process, floor=plan.floor),
        as_case=modelled(reading, time, temperature, process, plan),
        failure=failure,
    )


def _as_held(
    case: Case, run: Run, plan: Plan, others: Array, containers: list[Measured], lattice: Lattice
) -> list[Measured]:
    """Add what holds if heating ended when the probes turned, where that is at another time than by the process.

    Where that is clearly the better explanation of a curve, its depth and its flags are those by it: by the other one
    sound probes seem at fault.
    """
    turns = [ended_later(case.process, run, one) for one in containers]
    if not any(turns) or case.process.hold is None:
        return containers
    # all went through one process: the curve that is explained best tells it
    best = min((k for k, turn in enumerate(turns) if turn), key=lambda k: _left_over(containers[k]))
    placed = _placed(case, run.courses[best])
    by = _longer(placed, containers[best], lattice.changes)
    if placed.probe is not None and placed.probe.entry == "side":  # once more with what its stem changes then
        by += _longer(_held_for(placed, by), containers[best])
    held = _held_for(case, by)
    lattice = Lattice(held, held.process)
    known: dict[float, tuple[Probed, Probed]] = {}
    others = others[others <= held.process.end]
    inputs = [_container(held, course, plan, others, lattice, known) for course in run.courses]
    found = fitted_all(held, inputs, plan, lattice, progress=lambda part: None)
    return [_held(one, other, by) if turn else one for one, other, turn in zip(containers, found, turns, strict=True)]


def _left_over(one: Measured) -> float:
    return one.fit.rms if one.fit is not None else math.inf


def _held_for(case: Case, longer: float) -> Case:
    """The case under a process that heats so much longer [s]."""
    return case.replace(process=case.process.with_hold(case.process.held + longer))


def _longer(case: Case, one: Measured, changes: StemChanges | None = None) -> float:
    """Time by which the hold was longer than in the process [s], as a curve tells whose clock is all but right."""
    model = ProbeModel(case, case.process, USUAL_FIT, one.time, changes=changes)

    def curve(values: Array) -> Array:
        there, later = _held_for(case, float(values[-1])), float(values[-1])
        moved = model.changes.held(later)
        return ProbeModel(there, there.process, USUAL_FIT, one.time, changes=moved).curve(values[:-1])

    usual = [
        dataclasses.replace(known, low=-LEAST_APART, high=LEAST_APART) if known.name == "offset" else known
        for known in model.parameters
    ]
    hold = Parameter("hold", 0.0, SHORTEST * case.process.held, LONGEST, 5.0)
    return fit_curve(curve, (*usual, hold), one.temperature).value("hold") or 0.0


def _held(one: Measured, other: Measured, later: float) -> Measured:
    """A container beside itself under a process that heats so much longer [s]."""
    if one.fit is None or other.fit is None or other.corrected is None:
        return one
    held = Held(later, other.corrected.lethality, other.fit.rms, one.fit.rms)
    if abs(later) < LEAST_APART / 2.0:
        return one
    if not held.likelier:
        return one if one.flagged(CLOCK_TOO_FAR) else dataclasses.replace(one, held=held)
    return dataclasses.replace(one, held=held, flags=other.flags, depth=other.depth, there=other.there)


def _predicted(inputs: Sequence[tuple[ProbeModel, Measured]], containers: Sequence[Measured]) -> list[Measured]:
    """Add what the model fitted at the case's depth reads at the other depths, at the same samples."""
    base = next((place for place, one in enumerate(containers) if not one.own_depth and one.fit is not None), None)
    if base is None or not any(one.own_depth for one in containers):
        return list(containers)
    model, fit = inputs[base][0], containers[base].fit
    case, _ = model.case_with([estimate.value for estimate in fit.estimates] if fit else [])
    found = []
    for (other, _), one in zip(inputs, containers, strict=True):
        if one.own_depth:
            change = model.changes.at(one.insertion, finer=True)
            there = case.replace(probe=other.case.probe)
            reading = reading_of_pair(there, one.time, finer=True, change=change).temperature
            end = model.process.heated_until
            predicted = general_method(one.time, reading, case.lethality, heated_until=end).lethality
            one = dataclasses.replace(one, predicted=predicted)
        found.append(one)
    return found


def _designed(model: ProbeModel, fit: Fit | None) -> tuple[Case, Case | None]:
    """The case with the fitted product under the process as planned; and with the slowest that the fit allows.

    The start is that of the plan, not of the one container.
    """
    if fit is None:
        raise ValueError("nothing was fitted")
    planned = model.case.product.initial
    values = [planned if one.name == "initial" else one.value for one in fit.estimates]
    lowest = [
        one.low if one.name == "diffusivity" else value for one, value in zip(fit.estimates, values, strict=True)
    ]
    slow = model.case_with(lowest)[0] if lowest != values else None
    return model.case_with(values)[0], slow


def _check_possible(name: str, temperature: Array, case: Case, process: Process) -> None:
    """Readings beyond all that heats and cools the container are not of it."""
    low, high = process.medium_range
    low, high = min(low, case.product.initial), max(high, case.product.initial)
    # a container may have been filled colder or hotter than the case says: only what follows counts
    later = temperature[temperature.size // 10 :]
    if later.max() > high + BEYOND or later.min() < low - BEYOND:
        raise InputError(
            f'column "{name}" reads from {later.min():.4g} to {later.max():.4g} degC, but the medium and the start '
            f"lie between {low:.4g} and {high:.4g} degC: no food between them can; check the column and its unit"
        )
