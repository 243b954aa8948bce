"""Output of a result: printed on the terminal, and written into a folder."""

from __future__ import annotations

import argparse
import functools
from pathlib import Path
from typing import TYPE_CHECKING

from thermsim.cli.terminal import alone_in, print_json, progress_bar
from thermsim.text import stamp

if TYPE_CHECKING:
    from thermsim.assess.depth.bracket import Bracket
    from thermsim.assess.simulate.result import Result


def write(
    result: Result, folder: Path, case_name: str, options: argparse.Namespace, *, keep: bool = True
) -> list[Path]:
    """Write results file, figures and report, the results first: what is computed is kept."""
    with alone_in(folder):
        return _written(result, folder, case_name, options, keep)


def _written(result: Result, folder: Path, case_name: str, options: argparse.Namespace, keep: bool) -> list[Path]:
    """Write them, one file after another."""
    when, written = stamp(), []
    if keep:
        from thermsim.records.files.results import save_result
        from thermsim.records.files.xdmf import save_xdmf

        save_result(result, folder / "result.h5")
        written += [folder / "result.h5", *save_xdmf(result, folder / "result.h5")]
    from thermsim.figures.files import draw_figures, report_of, save_bench_sheet
    from thermsim.records.files.atomic import write_text
    from thermsim.records.numbers.probe import histories_csv

    if result.probe is not None:
        write_text(folder / "probe-histories.csv", histories_csv(result))
        written.append(folder / "probe-histories.csv")
    with progress_bar("drawing", options.quiet) as progress:
        sheet = functools.partial(save_bench_sheet, result, folder / "bench-sheet.pdf", date=when[:10])
        pages = [] if result.advice is None else [sheet]
        drawn = draw_figures(result, folder, stem="figure", formats=options.figures, pages=pages)
        written += drawn.written
        progress(0.9)
        write_text(folder / "report.html", report_of(result, case_name, when=when, figures=drawn.svgs))
        progress(1.0)
    written.append(folder / "report.html")
    return written


def tell(result: Result, as_json: bool, bracket: Bracket | None = None, *, full: bool = False) -> None:
    """Print the answer, all of it or what fits a screen, and the headspace's bounds where they were asked for."""
    if as_json:
        from thermsim.records.numbers.summary import summary
        from thermsim.records.words.bracket import bracket_record

        record = summary(result)
        if bracket is not None:
            record["headspace_bracket"] = bracket_record(bracket)
        print_json(record)
        return
    from thermsim.records.words.answer import answer

    print("\n".join(answer(result, full=full)))
    if bracket is not None:
        from thermsim.records.words.bracket import bracket_section
        from thermsim.records.words.screen import lines_of

        print("\n".join(["", *lines_of([bracket_section(bracket)])]))
