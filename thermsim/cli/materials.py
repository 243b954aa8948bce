"""``thermsim materials``."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING

from thermsim.cli.terminal import add_command

if TYPE_CHECKING:
    from thermsim.cli.terminal import Commands


def materials(options: argparse.Namespace) -> int:
    """``thermsim materials``: the built-in library, or one material with the source of its numbers."""
    from thermsim.physics.materials import find_material, library
    from thermsim.systems import told_columns

    chosen = [find_material(options.name)] if options.name else list(dict.fromkeys(library().values()))
    if options.json:
        record = [
            {
                "name": material.name,
                "conductivity_W_mK": material.conductivity,
                "density_kg_m3": material.density,
                "specific_heat_J_kgK": material.specific_heat,
                "diffusivity_m2_s": material.diffusivity,
                "source": material.source,
            }
            for material in chosen
        ]
        print(json.dumps(record, indent=2))
        return 0
    heads, rows = told_columns(
        ("material", "k, W/mK", "rho, kg/m3", "c, J/kgK", "k/(rho c), mm2/s"),
        [
            (
                one.name,
                f"{one.conductivity:g}",
                f"{one.density:g}",
                f"{one.specific_heat:g}",
                f"{1e6 * one.diffusivity:.4g}",
            )
            for one in chosen
        ],
    )
    for name, *values in (heads, *rows):
        print(f"{name:24s}" + "".join(f"{value:>18s}" for value in values))
    if options.name:
        print(f"source: {chosen[0].source}")
    if not options.name:
        print('"thermsim materials NAME" shows the source of its numbers')
    return 0


def add_to(commands: Commands) -> None:
    """Add the subcommand to the program's."""
    command = add_command(
        commands, "materials", materials, "list the built-in materials", 'thermsim materials "soda-lime glass"'
    )
    command.add_argument("name", metavar="NAME", nargs="?", help="only this one, with the source of its numbers")
    command.add_argument("--json", action="store_true", help="print the list as JSON")
