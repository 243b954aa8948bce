"""``thermsim solve``."""

from __future__ import annotations

import argparse
from pathlib import Path

from thermsim.cli.answer import tell, write
from thermsim.cli.terminal import (
    Commands,
    add_command,
    add_figures,
    add_ways_to_print,
    folder_for,
    progress_bar,
    tell_then_write,
)


def solve(options: argparse.Namespace) -> int:
    """``thermsim solve CASE``: simulate, print the answer, write results, figures and report."""
    from thermsim.assess.depth.bracket import headspace_bracket, with_headspace_moves
    from thermsim.assess.simulate.simulation import simulate
    from thermsim.case.file.reader import read_case

    case = read_case(options.case)
    folder = folder_for(options.out)
    bracket = None
    if options.bracket_headspace:  # first: what cannot be bracketed is said before time is spent
        with progress_bar("bounds of the headspace", options.quiet) as progress:
            bracket = headspace_bracket(case, progress=progress)
    with progress_bar("solving", options.quiet) as progress:
        result = simulate(case, progress=progress)
        noted = with_headspace_moves(result) if bracket is None else result.noting(bracket.notice)
    return tell_then_write(
        lambda: tell(noted if bracket is None else result, options.json, bracket, full=options.full),
        lambda: write(noted, folder, Path(options.case).name, options) if folder else [],
        options,
        "add --out FOLDER to write results, figures and a report",
    )


def add_to(commands: Commands) -> None:
    """Add the subcommand to the program's."""
    command = add_command(
        commands, solve, "simulate a case and find its cold spot", "thermsim solve cases/jar.toml --out jar"
    )
    command.add_argument("case", metavar="CASE", help="the case file (TOML)")
    command.add_argument("--out", metavar="FOLDER", help="write results, report.html and figures into this folder")
    command.add_argument(
        "--bracket-headspace",
        action="store_true",
        help="also solve with an insulated and a humid headspace, to see how far the cold spot and the depth move",
    )
    add_figures(command)
    add_ways_to_print(command)
