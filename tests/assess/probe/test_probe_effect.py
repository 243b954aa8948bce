"""Rungs: limits that are known (no difference, no bias), and how the bias must change (property-based)."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from probed import PASTE, POLYMER, STEEL, logger_can, probed_can
from small_jars import ROUGH

from thermsim.assess.curves.heat_penetration import heating_factors
from thermsim.assess.fields.curve import Curve
from thermsim.assess.fields.error_estimate import PLACE, QUARTER, USUAL, edge_of, left_by
from thermsim.assess.fields.reading import Sensor
from thermsim.assess.fields.refinement import refine
from thermsim.assess.probe.effect import bias_of
from thermsim.assess.probe.uncertainty import READ, end_of_stem
from thermsim.assess.simulate.simulation import simulate
from thermsim.case.case import Accuracy
from thermsim.case.probe import Gap, Segment
from thermsim.case.profile import straight
from thermsim.exact import FiniteCylinder, heating_factor_f, lag_factor_j
from thermsim.physics.materials import Material
from thermsim.solve.grid.body import body_of
from thermsim.solve.grid.grid import grid_family


@pytest.fixture(scope="module")
def steel():
    return simulate(probed_can())


def heating_bias(**parts):
    """What a probe adds to the lethality of its place until heating ends."""
    return simulate(probed_can(**parts).replace(accuracy=ROUGH)).probe.at_place.heating_lethality


def test_a_stem_of_the_products_own_material_reads_what_its_place_has():
    # flush with the lid's outside: nothing sticks out
    effect = simulate(probed_can(stem=PASTE, insertion=0.045, length=0.045)).probe
    # the stem replaces a disc of the lid 3 mm wide: that, and another grid, are all that differs
    assert abs(effect.at_place.heating_lethality) < 2e-3
    assert abs(effect.at_place.temperature) < 0.02


def test_a_stem_of_the_products_material_in_a_bare_container_has_no_bias_at_all():
    case = probed_can(stem=PASTE, insertion=0.0446, length=0.0446)
    bare = dataclasses.replace(case, container=dataclasses.replace(case.container, side=None, base=None, lid=None))
    effect = simulate(bare.replace(accuracy=Accuracy(place=2e-3))).probe
    assert abs(effect.at_place.lethality) < 5e-4  # both within their numerical uncertainty
    assert abs(effect.at_place.temperature) < 0.01


def test_at_an_end_of_its_stem_the_products_own_cold_spot_is_known_less_well(steel, monkeypatch):
    """What coarser grids change counts (1/0.6 - 1/15)/(1/3 - 1/15) = 6 times as much; looser steps as before."""
    effect = steel.probe
    there = dataclasses.replace(effect.least_lethality, z=effect.reading.z)
    module = "thermsim.assess.probe.uncertainty"
    monkeypatch.setattr(f"{module}.end_of", lambda _, place, tip: 1.6 if place == tip else 0.0)
    assert end_of_stem(steel.case, dataclasses.replace(effect, least_lethality=there, beside_stem=True)) == 1.6
    assert end_of_stem(steel.case, dataclasses.replace(effect, least_lethality=there, beside_stem=False)) == USUAL
    monkeypatch.setattr("thermsim.assess.simulate.simulation.end_of_stem", lambda *_: USUAL)
    found = []
    for ratio in (USUAL, 1.6):
        monkeypatch.setattr(f"{module}.end_of_stem", lambda *_, ratio=ratio: ratio)
        found.append(simulate(steel.case).uncertainty)
    for figure in ("lethality", "heating_lethality", "end_of_heating"):
        name = f"probe.least_lethality.{figure}"
        assert 2.0 < found[1][name] / found[0][name] <= 6.0 * (1.0 + 1e-9)


def test_about_the_edge_of_a_tip_errors_are_taken_to_fall_slowly_whatever_is_seen(steel, monkeypatch):
    """Errors of two signs may be seen to fall as usual; the place without the probe has no edge."""
    monkeypatch.setattr("thermsim.assess.simulate.simulation.slowness_of", lambda *_: 1.0)
    edged, most = simulate(steel.case).uncertainty, left_by(edge_of(steel.case))
    monkeypatch.setattr("thermsim.assess.probe.uncertainty.edge_of", lambda _: USUAL)
    smooth = simulate(steel.case).uncertainty
    for figure in ("temperature", "end_of_heating", "heating_lethality", "lethality"):
        # what looser steps change counts as before
        assert 1.5 < edged[f"probe.reading.{figure}"] / smooth[f"probe.reading.{figure}"] <= most
        assert edged[f"probe.without_probe.{figure}"] == smooth[f"probe.without_probe.{figure}"]
    # and what the edge adds does not cancel in the difference of both
    added = (1.0 - 1.0 / most) * edged["probe.reading.end_of_heating"]
    assert edged["probe.at_place.end_of_heating"] >= added * (1.0 - 1e-9)
    # a lethality in all is known about as well as that while heating
    read = steel.probe.reading
    while_heating = edged["probe.reading.heating_lethality"] / read.heating_lethality
    assert 0.8 < edged["probe.reading.lethality"] / read.lethality / while_heating < 1.0
    # about an edge errors are of one sign, and more counts of them than elsewhere
    monkeypatch.setattr("thermsim.assess.probe.uncertainty.READ", PLACE)
    as_elsewhere = simulate(steel.case).uncertainty
    ratio = smooth["probe.reading.end_of_heating"] / as_elsewhere["probe.reading.end_of_heating"]
    assert 1.05 < ratio <= READ[0] / PLACE[0] * (1.0 + 1e-9)
    # of its place without the probe less counts of the factors too
    monkeypatch.setattr("thermsim.assess.probe.uncertainty.PLACE", QUARTER)
    wide = simulate(steel.case).uncertainty
    assert wide["probe.factors_without.j"] > 1.2 * smooth["probe.factors_without.j"]
    monkeypatch.setattr("thermsim.assess.probe.uncertainty.PLACE", PLACE)
    # where all of a reading's errors are seen to fall slowly those of its place without the probe do not
    monkeypatch.setattr("thermsim.assess.simulate.simulation.slowness_of", lambda *_: 3.0)
    slow = simulate(steel.case).uncertainty
    assert slow["probe.factors.j"] > 1.5 * smooth["probe.factors.j"]
    for figure in (
        "without_probe.lethality",
        "without_probe.end_of_heating",
        "factors_without.f",
        "factors_without.j",
    ):
        assert slow[f"probe.{figure}"] == smooth[f"probe.{figure}"]


def test_a_metal_stem_reads_high_while_heating_and_low_in_cooling(steel):
    bias = steel.probe.at_place
    assert bias.heating_lethality > 0.1
    assert bias.temperature > 0.5
    assert bias.cooling_temperature < -0.5
    assert bias.end_of_heating > 0.0
    assert any(warning.startswith("UNSAFE SIDE") for warning in steel.warnings)


def test_cooling_error_cancels_part_of_the_heating_error(steel):
    bias = steel.probe.at_place
    assert bias.cooling_lethality < bias.lethality < bias.heating_lethality


def test_errors_that_hide_each_other_are_spoken_of():
    # a stem of 23 mm in a flat can: large errors of opposite sign
    case = probed_can(insertion=0.0202, length=0.0202)
    container = dataclasses.replace(case.container, profile=straight(0.060, 0.040))
    flat = case.replace(container=container, fill_height=0.040)
    result = simulate(flat)
    bias = result.probe.at_place
    assert bias.heating_lethality > 0.5
    assert bias.cooling_lethality < -0.2
    assert any("proves nothing" in warning for warning in result.warnings)


def test_the_cold_spots_are_those_of_the_container_without_the_probe(steel):
    bare = simulate(probed_can().replace(probe=None))
    assert steel.cold_spot.least_lethality == bare.cold_spot.least_lethality


def test_a_stem_makes_the_curve_faster_and_its_lag_smaller(steel):
    effect = steel.probe
    assert effect.factors.f < effect.factors_without.f
    assert effect.factors.j < effect.factors_without.j


@pytest.mark.long
@settings(max_examples=3, deadline=None, derandomize=True)
@given(st.floats(1.2e-3, 2.4e-3), st.floats(1.3, 2.0))
def test_bias_grows_with_diameter(diameter, times):
    assert heating_bias(diameter=times * diameter) > heating_bias(diameter=diameter) > 0.0


@pytest.mark.long
@settings(max_examples=3, deadline=None, derandomize=True)
@given(st.floats(1.0, 20.0), st.floats(1.5, 4.0))
def test_bias_grows_with_conductivity(conductivity, times):
    less, more = (Material("stem", k, 7900.0, 500.0) for k in (conductivity, times * conductivity))
    assert heating_bias(stem=more) > heating_bias(stem=less)


@pytest.mark.long
@settings(max_examples=3, deadline=None, derandomize=True)
@given(st.floats(0.025, 0.038), st.floats(0.008, 0.015))
def test_bias_falls_with_immersion(insertion, deeper):
    # towards mid-height, where the product is coldest
    assert heating_bias(insertion=insertion + deeper) < heating_bias(insertion=insertion)


def test_a_gap_round_the_stem_keeps_its_heat_for_the_tip():
    air = Material("air", 0.03, 1.0, 1000.0)
    assert heating_bias(gap=Gap(1e-4, air)) > heating_bias()


def test_a_plastic_sheath_lowers_the_bias():
    sheathed = Segment(3e-3, 0.08, POLYMER, wall=1e-3, core=STEEL)
    case = probed_can()
    case = case.replace(probe=dataclasses.replace(case.probe, segments=(sheathed,)))
    assert simulate(case).probe.at_place.heating_lethality < 0.5 * heating_bias()


def test_sensor_weights_are_the_exact_mean_of_bilinear_fields():
    case = probed_can()
    grid = grid_family(body_of(case))[-1]
    low, high = case.probe.sensed(case.container)
    weights = Sensor(1.5e-3, low, high).weights(grid)
    assert_allclose(weights.sum(), 1.0, rtol=1e-14)
    assert_allclose((weights * grid.levels).sum(), (low + high) / 2, rtol=1e-12)
    # the mean of r over a disc is 2R/3
    assert_allclose((weights * grid.columns[:, None]).sum(), 1e-3, rtol=1e-12)
    face = Sensor(1.5e-3, low, low).weights(grid)
    assert_allclose((face * grid.levels).sum(), low, rtol=1e-12)


def test_bias_tells_the_phases_apart():
    time = np.array([0.0, 60.0, 120.0, 180.0])
    truth = Curve("truth", 0.0, 0.0, 100.0, 40.0, 80.0, time, np.array([20.0, 60.0, 80.0, 50.0]))
    read = Curve("read", 0.0, 0.0, 100.0, 60.0, 83.0, time, np.array([20.0, 65.0, 83.0, 43.0]))
    bias = bias_of(read, truth, 120.0)
    assert bias.lethality == 0.0
    assert_allclose([bias.heating_lethality, bias.cooling_lethality], [0.5, -1 / 3], rtol=1e-12)
    assert (bias.temperature, bias.temperature_time) == (5.0, 60.0)
    assert (bias.cooling_temperature, bias.cooling_temperature_time) == (-7.0, 180.0)
    assert bias.end_of_heating == 3.0


def test_factors_of_an_exact_curve_are_those_of_theory():
    can = FiniteCylinder(
        radius=0.0436,
        height=0.116,
        conductivity=0.5,
        density=1000.0,
        specific_heat=0.5 / 1.5e-7 / 1000.0,
        film_side=math.inf,
        film_base=math.inf,
        film_lid=math.inf,
    )
    time = np.linspace(0.0, 9000.0, 301)
    left = can.unaccomplished(np.array([0.0]), np.array([0.058]), time)[:, 0, 0]
    found = heating_factors(time, 121.1 - 101.1 * left, medium=121.1, start=20.0)
    # the curve is straight to a few tenths of a per cent below a tenth of the way to go
    assert_allclose(found.f, heating_factor_f(can), rtol=0.005)
    assert_allclose(found.j, float(np.squeeze(lag_factor_j(can, 0.0, 0.058))), rtol=0.01)


@pytest.mark.parametrize(("last", "samples"), [(1650.0, 6), (2450.0, 10)])
def test_factors_count_every_sample_below_a_tenth_and_above_a_hundredth(last, samples):
    """A straight line of f = 1000 s and j = 1.2: a tenth is left after 1079 s, a hundredth after 2079 s."""
    time = np.arange(50.0, last + 1.0, 100.0)
    left = 1.2 * 10.0 ** (-time / 1000.0)
    found = heating_factors(time, 121.1 - 101.1 * left, medium=121.1, start=20.0)
    assert_allclose([found.f, found.j], [1000.0, 1.2], rtol=1e-9)
    assert found.samples == samples


def test_a_curve_that_ends_too_early_has_no_factors():
    time = np.linspace(0.0, 600.0, 50)
    assert heating_factors(time, 20.0 + time / 60.0, medium=121.0, start=20.0) is None


def test_a_logger_body_is_spoken_of_by_the_room_it_takes():
    result = simulate(logger_can())
    assert any("takes" in warning and "room" in warning for warning in result.warnings)
    assert result.probe.depth == pytest.approx(0.0402)


def test_short_immersion_is_said_and_marked_as_common_practice():
    result = simulate(probed_can(diameter=5e-3, insertion=0.040))
    assert any("less than ten of its diameters (common practice, no source)" in w for w in result.warnings)


def test_a_tip_close_to_the_other_end_is_said():
    result = simulate(probed_can(insertion=0.0785))
    assert any("nearer than its own diameter" in warning for warning in result.warnings)


def test_a_body_close_to_the_side_wall_is_said():
    case = logger_can()
    wide = dataclasses.replace(case.probe.segments[1], diameter=0.050)
    segments = (case.probe.segments[0], wide, case.probe.segments[2])
    result = simulate(case.replace(probe=dataclasses.replace(case.probe, segments=segments)))
    assert any("between the probe and the side wall" in warning for warning in result.warnings)


def test_a_logger_that_reads_high_comes_with_better_mountings():
    low = dataclasses.replace(logger_can().probe.segments[0], length=0.004)
    probe = dataclasses.replace(logger_can().probe, segments=(low, *logger_can().probe.segments[1:]))
    result = simulate(logger_can().replace(probe=probe))
    loud = [warning for warning in result.warnings if warning.startswith("UNSAFE SIDE")]
    assert loud
    assert "a thin stem through the wall" in loud[0]


def test_a_probe_colder_than_all_else_keeps_its_own_temperatures():
    case = probed_can()
    case = case.replace(probe=dataclasses.replace(case.probe, initial=5.0))
    grid = grid_family(body_of(case))[-1]
    fields = refine(case, time=np.array([0.0, 2100.0]), tolerance=0.002).best
    # at the start the probe's inside is at 5 degC, below product and medium
    assert_allclose(fields.temperature[0, 0, np.searchsorted(grid.levels, 0.05)], 5.0, rtol=0, atol=1e-6)
