"""Recommendations for a family of cases, several at once; what a folder holds already is not computed again."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import h5py

from thermsim.assess.simulate.result import Result
from thermsim.assess.study.workers import Interrupts, own_processes
from thermsim.case.case import Case
from thermsim.case.study import Criterion
from thermsim.errors import InputError
from thermsim.records.files.results import load_result, save_result
from thermsim.text import plain
from thermsim.version import __version__


@dataclass(frozen=True)
class Wanted:
    """Question put to each case: the parameters of :func:`thermsim.assess.depth.recommendation.recommend`."""

    criterion: Criterion
    margin: float
    sensor_accuracy: float
    side: bool


def label(case: Case) -> str:
    """Name of a case of a family."""
    return plain(case.member or case.file or case.title, 40)


def recommend_all(
    cases: Sequence[Case],
    files: Sequence[Path],
    wanted: Wanted,
    *,
    workers: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> list[Result]:
    """Find the depth for each case, in a process for each core, and keep each result as it is found.

    Parameters
    ----------
    cases : sequence of Case
        Read from texts.
    files : sequence of Path
        A results file for each; one that holds the same, by the same version, is read instead of computed.
    wanted : Wanted
    workers : int, optional
        Number of processes; by default one for each core.
    progress : callable, optional
        Called with the number of finished cases and of all.

    Returns
    -------
    list of Result
        In the order of the cases.

    Raises
    ------
    InputError
        If a case has no depth to recommend; the message names it.
    """
    found: dict[int, Result] = {}
    for k, (case, file) in enumerate(zip(cases, files, strict=True)):
        if case.probe is None:  # said before any time is spent
            raise InputError(f"{label(case)}: the case has no [probe]: add one to ask how deep it should go")
        kept = _kept(case, file, wanted)
        if kept is not None:
            found[k] = kept
    missing = [k for k in range(len(cases)) if k not in found]
    if progress is not None:
        progress(len(found), len(cases))
    if not missing:
        return [found[k] for k in range(len(cases))]
    with contextlib.ExitStack() as stack:
        interrupts = stack.enter_context(Interrupts())
        executors = own_processes(None if workers is None else min(workers, len(missing)))
        for one in executors:
            stack.callback(one.shutdown, wait=False, cancel_futures=True)
        futures = {}
        for place, k in enumerate(missing):
            case = cases[k]
            future = executors[place % len(executors)].submit(
                keep, case.text, case.file, dict(case.attachments), files[k], wanted
            )
            futures[future] = k
            future.add_done_callback(interrupts.events.put)
        for _ in missing:
            done = interrupts.events.get()
            if done is None:
                raise KeyboardInterrupt
            k = futures[done]
            try:
                done.result()
            except InputError as failure:
                raise InputError(f"{label(cases[k])}: {failure}") from None
            found[k] = load_result(files[k])
            if progress is not None:
                progress(len(found), len(cases))
    return [found[k] for k in range(len(cases))]


def keep(text: str, name: str, attachments: Mapping[str, str], file: Path, wanted: Wanted) -> None:
    """Find the depth for one case, given as a text, and write its results file."""
    from thermsim.assess.depth.bracket import with_headspace_moves
    from thermsim.assess.depth.recommendation import recommend
    from thermsim.case.file.reader import case_from_text

    result = recommend(
        case_from_text(text, name=name, attachments=attachments),
        criterion=wanted.criterion,
        margin=wanted.margin,
        sensor_accuracy=wanted.sensor_accuracy,
        side=wanted.side,
    )
    save_result(with_headspace_moves(result), file)


def _kept(case: Case, file: Path, wanted: Wanted) -> Result | None:
    """The result that a file holds, if it is of the same case, question and version."""
    if not file.is_file():
        return None
    try:
        result = load_result(file)
        with h5py.File(file, "r") as kept:
            version = kept.attrs.get("version")
    except (InputError, OSError):
        return None
    advice, probe = result.advice, case.probe
    if advice is None or probe is None or version != __version__:
        return None
    from_side = any(one.probe.entry == "side" for one in advice.candidates)
    same = (
        (result.case.text, dict(result.case.attachments)) == (case.text, dict(case.attachments))
        and (advice.criterion, advice.sensor_accuracy) == (wanted.criterion, wanted.sensor_accuracy)
        and advice.own.recommendations[0].margin == wanted.margin
        and from_side == (wanted.side or probe.entry == "side")
    )
    return result if same else None
