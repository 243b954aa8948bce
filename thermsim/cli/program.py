"""The program: its subcommands, and what becomes of errors and interrupts."""

from __future__ import annotations

import argparse
import contextlib
import os
import sys
from collections.abc import Sequence

from thermsim.cli import compare, depth, page, reference, results, solve, study
from thermsim.cli.terminal import Help, Parser
from thermsim.errors import CaseError, InputError, ThermsimError
from thermsim.solve.compiled import tell_once
from thermsim.systems import shown_in, told
from thermsim.threads import ask_for_one
from thermsim.version import PROGRAM

INTERRUPTED = 130

DESCRIPTION = """\
Find the slowest-heating point of a sealed food container before a probe hole is drilled: a simulation of heat
conduction through container and product, with the lethality gathered everywhere and the numerical uncertainty of
every figure."""

EPILOG = """\
examples:
  thermsim case my_jar.toml                 write a commented case to start from
  thermsim keys probe                       print the keys of the case's [probe]: unit, range, default, meaning
  thermsim solve my_jar.toml                print where the cold spot is
  thermsim solve my_jar.toml --out my_jar   also write results, figures and a report into the folder my_jar
  thermsim show my_jar/result.h5            print the answer of an earlier run
  thermsim depth my_jar.toml --out my_jar   recommend how deep the case's probe should go, with a bench sheet
  thermsim study my_jar.toml --out study    vary what the case's [study] says is uncertain
  thermsim compare my_can.toml run.csv --out run   compare a measured run with the model
  thermsim verify                           compare the solver with exact solutions

A simulation is not a validation. Scheduled processes are set by the process authority, under local regulation and
licensed practice, from measured heat penetration. Conduction only: products that flow or are stirred heat otherwise.
"""

#: Said before the first wait.
COMPILING = "compiling what properties that change with temperature need (once after installing, some seconds)"


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line with the words after the program's name, those of ``sys.argv`` by default.

    The exit code is 0 done, 2 bad input, 3 a numerical failure or a check not passed, 130 interrupted.
    """
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:  # closed by whoever started this program: nobody listens
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115
    ask_for_one()
    options = parser().parse_args(arguments)
    tell_once(None if options.quiet else lambda: print(COMPILING, file=sys.stderr, flush=True))
    try:
        with shown_in(options.units):
            code = int(options.run(options))
        sys.stdout.flush()
        return code
    except BrokenPipeError:
        # whoever read our output has stopped reading; nothing is left to be said
        with contextlib.suppress(OSError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except (KeyboardInterrupt, SystemError) as failure:
        # an interrupt that falls into a compiled loop comes out of it wrapped
        if options.debug or not _is_interrupt(failure):
            raise
        print("thermsim: stopped; files that were finished are kept", file=sys.stderr)
        return INTERRUPTED
    except ThermsimError as failure:
        if options.debug:
            raise
        for line in failure.faults if isinstance(failure, CaseError) else [str(failure)]:
            with shown_in(options.units):
                print(f"thermsim: {told(line)}", file=sys.stderr)
        return failure.exit_code
    except OSError as failure:
        # what is written by this program is guarded; this is the terminal, or a pipe on a full disk
        if options.debug:
            raise
        print(f"thermsim: cannot write the answer: {failure.strerror}", file=sys.stderr)
        with contextlib.suppress(OSError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return InputError.exit_code


def _is_interrupt(failure: BaseException) -> bool:
    """True if an error is, or was in the end raised by, an interrupt from the keyboard."""
    origin: BaseException | None = failure
    while origin is not None and not isinstance(origin, KeyboardInterrupt):
        origin = origin.__cause__ or origin.__context__
    return origin is not None


def parser() -> argparse.ArgumentParser:
    """The parser of the command line, with all subcommands."""
    whole = Parser(prog="thermsim", description=DESCRIPTION, epilog=EPILOG, formatter_class=Help)
    whole.add_argument("--version", action="version", version=PROGRAM)
    commands = whole.add_subparsers(title="commands", metavar="COMMAND", required=True)
    for module in (solve, depth, compare, study, results, page, reference):
        module.add_to(commands)
    return whole
