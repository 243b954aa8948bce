"""Every option of every command does something: what it asks for reaches whoever computes, prints or writes.

Rung: hand-worked. Whatever takes time is replaced by something that notes what it is asked for.
"""

from __future__ import annotations

import contextlib
import dataclasses
import importlib
import json
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest
from places import CASES

from thermsim.assess.depth.bracket import Bound, Bracket
from thermsim.assess.measured.result import Deviations, Limits, Plan
from thermsim.assess.spots.cold_spot import Spot
from thermsim.cli import answer, compare, depth, main, results, solve, study
from thermsim.cli.program import parser
from thermsim.figures.files import Pictures
from thermsim.loggers.run import Columns
from thermsim.quantities import SHOWN

CASE = str(CASES / "can_probe.toml")
#: Options that change one thing which a plan of a comparison holds.
PLANS = {
    "--probe": (["--probe", "A", "--probe", "B"], {"columns": Columns(probes=("A", "B"))}),
    "--medium": (["--medium", "Retort"], {"columns": Columns(medium="Retort")}),
    "--depth-mm": (["--depth-mm", "A=75"], {"columns": Columns(depths=(("A", 0.075),))}),
    "--depth-in": (["--depth-in", "A=3"], {"columns": Columns(depths=(("A", 0.0762),))}),
    "--own-clock": (["--own-clock", "A"], {"columns": Columns(own_clocks=("A",))}),
    "--time": (["--time", "Clock"], {"columns": Columns(time="Clock")}),
    "--time-unit": (["--time-unit", "min"], {"columns": Columns(time_unit="min")}),
    "--decimal": (["--decimal", ","], {"columns": Columns(decimal=",")}),
    "--start-min": (["--start-min", "2"], {"columns": Columns(start=120.0)}),
    "--cooling-min": (["--cooling-min", "85"], {"columns": Columns(cooling=5100.0)}),
    "--fit": (["--fit", "diffusivity, tip"], {"fit": ("diffusivity", "tip")}),
    "--together": (["--together", "none"], {"together": ()}),
    "--come-up-percent": (["--come-up-percent", "60"], {"credit": 0.6}),
    "--straight-min": (["--straight-min", "20", "40"], {"straight": (1200.0, 2400.0)}),
    "--floor-K": (["--floor-K", "2.5"], {"floor": 2.5}),
    "--target-min": (["--target-min", "6"], {"target": 360.0}),
    "--limit": (["--limit", "rms_K=0.7"], {"limits": Limits(rms_K=0.7)}),
    "--deviation": (["--deviation", "medium_K=3"], {"deviations": Deviations(medium_K=3.0)}),
    "--no-design": (["--no-design"], {"design": False}),
}
#: Options that change one word of what a recommendation is asked.
DEPTHS = {
    "--criterion": (["--criterion", "slowest-heating"], {"criterion": "slowest heating"}),
    "--window": (["--window", "5"], {"margin": 0.05}),
    "--sensor-accuracy": (["--sensor-accuracy", "0.7"], {"sensor_accuracy": 0.7}),
    "--side": (["--side"], {"side": True}),
}
USUAL_DEPTH = {"criterion": "least lethality", "margin": 0.02, "sensor_accuracy": 0.3, "side": False}
#: Of the page: what is served where.
PAGES = {
    "--port": (["--port", "8123"], {"port": 8123}),
    "--address": (["--address", "0.0.0.0"], {"address": "0.0.0.0"}),
    "--no-browser": (["--no-browser"], {"browser": False}),
}
#: Of a study: what its runs are made with.
STUDIES = {"--workers": (["--workers", "3"], {"workers": 3}), "--restart": (["--restart"], {"restart": True})}
#: Checked below by name, for every command that has them.
EVERYWHERE = {"--full", "--json", "--out", "--figures", "--units", "--quiet", "--debug"}
#: Checked by tests of their own: the file, and words that the test's name holds.
ELSEWHERE = {
    ("depth", "--quick"): ("assess/depth/test_fin.py", "prints_the_look_and_writes_no_files"),
    ("study", "--scheduler"): ("cli/test_study_command.py", "a_scheduler_with_two_workers"),
    ("study", "--csv"): ("cli/test_study_command.py", "writes_file_csv_figures_and_report"),
    ("case", "--force"): ("cli/test_cli.py", "starting_case_is_written"),
    ("solve", "--bracket-headspace"): ("cli/test_options.py", "bounds_of_a_headspace_are_printed"),
}


def commands():
    (actions,) = [action for action in parser()._actions if action.dest not in ("help", "version")]
    return actions.choices


def options_of(command):
    return {name for action in command._actions for name in action.option_strings if name.startswith("--")}


def test_no_option_is_left_without_a_test():
    known = {"compare": PLANS, "depth": DEPTHS, "page": PAGES, "study": STUDIES}
    for name, command in commands().items():
        for option in options_of(command) - EVERYWHERE - {"--help"} - set(known.get(name, ())):
            file, words = ELSEWHERE[name, option]
            assert words in (Path(__file__).parents[1] / file).read_text("utf-8"), (name, option)
        # and no test of an option that is gone
        assert set(known.get(name, ())) <= options_of(command)


class Asked:
    """Notes what it is called with, and gives back what it was made with."""

    def __init__(self, gives=None):
        self.gives, self.named, self.given = gives, {}, ()

    def __call__(self, *given, **named):
        self.given, self.named = given, named
        return self.gives


@pytest.mark.parametrize("option", [*PLANS, ""])
def test_options_of_a_comparison_reach_its_plan(option):
    words, changes = PLANS.get(option, ([], {}))
    found = compare.plan_of(parser().parse_args(["compare", "case.toml", "run.csv", *words]))
    assert found == dataclasses.replace(Plan(), **changes)
    assert (found == Plan()) == (not option)


@pytest.mark.parametrize("option", [*DEPTHS, ""])
def test_options_of_a_recommendation_reach_whoever_finds_it(option, monkeypatch):
    words, changes = DEPTHS.get(option, ([], {}))
    found, several = Asked("result"), Asked([])
    monkeypatch.setattr("thermsim.assess.depth.recommendation.recommend", found)
    monkeypatch.setattr("thermsim.assess.depth.bracket.with_headspace_moves", lambda result: result)
    monkeypatch.setattr(depth, "tell", Asked())
    assert main(["depth", CASE, *words, "--quiet"]) == 0
    assert {name: found.named[name] for name in USUAL_DEPTH} == {**USUAL_DEPTH, **changes}
    # and of each of several cases
    monkeypatch.setattr("thermsim.records.family.running.recommend_all", several)
    monkeypatch.setattr("thermsim.records.family.table.family_lines", lambda results: [])
    monkeypatch.setattr("thermsim.records.family.table.family_answers", lambda results: [])
    assert main(["depth", CASE, str(CASES / "jar_logger.toml"), *words, "--quiet"]) == 0
    assert dataclasses.asdict(several.given[2]) == {**USUAL_DEPTH, **changes}


@pytest.mark.parametrize(
    ("words", "slow"), [([CASE], False), ([CASE, "--side"], True), ([str(CASES / "can_side.toml")], True)]
)
def test_who_waits_for_a_probe_from_the_side_is_told_how_long(words, slow, monkeypatch):
    begun = Asked(contextlib.nullcontext())
    monkeypatch.setattr(depth, "progress_bar", begun)
    monkeypatch.setattr("thermsim.assess.depth.recommendation.recommend", Asked("result"))
    monkeypatch.setattr("thermsim.assess.depth.bracket.with_headspace_moves", lambda result: result)
    monkeypatch.setattr(depth, "tell", Asked())
    assert main(["depth", *words]) == 0
    assert ("from the side takes up to half a minute" in begun.given[0]) == slow


def test_of_several_cases_the_table_of_settings_comes_first(monkeypatch, capsys):
    made = [SimpleNamespace(case=SimpleNamespace(title=one)) for one in ("one", "two")]
    monkeypatch.setattr("thermsim.records.family.running.recommend_all", Asked(made))
    monkeypatch.setattr("thermsim.records.family.running.label", lambda case: case.title)
    monkeypatch.setattr("thermsim.records.family.table.family_lines", lambda results: ["THE TABLE"])
    monkeypatch.setattr("thermsim.records.family.table.family_answers", lambda results: ["IN SHORT"])
    monkeypatch.setattr(depth, "tell", lambda result, *more, **named: print(f"answer of {result.case.title}"))
    for more, told in (([], "IN SHORT"), (["--full"], "one: one answer of one two: two answer of two")):
        assert main(["depth", CASE, str(CASES / "jar_logger.toml"), "--quiet", *more]) == 0
        assert " ".join(capsys.readouterr().out.split()) == f"THE TABLE {told}"


def test_of_several_cases_each_answer_is_written_into_a_folder_of_its_own_beside_the_table(monkeypatch, tmp_path):
    made, written = [SimpleNamespace(case=SimpleNamespace(file=f"{one}.toml")) for one in ("jar", "logger")], []
    several = Asked(made)
    monkeypatch.setattr("thermsim.records.family.running.recommend_all", several)
    monkeypatch.setattr("thermsim.records.family.table.family_lines", lambda results: [])
    monkeypatch.setattr(depth, "_write_family", lambda results, folder, name: [folder / "family.csv"])
    monkeypatch.setattr(depth, "write", lambda *given, keep: written.append((*given[:3], keep)))
    monkeypatch.setattr(depth, "print_json", lambda found: None)
    monkeypatch.setattr("thermsim.records.numbers.summary.summary", lambda result: {})
    out = tmp_path / "all"
    assert main(["depth", CASE, str(CASES / "jar_logger.toml"), "--json", "--out", str(out), "--quiet"]) == 0
    names = [Path(CASE).stem, "jar_logger"]
    assert several.given[1] == [out / name / "result.h5" for name in names]  # kept as soon as they are there
    assert written == [(one, out / name, one.case.file, False) for one, name in zip(made, names, strict=True)]


@pytest.mark.parametrize("option", [*PAGES, ""])
def test_options_of_the_page_reach_its_server(option, monkeypatch):
    words, changes = PAGES.get(option, ([], {}))
    served = Asked()
    server = SimpleNamespace(serve=served, starting_draft=lambda case: f"draft of {case}")
    monkeypatch.setitem(sys.modules, "thermsim.page.server", server)
    monkeypatch.setattr("importlib.util.find_spec", lambda name: name)
    assert main(["page", "my.toml", *words]) == 0
    assert served.given == ("draft of my.toml",)
    assert served.named == {"address": "127.0.0.1", "port": 0, "browser": True, **changes}


@pytest.mark.parametrize("option", [*STUDIES, ""])
def test_options_of_a_study_reach_its_runs(option, monkeypatch, tmp_path):
    words, changes = STUDIES.get(option, ([], {}))
    ran = Asked(SimpleNamespace(good=SimpleNamespace(any=lambda: True)))
    monkeypatch.setattr("thermsim.records.study.running.run_study", ran)
    for name in ("_keep", "write_study"):
        monkeypatch.setattr(study, name, Asked([]))
    monkeypatch.setattr(study, "tell_study", Asked())
    case = str(CASES / "study_fill.toml")
    assert main(["study", case, "--out", str(tmp_path / "there"), *words]) == 0
    usual = {"restart": False, "workers": None, "executor": None, "journal": tmp_path / "there" / study.JOURNAL}
    assert {name: ran.named[name] for name in usual} == {**usual, **changes}


#: Commands that print a result: words, what computes it, who tells it and who writes it.
TELLERS = {
    "solve": (["solve", CASE], "thermsim.assess.simulate.simulation.simulate", solve, "tell", "write"),
    "depth": (["depth", CASE], "thermsim.assess.depth.recommendation.recommend", depth, "tell", "write"),
    "show": (["show", "result.h5"], "thermsim.records.files.results.load_result", results, "tell", "write"),
    "show a comparison": (
        ["show", "comparison.h5"],
        "thermsim.records.measured.file.load_comparison", results, "tell_comparison", "write_comparison",
    ),
    "show a study": (
        ["show", "study.h5"], "thermsim.records.study.file.load_study", results, "tell_study", "write_study",
    ),
    "compare": (
        ["compare", str(CASES / "measured_can.toml"), str(CASES / "measured_can_run.csv"), "--probe", "3"],
        "thermsim.assess.measured.comparison.compare", compare, "tell_comparison", "write_comparison",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", TELLERS)
def test_what_is_printed_and_where_files_go_is_as_asked(name, monkeypatch, tmp_path, capsys):
    words, computes, module, tells, writes = TELLERS[name]
    monkeypatch.setattr("thermsim.records.files.results.holds", lambda path: name.rpartition(" ")[2])
    monkeypatch.setattr(computes, Asked("result"))
    monkeypatch.setattr("thermsim.assess.depth.bracket.with_headspace_moves", lambda result: result)
    told, wrote = Asked(), Asked([tmp_path / "out" / "result.h5", tmp_path / "out" / "figure.png"])
    monkeypatch.setattr(module, tells, told)
    monkeypatch.setattr(module, writes, wrote)
    for more, as_json, full in (([], False, False), (["--json"], True, False), (["--full"], False, True)):
        assert main([*words, *more]) == 0
        assert told.given[:2] == ("result", as_json) and told.named["full"] is full
        assert wrote.given == ()
    capsys.readouterr()
    assert main([*words, "--out", str(tmp_path / "out")]) == 0
    assert wrote.given[:2] == ("result", tmp_path / "out") and (tmp_path / "out").is_dir()
    assert capsys.readouterr().out == f"wrote into {tmp_path / 'out'}: result.h5, 1 picture (PNG)\n"
    assert main([*words, "--out", str(tmp_path / "out"), "--figures", "svg", "--quiet"]) == 0
    assert capsys.readouterr().out == ""
    assert wrote.given[-1].figures == ("svg",)
    seen = []
    monkeypatch.setattr(module, tells, lambda *given, **named: seen.append(SHOWN.get()))
    for units in ("metric", "us"):
        assert main([*words, "--units", units]) == 0
    assert seen == ["metric", "us"]


def test_the_report_of_each_kind_of_file_is_written_where_it_is_wanted(monkeypatch, tmp_path):
    file = tmp_path / "kept" / "result.h5"
    kinds = {
        "comparison": ("thermsim.records.measured.file.load_comparison", "write_comparison"),
        "study": ("thermsim.records.study.file.load_study", "write_study"),
        "result": ("thermsim.records.files.results.load_result", "write"),
    }
    for kind, (loads, writes) in kinds.items():
        wrote = Asked([])
        monkeypatch.setattr("thermsim.records.files.results.holds", lambda path, kind=kind: kind)
        monkeypatch.setattr(loads, Asked(kind))
        monkeypatch.setattr(results, writes, wrote)
        for more, folder in (([], tmp_path / "kept"), (["--out", str(tmp_path / "new")], tmp_path / "new")):
            assert main(["report", str(file), *more]) == 0
            assert wrote.given[:2] == (kind, folder)
        for words, formats in (
            ([], ("png",)),
            (["--figures", "SVG, png"], ("svg", "png")),
            (["--figures", "none"], ()),
        ):
            assert main(["report", str(file), *words]) == 0
            assert wrote.given[-1].figures == formats


def test_a_format_that_is_none_is_named_with_those_that_are(capsys):
    with pytest.raises(SystemExit) as stopped:
        main(["report", "result.h5", "--figures", "png,jpg"])
    assert stopped.value.code == 2
    assert "argument --figures: 'jpg' is no format; allowed: png, svg, pdf, or none" in capsys.readouterr().err


@pytest.mark.parametrize("advised", [True, False])
def test_each_file_of_an_answer_is_written_and_listed(advised, monkeypatch, tmp_path):
    """A recommendation has a bench sheet; what a probe reads is a table of its own."""
    result = SimpleNamespace(probe=object() if advised else None, advice=object() if advised else None)
    saved = []

    def saves(result, path, *more, **named):
        saved.append(Path(path).name)
        return Path(path)

    for name, made in (
        ("thermsim.records.files.results.save_result", saves),
        ("thermsim.records.files.xdmf.save_xdmf", lambda result, path: [Path(path).with_suffix(".xdmf")]),
        ("thermsim.records.numbers.probe.histories_csv", lambda result: "time\n"),
        ("thermsim.figures.files.save_bench_sheet", saves),
        (
            "thermsim.figures.files.draw_figures",
            lambda result, folder, stem, formats, pages: Pictures(
                [*(page() for page in pages), *(folder / f"{stem}-maps.{kind}" for kind in formats)],
                {"Maps": "<svg/>"},
            ),
        ),
        ("thermsim.figures.files.report_of", lambda result, name, when, figures: str(figures)),
    ):
        module, _, function = name.rpartition(".")
        monkeypatch.setattr(importlib.import_module(module), function, made)
    asked = SimpleNamespace(quiet=True, figures=("png",))
    written = [path.name for path in answer.write(result, tmp_path, "case.toml", asked)]
    sheets = ["probe-histories.csv", "bench-sheet.pdf"] if advised else []
    assert written == ["result.h5", "result.xdmf", *sheets, "figure-maps.png", "report.html"]
    assert saved == (["result.h5", "bench-sheet.pdf"] if advised else ["result.h5"])
    assert (tmp_path / "report.html").read_text() == "{'Maps': '<svg/>'}"
    assert {"report.html", *sheets[:1]} <= {path.name for path in tmp_path.iterdir()}
    again = [path.name for path in answer.write(result, tmp_path, "case.toml", asked, keep=False)]
    assert again == [*sheets, "figure-maps.png", "report.html"]


def bound(name, z, depth):
    return Bound(
        name, Spot(0.001, z, 300.0, 200.0, 110.0, True), Spot(0.002, 2 * z, 330.0, 210.0, 105.0, True), depth
    )


def test_bounds_of_a_headspace_are_printed_after_the_answer(monkeypatch, capsys, tmp_path):
    bounds = (bound("as given", 0.050, 0.0700), bound("insulated", 0.055, 0.0735), bound("humid", 0.047, 0.0712))
    monkeypatch.setattr("thermsim.assess.depth.bracket.headspace_bracket", Asked(Bracket(*bounds, ("It is moist.",))))
    noted = []
    result = SimpleNamespace(noting=lambda notice: noted.append(notice.code) or "noted")
    monkeypatch.setattr("thermsim.assess.simulate.simulation.simulate", Asked(result))
    monkeypatch.setattr("thermsim.records.words.answer.answer", lambda result, full: ["THE ANSWER"])
    kept = Asked([])
    monkeypatch.setattr("thermsim.cli.solve.write", kept)
    assert main(["solve", CASE, "--bracket-headspace", "--quiet", "--out", str(tmp_path / "out")]) == 0
    assert (noted, kept.given[0]) == (["headspace-moves"], "noted")  # the files say it too
    told = " ".join(capsys.readouterr().out.split())
    assert told.startswith("THE ANSWER ")
    for name, z, deep in (("as given", 50.0, 70.0), ("insulated", 55.0, 73.5), ("humid", 47.0, 71.2)):
        row = f"{name} 5.00 r = 1.0, z = {z:.1f} mm r = 2.0, z = {2 * z:.1f} mm 105.00 {deep:.1f}"
        assert row in told
    assert (
        "Between them the least-lethality place moves by 8.0 mm, the slowest-heating place by 16.0 mm, the "
        "recommended depth by 3.5 mm. It is moist."
    ) in told
    monkeypatch.setattr("thermsim.records.numbers.summary.summary", lambda result: {})
    assert main(["solve", CASE, "--bracket-headspace", "--json"]) == 0
    record = json.loads(capsys.readouterr().out)["headspace_bracket"]
    moves = {name: round(value, 9) for name, value in record.items() if name.endswith("_mm")}
    assert moves == {"least_lethality_moves_mm": 8.0, "slowest_heating_moves_mm": 16.0, "depth_moves_mm": 3.5}
