"""``thermsim case``."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from thermsim.cli.terminal import add_command
from thermsim.errors import InputError

if TYPE_CHECKING:
    from thermsim.cli.terminal import Commands


def case(options: argparse.Namespace) -> int:
    """``thermsim case NEW.toml``: write a commented case to start from."""
    from thermsim.case.keys.template import starting_case
    from thermsim.records.files.atomic import write_text

    path = Path(options.new)
    if path.exists() and not options.force:
        raise InputError(f"{path}: already exists; add --force to replace it, or give another name")
    write_text(path, starting_case())
    if not options.quiet:
        inches = "" if options.units == "metric" else "; its keys in inches, degF, Btu, ...: thermsim keys"
        print(f"wrote {path}; adapt it, then run: thermsim solve {path}{inches}")
    return 0


def add_to(commands: Commands) -> None:
    """Add the subcommand to the program's."""
    command = add_command(commands, "case", case, "write a commented case to start from", "thermsim case my_jar.toml")
    command.add_argument("new", metavar="NEW", help="the file to write")
    command.add_argument("--force", action="store_true", help="replace an existing file")
