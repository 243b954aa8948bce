"""``thermsim page``."""

from __future__ import annotations

import argparse
import importlib.util

from thermsim.cli.terminal import Commands, add_command
from thermsim.errors import InputError

#: Where the page listens unless it is told otherwise: this machine alone.
LOOPBACK = "127.0.0.1"
NEEDED = 'the page needs NiceGUI, which is not installed; run: pip install "thermsim[page]"'


def page(options: argparse.Namespace) -> int:
    """``thermsim page [CASE]``: serve the bench in the browser until Ctrl-C."""
    if importlib.util.find_spec("nicegui") is None:
        raise InputError(NEEDED)
    from thermsim.page.server import serve, starting_draft

    draft = starting_draft(options.case)
    if options.address not in (LOOPBACK, "localhost"):
        print(
            f"thermsim: listening on {options.address}: everybody who can reach this machine there and knows the "
            "address below can read and change what is on the page, and nothing is encrypted"
        )
    serve(draft, address=options.address, port=options.port, browser=not options.no_browser)
    return 0


def _port(text: str) -> int:
    try:
        value = int(text)
    except ValueError:
        value = -1
    if not 0 <= value <= 65535:
        raise argparse.ArgumentTypeError(f"{text!r} is not a port, 0 to 65535")
    return value


def add_to(commands: Commands) -> None:
    """Add the subcommand to the program's."""
    command = add_command(
        commands, page, "change a case in the browser and see its cold spot move", "thermsim page cases/jar.toml"
    )
    command.add_argument("case", metavar="CASE", nargs="?", help="the case file to begin with (TOML)")
    command.add_argument("--port", type=_port, default=0, metavar="N", help="port to listen on (default: a free one)")
    command.add_argument(
        "--address",
        default=LOOPBACK,
        metavar="IP",
        help="address to listen on (default: %(default)s, which this machine alone can reach)",
    )
    command.add_argument("--no-browser", action="store_true", help="print the address, and open no browser")
