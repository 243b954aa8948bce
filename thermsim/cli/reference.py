"""``thermsim verify``, ``case``, ``keys`` and ``materials``: the program's proof, and what a case is written from."""

from __future__ import annotations

import argparse
from pathlib import Path

from thermsim.cli.terminal import Commands, add_command, folder_for, list_files, print_json, progress_bar
from thermsim.errors import InputError


def verify(options: argparse.Namespace) -> int:
    """``thermsim verify``: compare the solver with exact solutions; 3 if a figure is out of bounds."""
    from thermsim.assess.verify.verification import verify as compare_with_exact
    from thermsim.records.words.verification import verification_record, verification_table

    folder = folder_for(options.out)
    with progress_bar("verifying", options.quiet) as progress:
        verification = compare_with_exact(progress=progress)
    if options.json:
        print_json(verification_record(verification), indent=2)
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


def case(options: argparse.Namespace) -> int:
    """``thermsim case NEW.toml``: write a commented case to start from."""
    from thermsim.case.keys.template import starting_case
    from thermsim.records.files.atomic import write_text

    path = Path(options.new)
    if path.exists() and not options.force:
        raise InputError(f"{path}: already exists; add --force to replace it, or give another name")
    write_text(path, starting_case(options.units))
    if not options.quiet:
        print(f"wrote {path}; adapt it, then run: thermsim solve {path}")
    return 0


def keys(options: argparse.Namespace) -> int:
    """``thermsim keys [TABLE]``: the keys of a case file, all tables or one."""
    from thermsim.case.keys.tables import HEADINGS
    from thermsim.case.keys.template import TOP, key_table, table_list

    if options.table:
        print(key_table(options.table))
    else:
        print("\n\n".join([table_list(), *(key_table(table or TOP) for table in HEADINGS)]))
    return 0


def materials(options: argparse.Namespace) -> int:
    """``thermsim materials``: the built-in library, or one material with the source of its numbers."""
    from thermsim.physics.materials import find_material, library
    from thermsim.systems import told_columns

    chosen = [find_material(options.name)] if options.name else list(dict.fromkeys(library().values()))
    if options.json:
        record = [
            {
                "name": one.name,
                "conductivity_W_mK": one.conductivity,
                "density_kg_m3": one.density,
                "specific_heat_J_kgK": one.specific_heat,
                "diffusivity_m2_s": one.diffusivity,
                "source": one.source,
            }
            for one in chosen
        ]
        print_json(record, indent=2)
        return 0
    heads, rows = told_columns(
        ("material", "k, W/mK", "rho, kg/m3", "c, J/kgK", "k/(rho c), mm2/s"),
        [
            (
                one.name,
                *(f"{value:g}" for value in (one.conductivity, one.density, one.specific_heat)),
                f"{1e6 * one.diffusivity:.4g}",
            )
            for one in chosen
        ],
    )
    for name, *values in (heads, *rows):
        print(f"{name:24s}" + "".join(f"{value:>18s}" for value in values))
    more = (
        f"source: {chosen[0].source}" if options.name else '"thermsim materials NAME" shows the source of its numbers'
    )
    print(more)
    return 0


def add_to(commands: Commands) -> None:
    """Add the subcommands to the program's."""
    command = add_command(
        commands, verify, "compare the solver with exact solutions", "thermsim verify --out verification"
    )
    command.add_argument("--out", metavar="FOLDER", help="write a figure into this folder")
    command.add_argument("--json", action="store_true", help="print the table as JSON")
    command = add_command(commands, case, "write a commented case to start from", "thermsim case my_jar.toml")
    command.add_argument("new", metavar="NEW", help="the file to write")
    command.add_argument("--force", action="store_true", help="replace an existing file")
    command = add_command(
        commands, keys, "print the keys of the case format: unit, range, default and meaning", "thermsim keys probe"
    )
    command.add_argument("table", metavar="TABLE", nargs="?", help="only the keys of this table")
    command = add_command(commands, materials, "list the built-in materials", 'thermsim materials "soda-lime glass"')
    command.add_argument("name", metavar="NAME", nargs="?", help="only this one, with the source of its numbers")
    command.add_argument("--json", action="store_true", help="print the list as JSON")
