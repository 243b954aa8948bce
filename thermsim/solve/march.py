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
from thermsim.solve.operator import Operator, exchange_of

Array = NDArray[np.float64]

#: First step after a jump of the medium or a change of the films [s].
FIRST_STEP = 0.02


@dataclass(frozen=True)
class _System:
    """One stage's matrix, flattened for the kernels (short grid direction fastest)."""

    band: Array
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
    from thermsim.solve import kernels

    transposed = operator.capacity.shape[1] > operator.capacity.shape[0]
    temperature = _flat(operator.initial, transposed)
    capacity = _flat(operator.capacity, transposed)
    began = temperature
    rate: Array | None = None
    step, heat, rejected = FIRST_STEP, 0.0, 0
    film: Film | None = None
    medium = np.nan
    parts: list[tuple[Array, Array, Array]] = []
    for stage in process.stages:
        if stage.film != film:
            system = _system(operator, stage.film, transposed)
        held = (system.free == 0.0) & (capacity > 0.0)
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
    shape = operator.capacity.shape
    return History(
        time=time,
        temperature=_fields([part[1] for part in parts], shape, transposed),
        rate=_fields([part[2] for part in parts], shape, transposed),
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
    operator = Operator(square, square[:1], square[:, :1], square, square, square, 0.0 * square, square)
    history = march(
        operator, Process((Stage("hold", np.array([0.0, 1.0]), square[0], Film.everywhere(1.0)),)), tolerance=1.0
    )
    from thermsim.solve import kernels

    flat = history.temperature.reshape(history.time.size, -1)
    kernels.accumulate(history.time, flat, flat, np.arange(4), 100.0, 10.0, np.empty(flat.shape))
    return clock.perf_counter() - began


def _flat(field: Array, transposed: bool) -> Array:
    """A node field as a vector with the short grid direction running fastest."""
    return np.ascontiguousarray(field if not transposed else field.T).ravel()


def _fields(parts: list[Array], shape: tuple[int, ...], transposed: bool) -> Array:
    """Vectors over time back as fields (n_t, n_r, n_z)."""
    joined = parts[0] if len(parts) == 1 else np.concatenate(parts)
    if transposed:
        return joined.reshape(-1, shape[1], shape[0]).swapaxes(1, 2)
    return joined.reshape(-1, *shape)


def _system(operator: Operator, film: Film, transposed: bool) -> _System:
    """The stage's matrix: conduction between free nodes, exchange with the medium and with held nodes."""
    exchange, fixed = exchange_of(operator, film)
    along_r, along_z = operator.conductance_r, operator.conductance_z
    capacity = operator.capacity
    free = (capacity > 0.0) & ~fixed
    if transposed:
        exchange, capacity, free = exchange.T, capacity.T, free.T
        along_slow, along_fast = along_z.T, along_r.T
    else:
        along_slow, along_fast = along_r, along_z
    # a held neighbour stands at the medium's temperature: what flows to it is exchange
    exchange = np.where(free, exchange, 0.0)
    open_slow, open_fast = free[1:] & free[:-1], free[:, 1:] & free[:, :-1]
    to_held_slow, to_held_fast = np.where(open_slow, 0.0, along_slow), np.where(open_fast, 0.0, along_fast)
    exchange[1:] += to_held_slow * free[1:]
    exchange[:-1] += to_held_slow * free[:-1]
    exchange[:, 1:] += to_held_fast * free[:, 1:]
    exchange[:, :-1] += to_held_fast * free[:, :-1]
    between_slow, between_fast = np.where(open_slow, along_slow, 0.0), np.where(open_fast, along_fast, 0.0)

    diagonal = exchange.copy()
    diagonal[1:] += between_slow
    diagonal[:-1] += between_slow
    diagonal[:, 1:] += between_fast
    diagonal[:, :-1] += between_fast
    n_slow, n_fast = diagonal.shape
    band = np.zeros((n_slow, n_fast, n_fast + 1))
    band[:, :, n_fast] = diagonal
    band[:, 1:, n_fast - 1] = -between_fast
    band[1:, :, 0] = -between_slow
    return _System(
        band=band.reshape(n_slow * n_fast, n_fast + 1),
        capacity=np.where(free, capacity, 1.0).ravel(),
        exchange=exchange.ravel(),
        free=free.astype(float).ravel(),
    )
