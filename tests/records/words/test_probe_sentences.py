"""The advice about a probe, and what the probe does, in words for the terminal."""

import dataclasses
import re

import pytest
from small_cans import STEM

from thermsim.assess.probe.advice import Setting
from thermsim.assess.simulate.probe_cautions import notices_of_advice
from thermsim.notice import Notice
from thermsim.records.family.table import settings_parts
from thermsim.records.words.answer import answer
from thermsim.records.words.depth import entry_text
from thermsim.records.words.parts import Section
from thermsim.records.words.screen import lines_of

ALL = ("probed", "advised", "stacked", "uncooled")


def text_of(result):
    return " ".join(" ".join(answer(result, full=True)).split())


def advising(result, **changes):
    return dataclasses.replace(result, advice=dataclasses.replace(result.advice, **changes))


@pytest.mark.parametrize("name", ALL)
def test_answer_about_a_probe_is_ascii_of_limited_width(name, request):
    for line in answer(request.getfixturevalue(name), full=True):
        assert line.isascii()
        assert len(line) <= 100
        assert not line.strip().startswith("+-")
        assert not line.endswith("+-")


def test_recommendation_comes_first(advised):
    lines = answer(advised, full=True)
    one = advised.advice.own.recommended("least lethality")
    low, high = (1e3 * bound for bound in one.window)
    assert text_of(advised).startswith(
        f"Recommended Insert {one.depth * 1e3:.1f} mm (window {low:.1f} to {high:.1f} mm) from the outer face of "
        'the lid: "3 mm steel"'
    )
    found = re.search(
        r"reads F0 = ([\d.]+) \+- ([\d.]+) min, should read ([\d.]+) \+- [\d.]+ min: ([+-][\d.]+) \+- [\d.]+ %",
        text_of(advised),
    )
    read, unsure, truth, over = (float(word) for word in found.groups())
    assert abs(read - one.lethality / 60) <= unsure
    assert abs(truth - advised.cold_spot.least_lethality.lethality / 60) <= unsure
    heating, cooling = 100 * one.heating_over_reading, 100 * one.cooling_over_reading
    assert f"mismatch {100 * one.mismatch:.1f} +- " in text_of(advised)
    assert f"reads {heating:+.1f} % until heating ends, {cooling:+.1f} % in cooling" in text_of(advised)
    # one factor would not serve both phases
    factors = 100.0 / (100.0 + heating), 100.0 / (100.0 + cooling)
    assert (
        f"correct by x {factors[0]:.3f} until heating ends, x {factors[1]:.3f} in cooling: no single factor does"
        in (text_of(advised).split("Or, to show")[0])
    )
    # two figures of two decimals each, and one of as many as its uncertainty leaves
    digits = len(found.group(4).partition(".")[2])
    assert abs(over - 100 * (read / truth - 1)) < 0.5 * 10.0**-digits + 100 * 0.005 * (1 + read / truth) / truth
    places = [k for k, line in enumerate(lines) if line.startswith(("Recommended", "Least lethality", "Probe "))]
    assert places[0] == 0
    assert len(places) == 3


def test_chosen_criterion_decides_what_is_recommended_and_the_other_is_told_too(advised, stacked):
    own = stacked.advice.own
    least, slowest = (1e3 * own.recommended(name).depth for name in ("least lethality", "slowest heating"))
    text = text_of(stacked)
    assert text.startswith(f"Recommended Set the tip {slowest:.1f} mm (window ")
    # here one depth serves both
    assert abs(least - slowest) < 0.1
    assert "Or, to show" not in text
    found = re.search(r"reads F0 = ([\d.]+) \+- ([\d.]+) min until heating ends, should read ([\d.]+) ", text)
    one = own.recommended("slowest heating")
    assert abs(float(found[1]) - one.heating_lethality / 60) <= float(found[2])
    assert abs(float(found[3]) - stacked.cold_spot.slowest_heating.heating_lethality / 60) <= float(found[2])
    depth = 1e3 * advised.advice.own.recommended("slowest heating").depth
    assert f"Or, to show the slowest heating: {depth:.1f} mm (window " in text_of(advised)


def test_criteria_that_agree_are_told_once(advised):
    own = advised.advice.own
    least, slowest = own.recommendations
    same = dataclasses.replace(own, recommendations=(least, dataclasses.replace(slowest, depth=least.depth)))
    candidates = list(advised.advice.candidates)
    candidates[advised.advice.chosen] = same
    assert "Or, to show" not in text_of(advising(advised, candidates=tuple(candidates)))


def test_candidates_stand_in_columns_in_the_order_given(advised):
    lines = answer(advised, full=True)
    first = next(k for k, line in enumerate(lines) if line.startswith("probe "))
    head, rows = lines[first], lines[first + 1 : first + 1 + len(advised.advice.candidates)]
    entry = head.index("entry")
    assert [row[entry:].split()[0] for row in rows] == [one.probe.entry for one in advised.advice.candidates]
    for title in ("depth, mm", "window, mm", "mismatch, %", "heating, %", "in all, %"):
        end = head.index(title) + len(title)
        for row in rows:
            # numbers end where the title ends
            assert re.search(r"\d\.\d$", row[:end])
    assert ["(own)" in row for row in rows].index(True) == advised.advice.chosen
    assert all(re.search(r" (yes|NO)\b", row) for row in rows)


def test_one_candidate_needs_no_table(stacked):
    assert len(stacked.advice.candidates) == 1
    assert "mismatch, %" not in text_of(stacked)


def test_hardware_says_what_to_measure_with_calipers(advised):
    nearest = advised.advice.settings[0]
    assert (
        "Hardware 50 mm probe, 10.0 mm out of the lid by calipers: "
        f"{-1e3 * nearest.misfit:.1f} mm too shallow, in the window"
    ) in text_of(advised)
    worse = advised.advice.settings[1]
    assert f"{1e3 * worse.misfit:.1f} mm too deep, OUTSIDE THE WINDOW" in text_of(advised)


def test_hardware_names_the_spacers_and_only_the_nearest(stacked):
    lines = answer(stacked, full=True)
    first = next(k for k, line in enumerate(lines) if line.startswith("Hardware"))
    last = next(k for k, line in enumerate(lines) if line.startswith("Confirm"))
    told = " ".join(line[16:] for line in lines[first:last])
    assert re.findall(r"spacers [\d +]+ mm(?=:)", told) == [
        "spacers 10 + 10 mm",
        "spacers 10 + 5 mm",
    ]
    # each with the height that the recommended depth needs, and with what it reads itself
    assert told.count(" mm of spacers needed)") == 2
    depth = 1e3 * stacked.advice.own.recommended("least lethality").depth
    for setting in stacked.advice.settings[:2]:
        needed = 1e3 * sum(setting.spacers) + depth - 1e3 * setting.depth
        assert f"({needed:.1f} mm of spacers needed)" in told
        assert re.search(rf"F0 = {setting.worth.heating_lethality / 60:.2f} \+- [\d.]+ min until heating ends", told)
        assert f"mismatch {100 * setting.worth.mismatch:.1f} +- " in told
    assert len(stacked.advice.settings) > 3


def test_hardware_that_cannot_do_it_is_told(advised):
    assert "Hardware nothing at hand brings the tip to a depth that is possible" in text_of(
        advising(advised, settings=())
    )


def test_stack_without_a_spacer_is_told(stacked):
    lone = Setting(0.030, -0.0144, False)
    assert "no spacer: 14.4 mm too shallow (14.4 mm of spacers needed), OUTSIDE THE WINDOW" in text_of(
        advising(stacked, settings=(lone,))
    )


def test_confirmation_depths_are_told(advised):
    depths = ", ".join(f"{1e3 * depth:.1f}" for depth in advised.advice.confirmation)
    assert f"Confirm measure at {depths} mm too" in text_of(advised)
    assert "no other depth differs by enough for a sensor good to 0.3 K" in text_of(
        advising(advised, confirmation=())
    )


def test_tip_that_cannot_be_set_is_told_without_a_window(stacked):
    own = stacked.advice.own
    fixed = advising(stacked, candidates=(dataclasses.replace(own, ladder=own.ladder[:1]),))
    text = text_of(fixed)
    assert re.match(r"Recommended The tip is [\d.]+ mm from the outer face of the base and cannot be set", text)
    assert "Confirm" not in text


def test_probe_is_told_with_both_phases_and_in_all(probed):
    text, effect = text_of(probed), probed.probe
    assert '"stepped "stem"" through the lid, tip at z = 34.4 mm, 36.0 mm from the outer face of the lid' in text
    phases = r"([+-][\d.]+) \+- [\d.]+ %"
    found = re.search(
        rf"its place without it: {phases} of lethality while heating, {phases} in cooling, {phases} in all", text
    )
    shown = [float(word) for word in found.groups()]
    bias = effect.at_place
    for value, given in zip(shown, (bias.heating_lethality, bias.cooling_lethality, bias.lethality), strict=True):
        # shown to a tenth of a percent
        assert abs(value - 100 * given) <= 0.051
    assert re.search(r"against the undisturbed least lethality: [+-][\d.]+ \+- ", text)
    largest = re.search(r"up to ([+-][\d.]+) \+- [\d.]+ K while heating \(after (\d+) min\)", text)
    assert abs(float(largest[1]) - bias.temperature) <= 0.06
    assert int(largest[2]) == round(bias.temperature_time / 60)
    assert re.search(r"fh = [\d.]+ \+- [\d.]+ min, jh = [\d.]+ \+- [\d.]+; without the probe fh = ", text)
    assert f"{'on the' if effect.beside_stem else 'not at the'} probe" in text
    moved = re.search(r"([\d.]+) \+- [\d.]+ mm from the undisturbed one", text)
    assert abs(float(moved[1]) - 1e3 * effect.moved) <= 0.06


def test_process_without_cooling_is_not_given_a_bias_in_cooling(uncooled):
    text = text_of(uncooled)
    assert "of lethality while heating, which is all" in text
    assert "% in cooling" not in text
    assert "K in cooling" not in text


def test_medium_that_varies_has_no_heat_penetration_factors(uncooled):
    assert "fh =" not in text_of(uncooled)


def test_factors_of_one_curve_alone_are_told(probed):
    effect = dataclasses.replace(probed.probe, factors=None)
    text = text_of(dataclasses.replace(probed, probe=effect))
    assert "no straight part to take fh and jh from; without the probe fh = " in text


def test_probe_without_an_insertion_is_said_to_be_left_out(probed):
    assert 'Probe "stepped "stem"" is left out: its insertion is not given' in text_of(
        dataclasses.replace(probed, probe=None)
    )


def test_notices_come_by_severity_and_are_labelled(advised):
    lines = answer(advised, full=True)
    labels = [line.split()[0] for line in lines if line.startswith(("DANGER", "Warning", "Note"))]
    assert labels == sorted(labels, key=("DANGER", "Warning", "Note").index)
    dangers = [line for line in lines if line.startswith("DANGER")]
    assert dangers[0].startswith("DANGER          UNSAFE SIDE: ")
    assert dangers[1].startswith("DANGER          NO DEPTH IS GOOD")
    assert len(dangers) == 2
    one = advised.advice.own.recommended(advised.advice.criterion)
    (none_good,) = [notice for notice in advised.notices if notice.code == "no-good-depth"]
    assert f"it is to show is {100 * one.mismatch:.1f} % of lethality, and until" in none_good.text
    assert f"it reads {100 * one.heating_over_reading:+.1f} % against" in none_good.text
    assert f"mismatch {100 * one.mismatch:.1f} % at best" in none_good.brief
    for warning in advised.warnings:
        assert text_of(advised).count(warning) == 1


def test_other_probes_from_the_side_that_are_off_the_cold_spots_height_are_named(advised):
    def placed(candidate, name, z):
        return dataclasses.replace(
            candidate, probe=dataclasses.replace(candidate.probe, name=name, entry="side", z=z)
        )

    one, other = advised.advice.candidates
    least = advised.cold_spot.least_lethality.z
    places = {"high": least + 0.02, "near": least + 1e-4, "low": least - 0.01}
    far = tuple(placed(other, name, z) for name, z in places.items())
    notices = notices_of_advice(advising(advised, candidates=(one, *far), chosen=0))
    (said,) = [notice.text for notice in notices if notice.code == "holes-off-cold-spot"]
    assert said == (
        f"Compared from the side, not at the height of the place of least lethality, z = {1e3 * least:.1f} mm: "
        f'"high" at z = {1e3 * least + 20:.1f} mm, 20.0 mm off; "low" at z = {1e3 * least - 10:.1f} mm, 10.0 mm off.'
    )


def test_severity_is_not_told_from_capitals(advised):
    shouting = Notice("made-up", "note", "input", "UNSAFE SIDE: in capitals, and yet a note.")
    quiet = Notice("made-up", "danger", "energy", "without a capital, and yet a danger.")
    lines = answer(dataclasses.replace(advised, notices=(shouting, quiet)), full=True)
    assert "Note            UNSAFE SIDE: in capitals, and yet a note." in lines
    assert "DANGER          without a capital, and yet a danger." in lines


def settings_table(results):
    return lines_of([Section("", settings_parts(results))])


def test_settings_table_has_a_line_for_each_case(advised, stacked):
    lines = settings_table([advised, stacked])
    assert all(line.isascii() and len(line) <= 100 for line in lines)
    first, second = lines[1:3]
    assert first.startswith("Paste, small can ")
    one, setting = advised.advice.own.recommended("least lethality"), advised.advice.settings[0]
    for shown in (one.depth, *one.window, setting.stick_out):
        assert f"{1e3 * shown:.1f}" in first
    assert "50 mm, " in first
    assert "10 + 10 mm" in second
    assert f"{1e3 * stacked.advice.settings[0].misfit:.1f}" in second
    # neither is good, both settings are within the window
    assert first.endswith(" !")
    assert second.endswith(" !")
    assert lines[3:4] == [""] and lines[4].startswith("! NO DEPTH IS GOOD")
    assert len(lines) == 5


def test_settings_table_marks_hardware_that_is_outside_the_window(advised, stacked):
    far = advising(advised, settings=advised.advice.settings[1:])
    lines = settings_table([far, advising(stacked, settings=())])
    assert re.search(r"\+8\.\d +\d+\.\d +\*!$", lines[1])
    assert re.search(r" none +\d+\.\d +!$", lines[2])
    assert lines[4].startswith("* OUTSIDE THE WINDOW")


def test_settings_table_cuts_long_titles_and_stays_narrow(advised):
    long = dataclasses.replace(advised, case=advised.case.replace(title="t" * 200))
    assert all(len(line) <= 100 for line in settings_table([long]))


def test_settings_table_needs_advice(probed):
    with pytest.raises(ValueError, match="a result without advice has no settings"):
        settings_table([probed])


@pytest.mark.parametrize(("entry", "edge", "z", "said"), [
    ("lid", "", None, "lid"), ("side", "", 0.061, "side, z = 61.0 mm"),
    ("side", "long", 0.011, "long edge, z = 11.0 mm"),
])  # fmt: skip
def test_the_edges_of_a_brick_are_told_apart_in_the_table_of_candidates(entry, edge, z, said):
    probe = dataclasses.replace(STEM, entry=entry, edge=edge, z=z)
    assert entry_text(probe) == said
