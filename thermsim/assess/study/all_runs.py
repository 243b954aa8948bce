"""The runs of a study on any executors, as they finish; what is given out at a time stays small.

Runs that have everything but their process and lethality in common share their grids, and those that differ in
lethality alone share all that takes time. They are made one after another by the same worker, as far as there is one
executor for each: such an executor is a lane of runs.
"""

from __future__ import annotations

import contextlib
from collections import deque
from collections.abc import Iterator, Sequence
from concurrent.futures import CancelledError, Executor, Future
from queue import Empty

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.study.one_run import Compute, Setup, Task, attempt
from thermsim.assess.study.plan import Plan, StudyRun
from thermsim.assess.study.workers import Interrupts
from thermsim.errors import ThermsimError

#: Runs given out to an executor of many workers and not finished yet, at most.
AHEAD = 256
#: The same for a worker with an executor of its own: one that it makes, one that waits.
OWN_AHEAD = 2


def finished_runs(
    plan: Plan,
    setup: Setup,
    done: NDArray[np.bool_],
    *,
    executors: Sequence[Executor],
    compute: Compute,
    ahead: int = AHEAD,
    interrupts: Interrupts | None = None,
) -> Iterator[list[StudyRun]]:
    """Make the runs that are not done yet.

    Parameters
    ----------
    plan : Plan
    setup : Setup
        What all of them share.
    done : ndarray of bool, shape (n_runs,)
        Runs that are left out.
    executors : sequence of Executor
        Anything with the interface of ``concurrent.futures``: one for all workers, or one for each.
    compute : callable
        Makes one run; it must be importable where the executor runs it.
    ahead : int, optional
        So many runs are given out to an executor at a time.
    interrupts : Interrupts, optional
        Where the caller has interrupts gathered.

    Yields
    ------
    list of StudyRun
        Those that have finished since the last; their order depends on the executors, what is in them does not.

    Raises
    ------
    ThermsimError
        If a worker or a scheduler was lost.
    KeyboardInterrupt
        If one was gathered; what had finished by then has been yielded.
    """
    gathered = interrupts or Interrupts()
    lanes = Lanes(groups_of(plan, done), len(executors))
    pending: dict[Future[StudyRun], int] = {}

    def give_out(lane: int) -> None:
        if not gathered.pressed and (index := lanes.next(lane)) is not None:
            try:
                future = executors[lane].submit(attempt, compute, _task(plan, setup, index))
            except Exception as failure:  # each kind of executor has its own for being broken or closed
                raise _lost(failure) from failure
            pending[future] = lane
            future.add_done_callback(gathered.events.put)

    try:
        for _ in range(ahead):  # a run for each before a second for any
            for lane in range(len(executors)):
                give_out(lane)
        while pending:
            events = [gathered.events.get(), *_at_hand(gathered)]
            ended = [event for event in events if event is not None]
            runs = sorted(map(_outcome, ended), key=lambda run: run.index)
            for future in ended:
                give_out(pending.pop(future))
            if runs:
                yield runs
            if gathered.pressed:
                raise KeyboardInterrupt
    finally:
        for future in pending:
            future.cancel()


def _at_hand(gathered: Interrupts) -> Iterator[Future[StudyRun] | None]:
    """Events that are there already."""
    with contextlib.suppress(Empty):
        while True:
            yield gathered.events.get_nowait()


def groups_of(plan: Plan, done: NDArray[np.bool_]) -> list[list[int]]:
    """Runs that are not done, those together that share a body; the groups in the order of their first runs.

    Within a group runs of one process come together.
    """
    trails = [place.trail[0] for place in plan.places]
    of_body = [k for k, table in enumerate(trails) if table not in ("process", "lethality")]
    of_process = [k for k, table in enumerate(trails) if table == "process"]
    groups: dict[bytes, dict[bytes, list[int]]] = {}
    for index in np.flatnonzero(~done).tolist():
        values = plan.values[index]
        alike = groups.setdefault(values[of_body].tobytes(), {})
        alike.setdefault(values[of_process].tobytes(), []).append(index)
    return [[index for part in group.values() for index in part] for group in groups.values()]


class Lanes:
    """Assignment of the runs to lanes.

    A lane takes a group and makes all of it; when no groups are left it takes over half of what the one with the most
    still has.

    Parameters
    ----------
    groups : sequence of lists of int
        Numbers of runs.
    lanes : int
        How many there are.
    """

    def __init__(self, groups: Sequence[list[int]], lanes: int) -> None:
        self._groups = deque(groups)
        self._own: list[deque[int]] = [deque() for _ in range(lanes)]

    def next(self, lane: int) -> int | None:
        """The next run of a lane; None if there is none."""
        own = self._own[lane]
        if not own:
            if self._groups:
                own.extend(self._groups.popleft())
            else:
                longest = max(self._own, key=len)
                taken = [longest.pop() for _ in range((len(longest) + 1) // 2)]
                own.extend(reversed(taken))
        return own.popleft() if own else None


def _task(plan: Plan, setup: Setup, index: int) -> Task:
    return Task(index, setup, tuple(plan.values[index].tolist()))


def _outcome(future: Future[StudyRun]) -> StudyRun:
    try:
        return future.result()
    except Exception as failure:
        raise _lost(failure) from failure


def _lost(failure: Exception) -> ThermsimError:
    if isinstance(failure, CancelledError):  # not by this program, which asks for none that it has cancelled
        return ThermsimError(
            "the scheduler was lost, and with it the runs given out; finished runs are kept: run again to go on, "
            "with a scheduler or without"
        )
    return ThermsimError(
        f"a worker was lost ({type(failure).__name__}: {failure}), perhaps for want of memory; finished runs are "
        "kept: run again to go on, with fewer workers"
    )
