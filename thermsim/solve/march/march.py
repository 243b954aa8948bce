"""The march: the temperature of every node through the whole process."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from thermsim.case.process import Film, Process
from thermsim.errors import NumericalError
from thermsim.solve.grid.operator import Operator
from thermsim.solve.march import tableau
from thermsim.solve.march.history import History
from thermsim.solve.matrix.numbering import Numbering
from thermsim.solve.matrix.system import system_of

Array = NDArray[np.float64]

#: First step after a jump of the medium or a change of the films [s].
FIRST_STEP = 0.02


def march(
    operator: Operator,
    process: Process,
    *,
    tolerance: float,
    fixed_step: float | None = None,
    on_stage: Callable[[float], None] | None = None,
) -> History:
    """March from the start of the process to its end.

    Steps end on every kink and jump of the medium and begin small after each jump; their size follows the error that
    the embedded solution estimates. Between its steps the temperature is cubic in time.

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

    Returns
    -------
    History

    Raises
    ------
    NumericalError
        If a step would have to be shorter than rounding allows, or a temperature is no longer a number.
    """
    if operator.varying is not None:
        from thermsim.solve.march.nonlinear import march_varying

        return march_varying(operator, operator.varying, process, tolerance=tolerance, on_stage=on_stage)
    from thermsim.solve import compiled
    from thermsim.solve.march import march_kernels
    from thermsim.solve.matrix import matrix_kernels

    numbering = Numbering(operator.capacity > 0.0)
    temperature, capacity = numbering.vector(operator.initial), numbering.vector(operator.capacity)
    began = temperature
    rate: Array | None = None
    step, heat, rejected = FIRST_STEP, 0.0, 0
    film: Film | None = None
    medium = np.nan
    parts: list[tuple[Array, Array, Array]] = []
    for stage in process.stages:
        if stage.film != film:
            system = system_of(operator, stage.film, numbering)
            matrix, factors = system.matrix, np.zeros(system.matrix.stored)
        held = system.free == 0.0
        if stage.film != film or stage.medium[0] != medium or rate is None:
            deviation = (temperature - stage.medium[0]) * system.free
            flow = np.empty_like(deviation)
            matrix_kernels.conduct(system.before, system.after, system.conductance, system.exchange, deviation, flow)
            rate = -flow / system.capacity
            step = FIRST_STEP if fixed_step is None else fixed_step
            # nodes held at the medium's temperature take up their heat at once
            heat += float(capacity[held] @ (stage.medium[0] - temperature[held]))
        status, count, times, temperatures, rates, heat_free, step, again = march_kernels.march(
            matrix.banded,
            matrix.dissected,
            factors,
            system.capacity,
            system.exchange,
            system.free,
            stage.time,
            stage.medium,
            temperature,
            rate,
            step,
            np.inf if fixed_step is None else fixed_step,
            tolerance,
            tableau.A,
            tableau.B_EMBEDDED,
        )
        if status != compiled.DONE:
            what = "steps became too small" if status == compiled.STEP_TOO_SMALL else "a temperature is not a number"
            raise NumericalError(
                f"the march stopped at {times[count - 1] / 60:.3f} min: {what}",
                time_s=float(times[count - 1]),
                step_s=float(step),
                tolerance_K=tolerance,
            )
        heat += float(heat_free) + float(capacity[held].sum() * (stage.medium[-1] - stage.medium[0]))
        rejected += int(again)
        parts.append((times[:count], temperatures[:count], rates[:count]))
        temperature, rate = temperatures[count - 1], rates[count - 1]
        film, medium = stage.film, stage.medium[-1]
        if on_stage is not None:
            on_stage(stage.end)

    time = np.concatenate([part[0] for part in parts])
    return History(
        time=time,
        temperature=numbering.fields([part[1] for part in parts], operator.initial),
        rate=numbering.fields([part[2] for part in parts], np.zeros_like(operator.initial)),
        heat_in=heat,
        stored=float(capacity @ (temperature - began)),
        capacity=float(capacity.sum()),
        steps=int((np.diff(time) > 0).sum()),
        rejected=rejected,
    )
