"""The march: the temperature of every node through the whole process."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.case.process import Film, Process
from thermsim.errors import NumericalError
from thermsim.solve.grid.operator import Operator
from thermsim.solve.march import tableau
from thermsim.solve.march.history import History
from thermsim.solve.matrix.numbering import Numbering
from thermsim.solve.matrix.system import System, system_of

Array = NDArray[np.float64]

#: First step after a jump of the medium or a change of the films [s].
FIRST_STEP = 0.02
#: Steps shorter than this part of the process time are lost in rounding.
SHORTEST = 1e-12


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
    known : tuple of Process and History, optional
        Another process that was marched before: where properties change with temperature the march goes on from the
        last of its steps up to which both are the same.

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

        return march_varying(operator, operator.varying, process, tolerance=tolerance, on_stage=on_stage, known=known)
    numbering = Numbering(operator.capacity > 0.0)
    temperature, capacity = numbering.vector(operator.initial), numbering.vector(operator.capacity)
    began = temperature
    rate: Array | None = None
    step, heat, rejected = FIRST_STEP, 0.0, 0
    film: Film | None = None
    medium = np.nan
    pieces: list[_Piece] = []
    for stage in process.stages:
        if stage.film != film:
            stepper = _Stepper(system_of(operator, stage.film, numbering))
        system = stepper.system
        held = system.free == 0.0
        if stage.film != film or stage.medium[0] != medium or rate is None:
            rate = -(system.matrix.sparse @ ((temperature - stage.medium[0]) * system.free)) / system.capacity
            step = FIRST_STEP if fixed_step is None else fixed_step
            # nodes held at the medium's temperature take up their heat at once
            heat += float(capacity[held] @ (stage.medium[0] - temperature[held]))
        largest = np.inf if fixed_step is None else fixed_step
        for k in range(stage.time.size - 1):
            piece, step = stepper.through(
                (float(stage.time[k]), float(stage.time[k + 1])),
                (float(stage.medium[k]), float(stage.medium[k + 1])),
                temperature,
                rate,
                (step, largest),
                tolerance,
            )
            pieces.append(piece)
            temperature, rate = piece.temperature[-1], piece.rate[-1]
            heat += piece.heat
            rejected += piece.rejected
        heat += float(capacity[held].sum() * (stage.medium[-1] - stage.medium[0]))
        film, medium = stage.film, stage.medium[-1]
        if on_stage is not None:
            on_stage(stage.end)

    time = np.concatenate([piece.time for piece in pieces])
    return History(
        time=time,
        temperature=numbering.fields([np.array(piece.temperature) for piece in pieces], operator.initial),
        rate=numbering.fields([np.array(piece.rate) for piece in pieces], np.zeros_like(operator.initial)),
        heat_in=heat,
        stored=float(capacity @ (temperature - began)),
        capacity=float(capacity.sum()),
        steps=int((np.diff(time) > 0).sum()),
        rejected=rejected,
    )


@dataclass
class _Piece:
    """One way between two knots: entries of time [s], temperature [degC] and rate [K/s], heat taken in [J]."""

    time: list[float]
    temperature: list[Array]
    rate: list[Array]
    heat: float = 0.0
    rejected: int = 0


class _Stepper:
    """Steps of C du/dt = -K u - C dT_medium/dt, u = T - T_medium, under one set of films."""

    def __init__(self, system: System) -> None:
        self.system = system
        self._step = 0.0
        self._solve: Callable[[Array], Array] | None = None

    def _solver(self, step: float) -> Callable[[Array], Array]:
        """The solver of (C + gamma step K) x = b, kept as long as the step stays."""
        if self._solve is None or abs(step - self._step) > 1e-9 * step:
            self._solve = self.system.matrix.factor(tableau.A[1, 1] * step, self.system.capacity)
            self._step = step
        return self._solve

    def through(
        self,
        ends: tuple[float, float],
        medium: tuple[float, float],
        start: Array,
        rate: Array,
        steps: tuple[float, float],
        tolerance: float,
    ) -> tuple[_Piece, float]:
        """Go from one knot to the next, the medium being linear between them.

        ``start`` (n,) [degC] and ``rate`` (n,) [K/s] are those at the first; ``steps`` the first step to try and the
        largest [s]. Also gives the last step that the error control chose.
        """
        system, a = self.system, tableau.A
        weights = a[-1] - tableau.B_EMBEDDED
        (time, end), (step, largest) = ends, steps
        slope = (medium[1] - medium[0]) / (end - time)
        u = (start - medium[0]) * system.free
        k = np.zeros((a.shape[0], u.size))
        k[0] = (rate - slope) * system.free
        piece = _Piece([time], [u + medium[0]], [k[0] + slope])
        while time < end:
            left = end - time
            last = step >= left * (1.0 - 1e-9)
            h = left if last else left / 2.0 if 2.0 * step > left else step
            new, gained = self._stages(u, k, h, slope)
            worst = float(np.abs(h * (weights @ k)).max(initial=0.0))
            if not np.isfinite(worst):
                raise self._stopped(time, step, tolerance, "a temperature is not a number")
            if worst > tolerance:
                piece.rejected += 1
                step = h * (0.5 if worst < 10.0 * tolerance else 0.25)
                if step < SHORTEST * max(1.0, abs(end)):
                    raise self._stopped(time, step, tolerance, "steps became too small")
                continue
            time = end if last else time + h
            u, k[0] = new, k[-1]
            piece.heat += gained
            surrounding = medium[1] if last else medium[0] + slope * (time - ends[0])
            piece.time.append(time)
            piece.temperature.append(u + surrounding)
            piece.rate.append(k[0] + slope)
            # steps change by powers of two only, so that a factorisation serves many of them
            if h >= step * (1.0 - 1e-9):
                growth = 0.9 * (tolerance / max(worst, 1e-30)) ** 0.25
                factor = 4.0 if growth >= 4.0 else 2.0 if growth >= 2.0 else 1.0
                while factor > 1.0 and factor * step > largest:
                    factor /= 2.0
                step *= factor
        return piece, step

    def _stages(self, u: Array, k: Array, h: float, slope: float) -> tuple[Array, float]:
        """Work out the rates ``k`` of a step's stages; the step's end, and the heat taken in [J]."""
        system, a = self.system, tableau.A
        gamma, solve = a[1, 1] * h, self._solver(h)
        heat = -h * a[-1, 0] * float(system.exchange @ u)
        new = u
        for s in range(1, len(a)):
            trial = u + h * (a[s, :s] @ k[:s])
            new = solve(system.capacity * (trial - gamma * slope) * system.free)
            k[s] = (new - trial) / gamma
            heat -= h * a[-1, s] * float(system.exchange @ new)
        return new, heat

    @staticmethod
    def _stopped(time: float, step: float, tolerance: float, why: str) -> NumericalError:
        return NumericalError(
            f"the march stopped at {time / 60:.3f} min: {why}", time_s=time, step_s=step, tolerance_K=tolerance
        )
