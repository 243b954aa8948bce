"""From a case and a measured run to what they say together: factors, fit, corrected record, verdict, design."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.curves.fit import Fit, fit_curve
from thermsim.assess.curves.heat_penetration import cooling_penetration, heating_penetration
from thermsim.assess.measured.cautions import notices_on
from thermsim.assess.measured.correction import corrected
from thermsim.assess.measured.general_method import general_method
from thermsim.assess.measured.model import ProbeModel, check_names, reading_of_pair
from thermsim.assess.measured.process_design import design
from thermsim.assess.measured.result import Comparison, DesignRow, Measured, Misfit, Modelled, Plan
from thermsim.assess.measured.verdict import verdict
from thermsim.case.case import Case
from thermsim.case.file.measured_medium import process_of
from thermsim.case.mounting import reach_of
from thermsim.case.process import Process
from thermsim.errors import InputError
from thermsim.loggers.run import FEWEST, Course, Run
from thermsim.notice import as_given

Array = NDArray[np.float64]

#: What is asked where nothing is said.
USUAL = Plan()
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
    """
    if case.probe is None or case.probe.depth(case.container) is None:
        raise InputError(
            f"{case.file or 'the case'}: has no [probe] with its insertion_mm; the reading cannot be "
            "computed without it"
        )
    if case.probe.entry == "side":
        raise InputError(
            f"{case.file or 'the case'}: [probe] enters from the side; a measured run cannot be "
            "compared with such a probe; solve and depth can handle it"
        )
    check_names(plan.fit)
    process, notes = process_of(run, case)
    measured = case.replace(process=process)
    inputs = [_container(measured, course, process, plan) for course in run.courses]
    share = 0.6 if plan.design else 1.0
    containers = []
    for place, (model, container) in enumerate(inputs):
        containers.append(_fitted(model, container, plan) if plan.fit else container)
        if progress is not None:
            progress(share * (place + 1) / len(inputs))
    containers = _predicted(inputs, containers)
    slowest = int(np.argmin([container.lethality for container in containers]))
    rows: tuple[DesignRow, ...] = ()
    target = plan.target if plan.target is not None else case.lethality.target
    if plan.design and plan.fit and target is not None:
        fit = containers[slowest].fit
        as_planned = ProbeModel(_placed(case, run.courses[slowest]), case.process, plan.fit, containers[slowest].time)
        rows = design(
            *_designed(as_planned, fit),
            target,
            plan.deviations,
            progress=None if progress is None else lambda part: progress(share + (1.0 - share) * part),
        )
    checks = verdict(measured, containers, plan, slowest, target)
    if progress is not None:
        progress(1.0)
    given = as_given((*run.notes, *notes))
    found = Comparison(case, plan, run, process, tuple(containers), slowest, checks, rows, given)
    return dataclasses.replace(found, notices=(*found.notices, *notices_on(found)))


def _placed(case: Case, course: Course) -> Case:
    """The case with its probe as deep as a container's own."""
    probe = case.probe
    if course.insertion is None or probe is None:
        return case
    reach = reach_of(case.container, case.fill_height, probe.entry)
    shown = f'the depth of column "{course.name}", {1e3 * course.insertion:g} mm,'
    first, last = reach.product
    deepest = min(last, probe.length) if probe.mount == "through" else last
    if not first < course.insertion <= deepest:
        raise InputError(f"{shown} must be above {1e3 * first:.6g} and at most {1e3 * deepest:.6g} mm for this probe")
    try:
        return case.replace(probe=probe.at_depth(course.insertion, case.container))
    except ValueError as failure:
        raise InputError(f"{shown} is not possible: {failure}") from None


def _container(case: Case, course: Course, process: Process, plan: Plan) -> tuple[ProbeModel, Measured]:
    """A container's reading, and what the case as it stands says of it."""
    case = _placed(case, course)
    within = (course.time >= 0.0) & (course.time <= process.end)
    if within.sum() < FEWEST:
        raise InputError(
            f'column "{course.name}": only {int(within.sum())} readings lie within the process, which is '
            f"{process.end / 60:.6g} min long; at least {FEWEST} are needed"
        )
    time, temperature = course.time[within], course.temperature[within]
    _check_possible(course.name, temperature, case, process)
    model = ProbeModel(case, process, plan.fit, time)
    reading = model.on_grids([parameter.start for parameter in model.parameters], finer=True).temperature
    depth = case.probe.depth(case.container) if case.probe else None
    return model, Measured(
        name=course.name,
        insertion=float(depth or 0.0),
        own_depth=course.insertion is not None,
        time=time,
        temperature=temperature,
        general=general_method(time, temperature, case.lethality, heating_end=process.heating_end),
        heating=heating_penetration(
            time, temperature, process, credit=plan.credit, floor=plan.floor, part=plan.straight
        ),
        cooling=cooling_penetration(time, temperature, process, floor=plan.floor),
        as_case=_modelled(reading, time, temperature, process, plan),
    )


def _modelled(reading: Array, time: Array, temperature: Array, process: Process, plan: Plan) -> Modelled:
    return Modelled(
        reading,
        misfit(time, temperature, reading),
        heating_penetration(time, reading, process, credit=plan.credit, floor=plan.floor, part=plan.straight),
        cooling_penetration(time, reading, process, floor=plan.floor),
    )


def misfit(time: Array, measured: Array, computed: Array) -> Misfit:
    """Distance of a measured curve from a computed one, both of shape (n,) [degC]."""
    off = measured - computed
    largest = int(np.abs(off).argmax())
    return Misfit(float(off.mean()), float(np.sqrt(np.mean(off**2))), float(off[largest]), float(time[largest]))


def _fitted(model: ProbeModel, container: Measured, plan: Plan) -> Measured:
    """Fit the model to a container's reading, and correct that."""
    fit = fitted_to(model, container.temperature)
    reading = model.curve([estimate.value for estimate in fit.estimates])
    return dataclasses.replace(
        container,
        fit=fit,
        fitted=_modelled(reading, container.time, container.temperature, model.process, plan),
        corrected=corrected(model, fit, container.general),
    )


def fitted_to(model: ProbeModel, measured: Array) -> Fit:
    """Fit a model to a reading: first on the two coarser grids alone, then with what the finer ones change."""
    first = fit_curve(model.curve, model.parameters, measured)
    values = [estimate.value for estimate in first.estimates]
    model.settle(values)
    return fit_curve(model.curve, model.parameters, measured, start=values)


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
            reading = reading_of_pair(case.replace(probe=other.case.probe), one.time, finer=True).temperature
            end = model.process.heating_end
            there = general_method(one.time, reading, case.lethality, heating_end=end).lethality
            one = dataclasses.replace(one, predicted=there)
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
