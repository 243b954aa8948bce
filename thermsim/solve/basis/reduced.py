"""The way through a process on reduced bases, one for each set of films, grown until they are good enough.

Where no basis of reasonable size is good enough, and where properties change with temperature, the march serves.
"""

from __future__ import annotations

import copy
import functools
import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.case.process import Film, Process, Stage
from thermsim.errors import NumericalError
from thermsim.solve.basis.basis import Basis, Modes, sample
from thermsim.solve.basis.decay import decay
from thermsim.solve.basis.evolution import Evolution, Leg
from thermsim.solve.grid.operator import Operator
from thermsim.solve.march.history import History
from thermsim.solve.march.march import march
from thermsim.solve.matrix.linear import in_one_thread
from thermsim.solve.matrix.numbering import Numbering
from thermsim.solve.matrix.system import Conduction, System, system_of

Array = NDArray[np.float64]

#: From this long after a jump the answer is held to the tolerance [s]; sooner, surfaces are known less well.
RESOLVED = 1.0
#: Fastest rate of change that a basis is made for at first [1/s], and the largest step from one shift to the next.
FASTEST, STEP = 3.0 / RESOLVED, 150.0
#: A basis is good enough when its last round changed the answer by no more than so many tolerances: what is left is
#: as a rule a small part of that, and hardly ever more than twice as much.
LAST_ROUND = 2.0
#: Rounds before a basis is judged, of one start and of more, and the most rounds after that.
FIRST_ROUNDS, MOST_ROUNDS = (7, 6), 14
#: Cubics between entries are off by no more than this part of the tolerance: theirs are errors of one sign, which add
#: up in a lethality.
CUBIC = 0.25
#: When the last round's change is looked at: powers of a stage's length over what is resolved.
LOOKED_AT = np.append(np.linspace(0.0, 1.0, 12), 0.95)
#: Where a round leaves more than this part of the error a faster shift is added, a few times.
SLOW, ADDED = 0.4, 3


@dataclass(frozen=True)
class _Passage:
    """Passage of a state from one basis's modes to another's: coordinates, and heat at once.

    ``across`` (m_from, m_to); ``taken`` (m_from,) and ``held`` [J/K]: heat of the nodes that become held, of each
    mode and of one.
    """

    across: Array
    taken: Array
    held: float


class Solver:
    """An operator made ready for any process, and for the same with a looser tolerance.

    Parameters
    ----------
    operator : Operator
        Capacities and conductances.
    tolerance : float
        Largest error [K]: of a reduced basis from :data:`RESOLVED` after a jump on, or of a step of the march.
    once : bool, optional
        For one process and no other: see :class:`Reduced`.
    """

    def __init__(self, operator: Operator, *, tolerance: float, once: bool = False) -> None:
        self.operator, self.tolerance = operator, tolerance
        # None where a basis is of no use: then the march serves
        self.first = None if operator.varying is not None else Reduced(operator, tolerance=tolerance, once=once)
        self.reduced = self.first
        self._marched: tuple[Process, History] | None = None

    def without_bases(self) -> Solver:
        """The same with nothing but matrices and their factors: what it gives depends on no process met before."""
        new = copy.copy(self)
        new.reduced, new._marched = self.first.without_bases() if self.first else None, None
        return new

    def copy(self) -> Solver:
        """A copy that goes on by itself from here."""
        new = copy.copy(self)
        new.reduced = self.reduced.copy() if self.reduced else None
        return new

    @in_one_thread
    def follow(
        self, process: Process, *, trusted: bool = False, on_stage: Callable[[float], None] | None = None
    ) -> Evolution | History:
        """Follow a process from its start to its end.

        Parameters
        ----------
        process : Process
            Medium temperature and film coefficients over time.
        trusted : bool, optional
            Bases that hold the process's states are taken to be good enough for it, as they are for one much like it.
        on_stage : callable, optional
            Called after each stage with the process time reached [s].

        Raises
        ------
        NumericalError
            If a temperature is not a number, or the march cannot go on.
        """
        if self.reduced is not None:
            found = self.reduced.evolve(process, trusted=trusted, on_stage=on_stage)
            if found is not None:
                return found
            self.reduced = None
        known = self._marched
        marched = march(self.operator, process, tolerance=self.tolerance, on_stage=on_stage, known=known)
        self._marched = process, marched
        return marched

    def fields(self, vectors: Array) -> Array:
        """Vectors (k, n) over the nodes that conduct as fields (k, n_r, n_z), 0 elsewhere."""
        numbering = Numbering(self.operator.capacity > 0.0)
        return numbering.fields([vectors], np.zeros_like(self.operator.initial))

    @in_one_thread
    def follow_looser(self, process: Process, slack: float) -> Evolution | History:
        """The same with bases as they were a round earlier, or with the march's tolerance so many times larger."""
        if self.reduced is not None:
            return self.reduced.looser(process)
        return march(self.operator, process, tolerance=slack * self.tolerance)


class Reduced:
    """Reduced bases of an operator, for any process; what they know they keep.

    Parameters
    ----------
    operator : Operator
        Capacities and conductances, of constant properties.
    tolerance : float
        Largest error [K] at any node, from :data:`RESOLVED` after a jump on.
    once : bool, optional
        For one process and no other: where its medium stays as it is, a basis is made of the state that meets it
        alone, and is half as large as one that is made of what the medium's changes do as well.
    """

    def __init__(self, operator: Operator, *, tolerance: float, once: bool = False) -> None:
        self.operator, self.tolerance, self.once = operator, tolerance, once
        self.numbering = Numbering(operator.capacity > 0.0)
        self.initial, self.capacity = (
            self.numbering.vector(field) for field in (operator.initial, operator.capacity)
        )
        self.systems: dict[Film, System] = {}
        self.conduction: dict[bytes, Conduction] = {}
        self.bases: dict[Film, Basis] = {}
        self.passages: dict[tuple[int, int], tuple[Modes, Modes, _Passage]] = {}

    def without_bases(self) -> Reduced:
        """The same with nothing but matrices and their factors: what it gives depends on no process met before."""
        new = copy.copy(self)
        new.bases, new.passages = {}, {}
        return new

    def _system(self, film: Film) -> System:
        if film not in self.systems:
            self.systems[film] = system_of(self.operator, film, self.numbering, self.conduction)
        return self.systems[film]

    def copy(self) -> Reduced:
        """A copy that goes on by itself from here."""
        new = copy.copy(self)
        new.bases = {film: basis.copy() for film, basis in self.bases.items()}
        new.passages = dict(self.passages)
        return new

    def evolve(
        self, process: Process, *, trusted: bool = False, on_stage: Callable[[float], None] | None = None
    ) -> Evolution | None:
        """Follow a process from its start to its end; None where no basis of reasonable size is good enough.

        Parameters are those of :meth:`Solver.follow`.

        Raises
        ------
        NumericalError
            If a temperature is not a number.
        """
        for stage in process.stages:
            if not np.isfinite(stage.medium).all():
                bad = float(stage.time[max(0, int(np.flatnonzero(~np.isfinite(stage.medium))[0]) - 1)])
                raise NumericalError(
                    f"the march stopped at {bad / 60:.3f} min: a temperature is not a number", time_s=bad
                )
        return self._followed(process, judge=not trusted, on_stage=on_stage)

    def looser(self, process: Process) -> Evolution:
        """The same with every basis as it was a round earlier; only after :meth:`evolve`."""
        found = self._followed(process, earlier=1)
        if found is None:
            raise ValueError("the bases are not there yet")
        return found

    def _followed(
        self,
        process: Process,
        *,
        earlier: int = 0,
        judge: bool = False,
        on_stage: Callable[[float], None] | None = None,
    ) -> Evolution | None:
        legs: list[Leg] = []
        heat = 0.0
        k = 0
        while k < len(process.stages):
            film = process.stages[k].film
            same = next((n for n in range(k, len(process.stages)) if process.stages[n].film != film), None)
            stages = process.stages[k:same]
            if earlier == 0 and not self._prepared(film, stages, process, legs[-1] if legs else None, judge=judge):
                return None
            modes = self.bases[film].modes(earlier=earlier)
            state, at_once = self._entered(modes, stages[0], legs[-1] if legs else None)
            leg, gained = self._run(modes, stages, state)
            legs.append(leg)
            heat += gained + at_once
            if on_stage is not None:
                for stage in stages:
                    on_stage(stage.end)
            k += len(stages)
        last = legs[-1]
        total = float(self.capacity.sum())
        content = last.medium[-1] * total + float(last.modes.ones @ last.at_knots[-1])
        return Evolution(
            legs=tuple(legs),
            numbering=self.numbering,
            initial=self.operator.initial,
            tolerance=CUBIC * self.tolerance,
            heat_in=heat,
            stored=content - float(self.capacity @ self.initial),
            capacity=total,
        )

    def _prepared(
        self, film: Film, stages: tuple[Stage, ...], process: Process, last: Leg | None, *, judge: bool
    ) -> bool:
        """Make the basis of some films good enough for some stages; False if it does not become so."""
        new = film not in self.bases
        if new:
            basis = self.bases[film] = Basis(self._system(film), _shifts(process), self.initial)
            if not self.once or _changes(process, film):
                basis.begin(np.ones_like(self.capacity))
            self._take_in(basis, stages[0], last)
            if not basis.starts:  # all is as warm as the medium
                basis.begin(np.ones_like(self.capacity))
            basis.grow(FIRST_ROUNDS[0] if len(basis.starts) == 1 else FIRST_ROUNDS[1])
        basis = self.bases[film]
        before = np.inf
        added, fresh = 0, False
        for _ in range(MOST_ROUNDS):
            state, _ = self._entered(basis.modes(), stages[0], last)
            # a new one has been begun with this very state
            if not new and self._missed(basis.modes(), stages[0], last) > self.tolerance / 4.0:
                self._take_in(basis, stages[0], last)
                basis.grow(2)
                state, _ = self._entered(basis.modes(), stages[0], last)
            elif not (judge or new):
                return True
            change = self._last_change(basis, stages, state, last)
            # the first round of a shift of its own says little of what is left
            if change <= LAST_ROUND * self.tolerance and not fresh:
                return True
            fresh = change > SLOW * before and added < ADDED
            if fresh:
                basis.add(10.0 * basis.shifts[-1][-1])
                added += 1
            before = change
            basis.grow()
        return False

    def _take_in(self, basis: Basis, stage: Stage, last: Leg | None) -> None:
        """Let a basis go on from the state that meets a stage's medium, less the temperature of that."""
        medium = float(stage.medium[0])
        if last is None:
            basis.begin(self.initial - medium)
        else:
            basis.begin(last.at_knots[-1] @ last.modes.shapes - (medium - float(last.medium[-1])))

    def _last_change(self, basis: Basis, stages: tuple[Stage, ...], state: Array, last: Leg | None) -> float:
        """By how much the last round changed the temperatures in some stages, the most at some of the nodes [K]."""
        whole, part = basis.modes(), basis.modes(earlier=1)
        fewer = part.eigenvectors.shape[0]
        began, _ = self._entered(part, stages[0], last)
        some = sample(basis.root.size)
        one, other = self._run(whole, stages, state)[0], self._run(part, stages, began)[0]
        time = np.concatenate([stage.time[0] + _looks(float(stage.time[-1] - stage.time[0])) for stage in stages])
        piece = one.piece(time)
        difference = one.at(time, piece)[0] @ whole.eigenvectors.T
        difference[:, :fewer] -= other.at(time, piece)[0] @ part.eigenvectors.T
        return float(np.abs(difference @ (whole.vectors[:, some] / basis.root[some])).max())

    def _entered(self, modes: Modes, stage: Stage, last: Leg | None) -> tuple[Array, float]:
        """Coordinates at a stage's start, and the heat that held nodes take up at once [J]."""
        medium = float(stage.medium[0])
        if last is None:
            passage = self._first(modes)
            return passage.across[0] - medium * modes.ones, medium * passage.held - float(passage.taken[0])
        jump = medium - float(last.medium[-1])
        was = last.at_knots[-1]
        if last.modes is modes:
            return was - jump * modes.ones, modes.system.held * jump
        passage = self._passage(last.modes, modes)
        return was @ passage.across - jump * modes.ones, jump * passage.held - float(was @ passage.taken)

    def _missed(self, modes: Modes, stage: Stage, last: Leg | None) -> float:
        """Part of the state that meets a stage which the modes cannot hold, the most at some of the nodes [K]."""
        some, medium = sample(self.initial.size), float(stage.medium[0])
        if last is None:
            state = self.initial[some] - medium
        else:
            state = last.at_knots[-1] @ last.modes.sampled_shapes - (medium - float(last.medium[-1]))
        lost = state - self._entered(modes, stage, last)[0] @ modes.sampled_shapes
        return float(np.abs(lost * modes.system.free[some]).max(initial=0.0))

    def _first(self, modes: Modes) -> _Passage:
        """Passage of the temperatures at the start."""
        key = (id(None), id(modes))
        if key not in self.passages:
            held = (1.0 - modes.system.free) * self.capacity
            passage = _Passage(modes.start[None], np.array([float(held @ self.initial)]), modes.system.held)
            self.passages[key] = (modes, modes, passage)
        return self.passages[key][2]

    def _passage(self, one: Modes, other: Modes) -> _Passage:
        key = (id(one), id(other))
        if key not in self.passages:
            held = (1.0 - other.system.free) * self.capacity
            passage = _Passage(other.made_of(one.shapes), one.shapes @ held, other.system.held)
            # kept with the modes they are for, so that no others get their keys
            self.passages[key] = (one, other, passage)
        return self.passages[key][2]

    def _run(self, modes: Modes, stages: tuple[Stage, ...], state: Array) -> tuple[Leg, float]:
        """Follow modes through stages of their films: the leg, and the heat taken in [J]."""
        # a stage may begin some rounding before the end of the one before
        time = np.maximum.accumulate(np.concatenate([stage.time for stage in stages]))
        medium = np.concatenate([stage.medium for stage in stages])
        at_knots, gathered = decay(modes.rates, modes.ones, time, medium, state)
        heat = modes.system.held * float(medium[-1] - medium[0]) - float(modes.exchange @ gathered)
        return Leg(time, medium, modes, at_knots), heat


def _changes(process: Process, film: Film) -> bool:
    """True if the medium changes under a film."""
    return len({medium for stage in process.stages if stage.film == film for medium in stage.medium.tolist()}) > 1


@functools.lru_cache(maxsize=256)
def _looks(length: float) -> Array:
    """Times at which the last round's change is looked at in a stage of a length [s], from its start on [s]."""
    return RESOLVED * max(length / RESOLVED, 2.0) ** LOOKED_AT * min(length / (2.0 * RESOLVED), 1.0)


def _shifts(process: Process) -> tuple[float, ...]:
    """Rates of change [1/s] from those of the longest stage to what is resolved."""
    longest = max(stage.end - stage.start for stage in process.stages)
    low, high = 2.0 / longest, FASTEST
    if low >= high:
        return (low,)
    # whole powers of two, so that processes much alike share factors; upwards, which costs nothing in accuracy
    low = 2.0 ** math.ceil(math.log2(low))
    steps = 1 + int(math.log(high / low) / math.log(STEP))
    return tuple(low * (high / low) ** (k / steps) for k in range(steps + 1))
