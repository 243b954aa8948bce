"""Rung: hand-worked. The ready measured run through the command line: files, words, JSON, and the run made again."""

from __future__ import annotations

import contextlib
import csv
import dataclasses
import io
import json
import re
import shutil
import xml.etree.ElementTree as ElementTree

import h5py
import numpy as np
import pytest
from approved import check_approved
from numpy.testing import assert_allclose
from openpyxl import load_workbook
from places import CASES
from small_cans import small_can

from thermsim.assess.measured.cautions import AUTHORITY
from thermsim.assess.simulate.simulation import simulate
from thermsim.cli import main
from thermsim.figures.measured import files
from thermsim.notice import Notice
from thermsim.records.files.results import save_result
from thermsim.records.measured.file import load_comparison, save_comparison
from thermsim.records.measured.sentences import measured_answer
from thermsim.records.measured.sheets import save_sheets
from thermsim.records.words.screen import ROOM

CASE, RUN = CASES / "measured_can.toml", CASES / "measured_can_run.csv"
MEDIUM = ["--medium", "Retort [°C]"]
PROBES = ["--probe", "Can 1 [°C]", "--probe", "Can 3 [°C]", "--depth-mm", "Can 3 [°C]=75"]
#: What cases/make_measured_run.py put in.
DIFFUSIVITY, OFFSET = 1.350e-7, 12.0


def said(*words):
    """Exit code, and what is printed."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main([str(word) for word in words])
    return code, out.getvalue(), err.getvalue()


@pytest.fixture(scope="module")
def done(tmp_path_factory):
    folder = tmp_path_factory.mktemp("run")
    code, text, _ = said("compare", CASE, RUN, *MEDIUM, *PROBES, "--full", "--out", folder, "--figures", "none")
    assert code == 0
    return folder, text


@pytest.fixture(scope="module")
def found(done):
    return load_comparison(done[0] / "comparison.h5")


@pytest.mark.long
def test_screens_are_the_approved_ones(found):
    for name, full in (("compare", False), ("compare-full", True)):
        lines = measured_answer(found, full=full)
        assert max(map(len, lines)) <= 100
        assert full or len(lines) < ROOM
        check_approved(name, lines)


def test_the_ready_run_is_the_one_that_its_script_makes(tmp_path):
    assert "invented" in RUN.read_text("utf-8").splitlines()[0]
    for name in ("make_measured_run.py", "measured_can.toml"):
        shutil.copy(CASES / name, tmp_path / name)
    names: dict[str, object] = {"__name__": "made", "__file__": str(tmp_path / "make_measured_run.py")}
    exec(compile((tmp_path / "make_measured_run.py").read_text("utf-8"), "make_measured_run.py", "exec"), names)
    names["main"]()
    made, kept = ((tmp_path / RUN.name).read_text("utf-8"), RUN.read_text("utf-8"))
    cells = [
        [float(cell.replace(",", ".")) for line in text.splitlines()[4:] for cell in line.split(";")[1:]]
        for text in (made, kept)
    ]
    # hundredths are rounded: another machine may round the last one otherwise
    assert_allclose(*cells, rtol=0, atol=0.011)


@pytest.mark.long
def test_what_was_put_into_the_ready_run_is_found(found):
    for one in found.containers:
        assert_allclose(one.fit.value("diffusivity"), DIFFUSIVITY, rtol=0.01)
        assert_allclose(one.fit.value("offset"), OFFSET, rtol=0, atol=6.0)


@pytest.mark.long
def test_what_was_dropped_is_said(done):
    text = " ".join(done[1].split())
    assert "1 sample repeats the time of the one before" in text
    assert 'column "Can 1 [°C]" has spikes in 1 sample,' in text


@pytest.mark.long
def test_the_decision_is_left_to_the_authority_wherever_there_is_a_verdict(done):
    folder, text = done
    assert AUTHORITY in " ".join(text.split())
    page = (folder / "report.html").read_text("utf-8")
    # once, and before the verdict
    assert page.count(AUTHORITY) == 1
    assert page.index(AUTHORITY) < page.index("<h2>Verdict</h2>")
    for word in ("passed", "failed", "PASS", "FAIL", "approved"):
        assert word not in text and word not in page


@pytest.mark.long
def test_the_page_is_whole_and_stands_by_itself(done):
    page = (done[0] / "report.html").read_text("utf-8")
    tree = ElementTree.fromstring(page.partition("\n")[2])
    assert len(tree.findall(".//figure")) == 6
    assert "http" not in page.replace("http://www.w3.org", "")
    words = " ".join("".join(tree.itertext()).split())
    for piece in (
        "Before you act on it",
        "Verdict",
        "Holds for the target",
        "SHA-256",
        "What was fitted",
        "diffusivity",
    ):
        assert piece in words
    assert 'title = "Measured run, thick stew, 73 mm can"' in words


def pages(path):
    """Sizes of a PDF's pages [mm]."""
    boxes = re.findall(rb"/MediaBox \[ 0 0 ([\d.]+) ([\d.]+) \]", path.read_bytes())
    return [(float(width) * 25.4 / 72, float(height) * 25.4 / 72) for width, height in boxes]


@pytest.mark.long
def test_the_pdf_is_a_few_pages_of_a4(done):
    sizes = pages(done[0] / "report.pdf")
    assert 3 <= len(sizes) <= 5
    assert_allclose(sizes, [(210.0, 297.0)] * len(sizes), rtol=0, atol=0.2)


@pytest.mark.long
def test_six_cans_take_eight_pages_at_most_and_no_more_figures_than_two_a_page(found, tmp_path, monkeypatch):
    drawn = []
    for name in ("plot_measured", "plot_penetration", "plot_measured_lethality"):
        monkeypatch.setattr(files, name, lambda found, one, *, figure, name=name: drawn.append((name, figure)))
    six = dataclasses.replace(found, containers=found.containers * 3)
    path = files.save_measured_pdf(six, tmp_path / "six.pdf", program="thermsim", when="now")
    assert len(pages(path)) <= 8
    assert len(drawn) == 18


@pytest.mark.long
def test_tables_for_spreadsheets_hold_a_row_a_can_the_curves_and_the_fits(done, found):
    rows = list(csv.DictReader((done[0] / "containers.csv").read_text("utf-8").splitlines()))
    assert [row["can"] for row in rows] == ["Can 1 [°C]", "Can 3 [°C]"]
    assert [row["channel"] for row in rows] == ["3", "5"]
    for row, one in zip(rows, found.containers, strict=True):
        assert_allclose(float(row["lethality corrected [min]"]), one.corrected.lethality / 60, rtol=1e-5)
        assert float(row["tip found, from [mm]"]) < 1e3 * one.insertion < float(row["tip found, to [mm]"])
        assert row["in doubt or refused"] == "no"
    curves = list(csv.DictReader((done[0] / "curves.csv").read_text("utf-8").splitlines()))
    assert len(curves) == len({time for one in found.containers for time in one.time})
    read = [row["Can 1 [°C], read [degC]"] for row in curves if row["Can 1 [°C], read [degC]"]]
    assert_allclose([float(value) for value in read], found.containers[0].temperature, rtol=0, atol=1e-4)
    book = load_workbook(done[0] / "comparison.xlsx")
    assert book.sheetnames == ["containers", "curves", "fits"]
    assert book["containers"]["A2"].value == "Can 1 [°C]" and book["curves"].max_row == len(curves) + 1


@pytest.mark.long
def test_a_columns_name_is_no_formula_in_a_spreadsheet(found, tmp_path):
    bad = dataclasses.replace(found.containers[0], name='=HYPERLINK("x")')
    save_sheets(dataclasses.replace(found, containers=(bad,)), tmp_path)
    assert load_workbook(tmp_path / "comparison.xlsx")["containers"]["A2"].data_type == "s"
    assert (tmp_path / "containers.csv").read_text("utf-8").splitlines()[1].startswith("\"'=HYPERLINK")


@pytest.mark.long
def test_one_row_a_can_is_the_first_thing_printed(done):
    first, one, two = done[1].splitlines()[:3]
    assert first.split()[:2] == ["can", "no."] and "F0 corrected" in first and "flags" in first
    assert one.startswith("Can 1 [°C]") and two.startswith("Can 3 [°C]")
    assert " 75 " in two


@pytest.mark.long
def test_a_product_that_convects_is_said_to_before_any_number(found):
    flow = Notice("convects", "danger", "convection", "IT CONVECTS: the model does not hold for it.")
    lines = measured_answer(dataclasses.replace(found, notices=(*found.notices, flow)))
    assert lines[0].startswith("DANGER") and "IT CONVECTS" in lines[0]


@pytest.mark.long
def test_the_file_holds_the_loggers_bytes_and_their_digest(done, found):
    with h5py.File(done[0] / "comparison.h5") as file:
        assert file["logger_file"][()].tobytes() == RUN.read_bytes()
        assert file["logger_file"].attrs["sha256"] == found.run.sha256
        assert file["case_text"][()].decode() == CASE.read_text("utf-8")
        assert file.attrs["holds"] == "comparison"


@pytest.mark.long
def test_a_comparison_is_read_back_bit_by_bit(found, tmp_path):
    save_comparison(found, tmp_path / "again.h5")
    again = load_comparison(tmp_path / "again.h5")
    assert again.checks == found.checks and again.design == found.design and again.plan == found.plan
    for one, other in zip(again.containers, found.containers, strict=True):
        assert np.array_equal(one.temperature, other.temperature)
        assert np.array_equal(one.fit.covariance, other.fit.covariance)
        assert one.corrected.lethality == other.corrected.lethality


@pytest.mark.long
def test_a_changed_file_is_refused(done, tmp_path):
    path = tmp_path / "changed.h5"
    shutil.copy(done[0] / "comparison.h5", path)
    with h5py.File(path, "r+") as file:
        file["containers_0_temperature"][5] += 0.01
    code, _, err = said("report", path)
    assert code == 2 and "not those that were written" in err


@pytest.mark.long
def test_the_run_computed_again_from_its_file_alone_agrees(done, tmp_path):
    path = tmp_path / "alone.h5"
    shutil.copy(done[0] / "comparison.h5", path)
    code, text, _ = said("rerun", path)
    assert code == 0
    assert "AGREES within the tolerance" in text


@pytest.mark.long
def test_a_figure_that_was_forged_does_not_agree(found, done, monkeypatch):
    first = found.containers[0]
    forged = dataclasses.replace(first, corrected=dataclasses.replace(first.corrected, lethality=900.0))
    monkeypatch.setattr(
        "thermsim.records.rerun.load_comparison",
        lambda path: dataclasses.replace(found, containers=(forged, *found.containers[1:])),
    )
    # what would be computed again is what was found
    monkeypatch.setattr("thermsim.records.rerun.compare", lambda *given, **more: found)
    code, text, _ = said("rerun", done[0] / "comparison.h5")
    assert code == 3
    assert "DOES NOT AGREE: 1 figures" in text and "Can 1 [°C]: corrected lethality: 900" in text


@pytest.mark.long
def test_the_report_is_written_again_from_the_file(done, tmp_path):
    code, text, _ = said("report", done[0] / "comparison.h5", "--out", tmp_path)
    assert code == 0
    assert {"report.html", "report.pdf", "figure-curves-1.png"} <= {path.name for path in tmp_path.iterdir()}
    assert "report.pdf" in text


@pytest.mark.long
def test_show_prints_a_comparison_as_it_was_told(done):
    code, text, _ = said("show", done[0] / "comparison.h5", "--full")
    assert code == 0 and done[1].startswith(text.rstrip())


@pytest.mark.long
def test_a_simulation_is_computed_again_from_its_file_too(tmp_path):
    save_result(simulate(small_can()), tmp_path / "result.h5")
    code, text, _ = said("rerun", tmp_path / "result.h5", "--json")
    record = json.loads(text)
    assert code == 0 and record["agrees"] and len(record["figures"]) > 20


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--probe", "Can 9 [°C]"], 'has no column "Can 9 [°C]"; did you mean'),
        (["--probe", "3", "--fit", "conductivity"], '"conductivity" cannot be fitted'),
        (["--probe", "3", "--together", "conductivity"], '"conductivity" cannot be fitted'),
        (["--probe", "3", "--own-clock", "4"], "which is not a probe"),
        (["--probe", "3", "--depth-mm", "Can 1"], "write it as COLUMN=MILLIMETRES"),
        (["--probe", "3", "--depth-in", "Can 1=2,5"], 'write it as COLUMN=INCHES, decimals with a point, as in "Can'),
        (["--probe", "3", "--limit", "rms=1"], 'did you mean "rms_K"'),
        (["--probe", "3", "--limit", "rms_K=much"], "is not a number"),
        (["--probe", "3", "--deviation", "medium=1"], 'did you mean "medium_K"'),
        (["--probe", "3", "--straight-min", "50", "40"], "give its start, then its end"),
        (["--probe", "3", "--cooling-min", "85"], "no column of the medium"),
        (["--probe", "3", "--medium", "2", "--cooling-min", "900"], "must lie after the start"),
        ([], "which column is the temperature is not clear"),
    ],
)
def test_what_is_not_clear_is_refused_in_one_line(words, message):
    code, out, err = said("compare", CASE, RUN, *words)
    assert code == 2 and out == ""
    assert message in err and err.count("\n") == 1


def test_a_case_without_a_probe_is_refused():
    code, _, err = said("compare", CASES / "can.toml", RUN, "--probe", "3")
    assert code == 2 and "insertion_mm" in err
