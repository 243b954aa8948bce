"""Side stems where properties change with temperature: what is taken of them, and how far that leads astray.

Rungs: another code (a stem on the axis is solved by the two-dimensional march with changing properties too), and
hand-worked properties.
"""

import dataclasses
import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from probed import PASTE, TIN, changes_on_axis, probed_can

import thermsim.assess.side.reading as side_reading
from thermsim.assess.fields.family import extrapolated
from thermsim.assess.fields.refinement import refine
from thermsim.assess.side.background import RoundBackground, changes, constant_at, probe_at
from thermsim.assess.side.field import FINER, about_axis
from thermsim.assess.side.reading import left_open
from thermsim.assess.simulate.probe_cautions import notices_of_probe
from thermsim.assess.simulate.simulation import simulate
from thermsim.case.container import Wall
from thermsim.case.probe import Fitting, Gap, Probe, Segment
from thermsim.case.process import Process
from thermsim.case.product import Headspace
from thermsim.physics.materials import Material, Tabulated

TOLERANCE = 0.01
#: Conductivity grows by a half from 0 to 140 degC, capacity by a tenth.
GROWING = dataclasses.replace(
    PASTE,
    tabulated=Tabulated((0.0, 140.0), (0.8 * PASTE.conductivity, 1.2 * PASTE.conductivity), (3.6e6, 3.96e6)),
)
STEM = Probe("side", "through", (Segment(3e-3, 0.05, TIN),), insertion=0.0302, sensing=2e-3, z=0.040)


def test_a_material_at_one_temperature_is_constant():
    there = GROWING.at(70.0)
    assert there.tabulated is None and there.name == GROWING.name
    assert_allclose([there.conductivity, there.capacity], [PASTE.conductivity, 3.78e6], rtol=1e-12)
    assert_allclose([GROWING.at(105.0).conductivity, GROWING.at(105.0).capacity], [1.1 * PASTE.conductivity, 3.87e6])
    assert PASTE.at(70.0) is PASTE


def test_product_walls_and_headspace_of_a_case_are_taken_at_one_temperature():
    gas = Material("gas", 0.1, 1.0, 1000.0, "", Tabulated((0.0, 140.0), (0.05, 0.33), (1e3, 1e3)))
    case = probed_can().replace(probe=None)
    case = case.replace(
        product=dataclasses.replace(case.product, material=GROWING),
        container=dataclasses.replace(case.container, side=Wall(GROWING, 1e-3)),
        fill_height=0.070,
        headspace=Headspace("fixed", gas),
    )
    there = constant_at(case, 105.0)
    assert_allclose(there.headspace.material.conductivity, 0.26, rtol=1e-12)
    for material in (there.product.material, there.container.side.material):
        assert material == GROWING.at(105.0)
    assert there.container.lid == case.container.lid
    assert constant_at(probed_can(), 105.0) == probed_can()


def case_of(material):
    case = probed_can(diameter=3e-3, insertion=0.045)
    (heating, _) = case.process.stages
    return case.replace(process=Process((heating,)), product=dataclasses.replace(case.product, material=material))


def bias(case, background):
    """What a stem on the axis changes of the temperature when heating ends [K], and of lethality, by a background."""
    there = probe_at(case.probe, background.temperature)
    about = about_axis(background.case, there, there.insertion)
    best = extrapolated(*changes_on_axis(case, background, about, tolerance=TOLERANCE, levels=(1, 2)), ratio=FINER)
    return np.array([best[1], math.expm1(best[3])])


@pytest.mark.long
def test_on_the_axis_the_bias_is_that_of_the_march_with_changing_properties():
    case = case_of(GROWING)
    true = simulate(case).probe.at_place
    bare = case.replace(probe=None)
    behind = RoundBackground.of(bare, refine(bare, time=np.array([0.0]), tolerance=TOLERANCE))

    expected = np.array([true.end_of_heating, true.heating_lethality])
    taken, half_way = bias(case, behind), bias(case, behind.half_way)
    # properties of half-way up are off by an eighth of the bias and more
    assert (np.abs(half_way / expected - 1.0) > 0.08).all()
    # a fiftieth of the bias is what the stem's own grids leave here
    assert (np.abs(taken - expected) < np.abs(half_way - taken) / 5.0 + 0.02 * expected).all()


@pytest.mark.long
def test_on_the_axis_the_bias_of_a_stem_whose_own_properties_change_is_that_of_the_march():
    growing = dataclasses.replace(
        TIN, tabulated=Tabulated((0.0, 140.0), (0.7 * TIN.conductivity, 1.1 * TIN.conductivity), (TIN.capacity,) * 2)
    )
    plain = case_of(PASTE)
    probe = dataclasses.replace(
        plain.probe, segments=(dataclasses.replace(plain.probe.segments[0], material=growing),)
    )
    case = plain.replace(probe=probe)
    true, bare = simulate(case).probe.at_place, case.replace(probe=None)
    behind = RoundBackground.of(bare, refine(bare, time=np.array([0.0]), tolerance=TOLERANCE))
    assert not changes(bare) and changes(bare, probe) and not behind.changing

    expected = np.array([true.end_of_heating, true.heating_lethality])
    taken, half_way = bias(case, behind), bias(case, behind.half_way)
    assert (np.abs(half_way / expected - 1.0) > 0.04).all()
    assert (np.abs(taken - expected) < np.abs(half_way - taken) / 5.0 + 0.02 * expected).all()


def test_a_probe_at_one_temperature_is_constant_in_all_its_parts():
    core = dataclasses.replace(GROWING, name="core")
    parts = {"fitting": Fitting(0.012, 0.003, 0.01, GROWING), "gap": Gap(1e-4, GROWING)}
    probe = dataclasses.replace(STEM, segments=(Segment(3e-3, 0.05, GROWING, 5e-4, core),), **parts)
    there = probe_at(probe, 105.0)
    (tube,) = there.segments
    assert (tube.material, there.fitting.material, there.gap.material) == (GROWING.at(105.0),) * 3
    assert tube.core == core.at(105.0) and tube.wall == 5e-4
    case = probed_can().replace(probe=None)
    assert not changes(case, STEM)
    for changed in (
        {"segments": probe.segments},
        {"segments": (Segment(3e-3, 0.05, TIN, 5e-4, core),)},
        *({name: part} for name, part in parts.items()),
    ):
        assert changes(case, dataclasses.replace(STEM, **changed))


def test_what_properties_leave_open_is_three_fifths_of_what_half_way_ones_change_and_counts_by_a_third(monkeypatch):
    case = case_of(GROWING).replace(probe=None)
    behind = RoundBackground.of(case, refine(case, time=np.array([0.0]), tolerance=0.1))
    lowest = behind.fields[0].end_of_heating[behind.grid.product_nodes].min()
    assert_allclose(behind.case.product.material.conductivity, GROWING.at(30.0 + 0.9 * (lowest - 30.0)).conductivity)
    assert_allclose(
        behind.half_way.case.product.material.conductivity, GROWING.at(0.5 * (lowest + 30.0)).conductivity
    )
    change, other = np.array([1.0, 2.0, 3.0, 4.0]), np.array([1.5, 2.0, 2.0, 5.0])
    asked = []

    def changed(background, probe, *, time, tolerance, levels):
        asked.append((background, levels))
        return [other]

    monkeypatch.setattr(side_reading, "changes_of_reading", changed)
    found = left_open(behind, STEM, change, time=np.array([0.0]), tolerance=0.1)
    assert_allclose(found, 0.6 * (other - change), rtol=1e-12)
    assert asked == [(behind.half_way, (1,))]
    constant = dataclasses.replace(behind, changing=False)
    assert (left_open(constant, STEM, change, time=np.array([0.0]), tolerance=0.1) == 0.0).all()
    # or the stem's own
    own = dataclasses.replace(STEM, segments=(Segment(3e-3, 0.05, GROWING),))
    assert_allclose(left_open(constant, own, change, time=np.array([0.0]), tolerance=0.1), 0.6 * (other - change))


def test_a_reading_from_the_side_says_at_what_temperature_properties_were_taken():
    case = probed_can().replace(probe=STEM)
    rough = dataclasses.replace(case.accuracy, temperature=2.0, lethality=0.5, place=2e-2)
    result = simulate(case.replace(product=dataclasses.replace(case.product, material=GROWING), accuracy=rough))
    (notice,) = [one for one in result.notices if one.code == "stem-properties"]
    near = 30.0 + 0.9 * (result.cold_spot.slowest_heating.end_of_heating - 30.0)
    assert f"at {near:.0f} degC" in notice.text and notice.severity == "note"
    constant = dataclasses.replace(result, case=case)
    assert "stem-properties" not in [one.code for one in notices_of_probe(constant)]
