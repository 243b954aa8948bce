"""``thermsim rerun``."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING

from thermsim.cli.terminal import add_command, progress_bar

if TYPE_CHECKING:
    from thermsim.cli.terminal import Commands


def rerun(options: argparse.Namespace) -> int:
    """``thermsim rerun RESULT.h5``: compute a results file again from itself; 3 if the two do not agree."""
    from thermsim.records.rerun import rerun as compute_again

    with progress_bar("computing again", options.quiet) as progress:
        agreements = compute_again(Path(options.result), progress=progress)
    worst = sorted(agreements, key=lambda one: one.part, reverse=True)
    agreed = not worst or worst[0].part <= 1.0
    if options.json:
        print(
            json.dumps(
                {
                    "agrees": agreed,
                    "figures": [
                        {"name": one.name, "stored": one.stored, "again": one.again, "tolerance": one.tolerance}
                        for one in agreements
                    ],
                },
                indent=1,
            )
        )
        return 0 if agreed else 3
    outside = [one for one in worst if one.part > 1.0]
    print(
        f"{len(agreements)} figures computed again from {Path(options.result).name}; each may differ by its "
        "numerical uncertainty, or one in a million"
    )
    for one in (outside or worst)[: 10 if outside else 3]:
        print(
            f"  {one.name}: {one.stored:.8g} stored, {one.again:.8g} again, {100 * one.part:.2g} % of the tolerance "
            f"({one.tolerance:.2g}, SI units)"
        )
    print("AGREES within the tolerance" if agreed else f"DOES NOT AGREE: {len(outside)} figures differ by more")
    return 0 if agreed else 3


def add_to(commands: Commands) -> None:
    """Add the subcommand to the program's."""
    command = add_command(
        commands, "rerun", rerun, "compute a results file again from itself", "thermsim rerun run/comparison.h5"
    )
    command.add_argument("result", metavar="RESULT", help="a results file (HDF5): of solve, depth or compare")
    command.add_argument("--json", action="store_true", help="print every figure as JSON instead of text")
