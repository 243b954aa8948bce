"""The command line: one file a subcommand, each a thin layer over the Python API.

What a subcommand needs is imported inside it, so that ``--help`` answers at once.
"""

from thermsim.cli.program import main

__all__ = ["main"]
