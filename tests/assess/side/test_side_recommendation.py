"""A probe from the side in the whole of the program: depth, comparison of entries, records, refusals.

Rung: operator order (a thinner, less conducting stem errs less; the ladder's reading is what solving there says),
and consistency between what is computed, written and read back.
"""

import dataclasses
import json
import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from probed import POLYMER, STEEL, logger_can, probed_can

from thermsim.assess.depth.recommendation import recommend
from thermsim.assess.simulate.probe_cautions import notices_of_probe
from thermsim.assess.simulate.simulation import simulate
from thermsim.case.case import Accuracy
from thermsim.case.container import Container
from thermsim.case.probe import Probe, Segment, Stock
from thermsim.case.profile import Profile, straight
from thermsim.case.rules import collecting
from thermsim.errors import CaseError, InputError
from thermsim.records.files.results import load_result, save_result
from thermsim.records.numbers.summary import summary
from thermsim.records.words.answer import answer
from thermsim.records.words.depth import candidates_table

SHEATH = Probe("side", "through", (Segment(2e-3, 0.06, POLYMER),), sensing=2e-3)


def side_can(probe=SHEATH, **changes):
    return dataclasses.replace(probed_can(), probe=probe, **changes)


@pytest.fixture(scope="module")
def advised():
    stock = Stock(lengths=(0.05, 0.06), travel=(0.010, 0.040))
    return recommend(side_can(stock=stock, accuracy=Accuracy(place=2e-3)))


@pytest.mark.long
def test_the_three_entries_stand_in_one_table_each_at_its_best_depth(advised):
    found = {one.probe.entry: one.recommended("least lethality") for one in advised.advice.candidates}
    assert set(found) == {"lid", "base", "side"}
    assert all(one.window[0] <= one.depth <= one.window[1] for one in found.values())
    assert advised.advice.own.probe.entry == "side"
    compared = candidates_table(advised.advice)
    assert len(compared.rows) == 3
    assert compared.heads[:3] == ("probe", "entry", "depth, mm")
    assert {row[1] for row in compared.rows} == {"lid", "base", "side"}  # all at the one height that is said above
    # the table of the report and of the JSON holds the same three
    assert [one["entry"] for one in summary(advised)["candidates"]] == [
        one.probe.entry for one in advised.advice.candidates
    ]


@pytest.mark.long
def test_a_height_that_is_left_open_is_the_cold_spots(advised):
    assert advised.case.probe.z == advised.cold_spot.least_lethality.z
    told = " ".join(" ".join(answer(advised, full=True)).split())
    assert f"its axis at z = {1e3 * advised.case.probe.z:.1f} mm" in told


@pytest.mark.long
def test_the_recommended_depth_reads_the_least_lethality_and_the_ladder_says_the_same(advised):
    one = advised.advice.own.recommended("least lethality")
    assert abs(one.over_reading) < 0.03
    # without the stem the tip would be within millimetres of the axis
    assert abs(advised.probe.reading.r) < 0.012
    assert_allclose(one.lethality, advised.probe.reading.lethality, rtol=1e-9, atol=0)
    nearest = min(advised.advice.own.ladder, key=lambda rung: abs(rung.depth - 0.020))
    again = simulate(side_can(advised.advice.own.probe.at_depth(nearest.depth, advised.case.container)))
    # rungs are solved on the coarser grid about the stem and moved by what the finer one says at the best depth
    assert_allclose(nearest.lethality, again.probe.reading.lethality, rtol=0.01, atol=0)
    assert again.probe.reading.lethality > one.lethality


@pytest.mark.whole
def test_a_steel_stem_errs_more_than_a_sheath_of_plastic():
    biases = [
        simulate(side_can(Probe("side", "through", (Segment(2e-3, 0.06, made_of),), 0.0302, 2e-3))).probe.at_place
        for made_of in (POLYMER, STEEL)
    ]
    assert 0.0 < biases[0].heating_lethality < 0.3 * biases[1].heating_lethality
    assert biases[1].cooling_lethality < 0.0


@pytest.mark.long
def test_figures_of_the_side_carry_their_uncertainty(advised):
    known = advised.uncertainty
    assert 0.0 < known["probe.reading.lethality"] < 0.01 * advised.probe.reading.lethality
    assert 0.0 < known["probe.at_place.heating_lethality"] < 0.01
    # a place among nodes is no better known than half their distance
    assert known["probe.least_lethality.r"] > 1e-5


@pytest.mark.long
def test_the_results_file_and_the_json_hold_what_was_computed(advised, tmp_path):
    save_result(advised, tmp_path / "side.h5")
    back = load_result(tmp_path / "side.h5")
    assert back.advice == advised.advice
    assert back.probe.grid is None
    np.testing.assert_array_equal(back.probe.section.end_of_heating, advised.probe.section.end_of_heating)
    found = json.loads(json.dumps(summary(back), allow_nan=False))
    assert found["probe"]["entry"] == "side"
    assert_allclose(found["probe"]["z_mm"], 1e3 * advised.case.probe.z, rtol=1e-12, atol=0)
    outer = 1e3 * advised.case.container.outer_radius
    for rung in found["ladder"]:
        assert_allclose(rung["tip_from_axis_mm"], outer - rung["insertion_mm"], rtol=0, atol=1e-9)


@pytest.mark.long
def test_the_section_meets_the_field_without_the_probe_far_from_it(advised):
    section = advised.probe.section
    change = section.end_of_heating - section.without_probe
    # beside the wall opposite the stem hardly changes anything; at the sensor it changes most of all in the product
    opposite = section.x < -0.8 * advised.case.container.profile.narrowest
    assert np.nanmax(np.abs(change[opposite])) < 0.15 * np.nanmax(np.abs(change))


@pytest.mark.long
def test_a_logger_on_the_side_wall_is_read_and_its_bowed_faces_are_said():
    stack = (Segment(0.008, 0.004, POLYMER), Segment(0.016, 0.012, STEEL), Segment(0.003, 0.010, STEEL))
    result = simulate(side_can(Probe("side", "inside", stack, sensing=2e-3)))
    assert_allclose(result.probe.reading.r, 0.030 - 0.026, rtol=0, atol=1e-9)
    assert abs(result.probe.at_place.heating_lethality) > 0.10
    assert any("bowed like the side wall, by up to 1.1 mm" in warning for warning in result.warnings)
    assert "on the side wall" in "\n".join(answer(result, full=True))


@pytest.mark.whole  # what bowed faces do is said in any case, and tested above
def test_an_equivalent_body_shorter_by_the_bow_bounds_what_the_bowed_faces_do():
    def read(bow):
        stack = (
            Segment(0.008, 0.004, POLYMER),
            Segment(0.016, 0.012 - bow, STEEL),
            Segment(0.003, 0.010 + bow, STEEL),
        )
        return simulate(side_can(Probe("side", "inside", stack, sensing=2e-3))).probe

    as_is, shorter = read(0.0), read(0.030 - math.sqrt(0.030**2 - 0.008**2))
    off = shorter.reading.lethality / as_is.reading.lethality - 1.0
    # less steel in the product: less is led in and stored; by far less than the body's own doing
    assert 0.0 < abs(off) < 0.2 * abs(as_is.at_place.heating_lethality)
    assert shorter.at_place.heating_lethality < as_is.at_place.heating_lethality


@pytest.mark.whole  # three entries, asked for the other way round
def test_a_stem_through_the_lid_is_compared_with_the_side_where_that_is_asked():
    case = dataclasses.replace(probed_can(), probe=dataclasses.replace(probed_can().probe, insertion=None))
    entries = {one.probe.entry for one in recommend(case, side=True).advice.candidates}
    assert entries == {"lid", "base", "side"}


def test_what_is_not_handled_from_the_side_is_refused_in_one_line():
    case = side_can()
    with collecting():  # what it refuses by itself is handed to the case
        nowhere = dataclasses.replace(SHEATH, z=math.nan)
        from_the_lid = dataclasses.replace(SHEATH, entry="lid", z=0.04)
    for changes, words in (
        ({"container": Container(Profile(((0.0, 0.030), (0.080, 0.035))))}, "straight containers"),
        ({"container": Container(straight(0.060, 0.080), stands_in=True)}, "a cylinder stands in"),
        ({"probe": dataclasses.replace(SHEATH, z=0.0795)}, "must be from 3.2 to 77.2 mm"),
        ({"probe": nowhere}, "is not a number"),
        ({"probe": dataclasses.replace(SHEATH, segments=(Segment(0.02, 0.06, STEEL),))}, "at most 18 mm are handled"),
        ({"probe": dataclasses.replace(SHEATH, insertion=0.061)}, "beyond the inside of the side wall"),
        ({"probe": from_the_lid}, 'z = 0.04 m has a meaning only with entry = "side"'),
    ):
        with pytest.raises(CaseError) as refused:
            case.replace(**changes)
        assert len(refused.value.faults) == 1
        assert words in str(refused.value)


def test_the_side_is_refused_for_a_comparison_that_cannot_be_computed():
    wide = dataclasses.replace(probed_can().probe, segments=(Segment(0.020, 0.08, STEEL),), insertion=None)
    with pytest.raises(InputError, match=r"from the side: .*at most 18 mm are handled"):
        recommend(dataclasses.replace(probed_can(), probe=wide), side=True)
    assert logger_can().probe.z is None


@pytest.mark.long
def test_a_hole_off_the_cold_spots_height_is_said_with_the_distance_and_what_it_costs(advised):
    spot = advised.cold_spot.least_lethality
    assert not [one for one in notices_of_probe(advised) if one.code == "hole-off-cold-spot"]
    probe = advised.probe.probe.at_height(spot.z - 0.008)
    moved = dataclasses.replace(advised, probe=dataclasses.replace(advised.probe, probe=probe))
    (said,) = [one for one in notices_of_probe(moved) if one.code == "hole-off-cold-spot"]
    assert "8.0 mm below the place of least lethality" in said.text
    column = advised.grid.z[0]
    k = int(np.nanargmin(np.abs(column - probe.z)))
    # at the nearest node, half a spacing off at most
    costs = advised.lethality[0, k] / spot.lethality - 1
    assert_allclose(said.figures["more_lethality"], costs, rtol=0.25)
    assert said.severity == ("danger" if said.figures["more_lethality"] > 0.05 else "warning")
    assert said.pressing == (said.severity == "warning")
