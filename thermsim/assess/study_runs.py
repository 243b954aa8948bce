"""The runs of a study on any executor, as they finish; what is given out at a time stays small."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.study import Plan, Run
from thermsim.assess.study_run import Compute, Setup, Task, attempt
from thermsim.errors import ThermsimError

#: Runs given out and not finished yet, at most.
AHEAD = 256


def finished_runs(
    plan: Plan,
    setup: Setup,
    done: NDArray[np.bool_],
    *,
    executor: Executor,
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
    executor : Executor
        Anything with the interface of ``concurrent.futures``.
    compute : callable
        Makes one run; it must be importable where the executor runs it.
    ahead : int, optional
        So many runs are given out at a time.

    Yields
    ------
    list of Run
        Those that have finished since the last; their order depends on the executor, what is in them does not.

    Raises
    ------
    ThermsimError
        If a worker was lost.
    """
    todo = iter(np.flatnonzero(~done).tolist())
    pending: set[Future[Run]] = set()
    try:
        while True:
            while len(pending) < ahead and (index := next(todo, None)) is not None:
                task = Task(index, setup, tuple(plan.values[index].tolist()))
                pending.add(executor.submit(attempt, compute, task))
            if not pending:
                return
            ended, pending = wait(pending, return_when=FIRST_COMPLETED)
            yield sorted((_outcome(future) for future in ended), key=lambda run: run.index)
    finally:
        for future in pending:
            future.cancel()


def _outcome(future: Future[Run]) -> Run:
    try:
        return future.result()
    except Exception as failure:
        raise ThermsimError(
            f"a worker was lost ({type(failure).__name__}: {failure}), perhaps for want of memory; finished runs are "
            "kept: run again to go on, with fewer workers"
        ) from failure
