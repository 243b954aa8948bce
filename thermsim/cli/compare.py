"""``thermsim compare``."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from thermsim.cli.terminal import (
    Commands,
    add_command,
    add_figures,
    add_ways_to_print,
    alone_in,
    folder_for,
    number_in,
    positive,
    print_json,
    progress_bar,
    tell_then_write,
)
from thermsim.errors import InputError
from thermsim.quantities import LENGTH, PART, TIME, Quantity
from thermsim.text import did_you_mean, plain, stamp
from thermsim.version import PROGRAM

T = TypeVar("T")

if TYPE_CHECKING:
    from thermsim.assess.measured.result import Comparison, Plan


def compare(options: argparse.Namespace) -> int:
    """``thermsim compare CASE RUN.csv``: compare a measured run with the model, and fit the model to it."""
    from thermsim.assess.measured.comparison import compare as compare_with_model
    from thermsim.case.file.reader import read_case
    from thermsim.loggers.run import read_run

    if options.run_csv.endswith(".toml") and not options.case.endswith(".toml"):
        raise InputError(f"the case comes first: thermsim compare {plain(options.run_csv)} {plain(options.case)}")
    plan = plan_of(options)
    case = read_case(options.case)
    run = read_run(options.run_csv, plan.columns)
    folder = folder_for(options.out)
    with progress_bar("comparing", options.quiet) as progress:
        found = compare_with_model(case, run, plan, progress=progress)
    return tell_then_write(
        lambda: tell_comparison(found, options.json, full=options.full),
        lambda: write_comparison(found, folder, options) if folder else [],
        options,
        "add --out FOLDER to write results, figures and the report",
    )


def write_comparison(
    found: Comparison, folder: Path, options: argparse.Namespace, *, keep: bool = True
) -> list[Path]:
    """Write results file, figures and report (HTML and PDF), the results first."""
    with alone_in(folder):
        return _written(found, folder, options, keep)


def _written(found: Comparison, folder: Path, options: argparse.Namespace, keep: bool) -> list[Path]:
    """Write them, one file after another."""
    from thermsim.records.files.atomic import write_text

    when = stamp()
    written = []
    if keep:
        from thermsim.records.measured.file import save_comparison

        save_comparison(found, folder / "comparison.h5")
        written.append(folder / "comparison.h5")
    from thermsim.records.measured.sheets import save_sheets

    written += save_sheets(found, folder)
    from thermsim.figures.measured.files import draw_measured, save_measured_pdf
    from thermsim.records.measured.report import measured_report_html

    with progress_bar("drawing", options.quiet) as progress:
        drawn = draw_measured(found, folder, formats=options.figures)
        written += drawn.written
        progress(0.7)
        write_text(folder / "report.html", measured_report_html(found, drawn.svgs, program=PROGRAM, when=when))
        progress(0.8)
        pdf = save_measured_pdf(found, folder / "report.pdf", program=PROGRAM, when=when)
        written += [folder / "report.html", pdf]
        progress(1.0)
    return written


def tell_comparison(found: Comparison, as_json: bool, *, full: bool = False) -> None:
    """Print what was found, all of it or what fits a screen."""
    if as_json:
        from thermsim.records.measured.summary import measured_summary

        print_json(measured_summary(found))
    else:
        from thermsim.records.measured.sentences import measured_answer

        print("\n".join(measured_answer(found, full=full)))


def plan_of(options: argparse.Namespace) -> Plan:
    """Read the plan of a comparison from the options.

    Raises ``InputError`` if an option is not written as it should be.
    """
    from thermsim.assess.measured.result import USUAL_FIT, Deviations, Limits, Plan
    from thermsim.loggers.run import Columns

    fit = USUAL_FIT
    if options.fit is not None:
        fit = () if options.fit == "none" else tuple(name.strip() for name in options.fit.split(","))
    columns = Columns(
        probes=tuple(options.probe or ()),
        medium=options.medium,
        depths=(
            *(_depth(text, "mm", LENGTH) for text in options.depth_mm or ()),
            *(_depth(text, "in", LENGTH.others[0]) for text in options.depth_in or ()),
        ),
        start=TIME.si_value(options.start_min),
        cooling=TIME.si_value(options.cooling_min),
        own_clocks=tuple(options.own_clock or ()),
        time=options.time,
        time_unit=options.time_unit,
        decimal=options.decimal,
    )
    straight = None
    if options.straight_min is not None:
        begin, end = options.straight_min
        if not 0.0 <= begin < end:
            raise InputError(f"--straight-min {begin:g} {end:g}: give its start, then its end, in min")
        straight = TIME.si_value(begin), TIME.si_value(end)
    return Plan(
        columns=columns,
        fit=fit,
        together=tuple(name.strip() for name in options.together.split(",") if name.strip() not in ("", "none")),
        credit=PART.si_value(options.come_up_percent),
        floor=options.floor_K,
        straight=straight,
        target=TIME.si_value(options.target_min),
        limits=_changed(Limits(), "--limit", options.limit or ()),
        deviations=_changed(Deviations(), "--deviation", options.deviation or ()),
        design=not options.no_design,
    )


def _depth(text: str, unit: str, row: Quantity) -> tuple[str, float]:
    """A column and its depth [m], which is given in a unit."""
    name, equals, number = text.rpartition("=")
    depth = number_in(number)
    if not equals or not 0.0 < depth < 1e4:
        what, such = ("MILLIMETRES", "75.5") if unit == "mm" else ("INCHES", "2.97")
        raise InputError(
            f'--depth-{unit} "{text}": write it as COLUMN={what}, decimals with a point, as in "Can 3={such}"'
        )
    return name, row.si_value(depth)


def _changed(given: T, option: str, changes: Sequence[str]) -> T:
    """Limits or deviations with some of them set by NAME=NUMBER."""
    import dataclasses

    names = [field.name for field in dataclasses.fields(given)]  # type: ignore[arg-type]
    for text in changes:
        name, equals, number = (part.strip() for part in text.partition("="))
        if not equals or name not in names:
            raise InputError(f'{option} "{plain(text)}": {did_you_mean(name, names)} (write NAME=NUMBER)')
        value = number_in(number)
        if not 0.0 <= value < 1e6:
            raise InputError(f'{option} "{plain(text)}": {plain(number)} is not a number from 0 upwards')
        given = dataclasses.replace(given, **{name: value})  # type: ignore[type-var]
    return given


def _not_negative(text: str) -> float:
    return 0.0 if text.strip() in ("0", "0.0") else positive(text)


def _percent(text: str) -> float:
    value = _not_negative(text)
    if value > 100.0:
        raise argparse.ArgumentTypeError(f"{text} must be from 0 to 100")
    return value


def add_to(commands: Commands) -> None:
    """Add the subcommand to the program's."""
    command = add_command(
        commands,
        compare,
        "compare a measured run with the model and correct it for the probe",
        'thermsim compare cases/measured_can.toml cases/measured_can_run.csv --medium "Retort [°C]" '
        '--probe "Can 1 [°C]" --out out/run',
    )
    command.add_argument("case", metavar="CASE", help="the case file (TOML), with its [probe] and insertion_mm")
    command.add_argument("run_csv", metavar="RUN", help="the data logger's file (CSV)")
    columns = command.add_argument_group("columns of the file, by header or by number from 1")
    columns.add_argument("--probe", metavar="COLUMN", action="append", help="a probe, each in a container of its own")
    columns.add_argument("--medium", metavar="COLUMN", help="the heating medium (default: as the case says)")
    columns.add_argument(
        "--depth-mm",
        metavar="COLUMN=MM",
        action="append",
        help="insertion of a probe that is deeper or less deep than the case's",
    )
    columns.add_argument("--depth-in", metavar="COLUMN=IN", action="append", help="the same in inches")
    columns.add_argument(
        "--own-clock", metavar="COLUMN", action="append", help="a probe whose logger has a clock of its own"
    )
    columns.add_argument("--time", metavar="COLUMN", help="the time (default: found)")
    columns.add_argument("--time-unit", choices=("s", "min", "h", "hh:mm:ss", "hh:mm", "mm:ss"))
    columns.add_argument("--decimal", choices=(".", ","))
    columns.add_argument(
        "--start-min", type=_not_negative, default=0.0, metavar="MIN", help="when the process starts (default: 0)"
    )
    columns.add_argument("--cooling-min", type=positive, metavar="MIN", help="when cooling starts (default: found)")
    wanted = command.add_argument_group("what to compute")
    wanted.add_argument(
        "--fit",
        metavar="NAMES",
        help="parameters to fit, separated by commas: diffusivity, specific-heat, film, film-side, film-base, "
        "film-lid, initial, offset, tip; or none (default: diffusivity,initial,offset)",
    )
    wanted.add_argument(
        "--together",
        metavar="NAMES",
        default="offset",
        help="what all containers share and is fitted over all of them, of the names of --fit; or none (default: "
        "offset, as one file has one clock)",
    )
    wanted.add_argument(
        "--come-up-percent",
        type=_percent,
        default=42.0,
        metavar="PERCENT",
        help="part of the come-up that j credits (default: %(default)g, common practice, no source)",
    )
    wanted.add_argument(
        "--straight-min",
        nargs=2,
        type=_not_negative,
        metavar=("FROM", "TO"),
        help="the straight part (default: found)",
    )
    wanted.add_argument(
        "--floor-K",
        type=positive,
        default=1.0,
        metavar="K",
        help="the straight part ends this close to the medium's temperature (default: %(default)g)",
    )
    wanted.add_argument("--target-min", type=positive, metavar="MIN", help="target lethality (default: the case's)")
    wanted.add_argument("--limit", metavar="NAME=NUMBER", action="append", help="change a limit of the verdict")
    wanted.add_argument(
        "--deviation",
        metavar="NAME=NUMBER",
        action="append",
        help="change a deviation in the table of holds: medium_K, initial_K, come_up_percent",
    )
    wanted.add_argument("--no-design", action="store_true", help="leave out the table of holds")
    command.add_argument(
        "--out", metavar="FOLDER", help="write results, report (HTML and PDF), tables and figures there"
    )
    add_figures(command)
    add_ways_to_print(command)
