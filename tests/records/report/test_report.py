import dataclasses
import hashlib
import re
from collections import Counter
from types import SimpleNamespace
from xml.etree import ElementTree

import numpy as np
import pytest
from small_cans import small_can
from small_jars import GAS

from thermsim.assess.simulate.simulation import simulate
from thermsim.case.case import Case, Lethality, Point
from thermsim.case.container import Container, Wall
from thermsim.case.process import Film, Process, Stage
from thermsim.case.product import Headspace, Product
from thermsim.case.profile import straight
from thermsim.figures.files import FIGURES, figures_of, inline_svg
from thermsim.physics.materials import Material, Tabulated
from thermsim.records.report.inputs import input_parts
from thermsim.records.report.page import CAPTIONS, report_html
from thermsim.records.report.substances import substance_tables
from thermsim.records.words.parts import Facts

#: In place of most figures: the page holds them as they are.
DRAWN = '<svg xmlns="http://www.w3.org/2000/svg"></svg>'
TEXT = 'format = 1\ntitle = "<script>alert(1)</script> & paste"\n'


@pytest.fixture(scope="module")
def result():
    film = Film(450.0, np.inf, 300.0)
    stages = (
        Stage("hold", np.array([0.0, 3600.0]), np.array([118.0, 118.0]), film),
        Stage("cool", np.array([3600.0, 5400.0]), np.array([30.0, 30.0]), film),
    )
    glass = Material("glass <thin>", 1.0, 2500.0, 750.0, "from memory")
    case = Case(
        "<script>alert(1)</script> & paste",
        Container(straight(0.066, 0.113), Wall(glass, 0.003), Wall(glass, 0.005)),
        Product(Material("paste", 0.55, 1050.0, 3700.0), 40.0),
        0.101,
        Headspace("insulated"),
        Process(stages),
        Lethality(121.1, 10.0, 360.0, reach=(100.0, 130.0)),
        (Point('near "the" side', 0.03, 0.05),),
        text=TEXT,
        attachments={"retort.csv": "time,temperature\n"},
        notes=("A note about an assumption.",),
    )
    return simulate(case)


@pytest.fixture(scope="module")
def page(result):
    section, *others = figures_of(result)
    return report_html(
        result,
        {kind.title: DRAWN for kind in others} | {section.title: inline_svg(section.plot(result), "section")},
        program="thermsim 0.1.0",
        when="2026-01-02 10:20 +0100",
        case_name="a&b.toml",
    )


@pytest.fixture(scope="module")
def tree(page):
    return ElementTree.fromstring(page.removeprefix("<!DOCTYPE html>\n"))


def words(element):
    return " ".join(" ".join(element.itertext()).replace("\u00a0", " ").split())


def test_page_is_well_formed_and_ids_are_unique(tree):
    counts = Counter(element.attrib["id"] for element in tree.iter() if "id" in element.attrib)
    assert counts
    assert max(counts.values()) == 1


def test_nothing_is_loaded_from_elsewhere_and_nothing_runs(page, tree):
    addresses = set(re.findall(r"https?://[^\s\"'<>]+", page))
    assert addresses == {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}
    assert not [element for element in tree.iter() if element.tag.split("}")[-1] in ("script", "link", "iframe")]
    loaded = re.findall(r"(?:src|href)=[\"']([^\"']{1,12})", page)
    assert all(target.startswith(("#", "data:image/p")) for target in loaded)
    assert "@import" not in page


def test_what_the_user_wrote_is_escaped(page, tree):
    assert "<script>" not in page
    assert words(tree.find(".//h1")) == "<script>alert(1)</script> & paste"
    assert tree.find(".//pre").text == TEXT
    assert 'near "the" side' in words(tree)


def test_answer_comes_first_with_its_uncertainty(result, tree):
    sections = tree.findall(".//section")
    first = words(sections[0])
    spot = result.cold_spot.least_lethality
    found = re.search(
        r"Least lethality F0\(121\.1 °C, z 10 K\) = ([\d.]+) ± ([\d.]+) min at r = ([\d.]+) ± [\d.]+ mm, "
        r"z = ([\d.]+)",
        first,
    )
    assert abs(float(found[1]) - spot.lethality / 60) <= float(found[2])
    assert abs(float(found[3]) - spot.r * 1e3) <= 0.1
    assert abs(float(found[4]) - spot.z * 1e3) <= 0.1
    assert "NOT reached" in first
    hold = re.search(r"a hold of ([\d.]+) ± [\d.]+ min \(now 60 min\)", first)
    assert abs(float(hold[1]) - result.target.required_hold / 60) <= 0.1
    assert "not the uncertainty of the input data" in words(tree)


def test_warnings_and_cautions_come_before_the_figures(result, page):
    figures = page.index("<figure>")
    for text in ("botulinum", "process authority", "not a validation", "conduction alone", "sharp edges", "pressure"):
        assert page.index(text) < figures
    assert result.warnings
    assert page.index("A note about an assumption.") < figures


def test_every_figure_has_a_caption_that_tells_how_to_read_it(result, tree):
    assert {drawn.title for drawn in FIGURES} == set(CAPTIONS)
    captions = [words(caption) for caption in tree.findall(".//figcaption")]
    assert len(captions) == len(figures_of(result))
    assert all(len(caption) > 80 for caption in captions)


def test_tables_hold_minima_zone_arrivals_and_points(result, tree):
    text = words(tree)
    heading = text.index("All local minima")
    assert len(re.findall(r"(?:inside|on a surface) ", text[heading : text.index("The cold zone")] + " ")) == len(
        result.cold_spot.minima
    )
    assert "130 °C not reached" in text
    assert re.search(r"100 °C \d+\.\d ± \d+\.\d min", text)
    point = result.points[0]
    shown = re.search(r'near "the" side 30\.0 mm 50\.0 mm ([\d.]+) ± ([\d.]+) min', text)
    assert abs(float(shown[1]) - point.lethality / 60) <= float(shown[2])


def test_both_cold_spots_have_their_place_and_their_depth_below_the_top(result, tree):
    text, top = words(tree), 1e3 * result.case.container.outer_height
    for name, spot, curve in (
        ("least lethality", result.cold_spot.least_lethality, result.spots[0]),
        ("slowest heating", result.cold_spot.slowest_heating, result.spots[1]),
    ):
        one = r"(-?[\d.]+) ± [\d.]+"
        row = rf"{name} {one} mm {one} mm {one} min {one} min {one} (?:°C|degC) ([\d.]+) mm"
        shown = [float(value) for value in re.search(row, text).groups()]
        wanted = [1e3 * spot.r, 1e3 * spot.z, curve.lethality / 60, curve.heating_lethality / 60]
        wanted += [curve.end_of_heating, top - 1e3 * spot.z]
        # shown to a tenth of a millimetre, a hundredth of a minute or of a degree
        np.testing.assert_allclose(shown, wanted, rtol=0, atol=0.0501)
    zone = result.cold_spot.zone
    for axis, low, high in (("r", zone.r_low, zone.r_high), ("z", zone.z_low, zone.z_high)):
        shown = re.search(rf" {axis} (-?[\d.]+) ± [\d.]+ mm to (-?[\d.]+) ± [\d.]+ mm", text)
        np.testing.assert_allclose(
            [float(end) for end in shown.groups()], [1e3 * low, 1e3 * high], rtol=0, atol=0.0501
        )


def test_each_wall_is_echoed_with_its_own_material_and_the_walls_start():
    walls = [Wall(Material(name, 1.0, 2500.0, 750.0), 1e-3 * k) for k, name in enumerate("abc", 1)]
    container = Container(straight(0.066, 0.113), *walls, initial=15.0)
    case = small_can(container=container, fill_height=0.100, headspace=Headspace("fixed", GAS))
    parts = input_parts(SimpleNamespace(case=case, probe=None, advice=None, time=np.array([0.0, 90.0])))
    told = {label: texts[0] for part in parts if isinstance(part, Facts) for label, texts in part.entries}
    assert (told["Side wall"], told["Base"], told["Lid"]) == ("a, 1 mm", "b, 2 mm", "c, 3 mm")
    assert told["Walls at the start"] == "15 °C"
    assert told["Headspace"].startswith("13 mm, ")
    assert told["Temperatures kept every"] == "0.5 min"  # as the can's case says
    assert told["Target"] == "4 min" and told["Lethality"] == "reference temperature 121.1 °C, z = 10 K"


def test_inputs_are_echoed_with_defaults_marked(tree):
    text = words(tree)
    volume = np.pi * 3.3**2 * 10.1
    assert f"101 mm high, {volume:.1f} ml, {volume * 1.05:.1f} g" in text
    assert "glass <thin>, 3 mm" in text
    assert "glass <thin> 1 2500 750 1.875 side, base from memory" in text
    assert "hold 0 60 118 450 ∞ 300" in text
    assert "0.05 K (default)" in text
    assert "Lid none" in text
    assert "no heat crosses it" in text


def test_provenance_has_the_fingerprints(tree):
    text = words(tree)
    for content in (TEXT, "time,temperature\n"):
        assert hashlib.sha256(content.encode()).hexdigest() in text
    assert "thermsim 0.1.0" in text
    assert "2026-01-02 10:20 +0100" in text


def test_case_made_in_a_program_says_so(result):
    made = dataclasses.replace(result, case=result.case.replace(text="", attachments={}))
    bare = report_html(made, {}, program="p", when="w", case_name="c")
    assert "not read from a file" in bare
    assert "<pre>" not in bare


@pytest.mark.parametrize(("conductivity", "told"), [((0.5, 0.56), "0.5 to 0.56"), ((0.5, 0.5), "0.5")])
def test_properties_that_change_are_told_by_their_least_and_largest_where_the_case_goes(conductivity, told):
    """The can goes from 25 to 121.1 degC."""
    tabulated = Tabulated((25.0, 121.1), conductivity, (3.6e6, 4.0e6))
    paste = Material("changing paste", 0.5, 1000.0, 3700.0, "s", tabulated)
    parts = substance_tables(small_can(product=Product(paste, 40.0)))
    (row,) = [row for part in parts if hasattr(part, "rows") for row in part.rows if row[0] == "changing paste"]
    assert row[1] == told and row[4] == "3.6 to 4"
