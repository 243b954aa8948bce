"""The command line: one function a subcommand, each a thin layer over the Python API.

What a subcommand needs is imported inside it, so that ``--help`` answers at once.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import thermsim
from thermsim.errors import CaseError, InputError, ThermsimError

if TYPE_CHECKING:
    from thermsim.assess.result import Result

INTERRUPTED = 130

DESCRIPTION = """\
Find the slowest-heating point of a sealed food container before a probe hole is drilled: a simulation of heat
conduction through container and product, with the lethality gathered everywhere and the numerical uncertainty of
every figure."""

EPILOG = """\
examples:
  thermsim case my_jar.toml                 write a commented case to start from
  thermsim solve my_jar.toml                print where the cold spot is
  thermsim solve my_jar.toml --out my_jar   also write results, figures and a report into the folder my_jar
  thermsim show my_jar/result.h5            print the answer of an earlier run
  thermsim depth my_jar.toml --out my_jar   recommend how deep the case's probe should go, with a bench sheet
  thermsim verify                           hold the solver against exact solutions

A simulation is no validation. Scheduled processes are the business of the process authority, under local regulation;
measured heat penetration comes first. Conduction only: products that flow or are stirred heat otherwise.
"""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line.

    Parameters
    ----------
    arguments : sequence of str, optional
        The words after the program's name; ``sys.argv`` by default.

    Returns
    -------
    int
        0 done, 2 bad input, 3 a numerical failure or a check not passed, 130 interrupted.
    """
    options = _parser().parse_args(arguments)
    try:
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
            print(f"thermsim: {line}", file=sys.stderr)
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
    """Whether an error is, or was in the end raised by, an interrupt from the keyboard."""
    origin: BaseException | None = failure
    while origin is not None and not isinstance(origin, KeyboardInterrupt):
        origin = origin.__cause__ or origin.__context__
    return origin is not None


def solve(options: argparse.Namespace) -> int:
    """``thermsim solve CASE``: simulate, print the answer, write results, figures and report."""
    from thermsim.assess.simulation import simulate
    from thermsim.case.reader import read_case

    case = read_case(options.case)
    folder = _folder(options.out)
    with _progress("solving", options.quiet) as progress:
        result = simulate(case, progress=progress)
    written = _write(result, folder, Path(options.case).name, options.quiet) if folder else []
    _tell(result, options.json)
    if not options.json:
        _list_files(written, "add --out FOLDER to write results, figures and a report", options.quiet)
    return 0


def depth(options: argparse.Namespace) -> int:
    """``thermsim depth CASE ...``: how deep the probe should go, through which wall, with the hardware at hand."""
    from thermsim.assess.recommendation import recommend
    from thermsim.case.reader import read_case

    cases = [(Path(name), read_case(name)) for name in options.case]
    folder = _folder(options.out)
    results = []
    for path, case in cases:
        with _progress(f"{path.name}: climbing", options.quiet) as progress:
            result = recommend(
                case,
                criterion=options.criterion.replace("-", " "),
                margin=options.window / 100.0,
                sensor_accuracy=options.sensor_accuracy,
                progress=progress,
            )
        results.append(result)
        # several cases get a folder each
        own = folder if folder is None or len(cases) == 1 else _folder(str(folder / path.stem))
        written = _write(result, own, path.name, options.quiet) if own else []
        if not options.json:
            _tell(result, False)
            _list_files(
                written, "add --out FOLDER to write the bench sheet, results, figures and a report", options.quiet
            )
    if options.json:
        from thermsim.records.summary import summary

        records = [summary(result) for result in results]
        print(json.dumps(records[0] if len(records) == 1 else records, indent=1, allow_nan=False))
    elif len(results) > 1:
        from thermsim.records.probe_sentences import settings_table

        print("\n".join(settings_table(results)))
    return 0


def show(options: argparse.Namespace) -> int:
    """``thermsim show RESULT.h5``: the answer of an earlier run, its figures and report once more."""
    from thermsim.records.results import load_result

    result = load_result(Path(options.result))
    folder = _folder(options.out)
    written = _write(result, folder, Path(options.result).name, options.quiet, keep=False) if folder else []
    _tell(result, options.json)
    if not options.json:
        _list_files(written, "", options.quiet)
    return 0


def verify(options: argparse.Namespace) -> int:
    """``thermsim verify``: hold the solver against exact solutions; 3 if a figure is out of bounds."""
    from thermsim.assess.verification import verify as hold_against_exact
    from thermsim.records.verification import verification_record, verification_table

    folder = _folder(options.out)
    with _progress("verifying", options.quiet) as progress:
        verification = hold_against_exact(progress=progress)
    if options.json:
        print(json.dumps(verification_record(verification), indent=2, allow_nan=False))
    else:
        print("\n".join(verification_table(verification)))
    if folder:
        from thermsim.figures.files import save_figure
        from thermsim.figures.verification import plot_verification

        figure = plot_verification(verification.rows, verification.space, verification.time)
        written = [save_figure(figure, folder / f"verification.{kind}") for kind in ("png", "svg")]
        if not options.json:
            _list_files(written, "", options.quiet)
    return 0 if verification.passed else 3


def case(options: argparse.Namespace) -> int:
    """``thermsim case NEW.toml``: write a commented case to start from."""
    from thermsim.case.template import starting_case
    from thermsim.records.whole import write_text

    path = Path(options.new)
    if path.exists() and not options.force:
        raise InputError(f"{path}: is there already; add --force to replace it, or give another name")
    write_text(path, starting_case())
    if not options.quiet:
        print(f"wrote {path}; change what differs, then: thermsim solve {path}")
    return 0


def materials(options: argparse.Namespace) -> int:
    """``thermsim materials``: the built-in library, or one material with the source of its numbers."""
    from thermsim.case.materials import find_material, library

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
        print('"thermsim materials NAME" tells where the numbers of one come from')
    return 0


def _positive(text: str) -> float:
    """A number above 0, for the parser."""
    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not 0.0 < value < 1e3:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number above 0 and below 1000")
    return value


class _Help(argparse.RawDescriptionHelpFormatter):
    """Help with examples kept as written, and room for the longest command's name."""

    def __init__(self, prog: str) -> None:
        super().__init__(prog, max_help_position=30, width=110)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="thermsim", description=DESCRIPTION, epilog=EPILOG, formatter_class=_Help)
    parser.add_argument("--version", action="version", version=f"thermsim {thermsim.__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)

    def add(name: str, run: Callable[[argparse.Namespace], int], help_: str, example: str) -> argparse.ArgumentParser:
        command = commands.add_parser(
            name,
            help=help_,
            description=help_[0].upper() + help_[1:] + ".",
            epilog=f"example:\n  {example}",
            formatter_class=_Help,
        )
        command.set_defaults(run=run)
        command.add_argument("--quiet", action="store_true", help="no progress bar, no list of files written")
        command.add_argument("--debug", action="store_true", help="show the full traceback of an error")
        return command

    command = add("solve", solve, "simulate a case and find its cold spot", "thermsim solve cases/jar.toml --out jar")
    command.add_argument("case", metavar="CASE", help="the case file (TOML)")
    command.add_argument("--out", metavar="FOLDER", help="write result.h5, report.html and figures into this folder")
    command.add_argument("--json", action="store_true", help="print the result as JSON instead of text")
    command = add(
        "depth", depth, "recommend how deep the case's probe should go", "thermsim depth cases/can_probe.toml"
    )
    command.add_argument("case", metavar="CASE", nargs="+", help="the case file (TOML), or several for one probe")
    command.add_argument(
        "--criterion",
        choices=("least-lethality", "slowest-heating"),
        default="least-lethality",
        help="which cold spot the reading is to match (default: %(default)s)",
    )
    command.add_argument(
        "--window",
        type=_positive,
        default=2.0,
        metavar="PERCENT",
        help="depths whose reading differs by less than this are as good (default: %(default)g)",
    )
    command.add_argument(
        "--sensor-accuracy",
        type=_positive,
        default=0.3,
        metavar="K",
        help="confirmation depths are chosen so that the sensor can tell them apart (default: %(default)g K)",
    )
    command.add_argument(
        "--out", metavar="FOLDER", help="write bench sheet, results, report and figures into this folder"
    )
    command.add_argument("--json", action="store_true", help="print the result as JSON instead of text")
    command = add("show", show, "print the answer of an earlier run", "thermsim show jar/result.h5")
    command.add_argument("result", metavar="RESULT", help="the results file (HDF5) of an earlier run")
    command.add_argument("--out", metavar="FOLDER", help="write report.html and figures into this folder")
    command.add_argument("--json", action="store_true", help="print the result as JSON instead of text")
    command = add("verify", verify, "hold the solver against exact solutions", "thermsim verify --out verification")
    command.add_argument("--out", metavar="FOLDER", help="write a figure into this folder")
    command.add_argument("--json", action="store_true", help="print the table as JSON")
    command = add("case", case, "write a commented case to start from", "thermsim case my_jar.toml")
    command.add_argument("new", metavar="NEW", help="the file to write")
    command.add_argument("--force", action="store_true", help="replace a file that is there already")
    command = add("materials", materials, "list the built-in materials", 'thermsim materials "soda-lime glass"')
    command.add_argument("name", metavar="NAME", nargs="?", help="only this one, with the source of its numbers")
    command.add_argument("--json", action="store_true", help="print the list as JSON")
    return parser


def _folder(out: str | None) -> Path | None:
    """Make the folder that results go to, before any time is spent."""
    if out is None:
        return None
    folder = Path(out)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as failure:
        raise InputError(f"{folder}: cannot be made or is not a folder ({failure.strerror})") from None
    if not os.access(folder, os.W_OK):
        raise InputError(f"{folder}: the folder is not writable")
    return folder


def _write(result: Result, folder: Path, case_name: str, quiet: bool, *, keep: bool = True) -> list[Path]:
    """Write results file, figures and report, the results first: what is computed is kept."""
    import datetime

    now = datetime.datetime.now().astimezone()
    written = []
    if keep:
        from thermsim.records.results import save_result

        save_result(result, folder / "result.h5")
        written.append(folder / "result.h5")
    from thermsim.figures.files import figure_svgs, save_bench_sheet, save_figures
    from thermsim.records.report import report_html
    from thermsim.records.whole import write_text

    with _progress("drawing", quiet) as progress:
        if result.advice is not None:
            written.append(save_bench_sheet(result, folder / "bench-sheet.pdf", date=now.strftime("%Y-%m-%d")))
        written += save_figures(result, folder, stem="figure")
        progress(0.6)
        page = report_html(
            result,
            figure_svgs(result),
            program=f"thermsim {thermsim.__version__}",
            when=now.strftime("%Y-%m-%d %H:%M %z"),
            case_name=result.case.file or case_name,
        )
        write_text(folder / "report.html", page)
        progress(1.0)
    written.append(folder / "report.html")
    return written


def _tell(result: Result, as_json: bool) -> None:
    """Print the answer."""
    if as_json:
        from thermsim.records.summary import summary

        print(json.dumps(summary(result), indent=1, allow_nan=False))
    else:
        from thermsim.records.sentences import answer

        print("\n".join(answer(result)))


def _list_files(written: Sequence[Path], hint: str, quiet: bool) -> None:
    """Say what was written, or how to have it written."""
    if quiet:
        return
    if written:
        names = ", ".join(path.name for path in written)
        print(f"wrote into {written[0].parent}: {names}")
    elif hint:
        print(hint)


@contextlib.contextmanager
def _progress(what: str, quiet: bool) -> Iterator[Callable[[float], None]]:
    """A progress bar on a terminal for what takes over a second; elsewhere nothing."""
    if quiet or not sys.stderr.isatty():
        yield lambda part: None
        return
    from tqdm import tqdm

    with tqdm(total=100, desc=what, unit="%", delay=1.0, leave=False, bar_format="{l_bar}{bar}| {elapsed}") as bar:

        def advance(part: float) -> None:
            bar.update(max(0.0, 100.0 * part - bar.n))

        yield advance
