"""Options, folders, the progress bar and the list of files, which all subcommands share."""

from __future__ import annotations

import argparse
import contextlib
import json
import math
import os
import re
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, TypeAlias

from thermsim.errors import InputError
from thermsim.systems import SYSTEMS
from thermsim.text import did_you_mean, plain

if TYPE_CHECKING:
    from tqdm import tqdm

Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"


class Parser(argparse.ArgumentParser):
    """A parser that answers a mistyped word in one line with the nearest one that is known."""

    def error(self, message: str) -> NoReturn:
        """Say what is wrong and leave with exit code 2."""
        choice = re.fullmatch(r"argument COMMAND: invalid choice: '(.*)' \(choose from (.*)\)", message)
        unknown = re.fullmatch(r"unrecognized arguments: (.*)", message)
        if choice:
            word, known = choice[1], [name.strip(" '") for name in choice[2].split(",")]
            hint = f"write: thermsim solve {word}" if word.endswith(".toml") else did_you_mean(word, known)
            message = f'"{plain(word)}" is no command; {hint}'
        elif unknown and unknown[1].startswith("-"):
            word = unknown[1].split()[0].partition("=")[0]
            options = {name for action in self._every_action() for name in action.option_strings}
            alike = [name for name in sorted(options) if name.startswith(f"-{word[:2]}")] if len(word) == 2 else []
            hint = "other commands have it" if word in options else did_you_mean(word, alike or sorted(options))
            message = f"{plain(word)} is no option here; {hint}"
        self.exit(2, f"{self.prog.split()[0]}: {message}; see {self.prog} --help\n")

    def _every_action(self) -> Iterator[argparse.Action]:
        """The options of this parser, and of its commands, which leave words that they do not know to it."""
        for action in self._actions:
            yield action
            if isinstance(action, argparse._SubParsersAction):
                for command in action.choices.values():
                    yield from command._actions


class Help(argparse.RawDescriptionHelpFormatter):
    """Help with examples kept as written, and room for the longest command's name."""

    def __init__(self, prog: str) -> None:
        super().__init__(prog, max_help_position=30, width=110)


def add_command(
    commands: Commands, run: Callable[[argparse.Namespace], int], help_: str, example: str
) -> argparse.ArgumentParser:
    """Add a subcommand called like what it runs, with the options that all have, and a line that shows its use."""
    command = commands.add_parser(
        run.__name__,
        help=help_,
        description=help_[0].upper() + help_[1:] + ".",
        epilog=f"example:\n  {example}",
        formatter_class=Help,
    )
    command.set_defaults(run=run)
    command.add_argument(
        "--units",
        choices=SYSTEMS,
        default=SYSTEMS[0],
        help="units of screens, bench sheet and report; JSON and results files stay (default: %(default)s)",
    )
    command.add_argument("--quiet", action="store_true", help="no progress bar, no list of files written")
    command.add_argument("--debug", action="store_true", help="show the full traceback of an error")
    return command


def add_ways_to_print(command: argparse.ArgumentParser) -> None:
    """Add the options of what is printed: by default what fits a screen."""
    ways = command.add_mutually_exclusive_group()
    ways.add_argument("--full", action="store_true", help="print everything, conventions and cautions in full")
    ways.add_argument("--json", action="store_true", help="print the result as JSON instead of text")


#: Where there is no terminal a word is said of what takes longer than this [s].
PATIENCE = 5.0
#: ... unless more than this part of it is done.
NEARLY_OVER = 0.8
#: Formats of figures in files.
FORMATS = ("png", "svg", "pdf")


def add_figures(command: argparse.ArgumentParser) -> None:
    """Add the option of the figures' files; the report holds them in any case."""
    command.add_argument(
        "--figures",
        type=_formats,
        default=("png",),
        metavar="FORMATS",
        help=f"formats of the figures' files: {', '.join(FORMATS)}, several with commas, or none (default: png)",
    )


def _formats(text: str) -> tuple[str, ...]:
    """Formats, for the parser."""
    names = tuple(dict.fromkeys(part.strip().lower() for part in text.split(",")))
    if names == ("none",):
        return ()
    unknown = next((name for name in names if name not in FORMATS), None)
    if unknown is not None:
        raise argparse.ArgumentTypeError(f"{unknown!r} is no format; allowed: {', '.join(FORMATS)}, or none")
    return names


def number_in(text: str) -> float:
    """A number as it is written; NaN where there is none."""
    try:
        return float(text)
    except ValueError:
        return math.nan


def positive(text: str) -> float:
    """A number above 0, for the parser."""
    value = number_in(text)
    if not 0.0 < value < 1e3:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number above 0 and below 1000")
    return value


def folder_for(out: str | None) -> Path | None:
    """Make the folder that results go to, before any time is spent, and clear it of what killed runs left."""
    if out is None:
        return None
    from thermsim.records.files.atomic import clear_leftovers

    folder = Path(out)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as failure:
        raise InputError(f"{folder}: cannot be created or is not a folder ({failure.strerror})") from None
    if not os.access(folder, os.W_OK):
        raise InputError(f"{folder}: the folder is not writable")
    clear_leftovers(folder)
    return folder


@contextlib.contextmanager
def alone_in(folder: Path) -> Iterator[None]:
    """Write into a folder while no other run of this program does: what stands there is all of one run."""
    try:
        import fcntl
    except ImportError:  # where there are no such locks nothing is locked
        yield
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        with contextlib.suppress(OSError):  # some file systems have none either
            fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


def tell_then_write(
    tell: Callable[[], None], write: Callable[[], list[Path]], options: argparse.Namespace, hint: str
) -> int:
    """Print an answer, then write its files and list them, or say by a hint how to get them: nothing told is lost."""
    written: list[Path] = []
    try:
        tell()
    finally:  # who reads the answer may have stopped reading; the files are wanted all the same
        if options.out is not None:
            written = write()
    if not options.json:
        list_files(written, hint, options.quiet)
    return 0


def list_files(written: Sequence[Path], hint: str, quiet: bool) -> None:
    """Say what was written, or how to have it written."""
    if quiet:
        return
    if written:
        figures = [path for path in written if path.suffix in (".png", ".svg")]
        names = [path.name for path in written if path not in figures]
        if figures:
            kinds = ", ".join(sorted({path.suffix[1:].upper() for path in figures}))
            names.append(f"{len(figures)} picture{'s' if len(figures) > 1 else ''} ({kinds})")
        print(f"wrote into {written[0].parent}: {', '.join(names)}")
    elif hint:
        print(hint)


def print_json(record: object, indent: int = 1) -> None:
    """Print a record as JSON."""
    print(json.dumps(record, indent=indent, allow_nan=False))


def said_once(what: str) -> Callable[[float], None]:
    """Say once on stderr what goes on, and the part that is done, of what takes long."""
    began, said = time.monotonic(), False

    def advance(part: float) -> None:
        nonlocal said
        if not said and part <= NEARLY_OVER and time.monotonic() - began > PATIENCE:
            said = True
            print(f"thermsim: {what}; {100.0 * part:.0f} % done", file=sys.stderr, flush=True)

    return advance


@contextlib.contextmanager
def progress_bar(what: str, quiet: bool) -> Iterator[Callable[[float], None]]:
    """A progress bar on a terminal for what takes over a second; elsewhere a line for what takes long."""
    if quiet or not sys.stderr.isatty():
        yield (lambda part: None) if quiet else said_once(what)
        return
    with bar_with(total=100, desc=what, unit="%", delay=1.0, bar_format="{l_bar}{bar}| {elapsed}") as bar:

        def advance(part: float) -> None:
            bar.update(max(0.0, 100.0 * part - bar.n))

        yield advance


def bar_with(**settings: Any) -> tqdm[NoReturn]:
    """A bar on the terminal that leaves nothing there, without a thread: a process with one is not copied to draw.

    That thread would see to it that a bar goes on after steps were quicker: instead each step is looked at.
    """
    from tqdm import tqdm

    tqdm.monitor_interval = 0
    return tqdm(leave=False, miniters=0, **settings)
