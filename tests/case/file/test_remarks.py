"""Sentences about a process that is odd without being at fault."""

import re

import pytest
from places import CASES
from small_case import SMALL, changed, recorded

from thermsim import case_from_text

FALLEN = re.compile(r"The medium is (already|still) (\S+) K below its highest temperature .*")


def fallen(case):
    return [match.groups() for match in map(FALLEN.fullmatch, case.notes) if match]


def with_hold_to(temperature):
    return case_from_text(changed(("minutes = 75", f"minutes = 75\nto_C = {temperature}")))


def test_a_medium_that_is_cold_when_heating_ends_is_noted():
    assert with_hold_to(110).notes[-2] == (
        "The medium is already 8 K below its highest temperature when heating is said to end (at 87 min): check "
        "where cooling starts (cooling_starts_min, or the stages' names)."
    )


@pytest.mark.parametrize(("temperature", "noted"), [(113, False), (112.9, True), (118, False)])
def test_five_kelvins_below_the_highest_are_cold(temperature, noted):
    assert bool(fallen(with_hold_to(temperature))) is noted


def logged(cooling):
    record = "Time [min];T\n0;40\n10;120\n20;120\n30;40\n"
    text = recorded(("cooling_starts_min = 20", f"cooling_starts_min = {cooling}"))
    return case_from_text(text, attachments={"retort.csv": record})


def test_a_cooling_start_that_is_too_late_or_too_early_is_noted():
    assert fallen(logged(20)) == []
    # 22 min: 2 of 10 min into a fall of 80 K; 5 min: half-way up
    assert fallen(logged(22)) == [("already", "16")]
    assert fallen(logged(5)) == [("still", "40")]


def test_a_process_that_heats_nothing_is_noted():
    hot = case_from_text(changed(("initial_C = 40.0", "initial_C = 120")))
    assert (
        "Nothing is heated: the medium, 118 degC at most, never gets hotter than the product is at the start, "
        "120 degC."
    ) in hot.notes
    assert not any("Nothing is heated" in note for note in case_from_text(SMALL).notes)


@pytest.mark.parametrize(("changes", "few"), [
    ((), None),
    ((("initial_C = 40.0", "initial_F = 104"),), "W; in the other units are [product] initial_F: check"),
    (
        (("thickness_mm = 5.0", "thickness_in = 0.2"), ("minutes = 12\nto_C = 118", "minutes = 12\nto_F = 244")),
        "in the other units are side, base, lid in [container] thickness_in, [[process.stage]] to_F: check",
    ),
])  # fmt: skip
def test_keys_in_other_units_than_most_of_the_case_are_named(changes, few):
    case = case_from_text(changed(*changes))
    said = [note for note in case.notes if note.startswith("Most of the case is in")]
    assert [few in note for note in said] == [True] * (few is not None)


def test_of_a_case_in_inches_the_metric_keys_are_named():
    inches = CASES / "can_inches.toml"
    text = inches.read_text("utf-8")
    case = case_from_text(text.replace("initial_F = 140", "initial_C = 60"), folder=inches.parent)
    (said,) = [note for note in case.notes if note.startswith("Most of the case is in")]
    assert "in inches, degF, lb, Btu; in the other units are [product] initial_C" in said
