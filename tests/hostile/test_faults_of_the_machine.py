"""What the machine may do to a run: kill it, fill its disk, close its output, give it no language and no home.

Rung: hand-worked. Files are whole or absent.
"""

import fcntl
import os
import random
import shutil
import signal
import subprocess
import sys
import threading
import time

import pytest
from job_cases import TEXT, replaced
from small_cans import small_can

from thermsim.assess.simulate.simulation import simulate
from thermsim.case.case import Accuracy
from thermsim.cli import answer, main
from thermsim.cli import compare as comparison
from thermsim.cli.terminal import alone_in
from thermsim.records.files.results import load_result, save_result


@pytest.fixture(scope="module")
def result():
    return simulate(small_can(accuracy=Accuracy(1.0, 0.2, 0.01), output_every=60.0))


@pytest.mark.parametrize("times", [4, pytest.param(100, marks=pytest.mark.whole)])
def test_a_results_file_is_whole_or_absent_wherever_its_writing_is_killed(result, tmp_path, times):
    path = tmp_path / "result.h5"
    began = time.perf_counter()
    save_result(result, path)
    lasts = time.perf_counter() - began
    path.unlink()
    chance = random.Random(5)
    killed = 0
    for k in range(times):
        child = os.fork()
        if child == 0:
            try:
                save_result(result, path)
            finally:
                os._exit(0)
        time.sleep((k + chance.random()) / times * lasts)
        os.kill(child, signal.SIGKILL)
        killed += os.waitpid(child, 0)[1] == signal.SIGKILL
        if path.exists():
            assert load_result(path).time.size == result.time.size
            if chance.random() < 0.5:
                path.unlink()
    assert killed >= times // 4


def program(*words, **options):
    return subprocess.run(
        [sys.executable, "-m", "thermsim", *words], stderr=subprocess.PIPE, text=True, timeout=120, **options
    )


@pytest.mark.long
def test_a_closed_output_is_no_failure():
    ended = subprocess.run(
        "{0} keys process >&- 2>/dev/null && {0} keys film >&- 2>&-".format(f"{sys.executable} -m thermsim"),
        shell=True,
        timeout=120,
    )
    assert ended.returncode == 0


def test_a_full_disk_under_the_answer_is_one_line():
    with open("/dev/full", "w") as full:
        ended = program("keys", "process", stdout=full)
    assert (ended.returncode, ended.stderr.count("\n")) == (2, 1)
    assert "cannot write the answer" in ended.stderr


def test_a_reader_that_stops_is_no_failure():
    reading, writing = os.pipe()
    os.close(reading)
    ended = program("keys", "process", stdout=writing)
    os.close(writing)
    assert (ended.returncode, ended.stderr) == (0, "")


def test_without_a_language_and_a_home_the_answer_is_the_same():
    bare = {"PATH": os.environ["PATH"], "PYTHONPATH": os.environ.get("PYTHONPATH", ""), "HOME": "/nowhere"}
    told = [
        program("materials", stdout=subprocess.PIPE, env=environment).stdout
        for environment in (None, {**bare, "LC_ALL": "C", "PYTHONCOERCECLOCALE": "0", "PYTHONUTF8": "0"})
    ]
    assert told[0] == told[1]
    assert told[0]


def test_every_answer_is_written_by_one_run_at_a_time(tmp_path, monkeypatch):
    held = []

    def seen(*_):
        handle = os.open(tmp_path, os.O_RDONLY)
        with pytest.raises(BlockingIOError):
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        os.close(handle)
        held.append(True)
        return []

    for module in (answer, comparison):
        monkeypatch.setattr(module, "_written", seen)
    answer.write(None, tmp_path, "can.toml", None)
    comparison.write_comparison(None, tmp_path, None)
    assert held == [True, True]


def test_a_folder_is_written_by_one_run_at_a_time(tmp_path):
    order = []

    def second():
        with alone_in(tmp_path):
            order.append("second")

    with alone_in(tmp_path):
        waiting = threading.Thread(target=second)
        waiting.start()
        handle = os.open(tmp_path, os.O_RDONLY)
        with pytest.raises(BlockingIOError):
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        os.close(handle)
        order.append("first")
    waiting.join()
    assert order == ["first", "second"]


CASE = replaced(TEXT, ("thin sauce", "gel/solid"))


@pytest.mark.parametrize("where", ["/proc/nothing", "/dev/null", "/dev/null/out"])
def test_a_folder_that_cannot_be_written_is_one_line(tmp_path, capsys, where):
    case = tmp_path / "can.toml"
    case.write_text(CASE[: CASE.index("[probe]")].replace("stock = ", "# "), "utf-8")
    assert main(["solve", str(case), "--out", where, "--quiet"]) == 2
    told = capsys.readouterr().err
    assert told.count("\n") == 1 and where in told


def test_a_folder_that_vanishes_is_one_line_or_made_again(tmp_path, capsys, monkeypatch):
    import thermsim.records.files.results as results

    case, out = tmp_path / "can.toml", tmp_path / "out"
    case.write_text(CASE[: CASE.index("[probe]")].replace("stock = ", "# "), "utf-8")
    save = results.save_result

    def vanished(*given):
        shutil.rmtree(out)
        return save(*given)

    monkeypatch.setattr(results, "save_result", vanished)
    assert main(["solve", str(case), "--out", str(out), "--quiet"]) == 2
    told = capsys.readouterr()
    assert told.err.count("\n") == 1 and "result.h5" in told.err
    assert "Least lethality" in told.out  # what was computed is not lost


@pytest.mark.whole
@pytest.mark.parametrize("cache", ["/proc/nothing", None])
def test_two_first_runs_at_once_and_a_cache_that_cannot_be_written(tmp_path, cache):
    case = tmp_path / "can.toml"
    case.write_text(CASE[: CASE.index("[probe]")].replace("stock = ", "# "), "utf-8")
    environment = {**os.environ, "NUMBA_CACHE_DIR": cache or str(tmp_path / "cache")}
    runs = [
        subprocess.Popen(
            [sys.executable, "-m", "thermsim", "solve", str(case), "--quiet"],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=environment,
        )
        for _ in range(1 if cache else 2)
    ]
    told = [run.communicate(timeout=300) for run in runs]
    assert [run.returncode for run in runs] == [0] * len(runs), told
    assert all("Least lethality" in out and not err for out, err in told)
    assert len({out for out, _ in told}) == 1
