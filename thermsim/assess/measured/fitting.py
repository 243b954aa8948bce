"""All containers of a run fitted: each by itself, then with what they share, then asked whether they are as said."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.curves.fit import Fit, fit_curve
from thermsim.assess.curves.general_method import general_method
from thermsim.assess.curves.heat_penetration import cooling_penetration, heating_penetration
from thermsim.assess.fields.lethality import LEAST
from thermsim.assess.measured.correction import bare, corrected, log_least
from thermsim.assess.measured.doubts.common import common_causes, common_fault, flags_of_causes
from thermsim.assess.measured.doubts.judgement import (
    critical,
    flags_of_column,
    flags_of_noise,
    flags_of_replicates,
    flags_of_step,
    flags_of_swap,
    swapped,
)
from thermsim.assess.measured.doubts.suspicion import Column
from thermsim.assess.measured.lattice import FILLINGS, Lattice, filled_otherwise
from thermsim.assess.measured.model import CLOCK, USUAL, ProbeModel
from thermsim.assess.measured.result import CLOCK_TOO_FAR, Limits, Measured, Misfit, Modelled, Plan
from thermsim.assess.measured.shared import (
    Known,
    flag_of_second_clock,
    flag_of_two_clocks,
    on_second_clock,
    robust_mean,
    sharing,
    told_by,
)
from thermsim.case.case import Case, Lethality
from thermsim.case.process import Process
from thermsim.loggers.run import FEWEST
from thermsim.notice import Notice

Array = NDArray[np.float64]
Pair = tuple[ProbeModel, Measured]

#: Parts of the work: the fits, and the depths that are looked at.
FITTING = 0.6
#: What may be said of a column for whose tip one cause may stand with all others.
_OF_DEPTH = ("depth-in-doubt", "depth-not-confirmed", "fill-in-doubt", "headspace-in-doubt", "clock-in-doubt")
#: Clocks that are not fitted are one, within this [s].
SAME_CLOCK = 0.1


def fitted_all(
    case: Case, inputs: Sequence[Pair], plan: Plan, lattice: Lattice, *, progress: Callable[[float], None]
) -> list[Measured]:
    """Fit the containers of a run.

    Parameters
    ----------
    case : Case
        Under the process of the run.
    inputs : sequence of (ProbeModel, Measured)
    plan : Plan
    lattice : Lattice
        Of the case, as it stands.
    progress : callable
        Called with the part of the work that is done (0 to 1).

    Returns
    -------
    list of Measured
        With fits, corrected lethalities and flags.
    """
    containers = [_failed(one) for _, one in inputs]
    if not plan.fit:
        progress(1.0)
        return containers
    fits: list[Fit | None] = []
    for place, (model, one) in enumerate(inputs):
        legible = one.time.size >= FEWEST and (one.failure is None or one.failure.kind != "reads the medium")
        fits.append(fitted_to(model, one.temperature) if legible else None)
        progress(FITTING * (place + 1) / len(inputs))
    alike = [k for k, one in enumerate(containers) if one.failure is None and fits[k] is not None]
    inputs, second = _with_second_clock(inputs, fits, plan)
    containers = [
        dataclasses.replace(one, own_clock=read.own_clock) for one, (_, read) in zip(containers, inputs, strict=True)
    ]
    columns, containers = _judged(case, inputs, fits, containers, plan, lattice)
    # what is not as said tells nothing of what is shared
    agreed = [k for k in alike if not containers[k].flags]
    shared = _shared(inputs, fits, agreed or alike, plan)
    for k, (model, one) in enumerate(inputs):
        fit = fits[k]
        if fit is None:
            continue
        own = {name: known for name, known in shared.items() if not (name == "offset" and one.own_clock)}
        if own and len(alike) > 1:
            apart = tuple(estimate for estimate in fit.estimates if estimate.name in own)
            fit = sharing(fit, model.parameters, own, model.curve, one.temperature)
            containers[k] = dataclasses.replace(containers[k], own=apart)
        containers[k] = _corrected(model, fit, containers[k], plan)
    for k in second:
        others = [value for i in alike if i not in second and (value := _offset_of(fits[i])) is not None]
        ahead = float(np.mean([_offset_of(fits[i]) or 0.0 for i in second]) - np.mean(others))
        flag = flag_of_second_clock([containers[i].name for i in second], ahead)
        containers[k] = dataclasses.replace(containers[k], flags=(flag, *containers[k].flags))
    for k, notices in flags_of_replicates(case, containers, plan.limits).items():
        containers[k] = dataclasses.replace(containers[k], flags=(*containers[k].flags, *notices))
    for k, column in columns.items():
        containers[k] = dataclasses.replace(containers[k], there=_there(column, inputs[k][0], containers[k]))
    progress(1.0)
    return containers


def fitted_to(model: ProbeModel, measured: Array) -> Fit:
    """Fit a model to a reading: first on the two coarser grids alone, then with what the finer ones change."""
    first = fit_curve(model.curve, model.parameters, measured)
    values = [estimate.value for estimate in first.estimates]
    model.settle(values)
    return fit_curve(model.curve, model.parameters, measured, start=values)


def modelled(reading: Array, time: Array, temperature: Array, process: Process, plan: Plan) -> Modelled:
    """A computed reading beside the measured one, both of shape (n,) [degC]."""
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


def reads_more(one: Measured, lethality: Lethality) -> float | None:
    """Part of the lethality read that the fitted model's reading has beyond it; None without a fit."""
    if one.fitted is None or one.failure is not None or one.general.lethality < LEAST:
        return None
    end = float(one.time[-1])
    model = general_method(one.time, one.fitted.temperature, lethality, heated_until=end)
    return model.lethality / one.general.lethality - 1.0


def _failed(one: Measured) -> Measured:
    """The container with a flag for how its column fails."""
    failure = one.failure
    if failure is None:
        return one
    text = f'"{one.name}" FAILED: its column {failure.words}. ' + (
        "None of it is used." if failure.kind == "reads the medium" else "What it reads from then on is not used."
    )
    brief = "reads the medium" if failure.kind == "reads the medium" else failure.words
    return dataclasses.replace(
        one, flags=(*one.flags, Notice("probe-failed", "danger", "logger", text, {"time": failure.time}, brief))
    )


def _shared(inputs: Sequence[Pair], fits: Sequence[Fit | None], alike: Sequence[int], plan: Plan) -> dict[str, Known]:
    """Shared numbers of all columns, in the parameters' steps."""
    found = {}
    for name in plan.together:
        if name not in plan.fit or not alike:
            continue
        by = [fits[k] for k in alike if not (name == "offset" and inputs[k][1].own_clock)]
        found[name] = told_by(by, inputs[alike[0]][0].parameters, name)
    return {name: known for name, known in found.items() if math.isfinite(known.error)}


def _corrected(model: ProbeModel, fit: Fit, one: Measured, plan: Plan) -> Measured:
    """A container with its fit, and what that makes of its record."""
    reading = model.curve([estimate.value for estimate in fit.estimates])
    # by the probe's clock heating ended as much later as that is ahead
    ended = model.process.heated_until + (fit.value("offset") or 0.0)
    heating = float(np.interp(ended, one.time, one.general.course))
    general = dataclasses.replace(one.general, heating=heating)
    spot, seen = corrected(model, fit, general, float(one.time[-1]))
    one = dataclasses.replace(
        one,
        general=general,
        fit=fit,
        fitted=modelled(reading, one.time, one.temperature, model.process, plan),
        corrected=spot,
        seen=seen,
    )
    one = dataclasses.replace(one, flags=(*one.flags, *_flags_of_fit(one, fit, model.case.lethality, plan.limits)))
    if seen is not None and one.failure is None:
        text = (
            f'"{one.name}" ENDS before the end of cooling, at {one.time[-1] / 60:.1f} min, while lethality is still '
            "gathered: its corrected lethality is refused."
        )
        flag = Notice("record-short", "danger", "logger", text, {"time": float(one.time[-1])}, "record is short")
        one = dataclasses.replace(one, flags=(*one.flags, flag))
    return one


def _flags_of_fit(one: Measured, fit: Fit, lethality: Lethality, limits: Limits) -> Iterator[Notice]:
    """Say that a fit is stopped by a bound, never settled, or reads another lethality, if nothing explains that."""
    for estimate in fit.estimates:
        if estimate.at_bound and estimate.name == "offset":
            way = "AHEAD" if estimate.value > 0 else "BEHIND"
            text = (
                f'THE CLOCK OF "{one.name}" IS {CLOCK / 60:.0f} min OR MORE {way}: '
                "its record does not begin with the process, lacks the come-up, or is of another run. Say when the "
                "process starts by the record; till then no figure that is fitted holds."
            )
            figures, brief = {"offset": estimate.value}, f"clock off by {CLOCK / 60:.0f} min or more"
            yield Notice(CLOCK_TOO_FAR, "danger", "fit", text, figures, brief)
        elif estimate.at_bound:
            text = (
                f'AT BOUND: the fit of "{one.name}" is stopped by what is allowed for "{estimate.name}"; neither its '
                "interval nor the corrected figures hold."
            )
            figures = {estimate.name: estimate.value}
            yield Notice("fit-at-bound", "danger", "fit", text, figures, f"{estimate.name} at its bound")
    if not fit.converged:
        text = f'NOT CONVERGED: the fit of "{one.name}" stopped before it settled; no corrected figure of it holds.'
        yield Notice("fit-not-converged", "danger", "fit", text, {}, "fit not settled")
    more = reads_more(one, lethality)
    stopped = any(estimate.at_bound for estimate in fit.estimates)
    if one.sound and not stopped and more is not None and 100.0 * abs(more) > limits.read_percent:
        text = (
            f"THE MODEL READS OTHERWISE: as fitted it reads {100 * abs(more):.1f} % {'more' if more > 0 else 'less'} "
            f'lethality than "{one.name}" did, and the corrected lethality is off by about as much. The curve is not '
            "that of this container in this process: see where measured and fitted part."
        )
        yield Notice("fit-reads-otherwise", "danger", "fit", text, {"more": more}, f"fit reads {100 * more:+z.0f} %")


def _offset_of(fit: Fit | None) -> float | None:
    return None if fit is None else fit.value("offset")


def _with_second_clock(
    inputs: Sequence[Pair], fits: Sequence[Fit | None], plan: Plan
) -> tuple[Sequence[Pair], Sequence[int]]:
    """The containers with clocks of their own where some tell of a second one, and the places of those."""
    tied = [
        k for k, (_, one) in enumerate(inputs) if not one.own_clock and one.failure is None and fits[k] is not None
    ]
    offsets = [value for k in tied if (value := _offset_of(fits[k])) is not None]
    if "offset" not in plan.together or len(offsets) < len(tied):
        return inputs, ()
    second = [tied[k] for k in on_second_clock(offsets, 2.0 * plan.limits.own_clock_s)]
    return [
        (model, dataclasses.replace(one, own_clock=one.own_clock or k in second))
        for k, (model, one) in enumerate(inputs)
    ], second


def _judged(
    case: Case,
    inputs: Sequence[Pair],
    fits: Sequence[Fit | None],
    containers: Sequence[Measured],
    plan: Plan,
    lattice: Lattice,
) -> tuple[dict[int, Column], list[Measured]]:
    """The columns that can be judged, and the containers with the depths that their curves show and their flags."""
    found = list(containers)
    usable = [k for k, one in enumerate(containers) if one.failure is None and fits[k] is not None]
    columns: dict[int, Column] = {}
    if usable and "tip" not in plan.fit:
        if not set(plan.fit) <= set(USUAL):
            lattice = Lattice(_as_fitted(case, inputs, [fits[k] for k in usable], plan), case.process)
        columns = {k: _column(lattice, inputs, fits, usable, k, plan) for k in usable}
        if any(column.lag for column in columns.values()) and len(columns) > 1:  # one medium cools them all
            lag = float(np.median([column.lag for column in columns.values()]))
            columns = {k: _column(lattice, inputs, fits, usable, k, plan, lag=lag) for k in usable}
    most = critical(max(1, len(columns)))
    judged = {k: flags_of_column(column, found[k], plan.limits, most) for k, column in columns.items()}
    tied = [k for k in columns if "offset" in plan.fit and "offset" in plan.together and not inputs[k][1].own_clock]
    clocks = [k for k in tied if _accused(judged[k][1]) == {"clock-in-doubt"}]
    if len(columns) == len(tied) == 2 and clocks:
        # each was held against the clock of the other, which may be the one that is off
        alone = {k: _column(lattice, inputs, fits, usable, k, plan, by_itself=True) for k in tied}
        by_itself = {k: flags_of_column(alone[k], found[k], plan.limits, most) for k in clocks}
        if not any(_accused(flags) for _, flags in by_itself.values()):
            columns |= {k: alone[k] for k in clocks}
            judged |= by_itself
        if not any(_accused(flags) for _, flags in judged.values()):
            said = flag_of_two_clocks([(found[k].name, alone[k].plain[2]) for k in tied])
            judged = {k: (depth, [said, *flags]) for k, (depth, flags) in judged.items()}
    for k, (depth, flags) in judged.items():
        noisy = list(flags_of_noise(found[k], [found[i] for i in columns if i != k]))
        flags = noisy or [*flags_of_step(found[k]), *flags]
        found[k] = dataclasses.replace(found[k], depth=depth, flags=(*found[k].flags, *flags))
    alike = common_fault([found[k].flags for k in columns])  # it makes any two look swapped
    for i, k in ({} if alike else swapped(columns, found, plan.limits, most[0])).items():
        kept = [flag for flag in found[i].flags if flag.code != "depth-in-doubt"]
        found[i] = dataclasses.replace(found[i], flags=(flags_of_swap(found[i], containers[k]), *kept))
    others = [k for k in columns if all(flag.code in _OF_DEPTH for flag in found[k].flags)]
    causes = common_causes([columns[k] for k in others], [k in tied for k in others], plan.limits, most[0])
    if causes:
        for k, flag in zip(others, flags_of_causes(causes, len(others), len(columns)), strict=True):
            left = () if causes[0].filling else found[k].flags
            found[k] = dataclasses.replace(found[k], flags=(flag, *left))
    return columns, found


def _accused(flags: Sequence[Notice]) -> set[str]:
    """Codes of what a column is accused of."""
    return {flag.code for flag in flags if flag.severity == "danger"}


def _as_fitted(case: Case, inputs: Sequence[Pair], fits: Sequence[Fit | None], plan: Plan) -> Case:
    """The case with what is fitted beside diffusivity, start and clock at its median over the containers."""
    values = []
    for parameter in inputs[0][0].parameters:
        if parameter.name in USUAL:
            values.append(parameter.start)
        else:
            values.append(float(np.median([fit.value(parameter.name) for fit in fits if fit is not None])))
    model = ProbeModel(case, case.process, plan.fit, np.array([0.0]))
    return model.case_with(values)[0]


def _column(
    lattice: Lattice,
    inputs: Sequence[Pair],
    fits: Sequence[Fit | None],
    usable: Sequence[int],
    k: int,
    plan: Plan,
    *,
    by_itself: bool = False,
    lag: float | None = None,
) -> Column:
    """A container's curve, ready for explanations; of the clock it knows what the others tell, or nothing."""
    model, one = inputs[k]
    fit = fits[k]
    own = lattice.case.product.material.diffusivity
    start = (
        math.log(((fit.value("diffusivity") if fit else None) or own) / own),
        (fit.value("initial") if fit else None) or lattice.case.product.initial,
    )
    clock = Known(0.0, SAME_CLOCK)
    if "offset" in plan.fit:
        place = [parameter.name for parameter in model.parameters].index("offset")
        step = model.parameters[place].step
        others = [
            (value, step * math.sqrt(other.covariance[place, place]))
            for i in usable
            if i != k and not inputs[i][1].own_clock
            for other in (fits[i],)
            if other is not None and (value := other.value("offset")) is not None
        ]
        alone = by_itself or one.own_clock or "offset" not in plan.together
        clock = Known() if alone else robust_mean([a for a, _ in others], [b for _, b in others])
    return Column(
        lattice,
        one.time,
        one.temperature,
        start,
        stated=one.insertion,
        clock=clock,
        correction=model.correction,
        lag=lag,
    )


def _there(column: Column, model: ProbeModel, one: Measured) -> float | None:
    """Least corrected lethality [s] of the container with the tip, or filled, as its curve shows."""
    if one.corrected is None or one.fit is None:
        return None
    own, least = column.lattice.case.product.material.diffusivity, []

    def case_of(values: Sequence[float]) -> Case:
        given = {"diffusivity": own * math.exp(values[0]), "initial": values[1]}
        estimates = one.fit.estimates if one.fit else ()
        return bare(model.case_with([given.get(known.name, known.value) for known in estimates])[0])

    if one.flagged("depth-in-doubt", "columns-swapped") and one.depth is not None:
        least += [log_least(case_of(column.at(depth))) for depth in (one.depth.best, *one.depth.others)]
    for flag in one.flags:
        for name in set(FILLINGS) & set(flag.figures):
            size = flag.figures[name]
            least.append(log_least(filled_otherwise(case_of(column.filled(name, size)), name, size)))
    return math.exp(min(least)) if least else None
