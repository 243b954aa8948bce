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
    print(f"{'material':24s}{'k, W/mK':>10s}{'rho, kg/m3':>12s}{'c, J/kgK':>10s}{'k/(rho c), m2/s':>17s}")
    for material in chosen:
        print(
            f"{material.name:24s}{material.conductivity:10.4g}{material.density:12.5g}{material.specific_heat:10.4g}"
            f"{material.diffusivity:17.3e}"
        )
        if options.name:
            print(f"source: {material.source}")
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
