"""The bench sheet: its size, its words and numbers."""

import dataclasses
import re
from types import SimpleNamespace

import pytest
from job_cases import TEXT, replaced, words
from numpy.testing import assert_allclose

from thermsim import case_from_text, find_material
from thermsim.case.container import Wall
from thermsim.figures.bench.cautions import cautions
from thermsim.figures.bench.form import plot_form
from thermsim.figures.bench.paper import folded
from thermsim.figures.bench.setting import Bench, bench_of
from thermsim.figures.bench.sheet import plot_bench_sheet
from thermsim.figures.bench.words import _by_calipers, loud
from thermsim.figures.files import bench_sheet, save_bench_sheet
from thermsim.notice import Notice
from thermsim.physics.convection import find_thickness, flow_notices, flow_of
from thermsim.records.words.depth import correction
from thermsim.systems import shown_in
from thermsim.text import with_uncertainty


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


def test_edges_are_those_that_calipers_show_where_a_volume_scaled_the_inside(advised):
    """33 mm inside and 3 mm of glass: were the 33 mm 10 % more than measured, the edge would be 30 + 3 mm away."""
    container = dataclasses.replace(advised.case.container, scaled=1.1)
    text = words(sheet(dataclasses.replace(advised, case=advised.case.replace(container=container))))
    assert "on the axis, 33.0 mm from the outer edge" in text and "outer diameter 66.0" in text


def test_from_the_side_calipers_are_told_what_they_show():
    """73 mm inside, 10 % more than measured: the wall is computed 36.5 (1 - 1/1.1) = 3.3 mm farther out."""
    case = case_from_text(replaced(TEXT, ('entry = "lid"', 'entry = "side"')))
    bench = Bench(None, None, case.probe, 0.040, None, (), None, (0.0, 1.0))
    (row,) = _by_calipers(bench, dataclasses.replace(case.container, scaled=1.1))
    assert row.value.startswith("36.7 mm deep, 53.3 mm out: the wall measures 3.3 mm nearer to the axis")
    assert [*_by_calipers(bench, case.container)] == []


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
        "90 mm (at hand)",
        f"{90.0 - depth:.1f} mm, outer face of the lid to the probe's outer end",
        f"{90.0 - depth - 10.0:.1f} mm of it, by calipers",
        f"for least lethality {depth:.1f} mm (recommended)",
        f"{1e3 * advised.advice.own.recommended('slowest heating').depth:.1f} mm",
    ):
        assert expected in text, expected


@pytest.mark.parametrize(("system", "unit"), [("metric", "mm"), ("us", "in")])
def test_the_tolerance_ends_where_the_window_that_is_printed_below_it_ends(advised, system, unit):
    with shown_in(system):
        text = words(sheet(advised))
    number = r"([\d.]+)"
    (depth,) = re.findall(rf"insertion depth {number} {unit}", text)
    ((more, less),) = re.findall(rf"\+{number} / −{number} {unit}", text)
    ((low, high),) = re.findall(rf"window {number} to {number} {unit}", text)
    assert_allclose([float(depth) - float(less), float(depth) + float(more)], [float(low), float(high)], atol=1e-9)


def test_expected_reading_and_factor_are_those_of_the_recommendation(advised):
    text = words(sheet(advised))
    own = advised.advice.own.recommended("least lethality")
    known = (
        (own.lethality, own.lethality * own.reading_uncertainty),
        (
            advised.spots[0].lethality,
            advised.uncertainty["cold_spot.least_lethality.lethality"],
        ),
    )
    read, should = (with_uncertainty(one / 60, off / 60, least=0.01, sign="±") for one, off in known)
    missed = with_uncertainty(100 * own.mismatch, 100 * own.mismatch_uncertainty, least=0.1, sign="±")
    for expected in (
        f"{own.end_of_heating:.1f} °C",
        f"F0 in all {read} min",
        f"it should be {should} min",
        f"+{with_uncertainty(100 * own.over_reading, 100 * own.uncertainty, least=0.1, sign='±')} %",
        f"mismatch {missed} % of lethality",
        f"until heating ends {100 * own.heating_over_reading:+.1f} % of lethality".replace("-", "−"),
        f"correct by {correction(own)}".replace("x ", "× "),
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
        "entry no hole: stands on the inside of the base",
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
    gained, due = (one.lethality - one.heating_lethality for one in (bench.reading, logged.spots[0]))
    assert_allclose(bench.worth.cooling_over_reading, gained / due - 1, rtol=1e-6, err_msg="one division")


def test_without_stock_the_recommended_depth_and_the_cases_own_probe_are_given(advised, logged):
    text = words(sheet(without_stock(advised)))
    assert "at hand" not in text
    assert "90.0 mm" in text
    text = words(sheet(without_stock(logged)))
    spacer = 1e3 * logged.advice.own.recommended("least lethality").depth - 37.0
    assert f"spacers {spacer:.1f} mm" in text
    assert "OUT OF" not in text


@pytest.mark.parametrize(("cooling", "said"), [
    (0.12, "correct by × 0.909: holds for this process alone"),
    (-0.3, "correct by × 0.917 until heating ends, × 1.429 in cooling: no single factor does"),
])  # fmt: skip
def test_the_sheet_corrects_as_the_screen_does(logged, cooling, said):
    """The reading is 10 % off in all and 9 % while heating, which alone would ask for one factor."""
    least, slowest = logged.advice.own.recommendations
    least = dataclasses.replace(
        least, over_reading=0.1, heating_over_reading=0.09, cooling_over_reading=cooling, margin=0.05
    )
    candidate = dataclasses.replace(logged.advice.own, recommendations=(least, slowest))
    advice = dataclasses.replace(logged.advice, candidates=(candidate,), chosen=0, settings=())
    assert said in words(sheet(dataclasses.replace(without_stock(logged), advice=advice)))
    assert said.replace("× ", "x ") == f"correct by {correction(least)}"


def test_no_good_depth_is_said_first_and_the_factor_is_doubted(advised, logged):
    assert any("NO DEPTH IS GOOD" in warning for warning in advised.warnings)
    text = words(sheet(advised))
    assert "NO DEPTH IS GOOD" in text
    assert text.index("NO DEPTH IS GOOD") < text.index("1 Entry")
    # one factor is given, and doubted, where both phases are off alike
    advice = logged.advice
    least, slowest = advice.own.recommendations
    alike = dict.fromkeys(("over_reading", "heating_over_reading", "cooling_over_reading"), 0.1)
    least = dataclasses.replace(least, **alike)
    candidate = dataclasses.replace(advice.own, recommendations=(least, slowest))
    advice = dataclasses.replace(advice, candidates=(candidate,), chosen=0, settings=())
    made = dataclasses.replace(without_stock(logged), advice=advice)
    assert "× 0.909: holds for this process alone (but see the warning)" in words(sheet(made))
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


SHARP = ["Drilled metal has sharp edges", "Drilled glass has sharp edges, and glass can break", "Glass can break"]
CREASE, TIGHT = "Plastic, film and foil give way and crease", "tight at the probe and at every seam"


@pytest.mark.parametrize(("walls", "brick", "name", "said"), [
    ({"lid": ("polypropylene", 1e-3), "side": ("polypropylene", 1e-3)}, None, "advised", [CREASE, TIGHT]),
    # a plastic cup under a lid of foil is no glass, and foil no sheet of metal
    ({"lid": ("aluminium", 5e-5), "side": ("polypropylene", 8e-4)}, None, "advised", [CREASE, TIGHT]),
    ({"lid": ("tinplate", 2e-4), "side": ("polypropylene", 8e-4)}, None, "advised", [SHARP[0], TIGHT]),
    ({"lid": ("tinplate", 2e-4)}, None, "advised", [SHARP[0], "holds vacuum"]),
    ({"lid": ("tinplate", 2e-4), "side": ("soda-lime glass", 3e-3)}, None, "advised",
     ["Drilled metal has sharp edges, and glass can break", "holds vacuum"]),
    ({"lid": ("polypropylene", 1e-3), "side": ("soda-lime glass", 3e-3)}, None, "advised", [CREASE, SHARP[2], TIGHT]),
    ({"lid": ("soda-lime glass", 3e-3)}, None, "advised", [SHARP[1], "holds vacuum"]),
    ({}, None, "advised", ["Drilled metal and glass have sharp edges, and glass can break", "holds vacuum"]),
    ({}, (0.16, 0.09, 0.03), "advised", [CREASE, TIGHT]),
    ({"lid": ("polypropylene", 1e-3)}, None, "logged", [TIGHT]),
    ({"lid": ("tinplate", 2e-4)}, None, "logged", ["Lids and cut metal have sharp edges", "holds vacuum"]),
    ({"base": ("soda-lime glass", 3e-3)}, None, "logged", ["Glass can break", "holds vacuum"]),
    ({}, None, "logged", ["Lids and broken glass have sharp edges", "holds vacuum"]),
])  # fmt: skip
def test_what_cuts_breaks_or_gives_way_is_said_of_the_walls_that_there_are(walls, brick, name, said, request):
    result = request.getfixturevalue(name)
    made = {place: Wall(find_material(of), thickness) for place, (of, thickness) in walls.items()}
    container = SimpleNamespace(walls=made, brick=brick)
    case = SimpleNamespace(container=container, product=result.case.product, headspace_height=0.0)
    text = " ".join(cautions(SimpleNamespace(case=case, notices=()), result.case.probe))
    everything = [*SHARP, "glass", "metal", "sharp edges", CREASE, TIGHT, "holds vacuum"]
    expected = {word for word in everything if any(word.lower() in one.lower() for one in said)}
    assert {word for word in everything if word.lower() in text.lower()} == expected
    assert all(one in text for one in said)
    assert ("Fix the stack" in text) == (name == "logged") and "hot steam" in text


@pytest.mark.parametrize(("entry", "label", "made_of", "said"), [
    ("side", 5e-4, "tinplate", (True, True)), ("side", 0.0, "tinplate", (False, True)),
    ("side", 0.0, "polypropylene", (False, False)), ("lid", 0.0, "tinplate", (False, False)),
])  # fmt: skip
def test_a_hole_in_a_cans_body_keeps_off_its_seam_and_its_label(entry, label, made_of, said, advised):
    made = {name: Wall(find_material(made_of), 2e-4, contact=label) for name in ("side", "lid")}
    container = SimpleNamespace(walls=made, brick=None)
    case = SimpleNamespace(container=container, product=advised.case.product, headspace_height=0.0)
    probe = SimpleNamespace(entry=entry, mount="through")
    text = " ".join(cautions(SimpleNamespace(case=case, notices=()), probe))
    assert ("Cut the label away where the fitting seals" in text, "the can's side seam" in text) == said


@pytest.mark.parametrize(("left", "said"), [(0.006, True), (0.0, False)])
def test_a_container_with_a_headspace_is_to_stand_as_it_was_computed(left, said, advised):
    case = SimpleNamespace(container=advised.case.container, product=advised.case.product, headspace_height=left)
    text = " ".join(cautions(SimpleNamespace(case=case, notices=()), advised.case.probe))
    assert ("Stand the container upright in the retort" in text) == said


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
        assert 'Pieces in the product ("carrot cubes, 12 mm"): a tip in a piece' in words(page)
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


def test_lines_are_folded_to_their_width_and_numbers_keep_their_units():
    lines = folded("the tip stands at 37.3 mm below the lid", 24.0, size=8.0)
    assert len(lines) > 1
    assert " ".join(lines).replace("\N{NO-BREAK SPACE}", " ") == "the tip stands at 37.3 mm below the lid"
    assert any("37.3\N{NO-BREAK SPACE}mm" in line for line in lines)


@pytest.mark.long
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
