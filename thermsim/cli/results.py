"""``thermsim show``, ``report`` and ``rerun``: what is done with a results file."""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable
from pathlib import Path

from thermsim.cli.answer import tell, write
from thermsim.cli.compare import tell_comparison, write_comparison
from thermsim.cli.study import tell_study, write_study
from thermsim.cli.terminal import (
    Commands,
    add_command,
    add_figures,
    add_ways_to_print,
    folder_for,
    list_files,
    progress_bar,
)


def show(options: argparse.Namespace) -> int:
    """``thermsim show RESULT.h5``: the answer of an earlier run, its figures and report once more."""
    tell_it, write_it = _held(Path(options.result), options)
    folder = folder_for(options.out)
    written = write_it(folder) if folder else []
    tell_it()
    if not options.json:
        list_files(written, "", options.quiet)
    return 0


def report(options: argparse.Namespace) -> int:
    """``thermsim report RESULT.h5``: report and figures from a results file alone."""
    path = Path(options.result)
    _, write_it = _held(path, options)
    list_files(write_it(folder_for(options.out) or path.parent), "", options.quiet)
    return 0


def _held(path: Path, options: argparse.Namespace) -> tuple[Callable[[], None], Callable[[Path], list[Path]]]:
    """Load what a results file holds; what tells it, and what writes its figures and report into a folder."""
    from thermsim.records.files.results import holds

    kind = holds(path)
    if kind == "comparison":
        from thermsim.records.measured.file import load_comparison

        found = load_comparison(path)
        return (
            lambda: tell_comparison(found, options.json, full=options.full),
            lambda folder: write_comparison(found, folder, options, keep=False),
        )
    if kind == "study":
        from thermsim.records.study.file import load_study

        study = load_study(path)
        return (
            lambda: tell_study(study, options.json, full=options.full),
            lambda folder: write_study(study, folder, path.name, options),
        )
    from thermsim.records.files.results import load_result

    result = load_result(path)
    return (
        lambda: tell(result, options.json, full=options.full),
        lambda folder: write(result, folder, path.name, options, keep=False),
    )


def rerun(options: argparse.Namespace) -> int:
    """``thermsim rerun RESULT.h5``: compute a results file again from itself; 3 if the two do not agree."""
    from thermsim.records.rerun import rerun as compute_again

    path = Path(options.result)
    with progress_bar("computing again", options.quiet) as progress:
        agreements = compute_again(path, progress=progress)
    worst = sorted(agreements, key=lambda one: one.part, reverse=True)
    agreed = not worst or worst[0].part <= 1.0
    if options.json:
        figures = [
            {"name": one.name, "stored": one.stored, "again": one.again, "tolerance": one.tolerance}
            for one in agreements
        ]
        print(json.dumps({"agrees": agreed, "figures": figures}, indent=1))
        return 0 if agreed else 3
    outside = [one for one in worst if one.part > 1.0]
    print(
        f"{len(agreements)} figures computed again from {path.name}; each may differ by its numerical uncertainty, "
        "or one in a million"
    )
    for one in (outside or worst)[: 10 if outside else 3]:
        print(
            f"  {one.name}: {one.stored:.8g} stored, {one.again:.8g} again, {100 * one.part:.2g} % of the tolerance "
            f"({one.tolerance:.2g}, SI units)"
        )
    print("AGREES within the tolerance" if agreed else f"DOES NOT AGREE: {len(outside)} figures differ by more")
    return 0 if agreed else 3


def add_to(commands: Commands) -> None:
    """Add the subcommands to the program's."""
    command = add_command(commands, show, "print the answer of an earlier run", "thermsim show jar/result.h5")
    command.add_argument("result", metavar="RESULT", help="a results file (HDF5): of solve, depth, compare or study")
    command.add_argument("--out", metavar="FOLDER", help="write report.html and figures into this folder")
    add_figures(command)
    add_ways_to_print(command)
    command = add_command(
        commands, report, "write report and figures from a results file", "thermsim report run/comparison.h5"
    )
    command.add_argument("result", metavar="RESULT", help="a results file (HDF5): of solve, depth, compare or study")
    command.add_argument("--out", metavar="FOLDER", help="write into this folder (default: beside the file)")
    add_figures(command)
    command = add_command(
        commands, rerun, "compute a results file again from itself", "thermsim rerun run/comparison.h5"
    )
    command.add_argument("result", metavar="RESULT", help="a results file (HDF5): of solve, depth or compare")
    command.add_argument("--json", action="store_true", help="print every figure as JSON instead of text")
