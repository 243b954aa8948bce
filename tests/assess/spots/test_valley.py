"""Where no place can be told from the coldest. Rung: symmetry and the definition, on a slender tube."""

import dataclasses

import numpy as np
import pytest
from matplotlib.figure import Figure
from numpy.testing import assert_allclose
from small_case import SMALL, STEM, changed

from thermsim import case_from_text
from thermsim.assess.depth.recommendation import recommend
from thermsim.assess.simulate.simulation import simulate
from thermsim.figures.bench.setting import bench_of
from thermsim.figures.bench.words import blocks
from thermsim.figures.container.section import draw_section
from thermsim.records.numbers.summary import summary
from thermsim.records.words.answer import answer

SLENDER = (
    ("inner_diameter_mm = 66.0", "inner_diameter_mm = 20.0"),
    ("inner_height_mm = 113.0", "inner_height_mm = 200.0"),
    ("minutes = 75", "minutes = 25"),
)
ROUGH = "\n[accuracy]\ntemperature_K = 0.5\nlethality_percent = 10\nplace_mm = 5\n"


@pytest.fixture(scope="module")
def tube():
    return simulate(case_from_text(changed(*SLENDER) + ROUGH))


def test_a_slender_tube_has_no_one_coldest_place(tube):
    valley, spot = tube.cold_spot.valley, tube.cold_spot.least_lethality
    assert valley.z_low < spot.z - 0.030 and valley.z_high > spot.z + 0.030
    # every node on the axis between its ends is as cold within the uncertainty, those well beyond are not
    most = spot.lethality * (1.0 + valley.margin)
    levels, on_axis = tube.grid.levels, tube.lethality[0]
    between = (levels > valley.z_low + 1e-3) & (levels < valley.z_high - 1e-3)
    assert between.sum() > 10 and (on_axis[between] <= most * (1 + 1e-6)).all()
    beyond = (levels < valley.z_low - 5e-3) | (levels > valley.z_high + 5e-3)
    assert (on_axis[beyond & np.isfinite(on_axis)] > most).all()
    assert_allclose(
        valley.margin * spot.lethality, tube.uncertainty["cold_spot.least_lethality.lethality"], rtol=1e-12
    )


def test_it_is_said_where_the_place_is_said(tube):
    valley = tube.cold_spot.valley
    told = " ".join(" ".join(answer(tube)).split())
    assert f"z = {1e3 * valley.z_low:.1f} to {1e3 * valley.z_high:.1f} mm, r up to" in told
    record = summary(tube)["cold_spot"]["alike"]
    assert_allclose(record["z_mm"], [1e3 * valley.z_low, 1e3 * valley.z_high])


def test_its_place_is_known_to_no_better_than_its_extent(tube):
    valley, spot = tube.cold_spot.valley, tube.cold_spot.least_lethality
    stated = tube.uncertainty["cold_spot.least_lethality.z"]
    rounding = 1e-12
    assert spot.z - stated <= valley.z_low + rounding and spot.z + stated >= valley.z_high - rounding


def test_a_hole_anywhere_in_it_is_at_the_coldest_height(tube):
    valley, spot = tube.cold_spot.valley, tube.cold_spot.least_lethality
    assert tube.cold_spot.off_height(valley.z_low + 1e-3) == tube.cold_spot.off_height(valley.z_high - 1e-3) == 0.0
    assert tube.cold_spot.off_height(valley.z_high + 0.01) == pytest.approx(spot.z - valley.z_high - 0.01, rel=1e-12)


def test_the_section_shows_how_far_it_reaches(tube):
    figure = Figure(figsize=(5.1, 8.0))
    ax = figure.add_axes((0, 0, 1, 1))
    section, valley = draw_section(tube, ax=ax), tube.cold_spot.valley
    (band,) = [patch for patch in ax.patches if patch.get_label() == "as cold within the uncertainty"]
    assert_allclose(band.get_y(), 1e3 * valley.z_low)
    assert_allclose(band.get_y() + band.get_height(), 1e3 * valley.z_high)
    assert_allclose([band.get_x(), band.get_x() + band.get_width()], [-1e3 * valley.r_high, 1e3 * valley.r_high])
    heights = f"z = {1e3 * valley.z_low:.1f} to {1e3 * valley.z_high:.1f} mm"
    assert any(heights in name.get_text() for name in section.names)


def test_a_stout_jar_has_one():
    jar = simulate(case_from_text(SMALL))
    assert jar.cold_spot.valley is None
    assert "all as cold" not in " ".join(answer(jar, full=True))
    one = dataclasses.replace(jar.cold_spot, alike=None)
    assert one.valley is None
    assert one.off_height(0.03) == one.least_lethality.z - 0.03


@pytest.mark.long
def test_the_sheet_counts_it_from_the_face_of_the_lid():
    result = recommend(case_from_text(changed(*SLENDER, text=SMALL + STEM) + ROUGH))
    valley, top = result.cold_spot.valley, 5.0 + 200.0 + 0.25
    rows = {row.label: row.value for _, found in blocks(result, bench_of(result)) for row in found}
    depths = f"{top - 1e3 * valley.z_high:.1f} to {top - 1e3 * valley.z_low:.1f} mm"
    assert rows["as cold"].startswith(depths)
    assert f"{depths} deep a tip is at the cold spot" in " ".join(" ".join(answer(result, full=True)).split())
