"""The answer in one to three sentences, as the page begins.

Rung: hand-worked.
"""

import dataclasses

import pytest

from thermsim.assess.spots.brick import BrickSpot, BrickSpots
from thermsim.quantities import LENGTH, percent
from thermsim.records.words.answer import answer, in_sentences
from thermsim.systems import shown_in, told


@pytest.fixture
def jar(probed):
    """A result without a probe."""
    return dataclasses.replace(probed, case=probed.case.replace(probe=None), probe=None)


@pytest.mark.parametrize("name", ["jar", "probed", "advised", "stacked", "uncooled"])
def test_no_more_than_three_sentences_of_plain_letters_that_agree_with_the_screen(name, request):
    result = request.getfixturevalue(name)
    sentences, screen = in_sentences(result), " ".join(" ".join(answer(result, full=True)).split())
    assert 2 <= len(sentences) <= 3
    assert all(one.isascii() and one.endswith(".") and one[0].isupper() for one in sentences)
    spot = result.cold_spot.least_lethality
    assert f"{LENGTH.text(spot.z)} above the base" in sentences[0]
    assert f"{LENGTH.text(spot.z)} above the base" in screen
    figure = sentences[1].partition(" = ")[2].partition(";")[0]
    assert figure in screen


def test_off_the_axis_it_is_said_how_far(jar):
    spot = dataclasses.replace(jar.cold_spot.least_lethality, r=6.5e-3)
    moved = dataclasses.replace(jar, cold_spot=dataclasses.replace(jar.cold_spot, least_lethality=spot))
    assert " 6.5 mm from the axis, " in in_sentences(moved)[0]
    with shown_in("us"):
        assert " 0.256 in from the axis, " in told(in_sentences(moved)[0])


def test_of_a_brick_the_place_is_its_own_from_its_middle(jar):
    least = BrickSpot(0.012, 0.0035, 0.021, 600.0, 400.0, 115.0)
    brick = dataclasses.replace(jar, brick=BrickSpots(least, dataclasses.replace(least, x=0.0)))
    place, gathers = in_sentences(brick)[:2]
    assert place == "The cold spot lies at x = 12.0 mm, y = 3.5 mm from the middle, z = 21.0 mm."
    assert " = 10.00 min; " in gathers


def test_a_target_is_reached_or_not_with_the_hold_that_does(jar):
    assert jar.target is not None
    for part, words in ((0.5, " min is reached; "), (2.0, " min is NOT reached; ")):
        target = dataclasses.replace(jar.target, lethality=part * jar.target.least)
        assert words in in_sentences(dataclasses.replace(jar, target=target))[1]
    none = dataclasses.replace(jar, target=None)
    assert in_sentences(none)[1].endswith("; no target is given.")


def test_what_a_probe_reads_too_high_or_low_in_both_phases(probed):
    bias = probed.probe.at_cold_spot
    (said,) = in_sentences(probed)[2:]
    for phase, value in (("until heating ends", bias.heating_lethality), ("in cooling", bias.cooling_lethality)):
        assert f"{abs(percent(value)):.1f} % too {'high' if value > 0 else 'low'} {phase}" in said
    turned = dataclasses.replace(bias, heating_lethality=-0.25, cooling_lethality=0.0)
    other = dataclasses.replace(probed, probe=dataclasses.replace(probed.probe, at_cold_spot=turned))
    assert in_sentences(other)[2].endswith("reads 25.0 % too low until heating ends.")


def test_the_depth_its_worth_and_the_hardware_at_hand(advised):
    own = advised.advice.own.recommended(advised.advice.criterion)
    said = in_sentences(advised)[2]
    assert f"{LENGTH.number(own.depth)} mm (window " in said
    assert ("which is good:" in said) == own.good and ("NOT GOOD" in said) != own.good
    assert "; at hand: " in said
    bare = dataclasses.replace(advised, advice=dataclasses.replace(advised.advice, settings=()))
    assert "at hand" not in in_sentences(bare)[2]


def test_a_probe_without_a_depth_is_said_to_be_left_out(probed):
    probe = dataclasses.replace(probed.case.probe, insertion=None)
    result = dataclasses.replace(probed, case=probed.case.replace(probe=probe), probe=None)
    assert in_sentences(result)[2] == "The probe is left out, as its depth is not given."
