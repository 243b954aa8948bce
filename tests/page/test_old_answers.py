"""Answers of a case as it was: when they are marked so, and when they still hold.

Rung: hand-worked.
"""

import pytest

pytest.importorskip("nicegui", reason='the page is not tested without NiceGUI: pip install "thermsim[page]"')

from page_scenes import COARSE, PROBE, visit
from small_case import LOGGER

from thermsim.page import files


@pytest.fixture
def few_rungs(monkeypatch):
    monkeypatch.setattr("thermsim.assess.depth.insertion.COARSE", 5)
    monkeypatch.setattr("thermsim.assess.depth.insertion.ADDED", 0)


async def advised(at):
    """Wait until a depth is recommended that was asked for."""
    await at.solved()
    at.user.find(marker="begin-depth").click()
    await at.until(lambda: at.bench.advice is not None)


@pytest.mark.long
def test_the_sheet_of_a_recommended_depth_can_be_had_once_the_depth_is_taken(few_rungs):
    async def act(at):
        await advised(at)
        advice = at.bench.advice.advice
        await at.user.should_see(marker="take-depth")
        at.user.find(marker="take-depth").click()
        await at.until(lambda: at.bench.case.probe.insertion != 0.06)
        assert at.bench.case.probe.insertion == pytest.approx(
            advice.own.recommended("least lethality").depth, abs=5e-5
        )
        assert at.bench.advice.advice is advice
        assert files.made(files.bench_sheet_bytes, at.bench.advice, "metric").startswith(b"%PDF")
        at.field("depth-slider").value = 50.0
        assert at.bench.advice is None

    visit(act, COARSE + PROBE)


@pytest.mark.long
def test_a_stack_that_stands_inside_is_not_set_by_an_insertion_that_it_cannot_have(few_rungs):
    async def act(at):
        await advised(at)
        await at.user.should_see(content="Set the tip")
        await at.user.should_not_see(marker="take-depth")

    visit(act, COARSE + LOGGER)


def test_an_answer_is_marked_as_old_only_when_its_successor_is_late_or_will_not_come():
    old = "This is the last good answer, of the case as it was: "

    async def act(at):
        await at.solved()
        await at.user.should_not_see(content=old)
        await at.type("[fill] headspace_mm", "20")
        assert not at.bench.fresh and not at.bench.late
        await at.user.should_not_see(content=old)
        at.bench.stop("answer")
        await at.until(lambda: not at.bench.jobs["answer"].running)
        if not at.bench.fresh:
            await at.user.should_see(content=f"{old}work on the new one was stopped.")
        await at.type("[fill] headspace_mm", "-1")
        await at.user.should_see(content=f"{old}the case has faults, see the red fields.")

    visit(act)
