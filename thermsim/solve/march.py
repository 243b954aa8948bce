"""The march: the temperature of every node through the whole process."""

from __future__ import annotations

import functools
import time as clock
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.case.process import Film, Process, Stage
from thermsim.errors import NumericalError
from thermsim.solve import tableau
from thermsim.solve.history import History
from thermsim.solve.numbering import Numbering
from thermsim.solve.operator import Operator, exchange_of

Array = NDArray[np.float64]

#: First step after a jump of the medium or a change of the films [s].
FIRST_STEP = 0.02


@dataclass(frozen=True)
class _System:
    """One stage's matrix over the active nodes, for the kernels."""

    band: Array
    reach: NDArray[np.int64]
    capacity: Array
    exchange: Array
    free: Array


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
        from thermsim.solve.nonlinear import march_varying

        return march_varying(operator, operator.varying, process, tolerance=tolerance, on_stage=on_stage)
    from thermsim.solve import kernels

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
            system = _system(operator, stage.film, numbering)
        held = system.free == 0.0
        if stage.film != film or stage.medium[0] != medium or rate is None:
            deviation = (temperature - stage.medium[0]) * system.free
            flow = np.empty_like(deviation)
            kernels.multiply(system.band, deviation, flow)
            rate = -flow / system.capacity
            step = FIRST_STEP if fixed_step is None else fixed_step
            # nodes held at the medium's temperature take up their heat at once
            heat += float(capacity[held] @ (stage.medium[0] - temperature[held]))
        status, count, times, temperatures, rates, heat_free, step, again = kernels.march(
            system.band,
            system.reach,
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
        if status != kernels.DONE:
            what = "steps became too small" if status == kernels.STEP_TOO_SMALL else "a temperature is not a number"
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


@functools.cache
def compile_kernels() -> float:
    """Compile the loops, or load them from the cache on disk; returns the seconds it took, the first time."""
    began = clock.perf_counter()
    square = np.ones((2, 2))
    none = 0.0 * square
    operator = Operator(
        square, square[:1], square[:, :1], none[:1, :1], none[:1, :1], square, square, square, none, square
    )
    history = march(
        operator, Process((Stage("hold", np.array([0.0, 1.0]), square[0], Film.everywhere(1.0)),)), tolerance=1.0
    )
    from thermsim.solve import kernels

    flat = history.temperature.reshape(history.time.size, -1)
    kernels.accumulate(history.time, flat, flat, np.arange(4), 100.0, 10.0, np.empty(flat.shape))
    return clock.perf_counter() - began


def _system(operator: Operator, film: Film, numbering: Numbering) -> _System:
    """The stage's matrix: conduction between free nodes, exchange with the medium and with held nodes."""
    exchange, fixed = exchange_of(operator, film)
    exchange, free = numbering.turn(exchange), numbering.turn((operator.capacity > 0.0) & ~fixed)
    along_r, along_z = numbering.turn(operator.conductance_r), numbering.turn(operator.conductance_z)
    along_slow, along_fast = (along_z, along_r) if numbering.turned else (along_r, along_z)
    falling = numbering.turn(operator.falling)
    exchange = np.where(free, exchange, 0.0)
    diagonal = exchange.copy()
    couplings = []
    for along, low, high in (
        (along_slow, np.s_[:-1, :], np.s_[1:, :]),
        (along_fast, np.s_[:, :-1], np.s_[:, 1:]),
        (numbering.turn(operator.rising), np.s_[:-1, :-1], np.s_[1:, 1:]),
        (falling, np.s_[:-1, 1:], np.s_[1:, :-1]),
    ):
        # rectangles conduct nothing along their diagonals: no room is kept for it
        both = free[low] & free[high] & (along != 0.0)
        # a held neighbour stands at the medium's temperature: what flows to it is exchange
        for here in (low, high):
            exchange[here] += np.where(both, 0.0, along) * free[here]
            diagonal[here] += along * free[here]
        couplings.append((numbering.number[low][both], numbering.number[high][both], along[both]))

    reach = np.zeros(numbering.count, dtype=np.int64)
    for before, after, _ in couplings:
        np.maximum.at(reach, after, after - before)
    width = max(1, int(reach.max(initial=0)))
    band = np.zeros((numbering.count, width + 1))
    band[:, width] = diagonal[numbering.active]
    for before, after, conductance in couplings:
        band[after, width - (after - before)] = -conductance
    free_nodes = free[numbering.active]
    return _System(
        band=band,
        reach=reach,
        capacity=np.where(free_nodes, numbering.vector(operator.capacity), 1.0),
        exchange=exchange[numbering.active],
        free=free_nodes.astype(float),
    )
