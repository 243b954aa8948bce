"""Texts in the units of the other system: hand-worked numbers, and a whole answer of which nothing is forgotten."""

import json
import re

import pytest
from numpy.testing import assert_allclose
from places import CASES
from small_cans import small_can
from small_case import COOL, changed

from thermsim import case_from_text, read_case
from thermsim.assess.simulate.simulation import simulate
from thermsim.case.case import Lethality
from thermsim.notice import Notice
from thermsim.physics.films import film_remark, films
from thermsim.quantities import LENGTH, ROWS
from thermsim.records.numbers.summary import summary
from thermsim.records.words.answer import answer
from thermsim.records.words.parts import Notices, Section, Verbatim, in_units
from thermsim.systems import shown_in, told, told_bare, told_columns, told_lengths

#: One of the unit in the SI. Source: the definitions of inch, pound, degF and Btu (of the steam tables), from memory.
DEFINED = {
    "in": 0.0254,
    "degF": 5 / 9,
    "Btu/hftF": 1055.05585262 / 3600 / 0.3048 * 1.8,
    "lb/ft3": 0.45359237 / 0.3048**3,
    "Btu/lbF": 1055.05585262 / 0.45359237 * 1.8,
    "Btu/ft3F": 1055.05585262 / 0.3048**3 * 1.8,
    "ft2/h": 0.3048**2 / 3600,
    "Btu/hft2F": 1055.05585262 / 3600 / 0.3048**2 * 1.8,
    "hft2F/Btu": 3600 * 0.3048**2 / 1055.05585262 / 1.8,
    "cP": 1e-3,
    "psia": 0.45359237 * 9.80665 / 0.0254**2,
    "lb": 0.45359237,
    "oz": 0.45359237 / 16,
    "fl oz": 231 * 0.0254**3 / 128,
    "Btu": 1055.05585262,
}


def test_conversions_are_those_of_the_definitions():
    others = [other for row in ROWS for other in row.others]
    assert {other.unit for other in others} == set(DEFINED)
    for other in others:
        assert_allclose(other.si_value(1.0) - other.si_value(0.0), DEFINED[other.unit], rtol=1e-14)
        assert_allclose(other.edge(other.si_value(3.7)), 3.7, rtol=1e-13)
    freezing = {(other.si_value(32.0), other.edge(100.0)) for other in others if other.zero}
    assert freezing == {(0.0, 212.0)}


@pytest.mark.parametrize(
    ("metric", "us"),
    [
        ("Insert 56.5 mm (window 50.7 to 58.2 mm)", "Insert 2.224 in (window 1.996 to 2.291 in)"),
        # an uncertainty is a difference: 0.05 K are 0.09 degF
        ("113.25 +- 0.05 degC when it ends", "235.85 +- 0.09 degF when it ends"),
        ("z = 63.0 ± 0.1 mm, 118 °C", "z = 2.480 ± 0.004 in, 244.4 °F"),
        ("+0.97 +- 0.01 K, -1.49 K", "+1.75 +- 0.02 degF, -2.68 degF"),
        ("r = 5.1, z = 68.1 mm", "r = 0.201, z = 2.681 in"),
        ("a tip 20.9 (20.8 to 21.0) mm deep", "a tip 0.823 (0.819 to 0.827) in deep"),
        ("initial 55.83 (53.37 to 58.20) degC, from 60", "initial 132.49 (128.07 to 136.76) degF, from 60"),
        ("in 3 (2 to 4) of 5 cans", "in 3 (2 to 4) of 5 cans"),
        # what was given as 130 degF is told as 130 degF
        ("closed at 54.4444 degC", "closed at 130 degF"),
        ("closed at 54.47 degC", "closed at 130.05 degF"),
        ("at 29.9, 37.7, 84.0 mm too", "at 1.177, 1.484, 3.307 in too"),
        ("[25.4, 50.8] mm; +1.7 / −5.8 mm", "[1.000, 2.000] in; +0.067 / −0.228 in"),
        ("spacers 25.4 + 12.7 mm", "spacers 1.000 + 0.500 in"),
        ("⌀ 3.0 × 80.0 mm steel, 12.0\nmm thick", "⌀ 0.118 × 3.150 in steel, 0.472\nin thick"),
        ("a brick of 254 x 127 x 63.5 mm", "a brick of 10 x 5 x 2.500 in"),
        # four digits of a round number
        ("1200 W/m2K, 500 to 3000 W/m²K", "211.3 Btu/hft2F, 88.06 to 528.3 Btu/hft²F"),
        # no finer than what is told in grams and millilitres
        ("360 ml, 454 g", "12.17 fl oz, 16.01 oz"),
        ("907.0 g, 952.5 g", "31.99 oz, 2.100 lb"),
        ("at least -60 and at most 200 degC", "at least -76 and at most 392 degF"),
        ("above 0 and at most 12.7 mm", "above 0 and at most 0.500 in"),
        ("450 W/m2K, 0.55 W/mK, 1050 kg/m3", "79.25 Btu/hft2F, 0.318 Btu/hftF, 65.55 lb/ft3"),
        ('"87 mm can": 87.0 mm', '"87 mm can": 3.425 in'),
        ('"1/8" rod" 25.4 mm, "2 mm"', '"1/8" rod" 1.000 in, "2 mm"'),
        ("F0(121.11 degC, z 10 K) = 9.34 min", "F0(250.00 degF, z 18 degF) = 9.34 min"),
        # parts of numbers do not go over alone
        ("13 000 to 24 000 W/m2K, 1.1e+04 kg/m3", "13 000 to 24 000 W/m2K, 1.1e+04 kg/m3"),
        ("10-15 mm, 1/2 mm", "10-15 mm, 1/2 mm"),
        # no amount: a key, a part, a time, a name
        ("headspace_mm = 12, 8.5 % of 3 min in case 2a", "headspace_mm = 12, 8.5 % of 3 min in case 2a"),
    ],
)
def test_a_number_goes_over_with_its_unit(metric, us):
    assert told(metric) == metric
    with shown_in("us"):
        assert told(metric) == us
    assert told(metric) == metric


def test_the_range_of_what_was_not_measured_goes_over_with_it():
    notes = [film_remark(film).partition("It was")[0] for film in films().values()]
    (mixed,) = (note for note in read_case(CASES / "jar_composition.toml").notes if "Structure leaves" in note)
    (air,) = (note for note in case_from_text(changed(COOL)).notes if note.startswith("Still air at 25 degC"))
    notes += [
        mixed.partition("Structure leaves")[2].partition(", the equations")[0],
        air.partition(", with radiation")[0],
    ]
    for note in notes:
        with shown_in("us"):
            pairs = list(zip(*(re.findall(r"(?<!\w)[\d.]+\b", text) for text in (note, told(note))), strict=True))
        assert len(pairs) >= 3 and all(one != two for one, two in pairs), note


def test_columns_go_over_by_their_heads_and_names_of_rows_stay():
    heads, rows = ["probe", "depth, mm", "T [degC]", "mismatch, %"], [["3 mm steel", "25.4 to 50.8", "100.0", "8.1"]]
    assert told_columns(heads, rows) == (heads, rows)
    with shown_in("us"):
        assert told_columns(heads, rows) == (
            ["probe", "depth, in", "T [degF]", "mismatch, %"],
            [["3 mm steel", "1.000 to 2.000", "212.0", "8.1"]],
        )


def test_bare_lengths_of_a_drawing_go_over_and_lengths_given_in_inches_are_told_as_they_were_given():
    assert told_lengths() == "mm"
    with shown_in("us"):
        assert told_bare("hole ⌀ 12.7\nfitting") == "hole ⌀ 0.500\nfitting"
        assert told_bare(" 20 mm") == " 0.787 in"
        assert [told(LENGTH.text(k * 0.0254 / 8)) for k in (1, 3, 11)] == ["0.125 in", "0.375 in", "1.375 in"]
        assert told_lengths() == "inches"


def test_what_is_word_for_word_and_what_speaks_of_both_systems_stays():
    kept = (Verbatim("case", "12 mm"), Notices((Notice("implausible-value", "warning", "input", "18 K, 18 degF"),)))
    with shown_in("us"):
        assert in_units([Section("12 mm", kept)]) == [Section("12 mm", kept)]


def test_a_place_is_told_alike_with_its_uncertainty_and_without():
    """39.7716 mm are 1.5658 in; from 39.8 mm it would be 1.567."""
    assert LENGTH.text(0.0397716, 1e-4) == "39.8 +- 0.1 mm"
    with shown_in("us"):
        texts = [told(LENGTH.text(0.0397716, *error)) for error in ((), (1e-4,), (2e-3,))]
    assert texts == ["1.566 in", "1.566 +- 0.004 in", "1.566 +- 0.079 in"]


AMOUNT = re.compile(
    r"([-+]?[\d.]+)(?: \+- [\d.]+)? (mm|degC|K|ml|g|W/mK|W/m2K|in|degF|fl oz|lb|oz|Btu/hftF|Btu/hft2F)(?![\w/])"
)
OUNCE = "oz", 16 / 453.59237
FACTORS = {"mm": ("in", 1 / 25.4), "K": ("degF", 1.8), "ml": ("fl oz", 1 / 29.5735295625), "g": OUNCE}


def test_an_answer_is_told_in_one_system_and_its_numbers_are_the_same():
    result = simulate(small_can())
    metric = " ".join(" ".join(answer(result, full=True)).split())
    with shown_in("us"):
        us = " ".join(" ".join(answer(result, full=True)).split())
        machine = json.dumps(summary(result), sort_keys=True)
    assert machine == json.dumps(summary(result), sort_keys=True)
    ours, theirs = AMOUNT.findall(metric), AMOUNT.findall(re.sub('"[^"]*"', "", us))
    assert len(ours) == len(theirs) > 15
    assert not {unit for _, unit in theirs} & {"mm", "degC", "K", "ml", "g", "W/mK", "W/m2K"}
    # nor is a key named that has its unit in it: the case may have been written in the other ones
    assert not re.findall(r"\w+_(?:mm|C|K|W_m2K|W_mK|Pa_s)\b", us)
    checked = 0
    for (one, unit), (other, theirs_unit) in zip(ours, theirs, strict=True):
        if unit in FACTORS:
            assert theirs_unit == FACTORS[unit][0]
            # half of the last digit that is shown in either, 0.1 mm and 0.001 in
            assert_allclose(
                float(other), float(one) * FACTORS[unit][1], rtol=5e-4, atol=3e-3, err_msg=f"{one} {unit}"
            )
            checked += 1
    assert checked > 10


def test_a_reference_given_in_degF_is_told_as_it_was_given():
    """200 degF are 93.333 degC."""
    terms = Lethality((200.0 - 32.0) / 1.8, 16.0 / 1.8)
    assert terms.function == "P(93.33 degC, z 8.89 K)"
    with shown_in("us"):
        assert told(terms.function).startswith("P(200 degF, z 16")
