"""What the figures of a study show, hand-worked from made-up runs, and the page that holds them."""

from __future__ import annotations

import dataclasses
import re
import xml.etree.ElementTree as ElementTree

import numpy as np
import pytest
from matplotlib.figure import Figure
from numpy.testing import assert_allclose
from study_scenes import BARE, STEM, Here, few_resamples, smooth, study_case  # noqa: F401

from thermsim.assess.study.robust_depth import robust_depth
from thermsim.assess.study.sensitivity import sobol_indices, tornado
from thermsim.figures.study.bars import draw_sobol, draw_tornado
from thermsim.figures.study.files import FIGURES, draw_study
from thermsim.figures.study.scan import draw_cut, draw_heights, draw_map
from thermsim.figures.study.spread import draw_histogram, draw_robust_depth
from thermsim.records.study.report import CAPTIONS, study_html
from thermsim.records.study.running import run_study

STUDIES = {
    "line": 'kind = "scan"\nvary = [{ key = "product.initial_C", low = 20, high = 60, steps = 9 }]',
    "plane": 'kind = "scan"\nvary = [{ key = "product.initial_C", values = [20, 30, 40] }, '
    '{ key = "process.film_W_m2K", values = [100, 150, 200, 250, 300] }]',
    "tornado": 'kind = "tornado"\nvary = [{ key = "product.initial_C", low = 28, high = 33 }, '
    '{ key = "process.film_W_m2K", low = 175, high = 190 }]',
    "spread": 'kind = "spread"\nsamples = 16\nrecommend_depth = true\ntip_tolerance_mm = 1\n'
    'vary = [{ key = "product.initial_C", distribution = "uniform", low = 29, high = 31 }, '
    '{ key = "process.film_W_m2K", distribution = "uniform", low = 178, high = 181 }]',
}
SHOWN = {
    "line": ["map", "cut"],
    "plane": ["map", "cut"],
    "tornado": ["tornado"],
    "spread": ["depth", "histograms", "sobol"],
}


@pytest.fixture(scope="module")
def studies():
    return {
        name: run_study(study_case(f"\n[study]\n{study}\n", BARE + STEM), executor=Here(), compute=smooth)
        for name, study in STUDIES.items()
    }


def axes(*shape):
    return Figure().subplots(*shape)


@pytest.mark.parametrize(
    "kind", ["spread", *(pytest.param(kind, marks=pytest.mark.long) for kind in STUDIES if kind != "spread")]
)
def test_each_kind_of_study_has_its_figures_as_files_and_in_its_report(kind, studies, tmp_path):
    result = studies[kind]
    formats = ("png", "svg") if kind == "tornado" else ("svg",)
    written, svgs = draw_study(result, tmp_path, stem="figure", formats=formats)
    assert sorted(path.name for path in written) == sorted(
        f"figure-{name}.{suffix}" for name in SHOWN[kind] for suffix in formats
    )
    for path in written:
        assert (
            path.read_bytes()[:8] == b"\x89PNG\r\n\x1a\n" if path.suffix == ".png" else b"<svg" in path.read_bytes()
        )
    page = study_html(result, svgs, program="thermsim 1", when="now", case_name="bare.toml")
    body = ElementTree.fromstring(page.partition("\n")[2])
    assert len(body.findall(".//figure/{http://www.w3.org/2000/svg}svg")) == len(SHOWN[kind])
    for figure in FIGURES:
        assert (f"<strong>{figure.title}.</strong> {CAPTIONS[figure.title][:20]}" in page) == (
            figure.name in SHOWN[kind]
        )
    assert "A simulation is not a validation" in page
    assert "product.initial_C" in page
    assert not re.search(r"<script|https?://(?!www\.w3\.org)", page.replace("http://www.w3.org", ""))
    ids = re.findall(r'\bid="([^"]+)"', page)
    assert len(ids) == len(set(ids))


def test_a_map_has_a_cell_for_each_run_with_its_number(studies):
    result, ax = studies["plane"], axes()
    mesh = draw_map(result, "least_z", ax=ax)
    values = 1e3 * result.figures["least_z"].reshape(3, 5)
    assert_allclose(np.asarray(mesh.get_array()).reshape(5, 3), values.T)
    told = {text.get_position(): text.get_text() for text in ax.texts}
    assert told[1, 4] == f"{values[1, 4]:.1f}"
    assert [label.get_text() for label in ax.get_xticklabels()] == ["20", "30", "40"]


def test_a_failed_run_leaves_its_cell_empty(studies):
    result, ax = studies["plane"], axes()
    values = result.figures["least_z"].copy()
    values[7] = np.nan
    draw_map(dataclasses.replace(result, figures={**result.figures, "least_z": values}), "least_z", ax=ax)
    assert len(ax.texts) == 14
    assert (1, 2) not in {text.get_position() for text in ax.texts}


def test_a_cut_runs_along_the_first_quantity_for_some_of_the_second(studies):
    result, ax = studies["plane"], axes()
    lines = draw_cut(result, "least_lethality", ax=ax)
    assert [line.get_label() for line in lines] == [", 100", ", 200", ", 300"]
    assert_allclose(lines[1].get_xdata(), [20, 30, 40])
    assert_allclose(lines[1].get_ydata(), result.figures["least_lethality"].reshape(3, 5)[:, 2] / 60)
    heights = draw_heights(studies["line"], ax=axes())
    assert_allclose(heights[0].get_ydata(), 1e3 * studies["line"].figures["slowest_z"])
    assert_allclose(heights[1].get_ydata(), 1e3 * studies["line"].figures["least_z"])


def test_bars_of_a_tornado_go_from_the_case_to_its_ends(studies):
    result, ax = studies["tornado"], axes()
    low, high = draw_tornado(result, "least_z", ax=ax)
    bars = tornado(result, "least_z")
    assert bars[0].swing >= bars[1].swing > 0
    for drawn, end in ((low, "low"), (high, "high")):
        ends = [bar.get_x() + bar.get_width() for bar in drawn]
        # a bar to the left has its end as its edge: matplotlib keeps the sign of the width
        assert_allclose(ends, [1e3 * getattr(bar, end) for bar in bars])
    assert "175 to 190" in "".join(label.get_text() for label in ax.get_yticklabels())


def test_histograms_count_the_independent_runs_and_mark_their_percentiles(studies):
    result, ax = studies["spread"], axes()
    lines = draw_histogram(result, "least_lethality", ax=ax)
    assert sum(bar.get_height() for bar in ax.patches) == 32
    values = result.figures["least_lethality"][result.plan.matrix < 2] / 60
    assert_allclose([line.get_xdata()[0] for line in lines], np.percentile(values, (5, 50, 95)))


def test_sobol_bars_are_the_indices_the_largest_total_first(studies):
    result, ax = studies["spread"], axes()
    indices = sobol_indices(result, result.figures["least_z"])
    first, total = draw_sobol(result, indices, ax=ax)
    order = np.argsort(-indices.total)
    assert_allclose([bar.get_width() for bar in total], indices.total[order])
    assert_allclose([bar.get_width() for bar in first], indices.first[order])


def test_the_curve_of_one_depth_shows_mismatch_over_reading_and_window(studies):
    robust = robust_depth(studies["spread"])
    upper, middle, lower = axes(3, 1)
    curves = draw_robust_depth(robust, ax=(upper, middle, lower))
    assert_allclose(curves.worst.get_ydata(), 100 * robust.worst)
    assert_allclose(curves.mean.get_ydata(), 100 * robust.mean)
    assert_allclose(curves.heating.get_ydata(), 100 * robust.heating[1])
    assert [ax.get_ylabel().split(" [")[0] for ax in (upper, middle)] == [
        "mismatch", "over-reading until\nheating ends, all runs"
    ]  # fmt: skip
    assert_allclose(curves.within.get_ydata(), 100 * robust.within)
    assert any(np.allclose(line.get_xdata(), 1e3 * robust.best) for line in upper.lines)
    low, high = upper.get_ylim()
    assert low <= 0.0 <= high
    assert high >= 100 * robust.worst[robust.chosen]


@pytest.mark.long
@pytest.mark.parametrize(
    ("kind", "lost"),
    [
        ("line", [0, 1]),
        pytest.param("plane", range(1, 15), marks=pytest.mark.long),
        pytest.param("plane", [0, 5, 10], marks=pytest.mark.long),
    ],
)
def test_a_study_with_failed_runs_draws_what_is_left(kind, lost, studies, tmp_path):
    result = studies[kind]
    failed = np.isin(np.arange(result.plan.runs), list(lost))
    figures = {name: np.where(failed, np.nan, values) for name, values in result.figures.items()}
    rest = dataclasses.replace(result, figures=figures, failures=dict.fromkeys(map(int, lost), "made to fail"))
    assert len(draw_study(rest, tmp_path, stem="f", formats=("svg",)).written) == 2
    page = study_html(rest, {}, program="p", when="w", case_name="c")
    assert f"{len(lost)} of {result.plan.runs} runs failed and are left out of all figures" in page


def test_surfaces_are_drawn_once_or_for_each_cut(studies):
    result = studies["plane"]
    for moved, wanted in ((0.0, 1), (0.001, 3)):
        surface = 0.1 + moved * np.tile(np.arange(5), 3)
        ax = axes()
        lines = draw_heights(dataclasses.replace(result, figures={**result.figures, "surface_z": surface}), ax=ax)
        assert len(ax.lines) - len(lines) == wanted
        assert_allclose(ax.lines[-1].get_ydata(), 1e3 * surface.reshape(3, 5)[:, 4 if wanted == 3 else 0])
