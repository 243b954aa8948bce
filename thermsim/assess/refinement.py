"""One computation on several grids: the extrapolated fields, and what they would be had we computed less well.

The march is second order in space on nested grids, so two of them give a better value than either (Richardson):
best = fine + (fine - coarse)/3. The family has three grids. The two finer ones give the best fields; the two coarser
ones give the same fields one refinement earlier ("coarser"); the middle grid marched with a looser tolerance shows
what the time steps do ("looser"). Every reported figure is worked out from all three, and its uncertainty is a third
of the sum of the two differences: extrapolated values converge at least like halved spacings squared (a factor of 4,
so the error of the finer is at most a third of the difference), and a tolerance loosened four times makes four times
the error.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.lethality import LEAST, lethality_map
from thermsim.assess.reading import Reading, Sensor, reading_of
from thermsim.case.body import body_of
from thermsim.case.case import Case
from thermsim.case.process import Process
from thermsim.solve.grid import Grid, grid_family
from thermsim.solve.history import History
from thermsim.solve.lines import prolongation
from thermsim.solve.march import march
from thermsim.solve.operator import operator_of

Array = NDArray[np.float64]

#: How much looser the time tolerance of the run is that shows what the time steps do.
LOOSER = 4.0


@dataclass(frozen=True)
class Fields:
    """What a computation says of every node of the finest grid.

    Parameters
    ----------
    temperature : ndarray, shape (n_t, n_r, n_z)
        At the output times [degC].
    end_of_heating : ndarray, shape (n_r, n_z)
        When heating ends [degC].
    log_lethality, log_heating : ndarray, shape (n_r, n_z)
        Natural logarithm of the lethality in s: of the whole process, and until heating ended.
    """

    temperature: Array
    end_of_heating: Array
    log_lethality: Array
    log_heating: Array

    def stack(self) -> Array:
        """All fields as one array, shape (n_t + 3, n_r, n_z)."""
        return np.concatenate(
            [self.temperature, np.stack([self.end_of_heating, self.log_lethality, self.log_heating])]
        )

    @classmethod
    def unstack(cls, stack: Array) -> Fields:
        """Inverse of :meth:`stack`."""
        return cls(stack[:-3], stack[-3], stack[-2], stack[-1])


@dataclass(frozen=True)
class Refined:
    """The best fields of a case, and what they would be on coarser grids or with looser steps.

    ``grid`` is the finest grid, ``time`` the output times [s], ``history`` the march on the finest grid. ``readings``
    are what the case's probe reads, in the same three ways; None without a probe.
    """

    grid: Grid
    time: Array
    best: Fields
    coarser: Fields
    looser: Fields
    history: History
    readings: tuple[Reading, Reading, Reading] | None


def refine(
    case: Case,
    *,
    time: Array,
    field_time: Array | None = None,
    refinement: float = 1.0,
    tolerance: float,
    progress: Callable[[float], None] | None = None,
) -> Refined:
    """Solve a case on the family of grids and extrapolate.

    Parameters
    ----------
    case : Case
        What is to be solved, with its probe if it has one.
    time : ndarray, shape (n_t,)
        Output times [s].
    field_time : ndarray, optional
        Times at which the fields' temperatures are kept, where only readings are wanted at all output times.
    refinement : float, optional
        Makes all spacings of all grids that many times smaller.
    tolerance : float
        Largest estimated error of a time step [K].
    progress : callable, optional
        Called with the part of the work that is done (0 to 1).

    Returns
    -------
    Refined
    """
    grids = grid_family(body_of(case), refinement=refinement)
    coarse, middle, fine = grids
    histories = march_family(case, grids, tolerance=tolerance, progress=progress)
    kept = time if field_time is None else field_time
    on_coarse, on_middle, looser, on_fine = (_fields_of(history, case, kept).stack() for history in histories)
    to_middle, to_fine = Nesting(coarse, middle), Nesting(middle, fine)
    best = on_fine + to_fine.correction(on_middle, on_fine)
    earlier = to_fine.carried(on_middle + to_middle.correction(on_coarse, on_middle))
    slack = to_fine.carried(looser - on_middle)
    return Refined(
        grid=fine,
        time=time,
        best=_bounded(Fields.unstack(best), fine, case.process, kept),
        coarser=_bounded(Fields.unstack(earlier), fine, case.process, kept),
        looser=_bounded(Fields.unstack(best + slack), fine, case.process, kept),
        history=histories[-1],
        readings=readings_of(case, grids, histories, time=time),
    )


def extrapolated(coarse: Array, fine: Array) -> Array:
    """Richardson's value of what two grids give, of halved spacings and second order."""
    return fine + (fine - coarse) / 3.0


def differences(best: Mapping[str, float | Array], others: Sequence[Mapping[str, float | Array]]) -> dict[str, float]:
    """A third of the sum of each figure's differences to the other ways of computing it; of curves the largest."""
    return {
        name: sum(
            float(np.max(np.abs(np.asarray(value) - np.asarray(other[name])))) for other in others if name in other
        )
        / 3.0
        for name, value in best.items()
    }


def march_family(
    case: Case,
    grids: tuple[Grid, ...],
    *,
    tolerance: float,
    progress: Callable[[float], None] | None = None,
) -> tuple[History, History, History, History]:
    """March on the coarse grid, the middle one, the middle one with a looser tolerance, and the fine one."""
    process = case.process
    if case.probe:
        process = process.facing(case.probe.entry, case.probe.film)
    coarse, middle, fine = grids
    done = 0.0
    histories = []
    for grid, slack, share in ((coarse, 1.0, 0.02), (middle, 1.0, 0.14), (middle, LOOSER, 0.12), (fine, 1.0, 0.72)):

        def on_stage(reached: float, before: float = done, share: float = share) -> None:
            if progress is not None:
                progress(min(1.0, before + share * reached / process.end))

        histories.append(march(operator_of(grid), process, tolerance=slack * tolerance, on_stage=on_stage))
        done += share
    return histories[0], histories[1], histories[2], histories[3]


def readings_of(
    case: Case, grids: tuple[Grid, ...], histories: tuple[History, History, History, History], *, time: Array
) -> tuple[Reading, Reading, Reading] | None:
    """What the case's probe reads: the best, one refinement earlier, and with looser steps."""
    if case.probe is None:
        return None
    sensor = Sensor(case.probe.tip_radius, *case.probe.sensed(case.container))
    coarse, middle, fine = grids
    on_coarse, on_middle, looser, on_fine = (
        reading_of(
            history, sensor.weights(grid), case.lethality, heating_end=case.process.heating_end, time=time
        ).stack()
        for history, grid in zip(histories, (coarse, middle, middle, fine), strict=True)
    )
    best, earlier = extrapolated(on_middle, on_fine), extrapolated(on_coarse, on_middle)
    return Reading.unstack(best), Reading.unstack(earlier), Reading.unstack(best + looser - on_middle)


def _fields_of(history: History, case: Case, time: Array) -> Fields:
    """The fields that a march gives: temperatures at the output times, when heating ends, and lethality."""
    heating_end = case.process.heating_end
    total, heating = lethality_map(history, case.lethality, heating_end)
    return Fields(
        temperature=history.at(time),
        end_of_heating=history.temperature[history.entry_before(heating_end)],
        log_lethality=np.log(np.maximum(total, LEAST)),
        log_heating=np.log(np.maximum(heating, LEAST)),
    )


def _bounded(fields: Fields, grid: Grid, process: Process, time: Array) -> Fields:
    """Keep extrapolated temperatures between the extremes of what the body has met (the maximum principle)."""
    starts = grid.initial[grid.material >= 0]
    met = np.concatenate([stage.medium for stage in process.stages])
    when = np.concatenate([stage.time for stage in process.stages])
    now = process.medium_at(time)
    bounds = []
    for extreme, start in ((np.minimum, starts.min()), (np.maximum, starts.max())):
        so_far = extreme.accumulate(np.insert(met, 0, start))[np.searchsorted(when, time, side="right")]
        bounds.append(extreme(so_far, now)[:, None, None])
    return dataclasses.replace(fields, temperature=np.clip(fields.temperature, *bounds))


class Nesting:
    """How fields pass from one grid of a family to the next finer one."""

    def __init__(self, coarse: Grid, fine: Grid) -> None:
        self.along_r = prolongation((coarse.columns, coarse.layer_r), (fine.columns, fine.layer_r))
        self.along_z = prolongation((coarse.levels, coarse.layer_z), (fine.levels, fine.layer_z))
        # nodes in common: where a fine node takes the whole of one coarse node
        self.common = np.ix_(self.along_r.argmax(axis=0), self.along_z.argmax(axis=0))

    def carried(self, fields: Array) -> Array:
        """Fields (n, n_r, n_z) of the coarse grid on the fine one."""
        return np.asarray(self.along_r @ fields @ self.along_z.T)

    def correction(self, on_coarse: Array, on_fine: Array) -> Array:
        """What Richardson's extrapolation adds to the fine fields (n, n_r, n_z)."""
        return self.carried((on_fine[:, *self.common] - on_coarse) / 3.0)
