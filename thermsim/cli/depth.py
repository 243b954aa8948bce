"""``thermsim depth``."""

from __future__ import annotations

import argparse
import re
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from thermsim.cli.answer import tell, write
from thermsim.cli.terminal import (
    Commands,
    add_command,
    add_figures,
    add_ways_to_print,
    folder_for,
    list_files,
    positive,
    print_json,
    progress_bar,
    tell_then_write,
)
from thermsim.errors import InputError
from thermsim.text import plain, stamp
from thermsim.version import PROGRAM

if TYPE_CHECKING:
    from thermsim.assess.simulate.result import Result
    from thermsim.case.case import Case


def depth(options: argparse.Namespace) -> int:
    """``thermsim depth CASE ...``: how deep the probe should go, through which wall, with the hardware at hand."""
    from thermsim.assess.depth.bracket import with_headspace_moves
    from thermsim.assess.depth.recommendation import recommend
    from thermsim.case.file.reader import read_family

    cases = [(Path(name), case) for name in options.case for case in read_family(name)]
    if len(cases) > 1 and not options.fin:
        return _family(cases, options)
    if options.fin:
        return _quick([case for _, case in cases], options)
    folder = folder_for(options.out)
    ((path, case),) = cases
    aside = options.side or "side" in {probe.entry for probe in (case.probe, *case.probes) if probe}
    slow = " (one from the side takes up to half a minute)" if aside else ""
    with progress_bar(f"{path.name}: solving depths of its probes{slow}", options.quiet) as progress:
        result = recommend(
            case,
            criterion=options.criterion.replace("-", " "),
            margin=options.window / 100.0,
            sensor_accuracy=options.sensor_accuracy,
            side=options.side,
            progress=progress,
        )
    result = with_headspace_moves(result)
    return tell_then_write(
        lambda: tell(result, options.json, full=options.full),
        lambda: write(result, folder, path.name, options) if folder else [],
        options,
        "add --out FOLDER to write the bench sheet, results, figures and a report",
    )


def _family(cases: list[tuple[Path, Case]], options: argparse.Namespace) -> int:
    """Several cases: the table of settings first, then each case's own answer; what is finished is kept."""
    from thermsim.records.family.running import Wanted, label, recommend_all
    from thermsim.records.family.table import family_answers, family_lines

    folder = folder_for(options.out)
    wanted = Wanted(
        options.criterion.replace("-", " "), options.window / 100.0, options.sensor_accuracy, options.side
    )
    named = (case.member or path.stem for path, case in cases)
    names = [re.sub(r"[^\w.-]+", "-", name).strip("-.") or "case" for name in named]
    if len(set(names)) < len(names):
        raise InputError(f"several cases are called alike, and so would be their folders: {', '.join(names)}")
    with (
        tempfile.TemporaryDirectory() as scratch,
        progress_bar(f"solving depths of {len(cases)} cases", options.quiet) as progress,
    ):
        own = [folder_for(str((folder or Path(scratch)) / name)) or folder for name in names]
        files = [(one or Path(scratch)) / "result.h5" for one in own]
        try:
            results = recommend_all(
                [case for _, case in cases], files, wanted, progress=lambda done, all_: progress(done / all_)
            )
        except KeyboardInterrupt:
            if folder:
                kept = sum(file.is_file() for file in files)
                print(f"thermsim: {kept} of {len(files)} are kept in {folder}; repeat to go on", file=sys.stderr)
            raise
    if options.json:
        from thermsim.records.numbers.summary import summary

        print_json([summary(result) for result in results])
    else:
        print("\n".join(family_lines(results)))
    if folder:
        written = _write_family(results, folder, cases[0][0].name)
        for result, name in zip(results, names, strict=True):
            write(result, folder / name, result.case.file, options, keep=False)
        if not options.json:
            list_files(written, "", options.quiet)
    if not options.json:
        for result in results if options.full else []:
            print(f"\n{label(result.case)}: {plain(result.case.title)}")
            tell(result, False, full=True)
        if not options.full:
            print("\n".join(family_answers(results)))
    return 0


def _write_family(results: list[Result], folder: Path, name: str) -> list[Path]:
    """The table as CSV, as a page, and as a sheet for the wall."""
    from thermsim.figures.bench.wall import plot_wall_sheet
    from thermsim.figures.files import save_figure
    from thermsim.records.family.running import label
    from thermsim.records.family.table import family_csv, family_html
    from thermsim.records.files.atomic import write_text

    write_text(folder / "settings.csv", family_csv(results))
    write_text(folder / "report.html", family_html(results, program=PROGRAM, when=stamp(), case_name=name))
    labels = [label(result.case) for result in results]
    sheet = plot_wall_sheet(results, labels, title=name, program=PROGRAM)
    return [folder / "settings.csv", folder / "report.html", save_figure(sheet, folder / "wall-sheet.pdf")]


def _quick(cases: list[Case], options: argparse.Namespace) -> int:
    """A first look by the fin equation."""
    from thermsim.assess.depth.fin import quick_look
    from thermsim.records.numbers.fin import fin_record
    from thermsim.records.words.fin import fin_sentences

    if options.out:
        raise InputError("--out: --quick writes no files; leave out one of the two")
    looks = []
    for case in cases:
        name = Path(case.file).name
        try:
            looks.append(quick_look(case, side=options.side))
        except InputError as failure:
            if len(cases) == 1 or str(failure).startswith(name):
                raise
            raise InputError(f"{plain(name)}: {failure}") from failure
    if options.json:
        records = [fin_record(look) for look in looks]
        print_json(records[0] if len(records) == 1 else records)
    else:
        print("\n\n".join("\n".join(fin_sentences(look, full=options.full)) for look in looks))
    return 0


def add_to(commands: Commands) -> None:
    """Add the subcommand to the program's."""
    command = add_command(
        commands, depth, "recommend how deep the case's probe should go", "thermsim depth cases/can_probe.toml"
    )
    command.add_argument(
        "case",
        metavar="CASE",
        nargs="+",
        help="the case file (TOML), or several for one probe; [[family]] in one does the same",
    )
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
    add_figures(command)
    add_ways_to_print(command)
