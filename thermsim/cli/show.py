"""``thermsim show``."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from thermsim.cli.answer import tell, write
from thermsim.cli.compare import tell_comparison, write_comparison
from thermsim.cli.study import tell_study, write_study
from thermsim.cli.terminal import add_command, add_figures, add_ways_to_print, folder_for, list_files

if TYPE_CHECKING:
    from thermsim.cli.terminal import Commands


def show(options: argparse.Namespace) -> int:
    """``thermsim show RESULT.h5``: the answer of an earlier run, its figures and report once more."""
    from thermsim.records.files.results import holds, load_result

    path = Path(options.result)
    held = holds(path)
    folder = folder_for(options.out)
    written: list[Path] = []
    if held == "comparison":
        from thermsim.records.measured.file import load_comparison

        found = load_comparison(path)
        written = write_comparison(found, folder, options, keep=False) if folder else []
        tell_comparison(found, options.json, full=options.full)
    elif held == "study":
        from thermsim.records.study.file import load_study

        study = load_study(path)
        written = write_study(study, folder, path.name, options) if folder else []
        tell_study(study, options.json, full=options.full)
    else:
        result = load_result(path)
        written = write(result, folder, path.name, options, keep=False) if folder else []
        tell(result, options.json, full=options.full)
    if not options.json:
        list_files(written, "", options.quiet)
    return 0


def add_to(commands: Commands) -> None:
    """Add the subcommand to the program's."""
    command = add_command(commands, "show", show, "print the answer of an earlier run", "thermsim show jar/result.h5")
    command.add_argument("result", metavar="RESULT", help="a results file (HDF5): of solve, depth, compare or study")
    command.add_argument("--out", metavar="FOLDER", help="write report.html and figures into this folder")
    add_figures(command)
    add_ways_to_print(command)
