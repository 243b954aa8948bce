"""``thermsim verify``."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING

from thermsim.cli.terminal import add_command, folder_for, list_files, progress_bar

if TYPE_CHECKING:
    from thermsim.cli.terminal import Commands


def verify(options: argparse.Namespace) -> int:
    """``thermsim verify``: compare the solver with exact solutions; 3 if a figure is out of bounds."""
    from thermsim.assess.verify.verification import verify as compare_with_exact
    from thermsim.records.words.verification import verification_record, verification_table

    folder = folder_for(options.out)
    with progress_bar("verifying", options.quiet) as progress:
        verification = compare_with_exact(progress=progress)
    if options.json:
        print(json.dumps(verification_record(verification), indent=2, allow_nan=False))
    else:
        print("\n".join(verification_table(verification)))
    if folder:
        from thermsim.figures.files import save_figure
        from thermsim.figures.verification import plot_verification

        figure = plot_verification(verification.rows, verification.space, verification.time)
        written = [save_figure(figure, folder / f"verification.{kind}") for kind in ("png", "svg")]
        if not options.json:
            list_files(written, "", options.quiet)
    return 0 if verification.passed else 3


def add_to(commands: Commands) -> None:
    """Add the subcommand to the program's."""
    command = add_command(
        commands, "verify", verify, "compare the solver with exact solutions", "thermsim verify --out verification"
    )
    command.add_argument("--out", metavar="FOLDER", help="write a figure into this folder")
    command.add_argument("--json", action="store_true", help="print the table as JSON")
