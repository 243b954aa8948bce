"""The whole way from a case to its result, against exact solutions and against itself on other grids."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from places import CASES, ROOT

from thermsim import case_from_text, read_case
from thermsim.assess.simulate.fineness import (
    COARSEST_REFINEMENT,
    FINEST_REFINEMENT,
    first_refinement,
    output_times,
)
from thermsim.assess.simulate.simulation import simulate
from thermsim.assess.verify.bare_cylinder import STERILISATION, bare_cylinders, golden_can
from thermsim.case.case import Accuracy, Lethality, Point
from thermsim.case.rules import collecting
from thermsim.errors import InputError


@pytest.fixture(scope="module")
def fixed():
    cylinder = bare_cylinders()[0]
    return cylinder, simulate(cylinder.case(STERILISATION))


def test_uncertainty_covers_the_true_error(fixed):
    cylinder, result = fixed
    least = result.cold_spot.least_lethality
    r, z, lethality = cylinder.least_lethality((least.r, least.z), STERILISATION)
    unsure = result.uncertainty
    name = "cold_spot.least_lethality"
    assert abs(least.lethality - lethality) <= unsure[f"{name}.lethality"]
    assert abs(least.r - r) <= unsure[f"{name}.r"]
    assert abs(least.z - z) <= unsure[f"{name}.z"] + 1e-6  # on the symmetry plane both are rounding
    exact = cylinder.temperature(np.array([least.r]), np.array([least.z]), result.time)[:, 0, 0]
    assert np.abs(result.spots[0].temperature - exact).max() <= unsure[f"{name}.temperature"]


def test_default_settings_keep_the_uncertainty_small(fixed):
    unsure = fixed[1].uncertainty
    least = fixed[1].cold_spot.least_lethality
    assert unsure["cold_spot.least_lethality.lethality"] < 0.01 * least.lethality
    assert unsure["cold_spot.least_lethality.end_of_heating"] < 0.05
    assert math.hypot(unsure["cold_spot.least_lethality.r"], unsure["cold_spot.least_lethality.z"]) < 0.5e-3


def test_the_two_cold_spots_are_told_apart_and_explained(fixed):
    result = fixed[1]
    assert result.cold_spot.distance > 5e-3
    assert any("mm apart" in warning and "process authority" in warning for warning in result.warnings)


@pytest.mark.long
def test_sharper_accuracy_refines_the_grid_and_lowers_the_error():
    cylinder = bare_cylinders()[1]
    case = cylinder.case(STERILISATION)
    plain, sharp = simulate(case), simulate(case.replace(accuracy=Accuracy(temperature=5e-4, lethality=5e-4)))
    assert sharp.effort.nodes > 1.5 * plain.effort.nodes
    least = sharp.cold_spot.least_lethality
    _, _, exact = cylinder.least_lethality((least.r, least.z), STERILISATION)
    errors = [abs(found.cold_spot.least_lethality.lethality - exact) for found in (plain, sharp)]
    assert errors[1] < errors[0] / 3


@pytest.mark.long
def test_accuracy_out_of_reach_is_said():
    case = read_case(CASES / "can.toml")
    result = simulate(case.replace(accuracy=Accuracy(temperature=5e-4, lethality=5e-5, place=5e-6)))
    assert any("accuracy asked for was not reached" in warning for warning in result.warnings)


def test_points_follow_the_exact_solution():
    cylinder = bare_cylinders()[1]
    points = (Point("deep", 0.0123, 0.0345), Point("surface", 0.0365, 0.05), Point("corner", 0.03, 0.108))
    result = simulate(cylinder.case(STERILISATION).replace(points=points))
    late = result.time >= 300.0
    for point, curve in zip(points, result.points, strict=True):
        exact = cylinder.temperature(np.array([point.r]), np.array([point.z]), result.time)[:, 0, 0]
        since = np.where(result.time >= 3600.0, result.time - 3600.0, result.time)
        # 0.2 K from the fifth minute after a jump; the surface's film keeps it from jumping itself
        assert np.abs(curve.temperature - exact)[late & (since >= 300.0)].max() < 0.2, point.name


def test_hold_for_a_target_just_reaches_it():
    can = golden_can()
    target = simulate(can.case(dataclasses.replace(STERILISATION, target=360.0))).target
    assert not target.reached
    _, _, least = can.heated_for(target.required_hold).least_lethality((0.006, can.height / 2), STERILISATION)
    assert_allclose(least, 360.0, rtol=0.003)  # on the exact series


def test_a_target_that_no_hold_reaches_is_said():
    can = dataclasses.replace(golden_can(), hot=40.0)
    target = simulate(can.case(Lethality(121.1, 10.0, target=360.0))).target
    assert target.required_hold is None
    assert "no hold up to 48 h" in target.remark


def test_a_target_reached_without_hold_is_said():
    can = golden_can()
    target = simulate(can.case(Lethality(121.1, 10.0, target=1e-12))).target
    assert target.required_hold == 0.0
    assert "without any hold" in target.remark


def test_energy_balance_closes(fixed):
    assert abs(fixed[1].energy.relative_defect) < 1e-8
    # heat stored when all is over: what the mean temperature says
    cylinder, result = fixed
    exact = cylinder.exact().mean_temperature(
        np.array([6000.0]),
        initial=30.0,
        medium_time=[0.0, 0.0, 3600.0, 3600.0, 6000.0],
        medium=[30.0, 121.1, 121.1, 25.0, 25.0],
    )[0]
    mass_heat = 1040.0 * 3650.0 * math.pi * 0.0365**2 * 0.110
    assert_allclose(result.energy.stored, mass_heat * (exact - 30.0), rtol=0, atol=0.1 * mass_heat)  # 0.1 K


def test_a_point_where_nothing_conducts_is_refused():
    case = bare_cylinders()[1].case(STERILISATION)
    with pytest.raises(InputError, match=r"points\[0\]\.z = 0\.105 m lies in the insulated headspace"):
        case.replace(fill_height=0.1, points=(Point("in the gap", 0.01, 0.105),))


def test_output_times_are_round_and_hold_every_stage_end():
    case = bare_cylinders()[1].case(STERILISATION)
    time = output_times(case)
    assert {0.0, 3600.0, 6000.0} <= set(time)
    assert np.all(np.diff(time) <= 30.0)
    assert output_times(case.replace(output_every=50.0))[1] == 50.0


def test_progress_grows_to_one():
    seen = []
    simulate(bare_cylinders()[1].case(dataclasses.replace(STERILISATION, target=60.0)), progress=seen.append)
    assert seen == sorted(seen)
    assert seen[-1] == 1.0


def test_a_cylinder_that_stands_in_for_a_brick_is_judged_by_what_is_gathered_while_heating():
    text = (ROOT / "cases" / "cup_tapered.toml").read_text("utf-8")
    for line in ("inner_diameter_mm = [60.0, 75.0]", "inner_height_mm = 70.0"):
        assert line in text
    text = text.replace("inner_diameter_mm = [60.0, 75.0]", "brick_mm = [90, 60, 36] #").replace(
        "inner_height_mm = 70.0", ""
    )
    text = text.replace("mass_g = 235.0", "fraction = 1.0").replace("z_mm = 35.9", "z_mm = 18.0")
    text = text.replace("thickness_mm = 0.9", "thickness_mm = 4.0")  # too thick to be solved as a brick
    case = case_from_text(text)
    assert case.container.stands_in
    result = simulate(case)
    (said,) = [warning for warning in result.warnings if "stands in for the brick" in warning]
    least = np.nanmin(result.heating_lethality) / 60
    assert f"{least:.3g} min" in said
    assert ("NOT SAFE YET" in said) == (least < 10.0)


def test_the_first_grid_goes_by_what_is_asked_for():
    usual = Accuracy()
    assert first_refinement(usual) == 1.0
    parts = (100.0, 2.0, 0.5, 0.04, 0.01, 1e-6)
    with collecting():  # beyond what a case may ask for, too
        asked = [Accuracy(part * usual.temperature, part * usual.lethality) for part in parts]
    found = [first_refinement(one) for one in asked]
    assert found == sorted(found)  # the less uncertainty, the finer
    assert found[0] == COARSEST_REFINEMENT < found[1] < found[2] == 1.0 < found[3] < found[4] < found[5]
    assert found[5] == FINEST_REFINEMENT
    # either figure alone asks for it
    assert first_refinement(Accuracy(usual.temperature / 100.0, usual.lethality)) > 1.0
    assert first_refinement(Accuracy(usual.temperature, usual.lethality / 100.0)) > 1.0
