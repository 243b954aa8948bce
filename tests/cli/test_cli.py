"""The command line: its lists and helps, what it refuses, how it ends."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from types import SimpleNamespace

import pytest
from places import CASES

from thermsim.assess.verify import verification
from thermsim.assess.verify.verification import Convergence, Row, Verification
from thermsim.case.keys.template import starting_case
from thermsim.cli import main
from thermsim.cli.terminal import progress_bar
from thermsim.errors import NumericalError

ROUGH = "accuracy = { temperature_K = 2, place_mm = 10.0, lethality_percent = 20.0 }\n"


def test_faults_of_a_case_are_listed_each_on_a_line_and_end_with_2(tmp_path, capsys):
    bad = tmp_path / "bad.toml"
    text = (CASES / "jar.toml").read_text("utf-8")
    bad.write_text(text.replace("headspace_mm", "headspace").replace("z_C = 10.0", "z_C = -1"), "utf-8")
    assert main(["solve", str(bad)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    lines = err.splitlines()
    assert len(lines) == 2
    assert all(line.startswith("thermsim: bad.toml [") for line in lines)
    assert 'did you mean "headspace_mm"?' in err


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["solve", "nowhere.toml"], "nowhere.toml"),
        (["show", "nowhere.h5"], "nowhere.h5"),
        (["show", str(CASES / "jar.toml")], "jar.toml"),
        (["materials", "tinplaet"], "tinplate"),
        (["case", "no/such/folder/new.toml"], "no folder"),
    ],
)
def test_bad_input_is_one_line_without_traceback(arguments, said, capsys):
    assert main(arguments) == 2
    err = capsys.readouterr().err
    assert len(err.splitlines()) == 1
    assert said in err
    assert "Traceback" not in err


def test_out_that_is_a_file_is_refused_before_anything_is_solved(tmp_path, capsys, monkeypatch):
    (tmp_path / "taken").write_text("x")
    monkeypatch.setattr("thermsim.assess.simulate.simulation.simulate", lambda *a, **k: pytest.fail("solved"))
    assert main(["solve", str(CASES / "jar.toml"), "--out", str(tmp_path / "taken")]) == 2
    assert "taken" in capsys.readouterr().err


def test_a_numerical_failure_ends_with_3(capsys, monkeypatch):
    def fail(*arguments, **named):
        raise NumericalError("the march stopped at 1.000 min: steps became too small")

    monkeypatch.setattr("thermsim.assess.simulate.simulation.simulate", fail)
    assert main(["solve", str(CASES / "jar.toml")]) == 3
    assert capsys.readouterr().err == "thermsim: the march stopped at 1.000 min: steps became too small\n"


def test_an_interrupt_ends_with_130_and_one_line(capsys, monkeypatch):
    def interrupt(*arguments, **named):
        raise KeyboardInterrupt

    monkeypatch.setattr("thermsim.assess.simulate.simulation.simulate", interrupt)
    assert main(["solve", str(CASES / "jar.toml")]) == 130
    assert capsys.readouterr().err == "thermsim: stopped; files that were finished are kept\n"


def test_debug_shows_the_error_itself():
    from thermsim.errors import CaseError

    with pytest.raises(CaseError, match="nowhere.toml"):
        main(["solve", "nowhere.toml", "--debug"])


def test_starting_case_is_written_and_can_be_solved(tmp_path, capsys):
    new = tmp_path / "new.toml"
    assert main(["case", str(new)]) == 0
    assert main(["case", str(new)]) == 2
    assert "--force" in capsys.readouterr().err
    assert main(["case", str(new), "--force", "--units", "us", "--quiet"]) == 0
    assert new.read_text("utf-8") == starting_case("us")
    assert main(["case", str(new), "--force", "--quiet"]) == 0
    assert new.read_text("utf-8") == starting_case()
    new.write_text(ROUGH + new.read_text("utf-8"), "utf-8")
    assert main(["solve", str(new), "--quiet"]) == 0


def test_materials_lists_all_and_tells_the_source_of_one(capsys):
    assert main(["materials"]) == 0
    everything = capsys.readouterr().out
    assert "tinplate" in everything
    assert "soda-lime glass" in everything
    assert main(["materials", "tinplate"]) == 0
    assert "source: " in capsys.readouterr().out
    assert main(["materials", "--json"]) == 0
    assert all(entry["source"] for entry in json.loads(capsys.readouterr().out))


def verified(passed: bool) -> Verification:
    import numpy as np

    study = Convergence("space", np.array([2.0, 1.0]), np.array([4.0, 1.0]), 1.9, 2.2)
    row = Row("bare cylinder", "T", 100.0, 100.01 if passed else 101.0, 0.01 if passed else 1.0, 0.02, "K")
    return Verification((row,), study, study)


@pytest.mark.parametrize(("passed", "code"), [pytest.param(True, 0, marks=pytest.mark.long), (False, 3)])
def test_verify_prints_the_table_and_ends_non_zero_when_out_of_bounds(passed, code, capsys, monkeypatch, tmp_path):
    monkeypatch.setattr(verification, "verify", lambda progress=None: verified(passed))
    drawn = ["--out", str(tmp_path)] if passed else []
    assert main(["verify", *drawn]) == code
    out = capsys.readouterr().out
    assert ("OUT OF BOUNDS" in out) is not passed
    assert "observed order in space" in out
    assert (tmp_path / "verification.svg").is_file() is passed
    assert main(["verify", "--json"]) == code
    assert json.loads(capsys.readouterr().out)["passed"] is passed


def test_help_has_examples_and_a_caution(capsys):
    with pytest.raises(SystemExit) as ended:
        main(["--help"])
    assert ended.value.code == 0
    out = capsys.readouterr().out
    assert "thermsim solve my_jar.toml" in out
    assert "process authority" in out


@pytest.mark.parametrize(("waited", "quiet", "said"), [
    ((0.0, 4.9, 5.1, 30.0), False, "thermsim: can.toml: solving; 60 % done\n"), ((0.0, 1.0, 4.9), False, ""),
    ((0.0, 4.0, 4.5, 4.8, 30.0), False, ""), ((0.0, 4.0, 4.5, 5.1), False, ""), ((0.0, 4.9, 5.1, 30.0), True, ""),
])  # fmt: skip
def test_a_long_wait_without_a_terminal_is_said_once_in_a_line(capsys, monkeypatch, waited, quiet, said):
    """The clock when the work begins, and at 30 %, 60 % and so on of it; what is nearly done is no wait."""
    clock = iter(waited)
    monkeypatch.setattr("thermsim.cli.terminal.time", SimpleNamespace(monotonic=lambda: next(clock)))
    with progress_bar("can.toml: solving", quiet) as advance:
        for k in range(1, len(waited)):
            advance(min(1.0, 0.3 * k))
    out, err = capsys.readouterr()
    assert (out, err) == ("", said)


def test_what_is_wrong_is_said_in_the_units_of_the_screen_and_keys_stay(tmp_path, capsys):
    bad = tmp_path / "bad.toml"
    bad.write_text(
        (CASES / "jar.toml").read_text("utf-8").replace("headspace_mm = 12.0", "headspace_mm = 254"), "utf-8"
    )
    said = {}
    for units in ("metric", "us"):
        assert main(["solve", str(bad), "--units", units]) == 2
        said[units] = capsys.readouterr().err
    assert "headspace_mm = 254" in said["metric"] and "headspace_mm = 254" in said["us"]
    assert "is 113 mm high" in said["metric"] and "is 4.449 in high" in said["us"]


def test_an_unknown_command_ends_with_2(capsys):
    with pytest.raises(SystemExit) as ended:
        main(["slove"])
    assert ended.value.code == 2


@pytest.mark.long
def test_a_reader_that_stops_early_is_no_error():
    command = f"{sys.executable} -m thermsim solve {CASES / 'jar.toml'} --json --quiet | head -n 1"
    done = subprocess.run(["bash", "-o", "pipefail", "-c", command], capture_output=True, text=True, env=os.environ)
    assert done.returncode == 0
    assert done.stderr == ""


def test_an_interrupt_wrapped_by_a_compiled_loop_ends_with_130(capsys, monkeypatch):
    def interrupt(*arguments, **named):
        try:
            try:
                raise KeyboardInterrupt
            except KeyboardInterrupt as origin:
                raise RuntimeError("unpickling") from origin
        except RuntimeError as wrapped:
            raise SystemError("returned a result with an exception set") from wrapped

    monkeypatch.setattr("thermsim.assess.simulate.simulation.simulate", interrupt)
    assert main(["solve", str(CASES / "jar.toml")]) == 130
    assert capsys.readouterr().err == "thermsim: stopped; files that were finished are kept\n"


def test_keys_lists_the_tables_then_prints_all_of_them(capsys):
    assert main(["keys"]) == 0
    told = capsys.readouterr().out
    listed, *tables = told.split("\n\n")
    assert len(listed.splitlines()) == len(tables) == 22
    assert listed.splitlines()[2].split()[0] == "container.wall"
    assert "\n  insertion_mm       mm      above 0 to 4000   to be recommended " in told


def test_keys_prints_one_table(capsys):
    assert main(["keys", "probe.gap"]) == 0
    told = capsys.readouterr().out
    assert told.splitlines()[0] == "gap in [probe]: layer between stem and product"
    assert [line.split()[0] for line in told.splitlines()[1:]] == ["key", "thickness_mm", "or", "material"]


def test_keys_of_an_unknown_table_end_with_2_and_one_line(capsys):
    assert main(["keys", "contaner"]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err == 'thermsim: "contaner" is no table of a case file; did you mean "container"?\n'


@pytest.mark.parametrize("more", [[], ["--quick"]])
def test_a_message_about_one_of_several_cases_names_its_file(more, tmp_path, capsys):
    text = (CASES / "can.toml").read_text()  # without a probe
    for name in ("first.toml", "second.toml"):
        (tmp_path / name).write_text(text)
    files = [str(tmp_path / name) for name in ("first.toml", "second.toml")]
    assert main(["depth", *files, "--quiet", *more]) == 2
    assert "first.toml: the case has no [probe]" in capsys.readouterr().err
    assert main(["depth", files[0], "--quiet", *more]) == 2
    assert "first.toml" not in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["slove", "x.toml"], 'thermsim: "slove" is no command; did you mean "solve"?; see thermsim --help'),
        (["jar.toml"], 'thermsim: "jar.toml" is no command; write: thermsim solve jar.toml; see thermsim --help'),
        (
            ["solve", "jar.toml", "--output", "x"],
            'thermsim: --output is no option here; did you mean "--out"?; see thermsim --help',
        ),
        (
            ["verify", "--figures"],
            "thermsim: --figures is no option here; other commands have it; see thermsim --help",
        ),
        (
            ["solve", "jar.toml", "-q"],
            "thermsim: -q is no option here; allowed here: --quick, --quiet; see thermsim --help",
        ),
        (["depth"], "thermsim: the following arguments are required: CASE; see thermsim depth --help"),
    ],
)
def test_a_mistyped_word_is_answered_in_one_line_with_the_nearest(words, said, capsys):
    with pytest.raises(SystemExit) as left:
        main(words)
    assert left.value.code == 2
    assert capsys.readouterr().err == f"{said}\n"


def test_a_run_and_its_case_in_the_wrong_order_are_put_right(capsys):
    assert main(["compare", "run.csv", "can.toml"]) == 2
    assert capsys.readouterr().err == "thermsim: the case comes first: thermsim compare can.toml run.csv\n"


def test_input_that_is_off_by_a_thousand_is_questioned_before_the_verdict(tmp_path, capsys):
    text = (CASES / "jar.toml").read_text("utf-8")
    wrong = re.sub(r"(?m)^density_kg_m3 = 1\d+.*$", "density_kg_m3 = 1.06", text, count=1)
    assert wrong != text
    (tmp_path / "jar.toml").write_text(ROUGH + wrong, "utf-8")
    assert main(["solve", str(tmp_path / "jar.toml"), "--quiet"]) == 0
    first = capsys.readouterr().out.splitlines()[0]
    assert first.startswith("Warning         CHECK THE INPUT: a density of 1.06 kg/m3 is questionable")


def test_the_command_line_loads_its_libraries_with_one_thread_each():
    """Threads of which nothing is asked took a third of the processor time of a short answer."""
    program = (
        "import sys; from thermsim.cli import main; assert 'numpy' not in sys.modules; main(['keys', 'probe'])\n"
        "import numpy, threadpoolctl; print({pool['num_threads'] for pool in threadpoolctl.threadpool_info()})"
    )
    own = {name: value for name, value in os.environ.items() if not name.endswith("_NUM_THREADS")}
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, env=own, check=True)
    assert done.stdout.splitlines()[-1] == "{1}"
