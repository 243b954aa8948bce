"""Rung: bounds. What a headspace and a medium's name leave open."""

from __future__ import annotations

import dataclasses

import pytest
from places import CASES
from small_jars import ROUGH

from thermsim import Film, Probe, Segment, read_case
from thermsim.assess.depth.bracket import headspace_bracket, headspace_moves
from thermsim.assess.depth.recommendation import recommend
from thermsim.assess.simulate.simulation import simulate
from thermsim.errors import InputError
from thermsim.records.numbers.summary import summary
from thermsim.records.words.answer import answer
from thermsim.records.words.bracket import bracket_record


@pytest.fixture(scope="module")
def jar():
    case = read_case(CASES / "jar.toml")
    return case.replace(lethality=dataclasses.replace(case.lethality, target=None), accuracy=ROUGH)


def test_an_insulated_headspace_is_the_coldest_bound_and_a_wet_one_the_hottest(jar):
    bracket = headspace_bracket(jar)
    least = [bound.least_lethality.lethality for bound in bracket.bounds]
    assert least[1] < least[0] < least[2]
    # under an insulated headspace the least is at the surface, under a wet one near mid-height
    assert bracket.insulated.least_lethality.z > 0.105
    assert bracket.humid.least_lethality.z < 0.07
    assert bracket.least_lethality_moves > 0.03
    assert bracket.depth_moves is None
    assert len(bracket.assumed) == 2
    # the quick look, with its coarse grids and constant properties, says the same within a millimetre
    moves = headspace_moves(jar)
    assert moves.figures["least_lethality"] == pytest.approx(bracket.least_lethality_moves, abs=1e-3)
    assert moves.figures["slowest_heating"] == pytest.approx(bracket.slowest_heating_moves, abs=1e-3)
    assert (moves.severity, moves.topic) == ("warning", "headspace")
    assert f"by up to {1e3 * moves.figures['least_lethality']:.1f} mm: its height z is" in moves.text
    # the record of a run whose bounds were asked for says them in place of the quick look
    kept = bracket.notice
    assert (kept.code, kept.severity, kept.pressing) == (moves.code, "warning", True)
    assert kept.figures["least_lethality"] == bracket.least_lethality_moves
    for bound in bracket.bounds:
        spot = bound.least_lethality
        assert f"{spot.z * 1e3:.1f} mm ({spot.lethality / 60:.2f} min) {bound.name}" in kept.text
    assert kept.text.endswith(" ".join(bracket.assumed))
    assert [bound["headspace"] for bound in bracket_record(bracket)["bounds"]][1] == "insulated"


def test_a_container_filled_to_the_lid_has_no_headspace_to_bracket(jar):
    full = jar.replace(fill_height=jar.container.inner_height, points=())
    with pytest.raises(InputError, match="filled to the lid"):
        headspace_bracket(full)
    assert headspace_moves(full) is None


def test_the_range_of_a_mediums_films_is_carried_into_the_answer():
    case = read_case(CASES / "jar_composition.toml").replace(accuracy=ROUGH)
    result = simulate(case)
    (low, _), (high, _) = result.input_range.low, result.input_range.high
    assert low.lethality < result.cold_spot.least_lethality.lethality < high.lethality
    record = summary(result)["input_range"]
    assert record["films_low"]["least_lethality"]["lethality_min"] == pytest.approx(low.lethality / 60, rel=1e-12)
    assert any(line.startswith("Input range") for line in answer(result, full=True))


@pytest.mark.long
def test_a_recommended_depth_carries_the_range_and_moves_with_the_headspace():
    case = read_case(CASES / "can_probe.toml")
    spray = Film(800.0, 800.0, 800.0, None, (300.0,) * 3, (2000.0,) * 3)
    stages = tuple(dataclasses.replace(stage, film=spray) for stage in case.process.stages)
    case = case.replace(
        process=dataclasses.replace(case.process, stages=stages),
        probes=(),
        accuracy=ROUGH,
    )
    assert recommend(case).input_range is not None
    bracket = headspace_bracket(case)
    # a stem is set less deep where the coldest place lies at the surface under the lid
    assert bracket.insulated.depth < bracket.own.depth < bracket.humid.depth
    assert bracket.depth_moves == bracket.humid.depth - bracket.insulated.depth


def test_a_probe_that_no_depth_fits_leaves_the_bounds_of_the_cold_spots(jar):
    # its sensing length, 110 mm, is more than the product is deep
    probe = Probe("lid", "through", (Segment(0.003, 0.2, jar.container.lid.material),), sensing=0.110)
    bracket = headspace_bracket(jar.replace(probe=probe, accuracy=ROUGH))
    assert bracket.depth_moves is None
    assert bracket.least_lethality_moves > 0.03


def test_given_films_leave_no_input_range(jar):
    assert simulate(jar).input_range is None
