"""Run a study: what is finished already is read from its journal, the rest is made and kept as it finishes."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from pathlib import Path

from thermsim.assess.study.all_runs import AHEAD, OWN_AHEAD, finished_runs
from thermsim.assess.study.one_run import Compute, compute_run, setup_of
from thermsim.assess.study.plan import Gathered, StudyResult
from thermsim.assess.study.sampling import plan_of
from thermsim.assess.study.workers import Interrupts, own_processes
from thermsim.case.case import Case
from thermsim.records.study.journal import Journal, identity


def run_study(
    case: Case,
    *,
    journal: str | Path | None = None,
    restart: bool = False,
    executor: Executor | None = None,
    workers: int | None = None,
    progress: Callable[[int, int], None] | None = None,
    compute: Compute = compute_run,
) -> StudyResult:
    """Run a case's study.

    Parameters
    ----------
    case : Case
        With a study, read from a file or a text.
    journal : str or Path, optional
        File in which every finished run is kept at once. If it holds runs of the same case and study, they are not
        repeated. Without it nothing is kept until the end.
    restart : bool, optional
        Discard what the journal holds.
    executor : Executor, optional
        Where the runs are made: anything with the interface of ``concurrent.futures``. It is not shut down.
    workers : int, optional
        Without an executor: number of processes, by default one for each core.
    progress : callable, optional
        Called with the number of finished runs and of all runs, at the start and after each.
    compute : callable, optional
        Makes one run.

    Returns
    -------
    StudyResult
        The same whatever the number of workers, and whether or not the study was stopped and resumed.

    Raises
    ------
    InputError
        If the case has no study or did not come from a text, or the journal is of another case.
    ThermsimError
        If a worker was lost.
    """
    plan = plan_of(case)
    gathered = Gathered(plan)
    with contextlib.ExitStack() as stack:
        kept = (
            None
            if journal is None
            else stack.enter_context(Journal(Path(journal), identity(case, plan), restart=restart))
        )
        for run in () if kept is None else kept.runs():
            if 0 <= run.index < plan.runs:
                gathered.add(run)
        if progress is not None:
            progress(int(gathered.done.sum()), plan.runs)
        if not gathered.done.all():
            interrupts = stack.enter_context(Interrupts())
            executors: Sequence[Executor] = [executor] if executor is not None else own_processes(workers)
            if executor is None:
                for one in executors:
                    # an interrupt must not wait for all that was given out
                    stack.callback(one.shutdown, wait=False, cancel_futures=True)
            for finished in finished_runs(
                plan,
                setup_of(case, plan),
                gathered.done.copy(),
                executors=executors,
                compute=compute,
                ahead=OWN_AHEAD if executor is None else AHEAD,
                interrupts=interrupts,
            ):
                if kept is not None:
                    kept.add(finished)
                for run in finished:
                    gathered.add(run)
                if progress is not None:
                    progress(int(gathered.done.sum()), plan.runs)
    return gathered.result(case)
