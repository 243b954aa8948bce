"""Six heights with one probe, and a study of headspace and conductivity: from the case's text, lengths by hand."""

import csv
import io
import re

import numpy as np
import pytest
from job_cases import GAP, HIGH, OUT, PROBE, TEXT, TIN, replaced, words
from numpy.testing import assert_allclose

from thermsim import case_from_text
from thermsim.assess.depth.recommendation import recommend
from thermsim.case.file.reader import read_family
from thermsim.figures.bench.form import plot_form
from thermsim.figures.bench.setting import bench_of
from thermsim.figures.bench.sheet import plot_bench_sheet
from thermsim.figures.bench.wall import plot_wall_sheet
from thermsim.records.family.table import family_csv, family_lines
from thermsim.records.study.running import run_study
from thermsim.records.study.sentences import study_answer

SOLID = replaced(TEXT, ("thin sauce", "gel/solid"))
HEIGHTS = (60.0, 75.0, 90.0, 105.0, 120.0, 200.0)


@pytest.fixture(scope="module")
def family(tmp_path_factory):
    path = tmp_path_factory.mktemp("family") / "cans.toml"
    members = (
        f'[[family]]\nname = "{high:.0f} high"\ncontainer = {{ inner_height_mm = {high} }}\n' for high in HEIGHTS
    )
    path.write_text(SOLID + "".join(members), "utf-8")
    return [recommend(case) for case in read_family(path)]


@pytest.mark.long
def test_six_heights_have_one_table_and_one_page_for_the_wall(family):
    rows = list(csv.DictReader(io.StringIO(family_csv(family))))
    wall = words(plot_wall_sheet(family, [row["case"] for row in rows], title="cans", program="p"))
    table = " ".join(" ".join(family_lines(family)).split())
    for high, row, result in zip(HEIGHTS, rows, family, strict=True):
        depth, out = float(row["set_to_mm"]), float(row["stick_out_mm"])
        assert row["case"] == f"{high:.0f} high"
        assert depth + out == pytest.approx(PROBE, abs=0.011)  # each is rounded to hundredths
        low, window = float(row["window_low_mm"]), float(row["window_high_mm"])
        assert low <= float(row["depth_mm"]) <= window
        assert row["in_window"] == str(low - 0.01 <= depth <= window + 0.01)
        # 10 mm of the stick-out at least: the probe of 90 mm comes 80 mm deep
        assert depth <= PROBE - OUT + 0.01
        assert 1e3 * result.case.fill_height == pytest.approx(high - GAP)
        assert f"{row['case']} {1e3 * bench_of(result).depth:.1f}" in wall
        assert f"{PROBE:g} mm probe, {PROBE - 1e3 * bench_of(result).depth:.1f} mm out" in wall
        (told,) = re.findall(rf"{row['case']} ([\d.]+)", table)
        assert float(told) == pytest.approx(float(row["depth_mm"]), abs=0.056)  # in tenths, and in hundredths
        sheet = words(plot_bench_sheet(result, program="p", digest="d"))
        assert f"Filled {high - GAP:.1f} mm high" in sheet
        assert f"{1e3 * bench_of(result).depth:.1f} mm" in words(plot_form(result, program="p", digest="d"))
    # the highest is long enough for its temperature to be flat round the middle: 80 mm are in its window too
    assert all(row["in_window"] == "True" for row in rows)
    assert f"One probe {PROBE:.1f} mm long is in the window of every case" in table


@pytest.mark.long
def test_a_study_of_headspace_and_conductivity_gives_one_depth():
    study = """
[study]
kind = "spread"
samples = 4
indices = false
recommend_depth = true
vary = [
    { key = "fill.headspace_mm", distribution = "uniform", low = 4.0, high = 8.0 },
    { key = "materials.food.conductivity_W_mK", distribution = "uniform", low = 0.5, high = 0.6 },
]
"""
    result = run_study(case_from_text(SOLID + study), workers=1)
    headspace = np.asarray(result.plan.values)[:, 0]
    assert ((headspace > 4.0) & (headspace < 8.0)).all()
    assert_allclose(1e3 * result.figures["surface_z"], HIGH - headspace + TIN, rtol=1e-9)
    own = 1e3 * result.figures["recommended_depth"]
    told = " ".join(" ".join(study_answer(result, full=True)).split())
    one = float(re.search(r"Depth for all +(\d+\.\d) mm", told)[1])
    assert own.min() - 0.5 <= one <= min(own.max() + 0.5, PROBE - 8.0)
    # a less filled can has its surface deeper below the lid, and its coldest place with it
    assert own[headspace.argmax()] > own[headspace.argmin()]
