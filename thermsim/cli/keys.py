"""``thermsim keys``."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from thermsim.cli.terminal import add_command

if TYPE_CHECKING:
    from thermsim.cli.terminal import Commands


def keys(options: argparse.Namespace) -> int:
    """``thermsim keys [TABLE]``: the keys of a case file, all tables or one."""
    from thermsim.case.keys.tables import HEADINGS
    from thermsim.case.keys.template import TOP, key_table, table_list

    if options.table:
        print(key_table(options.table))
    else:
        print("\n\n".join([table_list(), *(key_table(table or TOP) for table in HEADINGS)]))
    return 0


def add_to(commands: Commands) -> None:
    """Add the subcommand to the program's."""
    command = add_command(
        commands,
        "keys",
        keys,
        "print the keys of the case format: unit, range, default and meaning",
        "thermsim keys probe",
    )
    command.add_argument("table", metavar="TABLE", nargs="?", help="only the keys of this table")
