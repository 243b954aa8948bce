"""Unlikely values are questioned in words, with the slip that explains them; likely ones are not."""

import re

import numpy as np
import pytest
from places import CASES
from small_case import SMALL, changed

from thermsim import Lethality, case_from_text, read_case
from thermsim.case.doubts import doubts
from thermsim.case.process import Film, Process, Stage

#: The headspace of the small case, and one of gas closed at a temperature [degC].
GAS = 'model = "insulated"'
SEALED = 'model = "humid"\nemissivity_product = 0.9\nemissivity_lid = 0.9\nsealed_at_C = {}'


def said(*changes):
    return [notice.text for notice in doubts(case_from_text(changed(*changes, text=SMALL)))]


@pytest.mark.parametrize("path", sorted(CASES.glob("*.toml")), ids=lambda path: path.stem)
def test_nothing_is_questioned_in_the_ready_cases(path):
    assert doubts(read_case(path)) == ()


@pytest.mark.parametrize(
    ("old", "new", "what", "slip"),
    [
        ("z_C = 10.0", "z_C = 18", "a z of 18 K", "18 degF would be 10 K: write z_F = 18."),
        ("z_C = 10.0", "z_F = 10", "a z of 5.556 K", "If 10 K was meant, write z_C = 10."),
        # 0.32 Btu/hftF times 1.730735
        (
            "conductivity_W_mK = 0.55",
            "conductivity_W_mK = 0.32",
            "a conductivity of 0.32 W/mK",
            "0.32 Btu/hftF would be 0.5538 W/mK: write conductivity_Btu_hftF = 0.32.",
        ),
        (
            "film_W_m2K = 450",
            "film_W_m2K = 5",
            "a heat-transfer coefficient while heating of 5 W/m2K",
            "5 kW/m2K would be 5000 W/m2K: write film_W_m2K = 5000.",
        ),
        ("density_kg_m3 = 1050", "density_kg_m3 = 65.5", "a density of 65.5 kg/m3", "write density_lb_ft3 = 65.5."),
        ("density_kg_m3 = 1050", "density_kg_m3 = 1.05", "a density of 1.05 kg/m3", "1.05 g/cm3 would be 1050 kg/m3"),
        ("initial_C = 40.0", "initial_C = 140.0", "start of 140 degC", "140 degF would be 60 degC: write initial_F"),
        ("reference_C = 121.1", "reference_F = 121.1", "temperature of 49.5 degC", "write reference_C = 121.1."),
        ("start_C = 40.0", "start_F = 38", "medium's temperature at the start of 3.333 degC", "write start_C = 38."),
        ("to_C = 30", "to_C = 77", "cooling medium of 77 degC", "77 degF would be 25 degC: write to_F = 77."),
        ("headspace_mm = 12.0", "headspace_mm = 0.25", "a headspace of 0.25 mm", "write headspace_in = 0.25."),
        # 5000 Btu/hft2F
        ("film_W_m2K = 450", "film_Btu_hft2F = 5000", "while heating of 28391 W/m2K", "write film_W_m2K = 5000."),
        ("thickness_mm = 3.0", "thickness_in = 3.0", "thickness of the side of 76.2 mm", "write thickness_mm = 3."),
        ("z_C = 10.0", "z_C = 10.0\ntarget_min = 360", "a target of 360 min", "360 s would be 6 min"),
        ("minutes = 75", "minutes = 4500", 'stage no. 2 "hold" of 4500 min', "4500 s would be 75 min: write minutes"),
        # a viscosity too high makes a product that flows one that does not
        (
            "initial_C = 40.0",
            "initial_C = 40.0\nviscosity_Pa_s = 90000",
            "a viscosity of 90000 Pa s",
            "90000 cP would be 90 Pa s: write viscosity_cP = 90000.",
        ),
    ],
)  # fmt: skip
def test_a_likely_slip_is_named(old, new, what, slip):
    (text,) = said((old, new))
    assert text.startswith("CHECK THE INPUT: ")
    assert what in text and slip in text and "is usual" in text and "common practice, no source" in text


def test_a_frozen_product_is_not_computed_as_it_thaws():
    (text,) = said(("initial_C = 40.0", "initial_C = -18.0"), ("start_C = 40.0", "start_C = -18.0"))
    assert "thawing takes heat that is not computed, and true lethalities would be lower" in text
    # -0.4 degF, as nobody writes it
    assert text.endswith("Check it, and the unit in its key.")


def test_a_stage_that_falls_by_a_slip_says_so():
    texts = said(("to_C = 118", "to_F = 100"), ("start_C = 40.0", "start_C = 45.0"))
    assert any(text.endswith("If 100 degC was meant, write to_C = 100.") for text in texts)


def test_what_no_slip_explains_is_questioned_all_the_same():
    (text,) = said(("z_C = 10.0", "z_C = 33.0"))
    assert text.endswith("Check it, and the unit in its key.")
    (notice,) = doubts(case_from_text(changed(("z_C = 10.0", "z_C = 33.0"), text=SMALL)))
    assert (notice.severity, notice.topic, dict(notice.figures)) == ("warning", "input", {"z": 33.0})


@pytest.mark.parametrize(("old", "new", "what"), [
    ("headspace_mm = 12.0", "headspace_mm = 57.0", "the product stands 56 mm high, 50 % of the container's height"),
    ("headspace_mm = 12.0", "headspace_mm = 56.0", ""),
    # 10^((118 - 138)/10) = 0.01
    ("reference_C = 121.1", "reference_C = 138.1", "a minute counts as 0.01 min at the reference temperature of"),
    ("reference_C = 121.1", "reference_C = 137.9", ""),
    ("thickness_mm = 0.25", "thickness_mm = 2.6", "lid of 2.6 mm is questionable: 0.05 to 2.5 mm is usual of metal"),
    ("thickness_mm = 0.25", "thickness_mm = 2.4", ""),
    ('"tinplate", thickness_mm = 0.25', '"polypropylene", thickness_mm = 6', "0.05 to 5 mm is usual of plastic"),
    ('"tinplate", thickness_mm = 0.25', '"polypropylene", thickness_mm = 4', ""),
    ("thickness_mm = 3.0", "thickness_mm = 12.0", ""),
    ("inner_diameter_mm = 66.0", "inner_diameter_mm = [66.0, 60.0]", "66 mm wide at its base and 60 mm at its top."),
    ("inner_diameter_mm = 66.0", "inner_diameter_mm = [66.0, 65.0]", ""),
    ("inner_diameter_mm = 66.0", "inner_diameter_mm = [60.0, 66.0]", ""),
    ("minutes = 75", "minutes = 299", ""), ("initial_C = 40.0", "initial_C = 40.0\nviscosity_Pa_s = 4900", ""),
    # what has no wall meets the medium: of a container that has others it may have been forgotten
    ('side = { material = "soda-lime glass", thickness_mm = 3.0 }', "", "base and lid have walls, side none: what"),
    ('base = { material = "soda-lime glass", thickness_mm = 5.0 }', "", "side and lid have walls, base none: what"),
    ('lid = { material = "tinplate", thickness_mm = 0.25 }', "", ""),
    # the product starts at 40 degC
    (GAS, SEALED.format(66), "sealed at 66 degC, 26 K hotter than the product is at the start, 40 degC"),
    (GAS, SEALED.format(64), ""), (GAS, SEALED.format(10), "30 K colder than the product"),
])  # fmt: skip
def test_what_may_be_a_slip_beside_the_rest_of_the_case_is_questioned(old, new, what):
    texts = said((old, new))
    assert [what in text for text in texts] == [True] * bool(what)


def test_a_dry_food_may_conduct_little_and_a_named_medium_is_not_questioned():
    assert said(("conductivity_W_mK = 0.55", "conductivity_W_mK = 0.2"), ("J_kgK = 3700", "J_kgK = 2000")) == []
    still = re.sub(r"(?m)^film_W_m2K = .*$", 'medium = "still air"', SMALL)
    assert [text for text in (n.text for n in doubts(case_from_text(still))) if "coefficient" in text] == []


def of_stages(*stages):
    """What is asked of a process of such stages: name, minutes, medium at the start and at the end [degC]."""
    case, time, found = case_from_text(SMALL), 0.0, []
    for name, length, first, last in stages:
        span = np.array([time, time + 60.0 * length])
        found.append(Stage(name, span, np.array([first, last]), Film.everywhere(500.0)))
        time = float(span[1])
    asked = doubts(case.replace(process=Process(tuple(found))))
    assert all(one.pressing and one.severity == "warning" and one.topic == "input" for one in asked)
    return [one.text.removeprefix("CHECK THE INPUT: ") for one in asked]


def test_a_stage_that_goes_the_other_way_than_its_name_is_questioned():
    usual = (("come-up", 10, 40, 121), ("hold", 60, 121, 121), ("cool", 5, 121, 25))
    assert of_stages(*usual) == []
    assert of_stages(*usual[:2], ("hold", 5, 121, 25)) == [
        'stage no. 3 "hold" falls from 121 to 25 degC. Is it a "cool"? What is no cooling counts as heating, in all '
        "figures."
    ]
    assert of_stages(("come-up", 10, 45, 12.3), *usual[1:])[0].startswith(
        'stage no. 1 "come-up" falls from 45 to 12.3'
    )
    assert of_stages(*usual[:2], ("cool", 5, 121, 135))[0].startswith(
        'stage no. 3 "cool" rises from 121 to 135 degC.'
    )
    # a medium that sinks by a few kelvin while it holds is none
    assert of_stages(usual[0], ("hold", 60, 121, 117), ("cool", 5, 117, 25)) == []


def test_a_cooling_in_which_the_medium_stays_hot_is_questioned():
    before, after = (("come-up", 10, 40, 121), ("hold", 60, 121, 121)), (("cool", 5, 121, 25), ("cool", 30, 25, 25))
    assert of_stages(*before, ("cool", 4, 121, 121), *after) == []
    # it leaves 116 degC at 5/96 of the five minutes that follow
    assert of_stages(*before, ("cool", 40, 121, 121), *after) == [
        "cooling is said to begin at 70 min, but the medium stays within 5 K of its 121 degC until 110.3 min. The "
        "required hold rests on it."
    ]


@pytest.mark.parametrize(
    ("reference", "z", "symbol", "function"),
    [
        (121.1, 10.0, "F0", "F0(121.1 degC, z 10 K)"),
        # 250 degF and 18 degF
        ((250 - 32) / 1.8, 18 / 1.8, "F0", "F0(121.11 degC, z 10 K)"),
        (121.1, 8.0, "F", "F(121.1 degC, z 8 K)"),
        (120.0, 10.0, "F", "F(120 degC, z 10 K)"),
        (90.0, 10.0, "P", "P(90 degC, z 10 K)"),
    ],
)
def test_a_lethality_is_called_as_the_trade_calls_it(reference, z, symbol, function):
    terms = Lethality(reference, z)
    assert (terms.symbol, terms.function) == (symbol, function)
