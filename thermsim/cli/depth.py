"""``thermsim depth``."""

from __future__ import annotations

import argparse
import contextlib
import json
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from thermsim.cli.answer import tell, write
from thermsim.cli.terminal import add_command, add_ways_to_print, folder_for, list_files, positive, progress_bar
from thermsim.errors import InputError
from thermsim.text import plain

if TYPE_CHECKING:
    from thermsim.case.case import Case
    from thermsim.cli.terminal import Commands


def depth(options: argparse.Namespace) -> int:
    """``thermsim depth CASE ...``: how deep the probe should go, through which wall, with the hardware at hand."""
    from thermsim.assess.depth.bracket import with_headspace_moves
    from thermsim.assess.depth.recommendation import recommend
    from thermsim.case.file.reader import read_case

    cases = [(Path(name), read_case(name)) for name in options.case]
    if options.fin:
        return _quick([case for _, case in cases], options)
    folder = folder_for(options.out)
    results = []
    for path, case in cases:
        with _naming(path.name, len(cases)), progress_bar(f"{path.name}: climbing", options.quiet) as progress:
            result = recommend(
                case,
                criterion=options.criterion.replace("-", " "),
                margin=options.window / 100.0,
                sensor_accuracy=options.sensor_accuracy,
                side=options.side,
                progress=progress,
            )
        result = with_headspace_moves(result)
        results.append(result)
        # several cases get a folder each
        own = folder if folder is None or len(cases) == 1 else folder_for(str(folder / path.stem))
        written = write(result, own, path.name, options.quiet) if own else []
        if not options.json:
            if len(cases) > 1:
                print(f"{path.name}: {plain(case.title)}".rstrip(": "))
            tell(result, False, full=options.full)
            list_files(
                written, "add --out FOLDER to write the bench sheet, results, figures and a report", options.quiet
            )
    if options.json:
        from thermsim.records.numbers.summary import summary

        records = [summary(result) for result in results]
        print(json.dumps(records[0] if len(records) == 1 else records, indent=1, allow_nan=False))
    elif len(results) > 1:
        from thermsim.records.words.depth import settings_table

        print("\n".join(settings_table(results)))
    return 0


@contextlib.contextmanager
def _naming(name: str, cases: int) -> Iterator[None]:
    """Say of which of several cases a message is."""
    try:
        yield
    except InputError as failure:
        if cases == 1 or str(failure).startswith(name):
            raise
        raise InputError(f"{plain(name)}: {failure}") from failure


def _quick(cases: list[Case], options: argparse.Namespace) -> int:
    """A first look by the fin equation."""
    from thermsim.assess.depth.fin import quick_look
    from thermsim.records.numbers.fin import fin_record
    from thermsim.records.words.fin import fin_sentences

    if options.out:
        raise InputError("--out: --quick writes no files; leave out one of the two")
    looks = []
    for case in cases:
        with _naming(Path(case.file).name, len(cases)):
            looks.append(quick_look(case, side=options.side))
    if options.json:
        records = [fin_record(look) for look in looks]
        print(json.dumps(records[0] if len(records) == 1 else records, indent=1, allow_nan=False))
    else:
        print("\n\n".join("\n".join(fin_sentences(look, full=options.full)) for look in looks))
    return 0


def add_to(commands: Commands) -> None:
    """Add the subcommand to the program's."""
    command = add_command(
        commands,
        "depth",
        depth,
        "recommend how deep the case's probe should go",
        "thermsim depth cases/can_probe.toml",
    )
    command.add_argument("case", metavar="CASE", nargs="+", help="the case file (TOML), or several for one probe")
    command.add_argument(
        "--criterion",
        choices=("least-lethality", "slowest-heating"),
        default="least-lethality",
        help="cold spot that the reading should follow (default: %(default)s)",
    )
    command.add_argument(
        "--window",
        type=positive,
        default=2.0,
        metavar="PERCENT",
        help="depths whose mismatch is at most so many points above the least count as equally good "
        "(default: %(default)g)",
    )
    command.add_argument(
        "--sensor-accuracy",
        type=positive,
        default=0.3,
        metavar="K",
        help="accuracy of the sensor, by which confirmation depths are set apart (default: %(default)g K)",
    )
    command.add_argument(
        "--side",
        action="store_true",
        help="also compare probes through lid or base with the same from the side, at the cold spot's height",
    )
    command.add_argument(
        "--quick",
        action="store_true",
        dest="fin",
        help="a first look in about a second: the stem as a fin in the undisturbed field; reads low",
    )
    command.add_argument("--out", metavar="FOLDER", help="write bench sheet, results, report and figures there")
    add_ways_to_print(command)
