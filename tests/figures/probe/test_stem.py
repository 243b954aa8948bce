"""Figures of a probe from the side.

Rung: operator order: what is drawn lies where the case has it.
"""

import dataclasses

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from numpy.testing import assert_allclose
from probed import advised_by_few
from small_cans import small_can
from small_jars import STAINLESS

from thermsim.case.container import Seam
from thermsim.case.probe import Fitting, Probe, Segment
from thermsim.case.process import Film, Process, Stage
from thermsim.figures import style
from thermsim.figures.bench.setting import bench_of
from thermsim.figures.bench.side import draw_side
from thermsim.figures.bench.wall import plot_wall_sheet
from thermsim.figures.container.section import draw_section
from thermsim.figures.files import bench_sheet, figures_of, record_form
from thermsim.figures.probe.ladder import draw_ladder
from thermsim.figures.probe.stem import draw_stem, plot_stem
from thermsim.notice import Notice

SIDE = Probe(
    "side",
    "through",
    (Segment(0.003, 0.070, STAINLESS),),
    sensing=0.002,
    fitting=Fitting(0.012, 0.004, 0.008, STAINLESS),
)
#: A slow come-up alone, which takes few steps about a stem.
COME_UP = Process((Stage("come-up", [0.0, 3600.0], [40.0, 118.0], Film.everywhere(450.0)),))


@pytest.fixture(scope="module")
def advised():
    return advised_by_few(small_can(probe=SIDE, process=COME_UP, output_every=60.0), rungs=(3, 0, 0))


def test_the_stem_is_drawn_at_its_height_with_the_tip_at_its_depth(advised):
    (ax,) = [plot_stem(advised).axes[0]]
    ax.clear()
    drawn = draw_stem(advised, ax=ax, change=True)
    tip, effect = drawn.probe[-1], advised.probe
    outer = 1e3 * advised.case.container.outer_radius
    assert_allclose(tip.get_x(), outer - 1e3 * effect.depth, rtol=0, atol=1e-6)
    assert_allclose(tip.get_y() + tip.get_height() / 2, 1e3 * effect.probe.z, rtol=0, atol=1e-6)
    x, z = drawn.sensing.get_data()
    assert_allclose(x[1] - x[0], 2.0, rtol=0, atol=1e-6)
    assert_allclose(z, 1e3 * effect.probe.z, rtol=0, atol=1e-6)
    # the stem warms what is round it: what is drawn is warmer with it by far more than it is colder anywhere
    section = effect.section
    change = section.end_of_heating - section.without_probe
    assert np.nanmax(change) > 3 * -np.nanmin(change)
    assert_allclose([drawn.bands.zmax, drawn.bands.zmin], [np.nanmax(change), np.nanmin(change)], rtol=0.1, atol=0.1)


def test_the_bench_sheet_of_the_side_gives_depth_stick_out_and_height(advised):
    bench = bench_of(advised)
    figure = Figure(figsize=(94 * style.INCH, 94 * style.INCH))
    drawing = draw_side(advised, bench, ax=figure.add_axes((0, 0, 1, 1)), paper=(94.0, 94.0))
    texts = [text.get_text() for text in drawing.dimensions]
    assert texts[3] == f"{1e3 * bench.probe.z:.1f}"
    # each text in the middle of its line, which begins at the datum
    outer = 1e3 * advised.case.container.outer_radius
    for text, length in zip(drawing.dimensions[:2], (bench.depth, -bench.stick_out), strict=True):
        assert text.get_text() == f"{1e3 * abs(length):.1f}"
        assert_allclose(text.get_position()[0], outer - 1e3 * length / 2, rtol=1e-9)
    ticks = [line for line in drawing.probe[0].axes.lines if line.get_color() == style.TARGET]
    assert_allclose([line.get_xdata()[0] for line in ticks], [outer - 1e3 * one.depth for one in bench.confirmation])
    assert bench.confirmation
    # what confirms the place may stand on the second page
    pages = (bench_sheet(advised), record_form(advised))
    page = " ".join(text.get_text() for figure in pages for text in figure.texts)
    assert "through the side wall" in page
    assert "tip from the axis" in page
    for rung in (bench.reading, *bench.confirmation):
        depth = 1e3 * rung.depth
        beyond = f"{depth - outer:.1f} past the axis" if depth > outer + 0.05 else f"{outer - depth:.1f}"
        row = f"{depth:.1f} {70.0 - depth:.1f} {beyond} {rung.end_of_heating:.1f}"
        assert row in page


def test_the_sheet_counts_from_the_table_and_warns_of_other_heights(advised):
    """A seam of 4 mm, and 8.8 mm of product above the hole."""
    container = dataclasses.replace(advised.case.container, seam=Seam(None, lid=0.003, base=0.004))
    near = Notice("near-end", "warning", "probe", "in full", {"left": 0.0088})
    made = dataclasses.replace(advised, case=advised.case.replace(container=container), notices=(near,))
    height = 1e3 * advised.advice.own.probe.z
    table = f"from the table {height + 4.0:.1f} mm above the table, standing on its seam; seam 4.0 mm"
    caution = "only 8.8 mm of product are left above or below the probe, and one that enters a little higher"
    for text in (table, caution):
        assert text in page_of(made)
        assert text not in page_of(advised)
    drawn = [text.get_text() for ax in bench_sheet(made).axes for text in ax.texts]
    wall = " ".join(text.get_text() for text in plot_wall_sheet([made], ["can"], title="cans", program="p").texts)
    assert f"hole {height + 4.0:.1f} mm above the table, standing on its seam" in " ".join(wall.split())
    form = [text.get_text().replace("\xa0", " ") for text in record_form(made).texts]
    assert form[form.index("hole's height") + 1] == f"{height + 4.0:.1f} mm"
    # what a height gauge shows is the number in bold
    assert {f"{height + 4.0:.1f}", f"above the table (base: {height:.1f})"} <= set(drawn)


def page_of(result):
    return " ".join(" ".join(text.get_text() for text in bench_sheet(result).texts).split())


def test_a_place_at_another_height_than_the_hole_has_no_depth(advised):
    spots, hole = advised.cold_spot, advised.advice.own.probe.z
    beside = dataclasses.replace(spots.slowest_heating, z=hole - 0.0265)
    made = dataclasses.replace(advised, cold_spot=dataclasses.replace(spots, slowest_heating=beside))
    said = f"not through this hole; z = {1e3 * hole - 26.5:.1f} mm"
    assert f"for slowest heating {said}" in page_of(made)
    assert "not through this hole" not in page_of(advised)
    drawn = draw_ladder(made, "slowest heating", ax=Figure().subplots())
    assert drawn.window is None
    depth = advised.advice.own.recommended("least lethality").depth
    assert [line.get_xdata()[0] for line in drawn.depths] == [pytest.approx(1e3 * depth)]
    labels = drawn.truth.axes.get_legend_handles_labels()[1]
    assert f"slowest heating: {said}" in [label.replace("\n", " ") for label in labels]
    assert len(draw_ladder(made, "least lethality", ax=Figure().subplots()).depths) == 1
    assert len(draw_ladder(advised, "slowest heating", ax=Figure().subplots()).depths) == 2


@pytest.mark.parametrize("below", [0.006, 0.010, 0.014, 0.030])
def test_no_line_runs_through_the_insertion_in_the_section(advised, below):
    z, effect = advised.case.surface - below, advised.probe
    effect = dataclasses.replace(
        effect, probe=dataclasses.replace(effect.probe, z=z), reading=dataclasses.replace(effect.reading, z=z)
    )
    figure = Figure(figsize=(6, 5))
    section = draw_section(dataclasses.replace(advised, probe=effect), ax=figure.add_axes((0, 0, 1, 1)))
    (text,) = (text for text in section.dimensions if "insertion" in text.get_text())
    box = text.get_window_extent(FigureCanvasAgg(figure).get_renderer())
    low, high = (text.axes.transData.inverted().transform((0.0, y))[1] for y in (box.y0, box.y1))
    levels = [1e3 * z for z in (advised.case.surface, advised.case.container.ceiling)]
    for part in section.probe:
        levels += [part.get_y(), part.get_y() + part.get_height()]
    assert not [level for level in levels if low < level < high]


def test_the_section_cuts_off_what_sticks_out_before_the_names(advised):
    figure = Figure(figsize=(6, 5))
    section = draw_section(advised, ax=figure.add_axes((0, 0, 1, 1)))
    ends = [part.get_x() + part.get_width() for part in section.probe]
    names = min(text.get_position()[0] for text in section.names)
    assert max(ends) < names
    assert_allclose(section.probe[-1].get_x() + 1e3 * advised.probe.depth, 1e3 * advised.case.container.outer_radius)


@pytest.mark.long
def test_all_figures_of_the_side_can_be_drawn(advised):
    names = [kind.name for kind in figures_of(advised)]
    assert "stem" in names
    assert "tip" not in names
    for kind in figures_of(advised):
        assert kind.plot(advised) is not None


def test_nothing_is_drawn_of_a_result_without_a_section(advised):
    bare = dataclasses.replace(advised, probe=dataclasses.replace(advised.probe, section=None))
    with pytest.raises(ValueError, match="no section"):
        draw_stem(bare, ax=Figure().add_subplot(), change=False)
    assert np.isfinite(advised.probe.section.z).all()
