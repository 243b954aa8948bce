"""``thermsim study``: what it prints and writes, interrupts, a real scheduler, mistakes.

Its own first run is the reference for all others.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import re
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path
from types import SimpleNamespace

import pytest
from places import CASES
from study_scenes import BARE, SMALL_SCAN, STEM, Here, differing_sets

from thermsim.assess.study.one_run import Task, setup_of
from thermsim.assess.study.sampling import plan_of
from thermsim.case.file.reader import read_case, varied_case
from thermsim.cli import main
from thermsim.cli.study import runs_bar
from thermsim.cli.terminal import progress_bar

COMMAND = [sys.executable, "-m", "thermsim", "study"]


@contextlib.contextmanager
def here(_address):
    """Runs in this process, which has loaded what they need."""
    yield Here()


def nothing_drawn(*_, **__):
    """In place of the figures, which are tested elsewhere."""
    return SimpleNamespace(written=[], svgs={})


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A study run once, undisturbed, in this process, beside its case."""
    folder = tmp_path_factory.mktemp("study")
    (folder / "bare.toml").write_text(BARE + SMALL_SCAN, "utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("thermsim.cli.study._executor", here)
        patch.setattr("thermsim.figures.study.files.draw_study", nothing_drawn)
        words = [str(folder / "bare.toml"), "--out", str(folder / "first"), "--csv", "--quiet"]
        assert main(["study", *words, "--figures", "none"]) == 0
    return folder


def test_it_writes_file_csv_figures_and_report_and_tells_the_outcome(folder, capsys, monkeypatch):
    monkeypatch.chdir(folder)
    assert main(["study", "bare.toml", "--out", "first", "--csv"]) == 0
    told = capsys.readouterr().out
    assert told.startswith("Least lethality F0 = ")
    assert "Study           scan of product.initial_C, process.film_W_m2K; 12 runs" in told
    assert "Warning         3 of 12 runs failed and are left out of all figures; run 0: bare.toml [process]:" in told
    assert "wrote into first: study.h5, study.csv, report.html, 2 pictures (PNG)" in told
    figures = ["figure-cut.png", "figure-map.png"]
    others = ["report.html", "study.csv", "study.h5", "study.journal"]
    assert sorted(path.name for path in Path("first").iterdir()) == figures + others
    assert len(Path("first/study.csv").read_text().splitlines()) == 13


def test_json_is_for_machines(folder, capsys, monkeypatch):
    monkeypatch.setattr("thermsim.figures.study.files.draw_study", nothing_drawn)
    monkeypatch.chdir(folder)
    assert main(["study", "bare.toml", "--out", "first", "--json"]) == 0
    tree = json.loads(capsys.readouterr().out)
    assert (tree["kind"], tree["runs"], sorted(tree["failures"])) == ("scan", 12, ["0", "4", "8"])
    assert tree["quantities"][1] == {"key": "process.film_W_m2K", "unit": "W/m2K"}
    assert tree["values"]["product.initial_C"][::4] == [20.0, 30.0, 40.0]
    assert tree["figures"]["least_lethality_min"][0] is None
    assert tree["figures"]["slowest_z_mm"][1] == pytest.approx(55.0, abs=0.5)


@pytest.mark.long
def test_report_draws_a_study_again_from_its_file_alone(folder, capsys, monkeypatch, tmp_path):
    assert main(["study", str(folder / "bare.toml"), "--out", str(folder / "first"), "--csv", "--quiet"]) == 0
    capsys.readouterr()
    monkeypatch.chdir(tmp_path)
    assert main(["report", str(folder / "first" / "study.h5"), "--out", "again"]) == 0
    assert capsys.readouterr().out.startswith("wrote into again: report.html, 2 pictures")
    assert Path("again/figure-cut.png").read_bytes() == (folder / "first" / "figure-cut.png").read_bytes()
    assert "product.initial_C" in Path("again/report.html").read_text("utf-8")
    assert main(["rerun", str(folder / "first" / "study.h5")]) == 2
    assert "holds a study, not a result; thermsim show and report read it" in capsys.readouterr().err
    assert main(["show", str(folder / "first" / "study.h5")]) == 0
    assert capsys.readouterr().out.startswith("Least lethality F0 = ")


class Terminal(io.StringIO):
    def isatty(self):
        return True


def test_a_terminal_sees_rate_and_time_left(monkeypatch):
    screen = Terminal()
    monkeypatch.setattr(sys, "stderr", screen)
    with runs_bar("can.toml", False) as advance:
        advance(10, 40)  # what was finished before
        for done in range(11, 31):
            time.sleep(0.02)
            advance(done, 40)
    shown = screen.getvalue().split("\r")
    assert any(re.search(r"can\.toml: +\d+%\|.*\| \d+/40 \[00:0\d<00:0\d, +[\d.]+ runs/s\]", line) for line in shown)
    assert not any(" 9/40" in line for line in shown)
    # a process that has threads is not copied to draw its figures
    with progress_bar("can.toml: solving", False) as part:
        part(0.5)
    assert not [thread.name for thread in threading.enumerate() if "tqdm" in thread.name]
    with runs_bar("can.toml", True) as advance:
        screen.truncate(0)
        advance(1, 40)
    assert screen.getvalue() == ""


@pytest.mark.parametrize(
    ("name", "runs"), [("fill", 11), ("headspace", 40), ("size", 36), ("tornado", 13), ("spread", 192)]
)
def test_ready_studies_are_as_they_are_described(name, runs):
    case = read_case(CASES / f"study_{name}.toml")
    plan = plan_of(case)
    assert plan.runs == case.study.runs == runs
    assert all(place.value is not None for place in plan.places)
    # its first run can be made
    task = Task(0, setup_of(case, plan), tuple(plan.values[0].tolist()))
    varied = varied_case(
        task.setup.text, dict(zip(task.setup.trails, task.values, strict=True)), name="", attachments={}
    )
    assert varied.product_volume > 0.0


def wait_for(journal, lines, process):
    """Until the journal has so many lines."""
    while not (journal.exists() and journal.read_bytes().count(b"\n") >= lines):
        assert process.poll() is None, "it ended before it could be stopped"
        time.sleep(0.005)


@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
@pytest.mark.parametrize(
    "sent",
    [pytest.param(signal.SIGINT, marks=pytest.mark.long), pytest.param(signal.SIGKILL, marks=pytest.mark.whole)],
)
def test_what_is_stopped_goes_on_and_ends_the_same(folder, sent, monkeypatch):
    out = folder / sent.name
    command = [*COMMAND, "bare.toml", "--out", out, "--workers", "2", "--figures", "none"]
    process = subprocess.Popen(
        [*command, "--quiet"],
        cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True,
    )  # fmt: skip
    wait_for(out / "study.journal", 4, process)
    if sent == signal.SIGINT:
        os.killpg(process.pid, sent)  # as the keyboard does: to the workers too
        _, said = process.communicate()
        assert process.returncode == 130
        first, last = said.splitlines()
        kept = int(first.split(" of 12 runs are finished and kept in ")[0].removeprefix("thermsim: "))
        written = (out / "study.journal").read_bytes().count(b"\n") - 1
        # the interrupt may fall between the writing of what has just finished and its count
        assert written >= 3 and written - 2 <= kept <= written
        assert first.endswith("repeat the command to go on")
        assert last == "thermsim: stopped; files that were finished are kept"
    else:
        process.kill()
        process.communicate()
    with pytest.raises(ProcessLookupError):
        # workers go when their parent does, however that went
        for _ in range(200):
            os.killpg(process.pid, 0)
            time.sleep(0.05)
    before = (out / "study.journal").read_bytes()
    monkeypatch.chdir(folder)
    monkeypatch.setattr("thermsim.cli.study._executor", here)  # whoever makes the runs
    assert main([*map(str, command[3:]), "--quiet"]) == 0
    after = (out / "study.journal").read_bytes()
    assert after.startswith(before[: before.rindex(b"\n") + 1])
    runs = [json.loads(line.split(b" ", 1)[1])["run"] for line in after.splitlines()[1:]]
    assert sorted(runs) == list(range(12))
    assert differing_sets(folder / "first" / "study.h5", out / "study.h5") == []


@contextlib.contextmanager
def cluster(folder, workers):
    """A Dask scheduler's address and its process, with workers of one thread."""
    pytest.importorskip("distributed")
    place = folder / "scheduler.json"
    quiet = {"cwd": folder, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    common = ["--scheduler-file", place, "--no-dashboard"]
    started = [["dask_scheduler", "--host", "127.0.0.1", "--port", "0"]]
    started += [["dask_worker", "--nthreads", "1", "--no-nanny"]] * workers
    parts = [
        subprocess.Popen([sys.executable, "-m", f"distributed.cli.{name}", *common, *words], **quiet)
        for name, *words in started
    ]
    try:
        # the file is there before what is written into it
        while not (place.exists() and place.read_text().endswith("}")):
            assert [part.poll() for part in parts] == [None] * len(parts)
            time.sleep(0.05)
        yield json.loads(place.read_text())["address"], parts[0]
    finally:
        for part in parts:
            part.kill()
            part.wait()


@pytest.mark.long
def test_a_scheduler_with_two_workers_gives_the_same(folder, tmp_path):
    with cluster(tmp_path, 2) as (address, _):
        asked = subprocess.run(
            [sys.executable, "-c", EXECUTED, address, "wait"], capture_output=True, text=True, check=True
        )
        assert json.loads(asked.stdout) == [0, 0]
        subprocess.run(
            [*COMMAND, "bare.toml", "--out", "cluster", "--scheduler", address, "--quiet"],
            cwd=folder, check=True, capture_output=True,
        )  # fmt: skip
        asked = subprocess.run([sys.executable, "-c", EXECUTED, address], capture_output=True, text=True, check=True)
        made = json.loads(asked.stdout)
    assert sum(made) == 12
    assert min(made) > 0
    assert differing_sets(folder / "first" / "study.h5", folder / "cluster" / "study.h5") == []


@pytest.mark.long
@pytest.mark.parametrize("sent", [signal.SIGKILL, pytest.param(signal.SIGTERM, marks=pytest.mark.whole)])
def test_a_scheduler_that_is_lost_is_one_line_and_the_study_goes_on_without_it(folder, tmp_path, sent):
    out = tmp_path / "lost"
    command = [*COMMAND, "bare.toml", "--out", out]
    with cluster(tmp_path, 1) as (address, scheduler):
        process = subprocess.Popen(
            [*command, "--scheduler", address], cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
        wait_for(out / "study.journal", 4, process)
        scheduler.send_signal(sent)
        told, said = process.communicate(timeout=600)
    assert process.returncode == 3
    # on a busy machine it says how far it is
    assert (told, re.sub(r"thermsim: .*; \d+ % done\n", "", said)) == (
        "",
        "thermsim: the scheduler was lost, and with it the runs given out; finished runs are kept: run again to go "
        "on, with a scheduler or without\n",
    )
    before = (out / "study.journal").read_bytes()
    assert 4 <= before.count(b"\n") < 13
    assert [path.name for path in out.iterdir()] == ["study.journal"]
    subprocess.run([*command, "--workers", "1"], cwd=folder, check=True, capture_output=True)
    assert (out / "study.journal").read_bytes().startswith(before)
    assert differing_sets(folder / "first" / "study.h5", out / "study.h5") == []


#: How many tasks each of two workers has made.
EXECUTED = """
import json, sys
from distributed import Client
with Client(sys.argv[1]) as client:
    client.wait_for_workers(2)
    print(json.dumps(list(client.run(lambda dask_worker: dask_worker.state.executed_count).values())))
"""


@pytest.mark.long
@pytest.mark.parametrize("address", ["nonsense://x", "tcp://127.0.0.1:1"])
def test_no_scheduler_there_is_one_line(folder, address):
    pytest.importorskip("distributed")
    code = "import sys; from thermsim.cli import main; sys.exit(main(sys.argv[1:]))"
    done = subprocess.run(
        [sys.executable, "-c", code, "study", "bare.toml", "--out", "none", "--scheduler", address],
        cwd=folder, capture_output=True, text=True,
    )  # fmt: skip
    assert done.returncode == 2
    assert done.stderr.startswith(f"thermsim: --scheduler {address}: no scheduler answers")
    assert len(done.stderr.splitlines()) == 1, done.stderr


def test_without_the_extra_it_is_said_how_to_get_it(folder, capsys, monkeypatch):
    monkeypatch.chdir(folder)
    monkeypatch.setitem(sys.modules, "distributed", None)
    assert main(["study", "bare.toml", "--out", "none", "--scheduler", "tcp://host:8786"]) == 2
    assert capsys.readouterr().err.strip() == (
        'thermsim: --scheduler needs the extra "cluster": pip install "thermsim[cluster]"'
    )


def test_a_changed_case_is_refused_until_it_is_restarted(folder, capsys, monkeypatch):
    monkeypatch.setattr("thermsim.figures.study.files.draw_study", nothing_drawn)
    monkeypatch.chdir(folder)
    monkeypatch.setattr("thermsim.cli.study._executor", here)
    words = ["study", "other.toml", "--out", "other", "--quiet", "--figures", "none"]
    text = BARE + SMALL_SCAN.replace("[-5, 100, 300, 900]", "[100]").replace("[20, 30, 40]", "[20, 30]")
    for change in ("z_C = 10", "z_C = 11"):
        Path("other.toml").write_text(
            text.replace("values = [100]", "values = [100, 200]").replace("z_C = 10", change)
        )
        code = main(words)
        said = capsys.readouterr().err.strip()
        assert (code, said == "") == ((0, True) if change == "z_C = 10" else (2, False))
    assert (
        "study.journal: holds the runs of another case, and these would be mixed: lethality.z_C was 10 and is 11"
        in said
    )
    assert len(said.splitlines()) == 1
    assert main([*words, "--restart"]) == 0


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (BARE, "bad.toml: has no [study]; add one to say what to vary"),
        (BARE + SMALL_SCAN.replace("scan", "scann"), 'kind = "scann" is unknown; did you mean "scan"?'),
        (BARE + SMALL_SCAN.replace("values = [20", "value = [20"), 'unknown key "value"; did you mean "values"?'),
        (BARE + SMALL_SCAN.replace("[study]", "[studdy]"), "unknown table [studdy]; did you mean [study]?"),
        (BARE + SMALL_SCAN.replace("[20, 30, 40]", '["20", 30]'), "values"),
        (BARE + SMALL_SCAN.replace("product.initial", "product.inital"), 'did you mean "product.initial_C"?'),
        (BARE + '[study]\nkind = "scan"\nvary = "fill.headspace_mm"\n', "vary"),
        (BARE + '[study]\nkind = "scan"\nvary = []\n', "nothing is varied"),
        (BARE + '[study]\nkind = "spread"\nsamples = 2.5\nvary = [{ key = "fill.headspace_mm", distribution = '
         '"uniform", low = 1, high = 2 }]\n', "samples = 2.5"),
        (BARE + '[study]\nkind = "spread"\nvary = [{ key = "fill.headspace_mm", distribution = "gaussian" }]\n',
         'distribution = "gaussian" is unknown'),
        (BARE + '[study]\nkind = "spread"\nsamples = 65536\nvary = [{ key = "fill.headspace_mm", distribution = '
         '"uniform", low = 1, high = 2 }, { key = "lethality.z_C", distribution = "uniform", low = 1, high = 2 }]',
         "it would take 262144 runs; at most 200000 are made"),
        (BARE + STEM + '[study]\nkind = "spread"\nrecommend_depth = "yes"\nvary = [{ key = "fill.headspace_mm", '
         'distribution = "uniform", low = 1, high = 2 }]\n', "recommend_depth"),
    ],
)  # fmt: skip
def test_a_mistake_is_one_clear_line(text, said, tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("bad.toml").write_text(text, "utf-8")
    code = main(["study", "bad.toml", "--out", "out", "--quiet"])
    lines = capsys.readouterr().err.splitlines()
    assert code == 2
    assert len(lines) == 1, lines
    assert said in lines[0]
    assert lines[0].startswith("thermsim: ")


def test_all_runs_failed_is_said_with_the_reason(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("bad.toml").write_text(BARE + SMALL_SCAN.replace("[-5, 100, 300, 900]", "[-5, -4]"), "utf-8")
    assert main(["study", "bad.toml", "--workers", "1", "--quiet"]) == 2
    assert capsys.readouterr().err.startswith(
        "thermsim: bad.toml: all runs failed; run 0: bad.toml [process]: film_W_m2K"
    )
    assert Path("bad-study/study.journal").exists()
