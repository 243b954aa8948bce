import dataclasses
import re
import subprocess
import sys
from xml.etree import ElementTree

import pytest
from matplotlib.figure import Figure

from thermsim.figures.files import (
    FIGURES,
    bench_sheet,
    draw_figures,
    figures_of,
    inline_svg,
    report_of,
    save_figure,
    save_figures,
)


@pytest.fixture(scope="module", params=["jar", pytest.param("advised", marks=pytest.mark.long)])
def svgs(request):
    return draw_figures(request.getfixturevalue(request.param), None).svgs


@pytest.mark.long
def test_every_figure_is_written_and_nothing_else(jar, tmp_path):
    written = save_figures(jar, tmp_path, stem="jar", formats=("png", "svg"))
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(path.name for path in written)
    assert len(written) == 2 * 4
    assert all(path.stat().st_size > 1000 for path in written)


def test_figures_follow_what_a_result_holds(jar, advised, logged):
    plain = ["section", "maps", "histories", "track"]
    probed = ["section", "bias", "tip", "maps", "histories", "track"]
    assert [kind.name for kind in figures_of(jar)] == plain
    assert [kind.name for kind in figures_of(dataclasses.replace(advised, advice=None))] == probed
    # all but the properties, which do not change in this case, and the stem from the side
    absent = ("properties", "stem")
    assert figures_of(advised) == [kind for kind in FIGURES if kind.name not in absent]
    # a single candidate needs no comparison
    assert {kind.name for kind in FIGURES} - {kind.name for kind in figures_of(logged)} == {
        "candidates",
        "properties",
        "stem",
    }


def test_titles_are_those_that_captions_go_by():
    assert {kind.title for kind in FIGURES} >= {
        "How deep the probe should go",
        "Probes and entries compared",
        "What the probe does to the reading",
        "Other stems at this depth",
        "Temperature round the tip",
        "Temperature round the stem",
        "Bench sheet",
    }


def test_each_figure_is_drawn_once_for_all_its_files_and_its_page(jar, tmp_path, monkeypatch):
    drawn = []

    def counted(kind):
        def plot(result):
            drawn.append(kind.name)
            return kind.plot(result)

        return dataclasses.replace(kind, plot=plot)

    kinds = [counted(kind) for kind in figures_of(jar)[:1]]
    monkeypatch.setattr("thermsim.figures.files.figures_of", lambda _: kinds)
    found = draw_figures(jar, tmp_path, stem="f", formats=("png", "svg", "pdf"))
    assert drawn == [kind.name for kind in kinds]
    assert [path.name for path in found.written[:3]] == ["f-section.png", "f-section.svg", "f-section.pdf"]
    # the page's element is the file's, but for its ids
    svg = ElementTree.parse(tmp_path / "f-section.svg").getroot()
    element = ElementTree.fromstring(found.svgs["Section of the container"])
    assert [part.text for part in svg.iter() if part.tag.endswith("text")] == [
        part.text for part in element.iter() if part.tag.endswith("text")
    ]
    report = report_of(jar, "jar", when="now", figures=found.svgs)
    assert drawn == [kind.name for kind in kinds]
    assert report.count("<svg") >= len(kinds)


def test_failed_write_leaves_the_old_file(tmp_path):
    old = tmp_path / "a.unknownformat"
    old.write_text("old")
    with pytest.raises(ValueError, match="unknownformat"):
        save_figure(Figure(), old)
    assert [path.name for path in tmp_path.iterdir()] == ["a.unknownformat"]
    assert old.read_text() == "old"


def test_svg_files_are_the_same_every_time(jar, tmp_path):
    (section,) = (kind for kind in figures_of(jar) if kind.name == "section")
    one, two = (save_figure(section.plot(jar), tmp_path / name) for name in ("one.svg", "two.svg"))
    assert one.read_bytes() == two.read_bytes()


def test_inline_figures_are_well_formed_small_and_share_no_id(svgs):
    ids = []
    for svg in svgs.values():
        tree = ElementTree.fromstring(svg)
        assert tree.tag.endswith("svg")
        ids += [element.attrib["id"] for element in tree.iter() if "id" in element.attrib]
    assert len(ids) == len(set(ids))
    assert sum(map(len, svgs.values())) < 1.5e6


def test_inline_figures_refer_only_to_their_own_ids(svgs):
    for title, svg in svgs.items():
        ids = set(re.findall(r'\bid="([^"]+)"', svg))
        referred = set(re.findall(r'(?:href="#|url\(#)([^")]+)', svg))
        assert referred or title == "Record of the containers"  # lines and words alone
        assert referred <= ids


def test_inline_figure_keeps_text_as_text():
    figure = Figure()
    figure.text(0.5, 0.5, "readable")
    assert "readable</text>" in inline_svg(figure, "x")


def test_package_does_not_load_matplotlib_before_a_figure_is_wanted():
    code = "import sys, thermsim, thermsim.figures; sys.exit('matplotlib' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_numbers_keep_their_units_on_the_sheet_as_written(advised):
    svg = inline_svg(bench_sheet(advised), "x")
    texts = " ".join(
        "".join(node.itertext()) for node in ElementTree.fromstring(svg).iter() if node.tag.endswith("text")
    )
    depth = 1e3 * advised.advice.own.recommended("least lethality").depth
    assert f"{depth:.1f}\u00a0mm" in texts
    assert "?" not in texts


def test_further_pages_are_those_of_a_pdf_alone(tmp_path):
    for name, further, begins, pages in (
        ("one.pdf", 0, b"%PDF", 1), ("three.pdf", 2, b"%PDF", 3), ("one.png", 2, b"\x89PNG", 0),
    ):  # fmt: skip
        made = save_figure(Figure(), tmp_path / name, *(Figure() for _ in range(further))).read_bytes()
        assert made.startswith(begins) and len(re.findall(rb"/Type /Page\b", made)) == pages
