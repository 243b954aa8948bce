"""The bench sheet's drawing: to scale, dimensioned from the datum, and nothing on the page overlaps."""

import dataclasses
from itertools import combinations

import pytest
from job_cases import words
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from numpy.testing import assert_allclose

from thermsim.assess.probe.ladder import interpolated
from thermsim.figures import style
from thermsim.figures.bench.drawing import draw_bench, printed_scale, scale_for
from thermsim.figures.bench.form import plot_form
from thermsim.figures.bench.setting import bench_of
from thermsim.figures.bench.sheet import plot_bench_sheet
from thermsim.figures.container.section import number_place
from thermsim.notice import Notice


def sheet(result):
    return plot_bench_sheet(result, program="program 1.2", digest="abc123")


def drawing_of(result):
    figure = Figure(figsize=(93.0 / 25.4, 94.0 / 25.4))
    return draw_bench(result, bench_of(result), ax=figure.add_axes((0, 0, 1, 1)), paper=(93.0, 94.0))


def test_drawing_is_to_its_scale(advised):
    """72 mm by 118.2 mm with 54.6 mm sticking out: 1 : 2.5 is the largest scale that finds room."""
    drawing = drawing_of(advised)
    assert printed_scale(drawing.scale) == "1 : 2.5"
    ax = drawing.probe[-1].axes
    across, along = (limits[1] - limits[0] for limits in (ax.get_xlim(), ax.get_ylim()))
    assert_allclose([93.0 / across, 94.0 / along], drawing.scale, rtol=1e-9, err_msg="paper mm per container mm")


def test_drawing_shows_the_probe_as_it_is_to_be_set(advised, logged):
    depth = 1e3 * advised.probe.depth
    stem = drawing_of(advised).probe[-1]
    assert_allclose([stem.get_y(), stem.get_height()], [118.2 - depth, 90.0], rtol=1e-9, err_msg="mm")
    spacer, body, tip = drawing_of(logged).probe
    assert_allclose([spacer.get_height(), tip.get_y() + tip.get_height()], [20.0, 57.0], rtol=1e-9, err_msg="mm")


def test_drawing_is_dimensioned_from_the_datum(advised):
    drawing = drawing_of(advised)
    depth = 1e3 * advised.probe.depth
    found = " ".join(text.get_text() for text in (*drawing.dimensions, *drawing.labels)).replace("\n", " ")
    for expected in (
        f"{depth:.1f}", f"{90.0 - depth:.1f}", "datum", "edge to axis 36.0", "outer diameter 72.0", "fitting ⌀ 12.0",
        *(f"confirm {1e3 * one:.1f}" for one in advised.advice.confirmation),
    ):  # fmt: skip
        assert expected in found, expected


def test_widths_stand_below_the_drawing_and_leaders_bend_beside_it(advised):
    drawing = drawing_of(advised)
    below = [text.get_position()[1] for text in drawing.dimensions if "edge" in text.get_text()]
    below += [text.get_position()[1] for text in drawing.dimensions if "outer diameter" in text.get_text()]
    assert len(below) == 2 and 0.0 > below[0] > below[1]
    leaders = [line.get_xdata() for line in drawing.probe[-1].axes.lines if len(line.get_xdata()) == 3]
    assert len(leaders) >= 2
    for place, elbow, column in leaders:
        assert place <= 36.0 < elbow < column


def test_each_dimension_says_the_length_that_it_spans(advised, shouldered, logged):
    """A text stands in the middle of its line, which begins at the datum."""
    for result in (advised, from_below(advised), shouldered, logged):
        bench, drawing = bench_of(result), drawing_of(result)
        (datum,) = [line for line in drawing.probe[-1].axes.lines if line.get_color() == style.LOUD]
        face = datum.get_ydata()[0]
        spans = [text for text in drawing.dimensions if text.get_text().replace(".", "").isdigit()]
        through = bench.probe.mount == "through"
        wanted = [bench.depth, bench.stick_out] if through else [bench.depth]
        assert [text.get_text() for text in spans] == [f"{1e3 * length:.1f}" for length in wanted]
        down = -1.0 if bench.probe.entry == "lid" else 1.0
        middles = [face + down * 1e3 * length / 2 for length in (bench.depth, -bench.stick_out)]
        assert_allclose([text.get_position()[1] for text in spans], middles[: len(spans)], rtol=1e-9)


@pytest.mark.parametrize(("end", "place"), [(110.0, 105.0), (109.9, 114.9), (97.0, 92.0), (90.0, 95.0)])
def test_the_number_of_a_short_dimension_stands_beyond_it_and_not_on_the_datum(end, place):
    """The datum is at 100 mm, the scale is 1 : 2: 5 mm on paper are 10 mm; its number is 2.5 mm on paper beyond."""
    assert_allclose(number_place(100.0, end, 0.5), place)


def test_other_length_from_the_stock_is_drawn_longer(advised):
    """The second setting is the 110 mm probe, which must stick out by 70 mm at the most."""
    second = dataclasses.replace(advised.advice, settings=advised.advice.settings[1:])
    bench = bench_of(dataclasses.replace(advised, advice=second))
    assert_allclose([bench.probe.length, bench.depth, bench.stick_out], [0.110, 0.040, 0.070], rtol=1e-9)
    text = words(sheet(dataclasses.replace(advised, advice=second)))
    assert "⌀ 3.0 × 110.0 mm" in text
    assert f"mismatch {100 * second.settings[0].worth.mismatch:.1f} ± " in text


def test_larger_containers_get_smaller_round_scales(advised):
    bench, container = bench_of(advised), advised.case.container
    scales = [scale_for(bench, container, width, 250.0) for width in (400.0, 130.0, 93.0, 60.0)]
    assert scales == [1.0, 1.0, 0.5, 0.1]


def from_below(result):
    """The same with the other entry for the case's own, a long title, and hardware that cannot be set."""
    other = 1 - result.advice.chosen
    advice = dataclasses.replace(result.advice, chosen=other, settings=(), criterion="slowest heating")
    return dataclasses.replace(result, case=result.case.replace(title="bean paste, second try " * 6), advice=advice)


def test_stem_through_the_base_is_measured_from_the_base(advised):
    result = from_below(advised)
    own = result.advice.own.recommended("slowest heating")
    text = words(sheet(result))
    for expected in ("through the base", "outer face of the base", "insertion depth none at hand",
                     f"wanted {1e3 * own.depth:.1f} mm: get hardware that reaches it",
                     f"F0 until heating ends {own.heating_lethality / 60:.2f}"):  # fmt: skip
        assert expected in text, expected
    stem = drawing_of(result).probe[-1]
    assert_allclose([stem.get_y() + stem.get_height(), stem.get_height()], [1e3 * own.depth, 90.0], rtol=1e-9)


@pytest.mark.parametrize(
    ("name", "entry", "edge"),
    [("shouldered", "base", "38.0"), pytest.param("tapered_advised", "lid", "37.0", marks=pytest.mark.long)],
)
def test_hole_in_a_shaped_jar_is_found_from_the_edge_of_its_own_wall(name, entry, edge, request):
    """The base ends level across 4 mm of wall on a slope of 3 in 4: 33 and 5 mm; the cup's lid at 37.01 mm."""
    result = request.getfixturevalue(name)
    text = words(sheet(result))
    assert f"through the {entry}" in text
    assert f"on the axis, {edge} mm from the outer edge of the {entry}" in text
    assert f"{entry}'s edge to axis {edge}" in text
    largest = 2e3 * result.case.container.outer_radius
    assert f"largest outer diameter {largest:.1f}" in text


def test_other_entry_of_a_shaped_jar_is_found_from_its_neck(shouldered):
    """26 mm and 3.5 mm of wall."""
    advice = dataclasses.replace(shouldered.advice, chosen=1 - shouldered.advice.chosen, settings=())
    result = dataclasses.replace(shouldered, advice=advice)
    text = words(sheet(result))
    assert "on the axis, 29.5 mm from the outer edge of the lid" in text
    assert "largest outer diameter 59.0" not in text


def test_domed_base_is_the_datum_on_the_axis_and_its_rim_is_told(shouldered):
    """The dome is 6 mm high: heights are 6 mm more than depths, the probe stands 6 mm less out of the rim's plane."""
    bench = bench_of(shouldered)
    depth, out = 1e3 * bench.depth, 1e3 * bench.stick_out
    text = words(sheet(shouldered))
    for expected in (
        "outer face of the base on the axis, 6.0 mm above its rim",
        f"{out:.1f} mm, outer face of the base on the axis to the probe's outer end",
        f"from the rim {out - 6.0:.1f} mm below its plane",
        f"{depth:.1f} {out:.1f} {depth + 6.0:.1f} ",
    ):
        assert expected in text, expected
    drawing = drawing_of(shouldered)
    stem = drawing.probe[-1]
    assert_allclose(stem.get_y() + stem.get_height(), 6.0 + depth, rtol=1e-9, err_msg="mm")
    (line,) = [line for line in stem.axes.lines if line.get_color() == style.LOUD]
    assert_allclose(line.get_ydata(), 6.0, rtol=1e-12, err_msg="the datum's line")


def test_probe_that_ends_within_the_punt_ends_above_the_rim(shouldered):
    """A stem that sticks out by 4 mm of the 6 mm."""
    own = shouldered.advice.own
    probe = dataclasses.replace(
        own.probe, segments=(dataclasses.replace(own.probe.segments[0], length=bench_of(shouldered).depth + 0.004),),
        fitting=None,
    )  # fmt: skip
    advice = dataclasses.replace(
        shouldered.advice, settings=(), candidates=tuple(
            dataclasses.replace(one, probe=probe) if one is own else one for one in shouldered.advice.candidates
        ),
    )  # fmt: skip
    assert "from the rim 2.0 mm above its plane" in words(sheet(dataclasses.replace(shouldered, advice=advice)))


def test_depth_of_the_sheet_is_not_its_own_confirmation(logged):
    """The stock sets 57 mm, out of the window: what confirms is what it can set and tells 57 mm apart."""
    bench = bench_of(logged)
    assert_allclose(bench.depth, 0.057, rtol=1e-9)
    assert bench.off and bench.confirmation
    # without a spacer, or with one of 10 mm, under the body of 22 mm with its tip of 10 mm, over a base of 5 mm
    assert_allclose([rung.depth for rung in bench.confirmation], [0.037, 0.047], rtol=1e-9)
    ladder = logged.advice.own.ladder
    there = interpolated(ladder, bench.depth).end_of_heating
    assert all(abs(rung.end_of_heating - there) >= 2 * logged.advice.sensor_accuracy for rung in bench.confirmation)


@pytest.mark.parametrize(
    ("heating", "said"), [(0.29, "+29.0 % until heating ends, +1.0 % in all"), (0.01, ""), (-0.1, "")]
)
def test_what_is_read_above_the_cold_spot_is_told_of_the_depth_that_is_set(logged, heating, said):
    """Out of the window at 57 mm, while the notice is about the recommended depth."""
    notice = Notice("probe-unsafe-side", "danger", "probe", "UNSAFE SIDE: 37 % more")
    advice = logged.advice
    (first, *others) = advice.settings
    spot = logged.spots[0]
    worth = dataclasses.replace(
        first.worth,
        lethality=1.01 * spot.lethality,
        heating_lethality=(1.0 + heating) * spot.heating_lethality,
        heating_bias=0.5,  # what the stem adds is not what counts
    )
    first = dataclasses.replace(first, worth=worth)
    advice = dataclasses.replace(advice, settings=(first, *others))
    for notices in ((notice,), ()):
        text = words(sheet(dataclasses.replace(logged, advice=advice, notices=notices)))
        assert "37 % more" not in text
        assert ("UNSAFE SIDE" in text) == bool(said)
        start = "UNSAFE SIDE, set to 57.0 mm: the probe reads more lethality than the cold spot gets without it: "
        assert not said or start + said in text


@pytest.mark.parametrize(
    "name",
    [
        "advised",
        *(
            pytest.param(name, marks=pytest.mark.long)
            for name in ("logged", "from below", "shouldered", "tapered_advised")
        ),
    ],
)
def test_no_text_overlaps_another_or_leaves_the_page(name, request):
    result = from_below(request.getfixturevalue("advised")) if name == "from below" else request.getfixturevalue(name)
    for figure in (sheet(result), plot_form(result, program="program 1.2", digest="abc123")):
        keeps_apart(figure)


def keeps_apart(figure):
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    boxes = [
        (text.get_text(), text.get_window_extent(canvas.get_renderer()))
        for text in (*figure.texts, *(text for ax in figure.axes for text in ax.texts))
        if text.get_text()
    ]
    assert len(boxes) > 15
    inch = figure.dpi
    margin = 8.0 / 25.4 * inch
    for text, box in boxes:
        assert box.x0 >= margin and box.x1 <= figure.bbox.x1 - margin, f"{text!r} leaves the page"
        assert box.y0 >= margin and box.y1 <= figure.bbox.y1 - margin, f"{text!r} leaves the page"
    for line in (artist for artist in figure.get_children() if isinstance(artist, Line2D)):
        places = figure.transFigure.transform(line.get_xydata())
        assert (places >= margin).all() and (places <= figure.bbox.max - margin).all(), "a rule leaves the page"
    for (one, box), (two, other) in combinations(boxes, 2):
        # letters without descenders may stand closer than their boxes: a quarter of a millimetre
        slack = 0.25 / 25.4 * inch
        apart = (
            box.x1 - slack <= other.x0
            or other.x1 - slack <= box.x0
            or box.y1 - slack <= other.y0
            or other.y1 - slack <= box.y0
        )
        assert apart, f"{one!r} over {two!r}"
