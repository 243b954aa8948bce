"""The section drawing, read off its artists: to scale, its dimensions and names, nothing over anything else."""

import dataclasses
from itertools import combinations

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.path import Path
from numpy.testing import assert_allclose

from thermsim.case.container import Container
from thermsim.case.process import Film, Process, Stage
from thermsim.case.profile import Profile
from thermsim.figures.container.section import draw_section, plot_section
from thermsim.figures.container.section_names import film_text, spread


def drawn(result):
    figure = Figure(figsize=(5.1, 5.1))
    return figure, draw_section(result, ax=figure.add_axes((0, 0, 1, 1)))


def sorted_corners(polygon):
    return sorted(tuple(np.round(place, 9)) for place in polygon.get_xy()[:-1])


def test_cold_spots_stand_where_they_were_found(jar):
    _, section = drawn(jar)
    for line, spot in (
        (section.least_lethality, jar.cold_spot.least_lethality),
        (section.slowest_heating, jar.cold_spot.slowest_heating),
    ):
        assert_allclose(np.abs(line.get_xdata()), spot.r * 1e3, rtol=0, atol=1e-2, err_msg="mm against m")
        assert_allclose(line.get_ydata(), spot.z * 1e3, rtol=1e-12, err_msg="mm against m")


def test_place_beside_the_axis_is_marked_on_both_sides(bare):
    _, section = drawn(bare)
    r = bare.cold_spot.least_lethality.r * 1e3
    assert r > 1.0
    assert_allclose(section.least_lethality.get_xdata(), [-r, r], rtol=1e-12, err_msg="mirrored about the axis")


def test_walls_are_to_scale_and_thin_ones_keep_a_line(jar):
    _, section = drawn(jar)
    lid, left, right, base = section.walls
    for wall, corners in (
        (lid, [(-36.0, 118.0), (36.0, 118.0), (36.0, 118.2), (-36.0, 118.2)]),
        (left, [(-36.0, 5.0), (-33.0, 5.0), (-33.0, 118.0), (-36.0, 118.0)]),
        (right, [(33.0, 5.0), (36.0, 5.0), (36.0, 118.0), (33.0, 118.0)]),
        (base, [(-36.0, 0.0), (36.0, 0.0), (36.0, 5.0), (-36.0, 5.0)]),
    ):
        assert_allclose(sorted_corners(wall), sorted(corners), rtol=0, atol=1e-9, err_msg="mm")
    assert lid.get_linewidth() >= 0.8


def test_scales_are_equal(flat):
    figure = plot_section(flat)
    figure.canvas.draw()
    (ax,) = figure.axes
    box, limits = ax.get_window_extent(), ax.viewLim
    assert_allclose(box.width / limits.width, box.height / limits.height, rtol=1e-6, err_msg="pixels per mm")


def test_dimensions_and_names_are_given(jar):
    _, section = drawn(jar)
    dimensions = " ".join(text.get_text() for text in section.dimensions).replace("\n", " ")
    for expected in ("headspace 12.0", "fill 101.0", "inner height 113.0", "inner diameter 66.0", "all in mm"):
        assert expected in dimensions
    names = " ".join(text.get_text() for text in section.names).replace("\n", " ")
    for expected in (
        "soda-lime glass",
        "tinplate",
        "0.2 mm thick",
        "bean paste",
        "still vapour",
        "450 W/m²K heating",
    ):
        assert expected in names


def said(texts):
    return " ".join(text.get_text() for text in texts).replace("\n", " ")


def test_tapered_cup_is_given_both_its_diameters(tapered):
    """52 mm inside below, 72 mm above; it is widest and narrowest there, so no more is said."""
    _, section = drawn(tapered)
    assert "inner diameter 52.0 at the base" in said(section.dimensions)
    assert "inside ⌀ 72.0 at the top" in said(section.names)
    assert "widest" not in said(section.names)
    assert "narrowest" not in said(section.names)
    assert "z from the outside of the base" in said(section.dimensions)


def test_shaped_jar_is_given_its_widest_its_rise_and_how_thick_its_wall_is(shouldered):
    _, section = drawn(shouldered)
    for expected in ("headspace 7.0", "fill 88.0", "inner height 95.0", "inner diameter 66.0 at the base",
                     "z from the rim of the base"):  # fmt: skip
        assert expected in said(section.dimensions), expected
    for expected in ("inside ⌀ 52.0 at the top", "inside ⌀ 72.0 at the widest", "2.5 to 4 mm thick",
                     "dome 6.0 high, ⌀ 50.0"):  # fmt: skip
        assert expected in said(section.names), expected
    assert "narrowest" not in said(section.names)


def test_waist_is_named_where_it_is(tapered):
    """60 mm at both ends, 44 mm at a height of 30 mm: narrower than either."""
    container = Container(Profile(((0.0, 0.030), (0.030, 0.022), (0.070, 0.030))), tapered.case.container.side)
    case = tapered.case.replace(container=container, probe=None, stock=None)
    result = dataclasses.replace(tapered, case=case, probe=None, advice=None)
    figure, section = drawn(result)
    (name,) = [text for text in section.names if "narrowest" in text.get_text()]
    assert name.get_text() == "inside ⌀ 44.0 at the narrowest"
    leaders = [line for line in name.axes.lines if line.get_marker() == "o" and len(line.get_xdata()) == 1]
    assert any(np.allclose([*dot.get_xdata(), *dot.get_ydata()], [22.0, 30.0]) for dot in leaders)
    assert "at the widest" not in said(section.names)


def test_leaders_of_a_shaped_jar_end_in_what_they_name(shouldered):
    """The dots of wall and base lie in their polygons, that of the product in the product."""
    _, section = drawn(shouldered)
    ax = section.walls[0].axes
    dots = [(*line.get_xdata(), *line.get_ydata()) for line in ax.lines if line.get_marker() == "o"
            and len(line.get_xdata()) == 1 and line.get_markersize() < 3.0]  # fmt: skip
    _, _, side, base = section.walls
    for polygon, slack in ((section.product, 0.0), (side, 0.0), (base, 1e-6)):
        path = Path(polygon.get_xy())
        assert any(path.contains_point(dot, radius=slack) or path.contains_point(dot, radius=-slack) for dot in dots)


def test_probe_through_a_domed_base_is_measured_from_the_dome(shouldered):
    """The outer face stands 6 mm above the rim on the axis; the fitting reaches 10 mm out of it and 4 mm in."""
    _, section = drawn(shouldered)
    depth = 1e3 * shouldered.probe.depth
    fitting, stem = section.probe
    assert_allclose([stem.get_y() + stem.get_height(), stem.get_height()], [6.0 + depth, 90.0], rtol=1e-9)
    assert_allclose([fitting.get_y(), fitting.get_height()], [-4.0, 10.0 + 4.0 + 4.0], rtol=1e-9)
    assert f"insertion {depth:.1f}" in said(section.dimensions)
    # as it is computed the dome is level under the fitting
    base = section.walls[-1].get_xy()
    under = base[(np.abs(base[:, 0]) < 6.0 + 1e-6) & (base[:, 1] < 8.0)]
    assert_allclose(np.unique(np.abs(under[:, 0]).round(6)), [6.0], rtol=1e-9)
    assert_allclose(under[:, 1], 6.0, rtol=1e-9)
    spans = [sorted((note.xy[1], note.xyann[1])) for note in stem.axes.texts if not note.get_text()]
    assert any(np.allclose(span, [6.0, 6.0 + depth]) for span in spans)


def test_walls_left_out_are_named_as_such(bare):
    _, section = drawn(bare)
    names = " ".join(text.get_text() for text in section.names).replace("\n", " ")
    assert section.walls == ()
    assert "no lid" in names
    assert "no side wall at the medium's temperature" in names


def test_probe_is_drawn_to_scale_with_its_insertion(advised):
    _, section = drawn(advised)
    depth = 1e3 * advised.probe.depth
    fitting, stem = section.probe
    assert_allclose([stem.get_y(), stem.get_height(), stem.get_width()], [118.2 - depth, 90.0, 3.0], rtol=1e-9)
    assert_allclose([fitting.get_y(), fitting.get_height()], [114.0, 14.2], rtol=1e-9)
    assert f"insertion {depth:.1f}" in [text.get_text() for text in section.dimensions]
    assert 'probe "steel stem"\n3 mm stainless steel' in [text.get_text() for text in section.names]


def test_what_sticks_out_stays_within_the_drawing(advised):
    _, section = drawn(advised)
    stem = section.probe[-1]
    low, high = stem.axes.get_ylim()
    assert low < 0.0
    assert stem.get_y() + stem.get_height() < high


def test_container_without_probe_is_drawn_without_one(jar):
    _, section = drawn(jar)
    assert section.probe == ()
    assert not [text for text in section.dimensions if "insertion" in text.get_text()]


@pytest.mark.parametrize(
    "name",
    [
        *("advised", "shouldered"),
        *(
            pytest.param(name, marks=pytest.mark.long)
            for name in ("jar", "bare", "insulated", "flat", "logged", "tapered")
        ),
    ],
)
def test_no_text_overlaps_another_or_leaves_the_figure(name, request):
    figure = plot_section(request.getfixturevalue(name))
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    boxes = {
        text.get_text(): text.get_window_extent(canvas.get_renderer())
        for text in figure.axes[0].texts
        if text.get_text()
    }
    assert len(boxes) >= 7
    for (one, box), (two, other) in combinations(boxes.items(), 2):
        assert not box.overlaps(other), f"{one!r} over {two!r}"
    for text, box in boxes.items():
        assert figure.bbox.x0 <= box.x0 and box.x1 <= figure.bbox.x1, f"{text!r} is cut off"
        assert figure.bbox.y0 <= box.y0 and box.y1 <= figure.bbox.y1, f"{text!r} is cut off"


def test_film_text_tells_heating_from_cooling(jar):
    assert film_text(jar.case, "lid") == "film 450 W/m²K heating,\n200 W/m²K cooling"
    hold = Stage("hold", np.array([0.0, 60.0]), np.array([118.0, 118.0]), Film(1.0, 2.0, 3.0))
    assert film_text(jar.case.replace(process=Process((hold,))), "base") == "film 2 W/m²K"
    walls = dataclasses.replace(jar.case.container, lid=dataclasses.replace(jar.case.container.lid, contact=5e-4))
    labelled = jar.case.replace(container=walls)
    assert film_text(labelled, "lid") == "behind a label\nfilm 450 W/m²K heating,\n200 W/m²K cooling"


def test_spread_boxes_keep_their_place_where_there_is_room():
    assert_allclose(spread([9.0, 5.0, 1.0], [2.0, 2.0, 2.0], 0.0, 10.0), [9.0, 5.0, 1.0], rtol=1e-12)


def test_spread_boxes_do_not_overlap_and_stay_within_bounds():
    middles = np.array(spread([9.9, 9.8, 0.2, 0.1], [2.0, 2.0, 3.0, 2.0], 0.0, 10.0))
    halves = np.array([1.0, 1.0, 1.5, 1.0])
    assert np.all(middles[:-1] - halves[:-1] >= middles[1:] + halves[1:] - 1e-12)
    assert middles[0] + 1.0 <= 10.0 + 1e-12
    assert middles[-1] - 1.0 >= -1e-12
