"""A measured run on the page: the same comparison as the command line's, and the files that it leaves.

Rung: the same answer by another way (``thermsim.compare`` of the same file). The run is invented: what the model's
own probe reads.
"""

import io

import numpy as np
import pytest

pytest.importorskip("nicegui", reason='the page is not tested without NiceGUI: pip install "thermsim[page]"')

from page_scenes import COARSE, PROBE, visit

import thermsim
from thermsim.loggers.run import run_from_bytes

NAME = "run <b>.csv"


@pytest.fixture(scope="module")
def case():
    return thermsim.case_from_text(COARSE + PROBE)


@pytest.fixture(scope="module")
def record(case):
    """A logger's file: one can as the case has it, one read by a column that has another's name."""
    result = thermsim.simulate(case)
    reading, (times, degrees) = result.probe.reading, case.process.knots
    text = io.StringIO()
    text.write("time [s],Bath [degC],Can [degC],Can [degC]\n")
    noise = np.random.default_rng(5).normal(0.0, 0.05, (2, reading.time.size))
    for k, (time, read) in enumerate(zip(reading.time, reading.temperature, strict=True)):
        bath = np.interp(time, times, degrees)
        text.write(f"{time:.0f},{bath:.2f},{read + noise[0, k]:.2f},{read + noise[1, k]:.2f}\n")
    return text.getvalue().encode()


@pytest.mark.long
def test_a_run_is_compared_as_the_command_line_does_and_filed(case, record, tmp_path):
    async def act(at):
        at.user.find(marker="tab-measured").click()
        at.user.find(marker="begin-measured").click()
        await at.user.should_see("Give the logger's file first")
        await at.give("run-file", NAME, record)
        await at.user.should_see(f"{NAME}: ")
        # columns of one name are told apart by their numbers
        assert at.field("run-probes").options == {
            "Bath [degC]": "Bath [degC]",
            "3": "3: Can [degC]",
            "4": "4: Can [degC]",
        }
        at.field("run-medium").value = "Bath [degC]"
        at.field("run-probes").value = ["3", "4"]
        at.field("run-depth-1").value = 58.0
        # what was typed goes with the units of the page, and is the same depth
        at.user.find(marker="units").elements.pop().set_value("us")
        await at.user.should_see("insertion of 4: Can [degC], in")
        assert at.field("run-depth-1").value == pytest.approx(58.0 / 25.4, abs=1e-4)
        at.field("run-depth-1").value = 58.0 / 25.4
        at.user.find(marker="begin-measured").click()
        await at.until(lambda: at.bench.jobs["measured"].found is not None)
        await at.user.should_see(content="Whether a process is adequate is decided by the process authority")
        await at.user.should_see(content="2.283")
        found = at.bench.jobs["measured"].found
        return found, {name: await at.downloaded(f"save-{name}") for name in FILED}

    found, files = visit(act, COARSE + PROBE)
    ((_, depth),) = found.plan.columns.depths
    assert depth == pytest.approx(0.058, rel=1e-12)
    columns = thermsim.Columns(probes=("3", "4"), medium="Bath [degC]", depths=(("4", depth),))
    same = thermsim.compare(case, run_from_bytes(record, columns, name=NAME), thermsim.Plan(columns))
    assert found.plan == same.plan
    assert [one.fit.estimates for one in found.containers] == [one.fit.estimates for one in same.containers]
    for name, begins in FILED.items():
        assert files[name].startswith(begins), name
    (tmp_path / "comparison.h5").write_bytes(files["comparison.h5"])
    kept = thermsim.load_comparison(tmp_path / "comparison.h5")
    assert (kept.run.data.tobytes(), kept.run.sha256) == (record, found.run.sha256)
    assert found.run.sha256 in files["record.html"].decode()


#: What is filed, and how each kind of file begins.
FILED = {
    "record.html": b"<!DOCTYPE html>",
    "record.pdf": b"%PDF-",
    "comparison.h5": b"\x89HDF",
    "comparison.xlsx": b"PK",
}


@pytest.mark.long
def test_a_time_that_is_not_clear_is_asked_for_and_read_as_said(record):
    _, *rows = record.splitlines()
    twice = b"\n".join(b"%d,%s" % (k, row) for k, row in enumerate(rows[:50]))

    async def act(at):
        await at.give("run-file", NAME, b"Time a [min],Time b [s],Bath [degC],Can [degC],Can [degC]\n" + twice)
        await at.user.should_see("which column is the time is not clear")
        await at.user.should_not_see(marker="run-probes")
        at.field("run-time").value = "Time b [s]"
        await at.user.should_see(f"{NAME}: 50 samples")
        assert "5" in at.field("run-probes").options and at.bench.jobs["measured"].found is None

    visit(act)


@pytest.mark.long
def test_a_file_that_is_no_record_is_refused_in_the_words_of_the_command_line(record):
    async def act(at):
        await at.give("run-file", "notes.txt", b"no numbers\nhere")
        await at.user.should_see("notes.txt: ")
        await at.user.should_not_see(marker="run-probes")
        # what a case lacks is said, too: a run is read by its probe
        await at.give("run-file", NAME, record)
        at.field("run-probes").value = ["3"]
        at.user.find(marker="begin-measured").click()
        await at.until(lambda: at.bench.jobs["measured"].failed)
        await at.user.should_see(at.bench.jobs["measured"].failed)

    visit(act)
