"""What a change need not work out again, and what is there before all of the answer.

Rung: the same answer by another way (the case solved by itself).
"""

import pytest

pytest.importorskip("nicegui", reason='the page is not tested without NiceGUI: pip install "thermsim[page]"')

from page_scenes import COARSE, PROBE, visit

import thermsim


def test_another_depth_solves_the_probe_alone(monkeypatch):
    from thermsim.assess.simulate import simulation

    solved = []
    whole = simulation.simulate_container
    monkeypatch.setattr(simulation, "simulate_container", lambda *a, **k: solved.append(1) or whole(*a, **k))

    async def act(at):
        await at.solved()
        before = len(solved)
        at.field("depth-slider").value = 62.0
        result = await at.solved()
        assert len(solved) == before > 0
        return result, at.bench.draft.text

    result, text = visit(act, COARSE + PROBE)
    fresh = thermsim.simulate(thermsim.case_from_text(text, name="can.toml"))
    assert result.probe.depth == pytest.approx(0.062, rel=1e-9)
    assert thermsim.summary(result)["probe"] == thermsim.summary(fresh)["probe"]


@pytest.mark.long
def test_another_process_is_solved_on_the_grids_that_are_there_to_the_same_answer():
    from thermsim.assess.fields.family import Family

    async def act(at):
        with pytest.MonkeyPatch.context() as patch:
            await at.solved()
            patch.setattr(Family, "__init__", lambda *_, **__: pytest.fail("grids are made again"))
            await at.type("[[process.stage]] no. 2 minutes", "50")
            result = await at.solved()
        return result, at.bench.draft.text

    result, text = visit(act, COARSE.replace("z_C = 10.0\n", "z_C = 10.0\ntarget_min = 4.0\n"))
    fresh = thermsim.simulate(thermsim.case_from_text(text, name="can.toml"))
    assert thermsim.summary(result)["cold_spot"] == thermsim.summary(fresh)["cold_spot"]
    assert thermsim.summary(result)["target"] == thermsim.summary(fresh)["target"]


@pytest.mark.long
def test_the_picture_is_there_before_all_of_the_answer():
    told = []

    async def act(at):
        at.bench.listeners.add(lambda change, who: told.append(change))
        await at.type("[fill] headspace_mm", "20")
        await at.until(lambda: at.bench.seen is not None)
        drawn = at.bench.seen
        result = await at.solved()
        assert (drawn.lethality == result.lethality)[~(drawn.lethality != drawn.lethality)].all()

    visit(act)
    assert told.index("drawn") < told.index("answer")
