"""The march: the temperature of every node through the whole process."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from thermsim.case.process import Film, Process, Stage
from thermsim.errors import NumericalError
from thermsim.solve.grid.operator import Operator
from thermsim.solve.march.constant import ConstantStepper
from thermsim.solve.march.history import History
from thermsim.solve.matrix.numbering import Numbering

Array = NDArray[np.float64]

#: Shortest first step after a jump of the medium or a change of the films [s].
FIRST_STEP = 0.02
#: Departure from the course before a bend or a jump within the first step after it [K], of the medium or of the node
#: that it changes most: what a long step is off between its ends, its error at the end does not tell.
BEND = 0.5
#: No rate leads farther through a step beside it than so many times what that rises by, and so much more [K]: a cubic
#: stays near its ends then, and one that turns within its step is as it was (own choice).
STEEPEST, TURNING = 3.0, 20.0
#: Steps shorter than this part of the process time are lost in rounding.
SHORTEST = 1e-12


class Stepper(Protocol):
    """Steps of a body through time: it holds temperatures (n,) [degC] and their rates [K/s] as they are now."""

    temperature: Array
    rate: Array

    def enter(self, film: Film, medium: float) -> float:
        """Take on films and a medium's temperature [degC] that it jumps to; the heat taken in at once [J]."""

    def face(self, medium: float, slope: float) -> None:
        """Let the medium go on from a temperature [degC] with a slope [K/s]."""

    def attempt(self, length: float) -> float:
        """Try a step [s]; its estimated error [K], ``inf`` where it must be shorter, NaN if it is no number."""

    def accept(self, medium: float) -> float:
        """Go where the last attempt led, the medium being at a temperature [degC] there; the heat taken in [J]."""

    def resume(self, temperature: Array, film: Film, medium: float) -> None:
        """Stand at temperatures (n,) [degC] that were reached before, under films and a medium's temperature."""

    def stored(self) -> float:
        """Heat stored since the start [J]."""


def march(
    operator: Operator,
    process: Process,
    *,
    tolerance: float,
    fixed_step: float | None = None,
    on_stage: Callable[[float], None] | None = None,
    known: tuple[Process, History] | None = None,
) -> History:
    """March from the start of the process to its end.

    Steps end on every kink and jump of the medium and begin small after each jump, and short after each sharp bend;
    their size follows the error that the embedded solution estimates. Between its steps the temperature is cubic in
    time.

    Parameters
    ----------
    operator : Operator
        Capacities and conductances.
    process : Process
        Medium temperature and film coefficients over time.
    tolerance : float
        Largest estimated error of one step at any node [K], > 0; ``inf`` for no control.
    fixed_step : float, optional
        Take steps of this length [s] wherever the error control and the process's kinks allow, and none longer.
    on_stage : callable, optional
        Called after each stage with the process time reached [s].
    known : tuple of Process and History, optional
        Another process that was marched before: the march goes on from the last of its steps up to which both are the
        same.

    Returns
    -------
    History

    Raises
    ------
    NumericalError
        If a step would have to be shorter than rounding allows, or a temperature is no longer a number.
    """
    numbering = Numbering(operator.capacity > 0.0)
    stepper = _stepper(operator, numbering, process, tolerance)
    begun = Beginning(process.stages)
    if known is not None and (last := _last_in_common(process, *known)) > 0:
        begun = _resumed(stepper, numbering, process, known[1], last)
    went = follow_steps(stepper, begun, tolerance=tolerance, fixed_step=fixed_step, on_stage=on_stage)
    shape = (-1, numbering.count)
    times = np.concatenate([begun.time, went.time])
    temperature = np.concatenate([*begun.temperature, np.reshape(went.temperature, shape)])
    rate = np.concatenate([*begun.rate, np.reshape(went.rate, shape)])
    return History(
        time=times,
        temperature=numbering.fields([temperature], operator.initial),
        rate=numbering.fields([_calmed(times, temperature, rate)], np.zeros_like(operator.initial)),
        heat_in=went.heat,
        stored=stepper.stored(),
        capacity=float(operator.capacity.sum()),
        steps=int((np.diff(times) > 0).sum()),
        rejected=went.rejected,
    )


def _calmed(time: Array, temperature: Array, rate: Array) -> Array:
    """Rates at the entries [K/s], none much steeper than the steps beside it.

    After a jump a thin part in which next to no heat is stored changes by a million kelvin a second, and is through
    with it long before the first step ends: a cubic with such a rate would go thousands of kelvin beyond its ends.
    """
    length = np.diff(time)[:, None]
    farthest = STEEPEST * np.abs(np.diff(temperature, axis=0)) + TURNING
    slope = np.divide(farthest, length, out=np.full_like(farthest, np.inf), where=length > 0.0)
    free = np.full_like(rate[:1], np.inf)
    most = np.minimum(np.concatenate([free, slope]), np.concatenate([slope, free]))
    return np.clip(rate, -most, most)


@dataclass
class Beginning:
    """Stages still to march, what went before them, and the entries that are known of that."""

    stages: tuple[Stage, ...]
    step: float = math.inf
    heat: float = 0.0
    film: Film | None = None
    medium: float = math.nan
    climbing: float = 0.0
    time: Array = field(default_factory=lambda: np.empty(0))
    temperature: tuple[Array, ...] = ()
    rate: tuple[Array, ...] = ()


class Steps(NamedTuple):
    """Entries of a march: times [s], what its stepper held then, and the heat taken in [J] with what went before.

    A piece of the process ends with an entry and the next begins with one of the same time.
    """

    time: list[float]
    temperature: list[Array]
    rate: list[Array]
    heat: float
    rejected: int


def follow_steps(
    stepper: Stepper,
    begun: Beginning,
    *,
    tolerance: float,
    fixed_step: float | None = None,
    on_stage: Callable[[float], None] | None = None,
) -> Steps:
    """Take a stepper through the stages that are left, as :func:`march` says; its errors and parameters are those."""
    step, heat, rejected = begun.step, begun.heat, 0
    film, medium, climbing = begun.film, begun.medium, begun.climbing
    time: list[float] = []
    temperature: list[Array] = []
    rate: list[Array] = []
    for stage in begun.stages:
        before = None
        if stage.film != film or stage.medium[0] != medium:
            before = stepper.rate
            heat += stepper.enter(stage.film, float(stage.medium[0]))
        for k in range(stage.time.size - 1):
            now, end = float(stage.time[k]), float(stage.time[k + 1])
            here, there = float(stage.medium[k]), float(stage.medium[k + 1])
            slope = (there - here) / (end - now)
            stepper.face(here, slope)
            if fixed_step is not None:
                step = min(step, fixed_step)
            else:
                # where nothing jumps, films that change matter no more than a bend
                jump = 0.0 if before is None else float(np.abs(stepper.rate - before).max())
                if jump * step > BEND:
                    step = max(FIRST_STEP, BEND / jump)
                if abs(slope - climbing) * step > BEND:
                    step = BEND / abs(slope - climbing)
            climbing, before = slope, None
            start = now
            time.append(now)
            temperature.append(stepper.temperature)
            rate.append(stepper.rate)
            careful = False  # where a step was refused, the next is likely to be if it is four times as long
            while now < end:
                left = end - now
                last_one = step >= left * (1.0 - 1e-9)
                h = left if last_one else left / 2.0 if 2.0 * step > left else step
                error = stepper.attempt(h)
                if math.isnan(error):
                    raise _stopped(now, step, tolerance, "a temperature is not a number")
                if error > tolerance or error == math.inf:
                    rejected += 1
                    careful = True
                    step = h * (0.5 if error < 10.0 * tolerance else 0.25)
                    if step < SHORTEST * max(1.0, abs(end)):
                        raise _stopped(now, step, tolerance, "steps became too small")
                    continue
                now = end if last_one else now + h
                heat += stepper.accept(there if last_one else here + slope * (now - start))
                time.append(now)
                temperature.append(stepper.temperature)
                rate.append(stepper.rate)
                # steps change by powers of two only, so that a factorisation serves many of them
                if h >= step * (1.0 - 1e-9):
                    growth = 0.9 * (tolerance / max(error, 1e-30)) ** 0.25
                    factor = 4.0 if growth >= 4.0 else 2.0 if growth >= 2.0 else 1.0
                    while fixed_step is not None and factor > 1.0 and factor * step > fixed_step:
                        factor /= 2.0
                    step *= min(factor, 2.0) if careful else factor
                    careful = False
        film, medium = stage.film, stage.medium[-1]
        if on_stage is not None:
            on_stage(stage.end)
    return Steps(time, temperature, rate, heat, rejected)


def _stepper(operator: Operator, numbering: Numbering, process: Process, tolerance: float) -> Stepper:
    if operator.varying is None:
        return ConstantStepper(operator, numbering)
    from thermsim.solve.march.changing import ChangingStepper  # its loops are compiled only where they are needed

    return ChangingStepper(operator, operator.varying, numbering, process, tolerance)


def _stopped(time: float, step: float, tolerance: float, why: str) -> NumericalError:
    return NumericalError(
        f"the march stopped at {time / 60:.3f} min: {why}", time_s=time, step_s=step, tolerance_K=tolerance
    )


# -- going on from another march -----------------------------------------------------------------------------------


def _resumed(stepper: Stepper, numbering: Numbering, process: Process, before: History, last: int) -> Beginning:
    """Set a stepper to an entry of a history that the process shares."""
    now = float(before.time[last])
    sliver = _sliver(now)
    reached = next(stage for stage in process.stages if stage.end > now - sliver)
    medium = float(np.interp(now, reached.time, reached.medium))
    stages = tuple(
        stage if stage.start > now - sliver else stage.since(now)
        for stage in process.stages
        if stage.end > now + sliver
    )
    kept = last if reached.end > now + sliver else last + 1  # a stage begins with an entry of its own
    stepper.resume(numbering.vector(before.temperature[last]), reached.film, medium)
    return Beginning(
        stages,
        step=max(FIRST_STEP, now - float(before.time[last - 1])),
        heat=stepper.stored(),  # the march's balance is closed
        film=reached.film,
        medium=medium,
        climbing=_slope_before(reached, now),
        time=before.time[:kept],
        temperature=(numbering.vectors(before.temperature[:kept]),),
        rate=(numbering.vectors(before.rate[:kept]),),
    )


def _last_in_common(process: Process, other: Process, history: History) -> int:
    """The last entry of another process's history, as that was reached, up to which a process is the same."""
    common = 0.0
    for one, two in zip(process.stages, other.stages, strict=False):
        if one.film != two.film or one.medium[0] != two.medium[0]:
            break
        shorter = min(one.end, two.end)
        time = np.union1d(one.time[one.time <= shorter], two.time[two.time <= shorter])
        differs = np.interp(time, one.time, one.medium) != np.interp(time, two.time, two.medium)
        common = float(time[max(int(differs.argmax()) - 1, 0)] if differs.any() else shorter)
        if differs.any() or one.end != two.end:
            break
    last = int(np.searchsorted(history.time, common + _sliver(common), side="right")) - 1
    while last > 0 and history.time[last] - history.time[last - 1] <= _sliver(common):
        last -= 1  # what comes after is of the stage that follows
    return last


def _slope_before(stage: Stage, time: float) -> float:
    """Slope of the medium [K/s] as a time within a stage [s] is reached."""
    k = max(1, int(np.searchsorted(stage.time, time - _sliver(time))))
    return float((stage.medium[k] - stage.medium[k - 1]) / (stage.time[k] - stage.time[k - 1]))


def _sliver(time: float) -> float:
    """The distance of two times [s] that are one but for rounding, as those at the end of a stretched hold."""
    return 1e-9 * max(1.0, time)
