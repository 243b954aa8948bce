"""Run a study: what is finished already is read from its journal, the rest is made and kept as it finishes."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from pathlib import Path

from numpy.typing import ArrayLike

from thermsim.assess.study.all_runs import AHEAD, OWN_AHEAD, finished_runs
from thermsim.assess.study.one_run import Compute, compute_run, setup_of
from thermsim.assess.study.plan import Gathered, StudyResult
from thermsim.assess.study.sampling import plan_of
from thermsim.assess.study.workers import Interrupts, own_processes
from thermsim.case.case import Case
from thermsim.case.study import Distribution, Study
from thermsim.records.study.journal import Journal, identity


def run_study(
    case: Case,
    vary: Mapping[str, ArrayLike | Distribution] | Study | None = None,
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
        What is varied.
    vary : mapping of str to array-like or distribution, or Study, optional
        Numbers of the case by their paths, in SI units and degC: "fill.headspace", "fill.height", "fill.fraction",
        "fill.mass", "container.inner_diameter", "container.inner_height", "process.hold", "process.hold_temperature",
        "process.film", and every attribute that is a number, such as "container.side.thickness",
        "product.material.conductivity", "process.stages[1].film.lid", "probe.segments[0].diameter". Arrays are laid
        on a grid, the last quantity changing fastest; distributions of scipy.stats are drawn from. For more, such as
        Sobol indices, one depth for all runs or a required hold in each, give a :class:`Study`, begun by
        ``Study.of``. Left out: the study of the case's own file.
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
        The same whatever the number of workers, and whether or not the study was stopped and resumed. ``values`` and
        ``figures`` are its arrays.

    Raises
    ------
    InputError
        If there is no study, a path leads nowhere, or the journal is of another case.
    ThermsimError
        If a worker or a scheduler was lost.

    Examples
    --------
    >>> from concurrent.futures import ThreadPoolExecutor  # in this process, where a script needs no guard
    >>> import thermsim
    >>> case = thermsim.read_case("cases/cup.toml").replace(accuracy=thermsim.Accuracy(1.0, 0.2, 5e-3))
    >>> with ThreadPoolExecutor(1) as here:
    ...     found = thermsim.run_study(case, {"fill.headspace": [0.004, 0.012]}, executor=here)
    >>> found.values["fill.headspace"], found.figures["least_lethality"].shape
    (array([0.004, 0.012]), (2,))
    """
    if vary is not None:
        case = case.replace(study=vary if isinstance(vary, Study) else Study.of(vary))
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
