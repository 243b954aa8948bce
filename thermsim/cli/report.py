"""``thermsim report``."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from thermsim.cli.answer import write
from thermsim.cli.compare import write_comparison
from thermsim.cli.study import write_study
from thermsim.cli.terminal import add_command, add_figures, folder_for, list_files

if TYPE_CHECKING:
    from thermsim.cli.terminal import Commands


def report(options: argparse.Namespace) -> int:
    """``thermsim report RESULT.h5``: report and figures from a results file alone."""
    from thermsim.records.files.results import holds, load_result

    path = Path(options.result)
    held = holds(path)
    if held == "comparison":
        from thermsim.records.measured.file import load_comparison

        found = load_comparison(path)
        folder = folder_for(options.out) or path.parent
        written = write_comparison(found, folder, options, keep=False)
    elif held == "study":
        from thermsim.records.study.file import load_study

        folder = folder_for(options.out) or path.parent
        written = write_study(load_study(path), folder, path.name, options)
    else:
        result = load_result(path)
        folder = folder_for(options.out) or path.parent
        written = write(result, folder, path.name, options, keep=False)
    list_files(written, "", options.quiet)
    return 0


def add_to(commands: Commands) -> None:
    """Add the subcommand to the program's."""
    command = add_command(
        commands,
        "report",
        report,
        "write report and figures from a results file",
        "thermsim report run/comparison.h5",
    )
    command.add_argument("result", metavar="RESULT", help="a results file (HDF5): of solve, depth, compare or study")
    command.add_argument("--out", metavar="FOLDER", help="write into this folder (default: beside the file)")
    add_figures(command)
