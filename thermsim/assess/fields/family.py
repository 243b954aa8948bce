"""The nested grids of a body, ready for any process."""

from __future__ import annotations

import copy
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.fields.courses import Courses
from thermsim.assess.fields.lethality import LEAST, lethality_map
from thermsim.assess.fields.nesting import AGAIN, FINE_WEIGHT, Carried, Nesting, Parts
from thermsim.case.case import Case
from thermsim.case.process import Process
from thermsim.solve.basis.evolution import Evolution
from thermsim.solve.basis.reduced import Solver
from thermsim.solve.grid.body import body_of
from thermsim.solve.grid.grid import Grid, grid_family
from thermsim.solve.grid.operator import operator_of
from thermsim.solve.march.history import History

Array = NDArray[np.float64]


Followed = Evolution | History


#: A process followed on the coarse grid, on the middle one, on that through time less well, and on the fine one.
FourSolutions = tuple[Followed, Followed, Followed, Followed]


#: How much looser the time tolerance of the run is that shows what the time steps do. Steps change by powers of two:
#: at four times the tolerance both would often take nearly the same.
LOOSER = 16.0
#: Most that its difference is taken for more than it is, where nearly the same steps were taken all the same.
MOST = 6.0
#: How much looser entries of bases are taken there, between which lethality is gathered.
SPARSER = 8.0


#: Parts of the work: the grids from the coarsest to the finest.
SHARES = (0.02, 0.18, 0.8)


@dataclass(frozen=True)
class Fields:
    """Fields of a computation at every node of the finest grid.

    Parameters
    ----------
    courses : Courses
        Temperatures at the output times.
    end_of_heating : ndarray, shape (n_r, n_z)
        When heating ends [degC].
    log_lethality, log_heating : ndarray, shape (n_r, n_z)
        Natural logarithm of the lethality in s: of the whole process, and until heating ended.
    """

    courses: Courses
    end_of_heating: Array
    log_lethality: Array
    log_heating: Array

    @property
    def temperature(self) -> Array:
        """At the output times [degC], shape (n_t, n_r, n_z)."""
        return self.courses.temperature

    @cached_property
    def ends(self) -> Array:
        """The fields that do not change with time, shape (3, n_r, n_z)."""
        return np.stack([self.end_of_heating, self.log_lethality, self.log_heating])


def extrapolated(coarse: Array, fine: Array, *, ratio: float = 2.0) -> Array:
    """Richardson's value of what two grids give, of second order, whose spacings are as the ratio to 1."""
    return fine + (fine - coarse) / errors_lost(ratio)


def errors_lost(ratio: float) -> float:
    """So many times its own error, of second order, a grid changes one whose spacings are the ratio times as wide."""
    return ratio**2 - 1.0


def extrapolated_again(coarser: Array, finer: Array) -> Array:
    """Romberg's value of what two extrapolations give, each of two grids, the middle one in common."""
    return finer + AGAIN * (finer - coarser)


def process_with_probe(case: Case) -> Process:
    """The case's process with the film coefficient that its probe meets outside, if it has a probe."""
    return case.process.facing(case.probe.entry, case.probe.film) if case.probe else case.process


def looser_scale(found: FourSolutions) -> float:
    """Factor on the difference of the looser run, by which a third of it is the error of the usual one.

    Errors of the march go with the square of its steps: both runs' numbers of steps tell. A basis a round earlier is
    off by far more.
    """
    middle, looser = found[1], found[2]
    if not (isinstance(middle, History) and isinstance(looser, History)):
        return 1.0
    return min(3.0 / max((middle.steps / max(looser.steps, 1)) ** 2 - 1.0, 1e-9), MOST)


class Family:
    """The nested grids of a case made ready for any process: coarsest first.

    Parameters
    ----------
    case : Case
        Of it the body counts.
    refinement, tolerance : float
        As for :func:`thermsim.assess.fields.refinement.refine`.
    once : bool, optional
        For the case's own process and no other: see :class:`thermsim.solve.basis.reduced.Reduced`.
    """

    def __init__(self, case: Case, *, refinement: float = 1.0, tolerance: float, once: bool = False) -> None:
        self.grids = grid_family(body_of(case), refinement=refinement)
        self.solvers = tuple(Solver(operator_of(grid), tolerance=tolerance, once=once) for grid in self.grids)
        self.nestings = tuple(Nesting(*pair) for pair in zip(self.grids[:-1], self.grids[1:], strict=True))
        self.parts = Parts(*self.nestings)

    def without_bases(self) -> Family:
        """The same with nothing but grids, matrices and factors: what it gives depends on no process met before."""
        new = copy.copy(self)
        new.solvers = tuple(solver.without_bases() for solver in self.solvers)
        return new

    def copy(self) -> Family:
        """A copy that goes on by itself from here."""
        new = copy.copy(self)
        new.solvers = tuple(solver.copy() for solver in self.solvers)
        return new

    def followed(self, case: Case, *, progress: Callable[[float], None] | None = None) -> FourSolutions:
        """Follow the case's process on the coarse grid, the middle one, that one more loosely, and the fine one."""
        process = process_with_probe(case)
        reached = [0.0, 0.0, 0.0]

        def on(k: int) -> Followed:
            def on_stage(time: float) -> None:
                reached[k] = SHARES[k] * time / process.end
                if progress is not None:
                    progress(min(1.0, sum(reached)))

            return self.solvers[k].follow(process, on_stage=on_stage if progress else None)

        coarse, middle, finest = (on(k) for k in range(3))
        looser = self.solvers[1].follow_looser(process, LOOSER)
        if isinstance(finest, Evolution):
            # the same process on each: what is read off it is read off at the same times
            sparser = replace(finest, tolerance=SPARSER * finest.tolerance)
            coarse, middle, looser = (
                replace(found, beside=beside) if isinstance(found, Evolution) else found
                for found, beside in ((coarse, finest), (middle, finest), (looser, sparser))
            )
        return coarse, middle, looser, finest

    def courses(self, case: Case, found: FourSolutions, time: Array) -> tuple[Courses, Courses, Courses]:
        """The extrapolated temperatures at growing times [s]: the best, one refinement earlier, time less well."""
        to_middle, to_fine = self.nestings
        parts = self.parts

        def finer(fields: Array) -> Carried:
            return Carried(fields, to_fine)

        # bases leave out what all nodes have in common, the march does not: where it served on one grid, none may
        marched = any(isinstance(way, History) for way in found)
        on_coarse, on_middle, loosely, on_fine = (
            Courses.known(way.at(time)) if marched else Courses.of(way, time) for way in found
        )
        before = on_middle.passed(to_middle.raised).plus(on_coarse.passed(to_middle.carried).times(-1 / 3))
        others = on_middle.passed(parts.of_middle).plus(on_coarse.passed(parts.of_coarse))
        more = looser_scale(found)
        slower = loosely.passed(finer).times(more).plus(on_middle.passed(finer).times(-more))
        low, high = _bounds(self.grids[2], case.process, time)
        best = on_fine.times(FINE_WEIGHT).plus(on_fine.passed(parts.of_fine)).plus(others).within(low, high)
        return best, before.passed(finer).within(low, high), best.changed(slower).within(low, high)

    def fields(
        self, case: Case, found: FourSolutions, time: Array
    ) -> tuple[tuple[Fields, Fields, Fields], tuple[Array, Array, Array]]:
        """The extrapolated fields at some times [s]: the best, one refinement earlier, and through time less well.

        Beside them what each grid says by itself of what does not change with time, as :attr:`Fields.ends`.
        """
        coarse, middle, fine = self.grids
        to_middle, to_fine = self.nestings
        one, two, slack, three = (
            _ends_of(way, grid, case) for way, grid in zip(found, (coarse, middle, middle, fine), strict=True)
        )
        on_best, on_coarser, on_loose = self.courses(case, found, time)
        earlier, slack = (
            to_fine.carried(two + to_middle.correction(one, two)),
            to_fine.carried(looser_scale(found) * (slack - two)),
        )
        best = extrapolated_again(earlier, three + to_fine.correction(two, three))
        ways = Fields(on_best, *best), Fields(on_coarser, *earlier), Fields(on_loose, *(best + slack))
        return ways, (one, two, three)


def _ends_of(found: Followed, grid: Grid, case: Case) -> Array:
    """Fields that do not change with time: temperature when heating ends, logarithms of lethality; (3, n_r, n_z)."""
    heated_until = case.process.heated_until
    nodes = grid.product_nodes
    if not all(grid.holds_product(point.r, point.z) for point in case.points):
        nodes = grid.active  # a point in a wall is asked for its lethality too
    total, heating = lethality_map(found, case.lethality, heated_until, nodes)
    return np.stack(
        [found.reached(heated_until), np.log(np.maximum(total, LEAST)), np.log(np.maximum(heating, LEAST))]
    )


def _bounds(grid: Grid, process: Process, time: Array) -> tuple[Array, Array]:
    """The extremes of what the body has met up to some times [s] (the maximum principle), shapes (n_t,)."""
    starts = grid.initial[grid.material >= 0]
    met = np.concatenate([stage.medium for stage in process.stages])
    when = np.concatenate([stage.time for stage in process.stages])
    now = process.medium_at(time)
    reached = np.searchsorted(when, time, side="right")
    low = np.minimum(np.minimum.accumulate(np.insert(met, 0, starts.min()))[reached], now)
    high = np.maximum(np.maximum.accumulate(np.insert(met, 0, starts.max()))[reached], now)
    return low, high
