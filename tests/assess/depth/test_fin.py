"""The first look by the fin equation: against the closed form of a fin, and against the full answer.

Rungs: exact solution (fin in a uniform medium, any textbook of heat transfer, for instance Incropera and DeWitt,
Fundamentals of Heat and Mass Transfer, extended surfaces; from memory), another path of the program.
"""

import dataclasses
import json

import numpy as np
import pytest
from job_cases import bare
from probed import POLYMER, STEEL, logger_can, probed_can
from small_case import SMALL, STEM
from small_jars import BRASS, GAS, shouldered_case

from thermsim.assess.depth import fin
from thermsim.assess.depth.fin import DIFFERS, quick_look
from thermsim.assess.depth.undisturbed import places_of
from thermsim.assess.simulate.simulation import simulate
from thermsim.assess.spots.brick import brick_spots
from thermsim.assess.spots.brick_field import brick_field
from thermsim.case.container import Wall
from thermsim.case.probe import Fitting, Gap, Probe, Segment
from thermsim.cli import main
from thermsim.errors import InputError
from thermsim.exact import fin_temperature
from thermsim.physics.convection import find_thickness, flow_of
from thermsim.physics.materials import Material
from thermsim.records.numbers.fin import fin_record
from thermsim.records.words.fin import fin_sentences


def from_side(made_of, diameter=2e-3, insertion=0.0302):
    return Probe("side", "through", (Segment(diameter, 0.06, made_of),), insertion, 2e-3, z=0.040)


@pytest.mark.parametrize(
    "probe",
    [
        pytest.param(from_side(POLYMER), marks=pytest.mark.long),
        pytest.param(from_side(STEEL), marks=pytest.mark.whole),
        pytest.param(from_side(STEEL, 1e-3), marks=pytest.mark.whole),
    ],
)
def test_from_the_side_the_fin_finds_the_size_of_the_bias(probe):
    case = dataclasses.replace(probed_can(), probe=probe)
    look = quick_look(case).looks[0]
    full = simulate(case).probe.at_place
    # it is no more than a first look: within a factor of four and on the low side (see DIFFERS)
    assert full.heating_lethality / 4.0 < look.heating_bias < 1.3 * full.heating_lethality
    assert look.end_of_heating > 0.0


@pytest.mark.long
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


@pytest.fixture
def field():
    """The can's undisturbed field at the output times, as a look has it."""
    seen = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(fin, "_looked", lambda field, probe: seen.append(field))
        with pytest.raises(InputError, match="no depth is possible"):
            quick_look(probed_can())
    return seen[0]


def test_a_stem_that_meets_no_medium_outside_reads_less(field):
    """What sticks out takes up the retort's heat, and the more the stronger its film is."""
    probe = dataclasses.replace(probed_can().probe, insertion=0.012)
    steps = [fin._step(dataclasses.replace(probe, film=film), field) for film in (1e-9, 50.0, 1e4)]
    ends = [step.rung.end_of_heating for step in steps]
    # 68 mm of steel outside, 12 mm from its wall: by tenths of a kelvin
    assert ends[0] + 0.1 < ends[1] < ends[2] - 0.1


def test_over_readings_are_against_the_cold_spot_and_the_bias_against_the_own_place(field):
    """A stem of product changes nothing: away from the cold spot it reads more than that, and what its place has."""
    product = probed_can().product.material
    stem = dataclasses.replace(
        probed_can().probe, segments=(Segment(3e-3, 0.08, product),), insertion=0.015, film=1e-9
    )
    look, step, place = fin._looked(field, stem), fin._step(stem, field), field.truth.curve
    assert abs(look.heating_bias) < 0.01 < look.heating_over_reading
    assert look.over_reading == pytest.approx(step.rung.lethality / place.lethality - 1.0, rel=1e-9)
    own = step.rung.without_heating / place.heating_lethality - 1.0
    assert look.heating_over_reading == pytest.approx(own, rel=0.02)


def test_a_stem_is_the_sum_of_its_parts():
    """A tube, a gap where it stands in the product, and a gland through the wall and beyond, by areas of rings."""
    tube = Segment(4e-3, 0.08, POLYMER, 0.5e-3, STEEL)
    gland = Fitting(12e-3, 3e-3, 10e-3, BRASS)
    probe = Probe("lid", "through", (tube,), 0.045, 2e-3, fitting=gland, gap=Gap(0.2e-3, GAS))
    # outside of all, in the gland, in the wall, within the gland's inner end, in the product
    middle, wall = np.array([-0.020, -0.005, 0.0001, 0.002, 0.010]), 0.0002
    along, stored, radius, hindered = fin._stem(probe, middle, 0.045, wall)
    core, whole, gland_area = (np.pi * r**2 for r in (1.5e-3, 2e-3, 6e-3))
    for of, found in (("conductivity", along), ("capacity", stored)):
        bare = core * getattr(STEEL, of) + (whole - core) * getattr(POLYMER, of)
        held = bare + (gland_area - whole) * getattr(BRASS, of)
        np.testing.assert_allclose(found, [bare, held, held, held, bare], rtol=1e-12)
    np.testing.assert_allclose(radius, [2e-3, 6e-3, 6e-3, 6e-3, 2e-3])
    gap = np.log(1.1) / (2 * np.pi * GAS.conductivity)
    np.testing.assert_allclose(hindered, [0, 0, 0, gap, gap], rtol=1e-9)


def test_a_stem_in_even_surroundings_has_the_temperatures_of_a_fin_whose_tip_sees_a_disc(field):
    """Closed form of a fin, from the middle of its first part in the product to that of its last.

    So long after the step that nothing is stored any more. The last half part has its own sides besides its tip.
    """
    product, radius, depth, parts, time = probed_can().product.material, 1.5e-3, 0.003, 200, 900.0
    length = np.full(2 * parts, depth / parts)  # as much in the medium
    inside = np.arange(length.size) >= parts
    area, all_alike = np.pi * radius**2, np.ones(length.size)
    after = dataclasses.replace(field, time=np.array([0.0, time]))
    undisturbed = np.where(inside, 40.0, 110.0) * np.ones((2, 1))
    stem = area * POLYMER.conductivity * all_alike, 1e-12 * all_alike, length
    round_it = radius * all_alike, product.conductivity * inside, product.capacity * inside, 0.0 * all_alike
    found = fin._marched(field.case, after, probed_can().probe, undisturbed, stem, round_it)[-1, inside] - 40.0
    sides = 2 * np.pi * product.conductivity / np.log1p(fin.REACHES * np.sqrt(product.diffusivity * time) / radius)
    tip = 4.0 * product.conductivity * radius + sides * length[0] / 2
    made = {"conductivity": POLYMER.conductivity, "diameter": 2 * radius, "film": sides / (2 * np.pi * radius)}
    along = length[0] * np.arange(parts)
    assert time < field.case.process.heated_until and found[0] > 1.0
    np.testing.assert_allclose(
        found / found[0], fin_temperature(along, along[-1], **made, tip_film=tip / area), rtol=1e-4
    )


def test_places_along_a_stem_count_from_the_outer_face_of_its_wall():
    case = shouldered_case()  # its base rises by 6 mm
    for entry in ("lid", "base"):
        probe = dataclasses.replace(case.probe, entry=entry, insertion=0.04)
        r, z = places_of(probe, case, np.array([0.04]))
        assert (r[0], z[0]) == (0.0, pytest.approx(probe.tip(case.container), rel=1e-12))
    r, z = places_of(from_side(STEEL), probed_can(), np.array([0.0302, 0.0352]))
    np.testing.assert_allclose([r, z], [[0.0, 0.005], [0.040, 0.040]], atol=1e-12)


@pytest.mark.long
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
    case = str(tmp_path / "can.toml")
    (tmp_path / "can.toml").write_text(SMALL + STEM, "utf-8")
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


def through_an_edge(made_of, insertion=0.030):
    """A brick of 80 x 60 x 40 mm with a stem through its short edge."""
    case = bare((80, 60, 40), (300.0, 300.0))
    stem = (Segment(3e-3, 0.06, made_of),)
    return case.replace(probe=Probe("side", "through", stem, insertion, 2e-3, z=0.020, edge="short"))


def test_through_an_edge_a_stem_of_product_reads_what_its_place_has_in_the_brick():
    case = through_an_edge(bare((80, 60, 40), (300.0, 300.0)).product.material)
    look = quick_look(case)
    own, other = look.looks
    assert (own.probe.edge, other.probe.edge) == ("short", "long")
    assert abs(own.heating_bias) < 0.01
    least = brick_spots(case)[0].least_lethality
    whole, heating = np.exp(brick_field(case, fine=True).logs_at(np.array([[0.011, 0.0, 0.020]])))[:, 0]
    assert own.over_reading == pytest.approx(whole / least.lethality - 1.0, abs=0.01)
    assert own.heating_over_reading == pytest.approx(heating / least.heating_lethality - 1.0, abs=0.01)
    spot = look.cold_spot
    assert (spot.r, spot.z, spot.lethality) == pytest.approx((0.0, least.z, least.lethality), rel=0.01, abs=1e-3)


@pytest.mark.long
def test_through_an_edge_the_fin_finds_the_size_of_the_bias():
    case = through_an_edge(STEEL)
    look, full = quick_look(case).looks[0], simulate(case).probe.at_place
    assert full.heating_lethality / 4.0 < look.heating_bias < 1.3 * full.heating_lethality


def test_an_edge_of_a_brick_that_is_not_solved_itself_is_refused():
    glass = Wall(Material("glass", 1.0, 2500.0, 800.0), 5e-3)
    case = through_an_edge(STEEL)
    thick = case.replace(container=dataclasses.replace(case.container, side=glass, base=glass))
    with pytest.raises(InputError, match="is not handled here, as its walls store"):
        quick_look(thick)
