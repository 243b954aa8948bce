"""The bench sheet: its size, its words and numbers, its drawing to scale, and that nothing overlaps."""

import dataclasses
import re
from itertools import combinations

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from numpy.testing import assert_allclose

from thermsim.figures import style
from thermsim.figures.bench.drawing import draw_bench, printed_scale, scale_for
from thermsim.figures.bench.form import plot_form
from thermsim.figures.bench.paper import folded
from thermsim.figures.bench.setting import bench_of
from thermsim.figures.bench.sheet import plot_bench_sheet
from thermsim.figures.bench.words import loud
from thermsim.figures.files import bench_sheet, save_bench_sheet
from thermsim.notice import Notice
from thermsim.physics.convection import find_thickness, flow_notices, flow_of
from thermsim.text import with_uncertainty


def texts_of(figure):
    return [*figure.texts, *(text for ax in figure.axes for text in ax.texts)]


def words(figure):
    """All that is written on the page, lines joined in the order in which they were written."""
    return re.sub(r"\s+", " ", " ".join(text.get_text() for text in texts_of(figure)))


def sheet(result):
    return plot_bench_sheet(result, program="program 1.2", digest="abc123")


def without_stock(result):
    return dataclasses.replace(result, case=result.case.replace(stock=None), advice=dataclasses.replace(
        result.advice, settings=()))  # fmt: skip


def test_page_is_a4_with_program_digest_and_date(advised):
    figure = plot_bench_sheet(advised, program="program 1.2", digest="abc123", date="2026-03-01")
    assert_allclose(figure.get_size_inches() * 25.4, [210.0, 297.0], rtol=1e-12, err_msg="A4, ISO 216, from memory")
    text = words(figure)
    for expected in ("program 1.2", "abc123", "2026-03-01", "Bean paste in a jar"):
        assert expected in text


def test_stem_through_the_lid_names_hole_datum_depth_and_what_to_measure_outside(advised):
    text = words(sheet(advised))
    own = advised.advice.own.recommended("least lethality")
    depth = 1e3 * own.depth
    low, high = (1e3 * end for end in own.window)
    for expected in (
        "through the lid",
        "on the axis, 36.0 mm from the outer edge",
        "drill as the fitting's maker says",
        "fitting ⌀ 12.0, 4.0 inside, 10.0 outside",
        "⌀ 3.0 × 90.0 mm",
        "outer face of the lid",
        f"insertion depth {depth:.1f} mm",
        f"+{high - depth:.1f} / −{depth - low:.1f} mm",
        "90.0 mm (at hand)",
        f"{90.0 - depth:.1f} mm, outer face of the lid to the probe's outer end",
        f"{90.0 - depth - 10.0:.1f} mm of it, by calipers",
        f"for least lethality {depth:.1f} mm (recommended)",
        f"{1e3 * advised.advice.own.recommended('slowest heating').depth:.1f} mm",
    ):
        assert expected in text, expected


def test_expected_reading_and_factor_are_those_of_the_recommendation(advised):
    text = words(sheet(advised))
    own = advised.advice.own.recommended("least lethality")
    read = with_uncertainty(own.lethality / 60, own.lethality * own.reading_uncertainty / 60, least=0.01, sign="±")
    for expected in (
        f"{own.end_of_heating:.1f} °C",
        f"F in all {read} min",
        f"it should be {advised.spots[0].lethality / 60:.2f} min",
        f"+{with_uncertainty(100 * own.over_reading, 100 * own.uncertainty, least=0.1, sign='±')} %",
        f"mismatch {100 * own.mismatch:.1f} % of lethality",
        f"until heating ends {100 * own.heating_over_reading:+.1f} % of lethality".replace("-", "−"),
        "no single factor: the phases differ",
        "F0 at 121.1 °C, z = 10 K",
    ):
        assert expected in text, expected


def test_confirmation_depths_stand_in_the_table_with_what_belongs_to_them(advised):
    bench = bench_of(advised)
    text = words(sheet(advised))
    assert len(bench.confirmation) == len(advised.advice.confirmation) >= 2
    for depth, rung in zip(advised.advice.confirmation, bench.confirmation, strict=True):
        assert_allclose(rung.depth, depth, rtol=1e-12)
        row = f"{1e3 * depth:.1f} {90.0 - 1e3 * depth:.1f} {118.2 - 1e3 * depth:.1f} {rung.end_of_heating:.1f}"
        assert row in text, row
        # depths were chosen so that a sensor good to 0.3 K can tell them apart
        assert abs(rung.end_of_heating - bench.reading.end_of_heating) > 0.5


def test_logger_stands_inside_without_a_hole_and_out_of_the_window_is_said_loudly(logged):
    """Two spacers of 10 mm, body and tip of 32 mm, on a base of 5 mm: 57 mm."""
    text = words(sheet(logged))
    for expected in (
        "no hole: stands on the inside of the base",
        "outer face of the base",
        "tip from the datum 57.0 mm",
        "none: out of the window",
        "OUT OF THE WINDOW: the hardware at hand reaches 57.0 mm",
        "52.0 mm from its foot to the tip",
        "10.0 + 10.0 mm (at hand)",
        "5.00 mm from the datum",
        "spacers together",
    ):
        assert expected in text, expected
    for forbidden in ("hole diameter", "deburr", "stick-out"):
        assert forbidden not in text


def test_reading_at_another_depth_lies_on_the_ladder(logged):
    bench = bench_of(logged)
    around = sorted(logged.advice.own.ladder, key=lambda rung: abs(rung.depth - 0.057))[:2]
    low, high = sorted(rung.end_of_heating for rung in around)
    assert low < bench.reading.end_of_heating < high
    assert_allclose(
        bench.worth.over_reading,
        bench.reading.lethality / logged.spots[0].lethality - 1,
        rtol=1e-9,
        err_msg="one division",
    )
    assert bench.factor < 1.0 < 1.0 + bench.worth.over_reading


def test_without_stock_the_recommended_depth_and_the_cases_own_probe_are_given(advised, logged):
    text = words(sheet(without_stock(advised)))
    assert "at hand" not in text
    assert "90.0 mm" in text
    text = words(sheet(without_stock(logged)))
    spacer = 1e3 * logged.advice.own.recommended("least lethality").depth - 37.0
    assert f"spacers {spacer:.1f} mm" in text
    assert "OUT OF" not in text


def test_no_good_depth_is_said_first_and_the_factor_is_doubted(advised, logged):
    assert any("NO DEPTH IS GOOD" in warning for warning in advised.warnings)
    text = words(sheet(advised))
    assert "NO DEPTH IS GOOD" in text
    assert text.index("NO DEPTH IS GOOD") < text.index("1 Entry")
    # one factor is given, and doubted, where both phases are off alike
    advice = logged.advice
    least, slowest = advice.own.recommendations
    alike = {"over_reading": 0.1, "heating_over_reading": 0.1, "truth": least.lethality / 1.1, "uncertainty": 1e-3}
    least = dataclasses.replace(least, **alike)
    candidate = dataclasses.replace(advice.own, recommendations=(least, slowest))
    advice = dataclasses.replace(advice, candidates=(candidate,), chosen=0, settings=())
    made = dataclasses.replace(without_stock(logged), advice=advice)
    assert "correction factor 0.909 ± " in words(sheet(made))
    assert "(but see the warning)" in words(sheet(made))
    quiet = dataclasses.replace(made, notices=())
    assert "NO DEPTH IS GOOD" not in words(sheet(quiet))
    assert "(but see the warning)" not in words(sheet(quiet))


def test_every_danger_is_on_the_sheet_and_nothing_less(advised):
    for code in ("probe-unsafe-side", "no-good-depth"):
        (notice,) = [notice for notice in advised.notices if notice.code == code]
        assert notice.severity == "danger"
        assert words(sheet(advised)).count(" ".join(notice.short.split())) == 1
    made = (
        Notice("made-up", "danger", "energy", "in small letters, and yet a danger."),
        Notice("made-up", "warning", "depth", "NO DEPTH IS GOOD in capitals, and yet a warning."),
    )
    text = words(sheet(dataclasses.replace(advised, notices=made)))
    assert "yet a danger" in text
    assert "yet a warning" not in text
    assert "UNSAFE SIDE" not in text


def test_where_the_product_flows_that_is_said_and_nothing_of_the_computed_depth(advised):
    case = advised.case
    product, radius = case.product, case.container.profile.widest
    flow = flow_of(
        product.material, find_thickness("water-like"), radius=radius, depth=case.fill_height,
        initial=product.initial, medium=118.0,
    )  # fmt: skip
    said = flow_notices(flow, depth=case.fill_height)
    case = case.replace(product=dataclasses.replace(product, flow=flow))
    made = dataclasses.replace(advised, case=case, notices=(*advised.notices, *said))
    assert any(notice.severity == "danger" for notice in advised.notices)
    assert loud(made, bench_of(made)) == tuple(notice.short for notice in said if notice.severity == "danger") != ()
    assert "insertion depth" not in words(sheet(made))


def test_hardware_that_cannot_be_set_is_said_loudly(advised):
    result = dataclasses.replace(advised, advice=dataclasses.replace(advised.advice, settings=()))
    assert "hardware at hand cannot be set" in words(sheet(result))


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("advised", ("deburr", "sharp edges", "Seal the fitting", "vacuum", "pressure", "hot steam")),
        ("logged", ("sharp edges", "vacuum", "pressure", "hot steam")),
    ],
)
def test_cautions_are_there(name, expected, request):
    text = words(sheet(request.getfixturevalue(name)))
    for word in (*expected, "not a validation", "not for eating"):
        assert word in text, word


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


def test_a_depth_at_its_limit_says_what_lies_beyond(advised):
    own = advised.advice.own
    least, slowest = own.recommendations
    ended = dataclasses.replace(least, at_limit=True, needed_length=0.123)
    candidates = tuple(
        dataclasses.replace(one, recommendations=(ended, slowest)) if one is own else one
        for one in advised.advice.candidates
    )
    made = dataclasses.replace(advised, advice=dataclasses.replace(advised.advice, candidates=candidates))
    said = "(recommended); at the end of what is possible, the better depth beyond needs a probe of 123.0 mm"
    assert said in words(sheet(made))
    assert "at the end of what is possible" not in words(sheet(advised))


def form(result):
    return plot_form(result, program="program 1.2", digest="abc123")


def test_the_form_has_a_line_for_each_container_and_says_where_their_number_comes_from(advised, logged):
    text = words(form(advised))
    depth = 1e3 * bench_of(advised).depth
    for expected in (
        "container", "channel", f"depth as set {depth:.1f} mm", f"stick-out {90.0 - depth:.1f} mm",
        "vacuum", "initials",
        "common practice, from memory", "process authority says how many", "abc123",
        # 1050 kg/m3 over 101 mm in a bore of 66 mm
        f"fill weight {1.05 * 0.25 * 3.141592653589793 * 6.6**2 * 10.1:.1f} g",
    ):  # fmt: skip
        assert expected in text, expected
    assert "piece" not in text
    assert "stick-out" not in words(form(logged))
    product = dataclasses.replace(advised.case.product, pieces="carrot cubes, 12 mm")
    made = dataclasses.replace(advised, case=advised.case.replace(product=product))
    for page in (form(made), sheet(made)):
        assert "Pieces in the product (carrot cubes, 12 mm): a tip in a piece" in words(page)
    assert "in a piece / beside" in words(form(made))


def test_what_confirms_goes_to_the_form_where_the_sheet_has_no_room(advised):
    confirm = f"at {1e3 * advised.advice.confirmation[0]:.1f} mm it must read"
    assert confirm in words(sheet(advised)) and confirm not in words(form(advised))
    many = tuple(Notice("made-up", "danger", "energy", f"DANGER {k}: so it is.") for k in range(9))
    made = dataclasses.replace(advised, notices=many)
    assert confirm not in words(sheet(made)) and "on the next page" in words(sheet(made))
    assert confirm in words(form(made))


def test_the_confirming_depths_say_by_how_much_they_must_differ(advised):
    bench = bench_of(advised)
    text = words(sheet(advised))
    for rung in bench.confirmation:
        off = rung.end_of_heating - bench.reading.end_of_heating
        assert f"at {1e3 * rung.depth:.1f} mm it must read {abs(off):.1f} K {'more' if off > 0 else 'less'}" in text
    assert "the cold spot is elsewhere" in text


def test_other_length_from_the_stock_is_drawn_longer(advised):
    """The second setting is the 110 mm probe, which must stick out by 70 mm at the most."""
    second = dataclasses.replace(advised.advice, settings=advised.advice.settings[1:])
    bench = bench_of(dataclasses.replace(advised, advice=second))
    assert_allclose([bench.probe.length, bench.depth, bench.stick_out], [0.110, 0.040, 0.070], rtol=1e-9)
    text = words(sheet(dataclasses.replace(advised, advice=second)))
    assert "⌀ 3.0 × 110.0 mm" in text
    assert f"mismatch {100 * second.settings[0].worth.mismatch:.1f} % of lethality" in text


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
                     f"F until heating ends {own.heating_lethality / 60:.2f}"):  # fmt: skip
        assert expected in text, expected
    stem = drawing_of(result).probe[-1]
    assert_allclose([stem.get_y() + stem.get_height(), stem.get_height()], [1e3 * own.depth, 90.0], rtol=1e-9)


def test_hole_in_a_shaped_jar_is_found_from_the_edge_of_its_own_wall(tapered, shouldered):
    """The base ends level across 4 mm of wall on a slope of 3 in 4: 33 and 5 mm; the cup's lid at 37.01 mm."""
    for result, entry, edge in ((shouldered, "base", "38.0"), (tapered, "lid", "37.0")):
        text = words(sheet(result))
        assert f"through the {entry}" in text
        assert f"on the axis, {edge} mm from the outer edge of the {entry}" in text
        assert f"edge of the {entry} to axis {edge}" in text
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
    """The stock may set 57 mm, out of the window, and 57 mm may be what confirms the recommended depth."""
    advice = dataclasses.replace(logged.advice, confirmation=(0.057, 0.067))
    bench = bench_of(dataclasses.replace(logged, advice=advice))
    assert_allclose([bench.depth, *(rung.depth for rung in bench.confirmation)], [0.057, 0.067], rtol=1e-9)


@pytest.mark.parametrize(
    "name",
    [
        "advised",
        "shouldered",
        *(pytest.param(name, marks=pytest.mark.long) for name in ("logged", "from below", "tapered")),
    ],
)
def test_no_text_overlaps_another_or_leaves_the_page(name, request):
    result = from_below(request.getfixturevalue("advised")) if name == "from below" else request.getfixturevalue(name)
    for figure in (sheet(result), form(result)):
        keeps_apart(figure)


def keeps_apart(figure):
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    boxes = [
        (text.get_text(), text.get_window_extent(canvas.get_renderer()))
        for text in texts_of(figure)
        if text.get_text()
    ]
    assert len(boxes) > 15
    inch = figure.dpi
    margin = 8.0 / 25.4 * inch
    for text, box in boxes:
        assert box.x0 >= margin and box.x1 <= figure.bbox.x1 - margin, f"{text!r} leaves the page"
        assert box.y0 >= margin and box.y1 <= figure.bbox.y1 - margin, f"{text!r} leaves the page"
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


def test_lines_are_folded_to_their_width_and_numbers_keep_their_units():
    lines = folded("the tip stands at 37.3 mm below the lid", 24.0, size=8.0)
    assert len(lines) > 1
    assert " ".join(lines).replace("\N{NO-BREAK SPACE}", " ") == "the tip stands at 37.3 mm below the lid"
    assert any("37.3\N{NO-BREAK SPACE}mm" in line for line in lines)


def test_pdf_is_the_same_every_time_and_has_no_date(advised, tmp_path):
    one, two = (save_bench_sheet(advised, tmp_path / name) for name in ("one.pdf", "two.pdf"))
    assert one.read_bytes() == two.read_bytes()
    assert one.read_bytes().startswith(b"%PDF")
    assert b"CreationDate" not in one.read_bytes()
    # outlines with their signs, once for all pages: a reader, printer or search finds each sign
    assert b"/FontFile2" in one.read_bytes() and b"/Type3" not in one.read_bytes()
    assert b"/MediaBox [ 0 0 595.2" in one.read_bytes()  # 210 mm are 595.28 points


def test_sheet_of_a_result_bears_the_cases_fingerprint(advised):
    # computed: printf 'an invented case, kept as text' | sha256sum
    assert "e901bea1aa371b741a7bb689a1546f5d2260b5df6b84d7bdf4d54bd59584303d" in words(bench_sheet(advised))


def test_result_without_advice_has_no_sheet(jar, tmp_path):
    with pytest.raises(ValueError, match="no advice"):
        save_bench_sheet(jar, tmp_path / "sheet.pdf")
    assert list(tmp_path.iterdir()) == []
