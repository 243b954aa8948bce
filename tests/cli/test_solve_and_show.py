"""Cases solved and shown again by the command line: what it prints, what it writes, what of it is kept."""

from __future__ import annotations

import contextlib
import io
import json
import math
import re

import pytest
from places import CASES

from thermsim.cli import main
from thermsim.errors import InputError
from thermsim.figures import files
from thermsim.records.files.results import load_result

ROUGH = "accuracy = { temperature_K = 2, place_mm = 10.0, lethality_percent = 20.0 }\n"
#: All that is drawn here: the others are drawn where they are tested.
FEW_FIGURES = [kind for kind in files.FIGURES if kind.name == "section"]
#: A container with a taper, a shoulder and a punt, and a stem through its lid.
SHAPED = (
    ROUGH
    + """
format = 1
title = "Shouldered cup with a punt"
[container]
profile_mm = [[0, 20], [20, 26], [50, 26], [60, 20], [70, 20]]
rounding_mm = 4
base_rise_mm = 6
base_rise_diameter_mm = 30
side = { material = "tinplate", thickness_mm = [0.4, 0.3, 0.3, 0.3, 0.3] }
base = { material = "tinplate", thickness_mm = 0.3 }
lid = { material = "tinplate", thickness_mm = 0.2 }
[materials.paste]
conductivity_W_mK = 0.55
density_kg_m3 = 1050
specific_heat_J_kgK = 3700
[product]
material = "paste"
initial_C = 40
[fill]
headspace_mm = 8
[headspace]
model = "insulated"
[process]
start_C = 121
film_W_m2K = 900
[[process.stage]]
name = "hold"
minutes = 30
[[process.stage]]
name = "cool"
minutes = 0
to_C = 25
[[process.stage]]
name = "cool"
minutes = 15
[lethality]
reference_C = 121.1
z_C = 10
[probe]
entry = "lid"
mount = "through"
insertion_mm = 36
sensing_mm = 1
segments = [{ diameter_mm = 3, length_mm = 80, material = "stainless steel" }]
"""
)


@pytest.fixture(scope="module")
def shaped(tmp_path_factory):
    """A shaped container with a probe, solved into a folder once."""
    folder = tmp_path_factory.mktemp("shaped")
    (folder / "cup.toml").write_text(SHAPED, "utf-8")
    words = ["solve", str(folder / "cup.toml"), "--out", str(folder / "out"), "--quiet", "--figures", "none"]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(files, "figures_of", lambda result: FEW_FIGURES)
        assert main(words) == 0
    return folder


@pytest.fixture(scope="module")
def rough(tmp_path_factory):
    """The ready can, to be solved at a rough accuracy."""
    file = tmp_path_factory.mktemp("rough") / "can.toml"
    file.write_text(ROUGH + (CASES / "can.toml").read_text("utf-8"), "utf-8")
    return file


@pytest.fixture(scope="module")
def solved(rough):
    """The rough can solved into a folder once, and what was printed then."""
    folder, printed = rough.parent / "out", io.StringIO()
    with pytest.MonkeyPatch.context() as patch, contextlib.redirect_stdout(printed):
        patch.setattr(files, "figures_of", lambda result: FEW_FIGURES)
        assert main(["solve", str(rough), "--out", str(folder)]) == 0
    return folder, printed.getvalue()


@pytest.fixture
def as_before(solved, monkeypatch):
    """What was computed before stands for what would be computed again."""
    result = load_result(solved[0] / "result.h5")
    monkeypatch.setattr("thermsim.assess.simulate.simulation.simulate", lambda *given, **more: result)


def test_solve_prints_the_answer_and_how_to_get_files(capsys):
    assert main(["solve", str(CASES / "jar.toml")]) == 0
    out, err = capsys.readouterr()
    assert out.startswith("Least lethality F0(121.1 degC, z 10 K) = 5.85 +- 0.01 min at r = 0.0 +- 0.1 mm, z = 106.0")
    assert "process authority" in out
    assert "--out FOLDER" in out
    assert err == ""  # no progress bar where nobody sees it


def test_solve_writes_results_report_and_figures(solved):
    names = {path.name for path in solved[0].iterdir()}
    assert {"result.h5", "result.xdmf", "report.html", "figure-section.png"} <= names
    assert not [name for name in names if name.startswith(".") or name.endswith(".part")]
    assert "result-probe.xdmf" not in names


def test_solve_lists_every_file_that_it_wrote_and_counts_the_pictures(solved):
    folder, printed = solved
    (line,) = [line for line in printed.splitlines() if line.startswith("wrote into ")]
    listed = line.removeprefix(f"wrote into {folder}: ").split(", ")
    names = [path.name for path in folder.iterdir()]
    pictures = [name for name in names if name.endswith((".png", ".svg"))]
    others = listed[: listed.index(f"{len(pictures)} picture{'s' * (len(pictures) > 1)} (PNG)")]
    assert sorted(others) == sorted(set(names) - set(pictures))
    assert others[:2] == ["result.h5", "result.xdmf"]


def test_shaped_container_with_a_probe_is_solved_and_shown_again(shaped, capsys):
    names = {path.name for path in (shaped / "out").iterdir()}
    assert {"result.h5", "result.xdmf", "result-probe.xdmf", "report.html"} <= names
    assert main(["show", str(shaped / "out" / "result.h5"), "--full", "--quiet"]) == 0
    stored = capsys.readouterr().out
    assert main(["solve", str(shaped / "cup.toml"), "--full", "--quiet"]) == 0
    fresh = capsys.readouterr().out

    def without_effort(text):
        return [line for line in text.splitlines() if not line.startswith("Numerics")]

    assert without_effort(stored) == without_effort(fresh)
    told = " ".join(stored.split())
    assert "inner diameter 40.0 mm at the base, 40.0 mm at the top, 52.0 mm where it is widest" in told
    assert "base rises 6.0 mm; side wall 0.3 to 0.4 mm" in told
    assert re.search(r"Fill +114\.\d ml, 119\.\d g, 62\.0 mm high: 91\.9 % of the inner volume", told)
    # 0.3 mm base, 70 mm inside, 0.2 mm lid, less 36 mm
    assert "tip at z = 34.5 mm, 36.0 mm from the outer face of the lid" in told


def test_json_of_a_shaped_container_has_its_sizes_and_its_fill(shaped, capsys):
    assert main(["show", str(shaped / "out" / "result.h5"), "--json"]) == 0
    record = json.loads(capsys.readouterr().out)
    container, fill = record["container"], record["fill"]
    assert container["inner_diameter_widest_mm"] == pytest.approx(52.0, rel=1e-12)
    assert container["base_rise_mm"] == pytest.approx(6.0, rel=1e-12)
    assert container["side_thickness_mm"] == pytest.approx([0.3, 0.4], rel=1e-12)
    both = fill["product_volume_ml"] + fill["headspace_volume_ml"]
    assert both == pytest.approx(container["inner_volume_ml"], rel=1e-12)
    # 8 mm of the neck, 40 mm across; the shoulder's rounding ends 1 mm below it
    assert fill["headspace_volume_ml"] == pytest.approx(math.pi * 2.0**2 * 0.8, rel=1e-12)
    assert fill["mass_g"] == pytest.approx(1.05 * fill["product_volume_ml"], rel=1e-12)


def test_full_disk_after_the_results_file_is_one_line_and_keeps_that_file(
    rough, as_before, tmp_path, capsys, monkeypatch
):
    def refuse(result, path):
        raise InputError(f"{path}: cannot be written: no space left on device")

    monkeypatch.setattr("thermsim.records.files.xdmf.save_xdmf", refuse)
    assert main(["solve", str(rough), "--out", str(tmp_path)]) == 2
    err = capsys.readouterr().err
    assert len(err.splitlines()) == 1
    assert "no space left" in err
    # what was computed is kept
    assert main(["show", str(tmp_path / "result.h5"), "--quiet"]) == 0


def test_json_is_the_only_thing_on_standard_output(rough, solved, as_before, capsys):
    assert main(["solve", str(rough), "--json"]) == 0
    record = json.loads(capsys.readouterr().out)
    least = load_result(solved[0] / "result.h5").cold_spot.least_lethality
    assert record["cold_spot"]["least_lethality"]["z_mm"] == pytest.approx(1e3 * least.z, rel=1e-12)
    assert record["numerical_uncertainty"]["cold_spot"]["least_lethality"]["lethality_min"] > 0
    assert record["energy_balance"]["relative_defect"] == pytest.approx(0.0, abs=1e-8)


def test_show_gives_the_same_answer_and_draws_again(rough, solved, tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(files, "figures_of", lambda result: FEW_FIGURES)
    assert main(["solve", str(rough), "--json"]) == 0
    fresh = json.loads(capsys.readouterr().out)
    assert main(["show", str(solved[0] / "result.h5"), "--json"]) == 0
    stored = json.loads(capsys.readouterr().out)
    assert stored["cold_spot"] == fresh["cold_spot"]
    words = ["show", str(solved[0] / "result.h5"), "--out", str(tmp_path), "--quiet", "--figures", "none"]
    assert main(words) == 0
    # the figures are in it
    assert (tmp_path / "report.html").read_text("utf-8").count("<svg") == len(list(solved[0].glob("*.png")))
    assert [path.name for path in tmp_path.iterdir()] == ["report.html"]


def test_an_interrupt_while_drawing_keeps_the_results_file(rough, as_before, tmp_path, capsys, monkeypatch):
    def interrupt(*arguments, **named):
        raise KeyboardInterrupt

    monkeypatch.setattr("thermsim.figures.files.draw_figures", interrupt)
    assert main(["solve", str(rough), "--out", str(tmp_path)]) == 130
    assert main(["show", str(tmp_path / "result.h5"), "--quiet"]) == 0


def test_an_answer_says_by_itself_how_far_the_headspace_moves_the_cold_spot_and_that_nobody_looked_at_flow(
    shaped, capsys
):
    assert main(["show", str(shaped / "out" / "result.h5"), "--quiet", "--full"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert re.search(r"headspace alone moves the place of least lethality by up to [\d.]+ mm: its height z is", told)
    assert "Nobody has looked whether the product flows" in told


def test_units_of_the_screen_may_be_chosen_and_json_stays(shaped, capsys):
    result = str(shaped / "out" / "result.h5")
    said = {}
    for units in ("metric", "us"):
        assert main(["show", result, "--quiet", "--full", "--units", units]) == 0
        said[units] = " ".join(capsys.readouterr().out.split())
        assert main(["show", result, "--json", "--units", units]) == 0
        said[f"{units} json"] = capsys.readouterr().out
    assert said["us json"] == said["metric json"]
    # 40 mm and 52 mm
    assert "inner diameter 1.575 in at the base, 1.575 in at the top, 2.047 in where it is widest" in said["us"]
    assert not re.search(r"\d (mm|degC|K|ml)\b", re.sub('"[^"]*"', "", said["us"]))
