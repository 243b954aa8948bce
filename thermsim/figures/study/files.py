"""All figures of a study: as files in a folder, and as SVG text for a page."""

from __future__ import annotations

import functools
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from matplotlib.figure import Figure

from thermsim.assess.study.plan import StudyResult
from thermsim.assess.study.robust_depth import robust_depth
from thermsim.figures.files import Pictures, draw_once
from thermsim.figures.study.bars import indexed, plot_sobol, plot_tornado
from thermsim.figures.study.scan import plot_scan_cut, plot_scan_map
from thermsim.figures.study.spread import plot_histograms, plot_robust_depth


@dataclass(frozen=True)
class Drawn:
    """A figure: short name, title, the function that draws it, and whether a study has what it shows."""

    name: str
    title: str
    plot: Callable[[StudyResult], Figure]
    applies: Callable[[StudyResult], bool]


def _of_kind(kind: str) -> Callable[[StudyResult], bool]:
    return lambda result: result.plan.study.kind == kind and bool(result.good.any())


#: All figures, in the order in which they are shown.
FIGURES = (
    Drawn("map", "Map of the scan", plot_scan_map, _of_kind("scan")),
    Drawn("cut", "How the cold spots move", plot_scan_cut, _of_kind("scan")),
    Drawn("tornado", "One quantity at a time", plot_tornado, _of_kind("tornado")),
    Drawn("depth", "One depth for all", plot_robust_depth, lambda result: robust_depth(result) is not None),
    Drawn("histograms", "Range of the results", plot_histograms, _of_kind("spread")),
    Drawn("sobol", "Influence of each quantity", plot_sobol, lambda result: bool(indexed(result))),
)


def draw_study(result: StudyResult, folder: Path, *, stem: str, formats: Sequence[str] = ("png",)) -> Pictures:
    """Draw all figures that a study has the data for; see :func:`thermsim.figures.files.draw_once`."""
    kinds = (kind for kind in FIGURES if kind.applies(result))
    figures = ((kind.name, kind.title, functools.partial(kind.plot, result)) for kind in kinds)
    return draw_once(figures, folder, stem=stem, formats=formats)
