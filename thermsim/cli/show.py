"""``thermsim show``."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from thermsim.cli.answer import tell, write
from thermsim.cli.terminal import add_command, add_figures, add_ways_to_print, folder_for, list_files

if TYPE_CHECKING:
    from thermsim.cli.terminal import Commands


def show(options: argparse.Namespace) -> int:
    """``thermsim show RESULT.h5``: the answer of an earlier run, its figures and report once more."""
    from thermsim.records.files.results import load_result

    result = load_result(Path(options.result))
    folder = folder_for(options.out)
    written = write(result, folder, Path(options.result).name, options, keep=False) if folder else []
    tell(result, options.json, full=options.full)
    if not options.json:
        list_files(written, "", options.quiet)
    return 0


def add_to(commands: Commands) -> None:
    """Add the subcommand to the program's."""
    command = add_command(commands, "show", show, "print the answer of an earlier run", "thermsim show jar/result.h5")
    command.add_argument("result", metavar="RESULT", help="the results file (HDF5) of an earlier run")
    command.add_argument("--out", metavar="FOLDER", help="write report.html and figures into this folder")
    add_figures(command)
    add_ways_to_print(command)
