"""``thermsim study``."""

from __future__ import annotations

import argparse
import contextlib
import logging
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from thermsim.cli.terminal import (
    Commands,
    add_command,
    add_figures,
    add_ways_to_print,
    bar_with,
    folder_for,
    list_files,
    print_json,
    progress_bar,
    said_once,
)
from thermsim.errors import InputError
from thermsim.text import stamp
from thermsim.version import PROGRAM

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from thermsim.assess.study.plan import StudyResult

#: The journal in the study's folder.
JOURNAL = "study.journal"


def study(options: argparse.Namespace) -> int:
    """``thermsim study CASE``: make the runs of the case's study, or those that are missing, and tell the outcome."""
    from thermsim.case.file.reader import read_case
    from thermsim.records.study.running import run_study

    case = read_case(options.case)
    if case.study is None:
        raise InputError(f"{options.case}: has no [study]; add one to say what to vary")
    name = Path(options.case).name
    folder = folder_for(options.out or f"{Path(options.case).stem}-study")
    if folder is None:
        raise InputError("a study needs a folder; give --out FOLDER")
    count = [0, case.study.runs]
    try:
        with _executor(options.scheduler) as executor, runs_bar(name, options.quiet) as advance:

            def progress(done: int, runs: int) -> None:
                count[:] = done, runs
                advance(done, runs)

            result = run_study(
                case,
                journal=folder / JOURNAL,
                restart=options.restart,
                executor=executor,
                workers=options.workers,
                progress=progress,
            )
    except KeyboardInterrupt:
        print(
            f"thermsim: {count[0]} of {count[1]} runs are finished and kept in {folder}; repeat the command to go on",
            file=sys.stderr,
        )
        raise
    if not result.good.any():
        raise InputError(f"{name}: all runs failed; run 0: {result.failures[0]}")
    written = [*_keep(result, folder, options), *write_study(result, folder, name, options)]
    tell_study(result, options.json, full=options.full)
    if not options.json:
        list_files(written, "", options.quiet)
    return 0


def tell_study(result: StudyResult, as_json: bool, *, full: bool = False) -> None:
    """Print what was found, all of it or what fits a screen."""
    if as_json:
        from thermsim.records.study.summary import study_summary

        print_json(study_summary(result))
    else:
        from thermsim.records.study.sentences import study_answer

        print("\n".join(study_answer(result, full=full)))


def _keep(result: StudyResult, folder: Path, options: argparse.Namespace) -> list[Path]:
    """Write the file of the study."""
    from thermsim.records.study.file import save_csv, save_study

    save_study(result, folder / "study.h5")
    written = [folder / "study.h5"]
    if options.csv:
        save_csv(result, folder / "study.csv")
        written.append(folder / "study.csv")
    return written


def write_study(result: StudyResult, folder: Path, name: str, options: argparse.Namespace) -> list[Path]:
    """Write figures and report of a study into a folder; ``name`` is that of the file it comes from."""
    from thermsim.figures.study.files import draw_study
    from thermsim.records.files.atomic import write_text
    from thermsim.records.study.report import study_html

    with progress_bar("drawing", options.quiet) as progress:
        drawn = draw_study(result, folder, stem="figure", formats=options.figures)
        progress(0.9)
        write_text(
            folder / "report.html",
            study_html(result, drawn.svgs, program=PROGRAM, when=stamp(), case_name=result.case.file or name),
        )
        progress(1.0)
    return [*drawn.written, folder / "report.html"]


@contextlib.contextmanager
def _executor(address: str | None) -> Iterator[Executor | None]:
    """The executor of a Dask scheduler at an address; nothing, for processes on this machine, without one."""
    if address is None:
        yield None
        return
    try:
        from distributed import Client
    except ImportError:
        raise InputError('--scheduler needs the extra "cluster": pip install "thermsim[cluster]"') from None
    # Dask logs tracebacks of its own when a scheduler does not answer or is lost; what there is to say is said here
    logging.disable(logging.CRITICAL)
    try:
        try:
            client = Client(address, timeout="10s")
        except (OSError, ValueError, TypeError) as failure:
            raise InputError(f"--scheduler {address}: no scheduler answers ({failure})") from None
        with client:
            yield client.get_executor(pure=False)
    finally:
        logging.disable(logging.NOTSET)


@contextlib.contextmanager
def runs_bar(what: str, quiet: bool) -> Iterator[Callable[[int, int], None]]:
    """Progress with rate and time left, on a terminal; elsewhere a line for what takes long."""
    if quiet or not sys.stderr.isatty():
        say = said_once(f"{what}: runs of the study") if not quiet else lambda part: None
        yield lambda done, runs: say(done / runs)
        return
    with bar_with(desc=what, unit=" runs", smoothing=0.05) as bar:

        def advance(done: int, runs: int) -> None:
            if bar.total is None:  # what was finished before says nothing of the rate
                bar.total = runs
                bar.initial = done
                bar.n = done
                bar.refresh()
            bar.update(done - bar.n)

        yield advance


def _workers(text: str) -> int:
    if not (text.isdecimal() and 1 <= int(text) <= 1024):
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number from 1 to 1024")
    return int(text)


def add_to(commands: Commands) -> None:
    """Add the subcommand to the program's."""
    command = add_command(
        commands,
        study,
        "vary what is uncertain: make the runs of the case's [study]",
        "thermsim study cases/study_headspace.toml --out out/headspace",
    )
    command.add_argument("case", metavar="CASE", help="the case file (TOML), with a [study]")
    command.add_argument("--out", metavar="FOLDER", help="folder of the study (default: the case's name with -study)")
    command.add_argument("--workers", type=_workers, metavar="N", help="processes (default: one for each core)")
    command.add_argument(
        "--scheduler", metavar="ADDRESS", help="make the runs on a Dask cluster instead, tcp://host:8786"
    )
    command.add_argument("--csv", action="store_true", help="also write the runs as study.csv")
    command.add_argument("--restart", action="store_true", help="discard finished runs and begin again")
    add_figures(command)
    add_ways_to_print(command)
