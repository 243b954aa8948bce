"""The runs of a study on any executors, as they finish; what is given out at a time stays small.

Runs that have everything but their process and lethality in common share their grids, and those that differ in
lethality alone share all that takes time. They are made one after another by the same worker, as far as there is one
executor for each: such an executor is a lane of runs.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.study import Plan, Run
from thermsim.assess.study_run import Compute, Setup, Task, attempt
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
) -> Iterator[list[Run]]:
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

    Yields
    ------
    list of Run
        Those that have finished since the last; their order depends on the executors, what is in them does not.

    Raises
    ------
    ThermsimError
        If a worker was lost.
    """
    lanes = Lanes(groups_of(plan, done), len(executors))
    pending: dict[Future[Run], int] = {}
    try:
        for _ in range(ahead):  # a run for each before a second for any
            for lane, executor in enumerate(executors):
                if (index := lanes.next(lane)) is not None:
                    pending[executor.submit(attempt, compute, _task(plan, setup, index))] = lane
        while pending:
            ended, _ = wait(pending, return_when=FIRST_COMPLETED)
            freed = [pending.pop(future) for future in ended]
            for lane in freed:
                if (index := lanes.next(lane)) is not None:
                    pending[executors[lane].submit(attempt, compute, _task(plan, setup, index))] = lane
            yield sorted((_outcome(future) for future in ended), key=lambda run: run.index)
    finally:
        for future in pending:
            future.cancel()


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
    """Who makes which run.

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


def _outcome(future: Future[Run]) -> Run:
    try:
        return future.result()
    except Exception as failure:
        raise ThermsimError(
            f"a worker was lost ({type(failure).__name__}: {failure}), perhaps for want of memory; finished runs are "
            "kept: run again to go on, with fewer workers"
        ) from failure
