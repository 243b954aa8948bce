"""The first look by the fin equation: against the closed form of a fin, and against the full answer.

Rungs: exact solution (fin in a uniform medium, any textbook of heat transfer, for instance Incropera and DeWitt,
Fundamentals of Heat and Mass Transfer, extended surfaces; from memory), another path of the program.
"""

import dataclasses
import json

import numpy as np
import pytest
from places import CASES
from probed import POLYMER, STEEL, logger_can, probed_can

from thermsim.assess.depth.fin import DIFFERS, quick_look
from thermsim.assess.simulate.simulation import simulate
from thermsim.case.probe import Probe, Segment
from thermsim.cli import main
from thermsim.errors import InputError
from thermsim.physics.convection import find_thickness, flow_of
from thermsim.physics.materials import Material
from thermsim.records.numbers.fin import fin_record
from thermsim.records.words.fin import fin_sentences


def from_side(made_of, diameter=2e-3, insertion=0.0302):
    return Probe("side", "through", (Segment(diameter, 0.06, made_of),), insertion, 2e-3, z=0.040)


@pytest.mark.parametrize(
    "probe",
    [
        from_side(POLYMER),
        pytest.param(from_side(STEEL), marks=pytest.mark.long),
        pytest.param(from_side(STEEL, 1e-3), marks=pytest.mark.long),
    ],
)
def test_from_the_side_the_fin_finds_the_size_of_the_bias(probe):
    case = dataclasses.replace(probed_can(), probe=probe)
    look = quick_look(case).looks[0]
    full = simulate(case).probe.at_place
    # it is no more than a first look: within a factor of four and on the low side (see DIFFERS)
    assert full.heating_lethality / 4.0 < look.heating_bias < 1.3 * full.heating_lethality
    assert look.end_of_heating > 0.0


def test_a_stem_that_conducts_like_the_product_hardly_errs_and_a_better_one_errs_more():
    product = probed_can().product.material
    copper = Material("copper", 380.0, 8900.0, 380.0)
    biases = [
        quick_look(dataclasses.replace(probed_can(), probe=from_side(made_of))).looks[0].heating_bias
        for made_of in (product, POLYMER, STEEL, copper)
    ]
    # what flows in a stem of product flows there anyway
    assert abs(biases[0]) < 0.005
    assert biases[1] < biases[2] < biases[3]


def test_all_entries_are_looked_at_and_the_difference_to_the_full_answer_is_said():
    case = dataclasses.replace(probed_can(), probe=dataclasses.replace(probed_can().probe, insertion=None))
    look = quick_look(case, side=True)
    assert [one.probe.entry for one in look.looks] == ["lid", "base", "side"]
    text = " ".join(fin_sentences(look, full=True))
    assert "It reads LOW" in text
    found = fin_record(look)
    assert (found["method"], found["differs"]) == ("fin", DIFFERS)
    assert [one["entry"] for one in found["candidates"]] == ["lid", "base", "side"]
    assert found["candidates"][2]["z_mm"] == pytest.approx(1e3 * look.cold_spot.z)
    # a hole that is kept from the cold spot's height is said to be
    assert "Hole" not in text
    moved = dataclasses.replace(look, cold_spot=dataclasses.replace(look.cold_spot, z=look.cold_spot.z + 0.010))
    (side,) = {one.probe.z for one in look.looks if one.probe.entry == "side"}
    told = " ".join(" ".join(fin_sentences(moved)).split())
    assert f"from the side at z = {1e3 * side:.1f} mm the axis lies 10.0 mm below the cold spot's height" in told


def test_the_command_line_prints_the_look_and_writes_no_files(capsys, tmp_path):
    case = str(CASES / "can_side.toml")
    assert main(["depth", case, "--quick", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["method"] == "fin"
    assert main(["depth", case, "--quick"]) == 0
    assert "It reads LOW" in " ".join(capsys.readouterr().out.split())
    assert main(["depth", case, "--quick", "--out", str(tmp_path / "out")]) == 2
    assert capsys.readouterr().err.startswith("thermsim: --out: ")
    assert not (tmp_path / "out").exists()


def test_that_the_product_convects_is_said_before_any_depth():
    case = probed_can()
    process, product = case.process, case.product
    flow = flow_of(
        product.material,
        find_thickness("water-like"),
        radius=case.container.profile.widest,
        depth=case.fill_height,
        initial=product.initial,
        medium=process.medium_range[1],
    )
    look = quick_look(case.replace(product=dataclasses.replace(product, flow=flow)))
    assert fin_sentences(look)[0].startswith("DANGER          DOES NOT HOLD: the product convects")
    assert fin_record(look)["notices"][0]["code"] == "product-convects"


def test_a_logger_is_looked_at_and_a_case_without_a_probe_is_not():
    look = quick_look(logger_can())
    assert len(look.looks) == 1
    assert np.isfinite(look.looks[0].heating_bias)
    with pytest.raises(InputError, match="no \\[probe\\]"):
        quick_look(dataclasses.replace(probed_can(), probe=None))
