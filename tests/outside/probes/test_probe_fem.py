"""Rung: another code. A stem and a logger body resolved in the container, against finite elements (scikit-fem)."""

from __future__ import annotations

import math

import numpy as np
import pytest
from finite_elements import solve_by_finite_elements

from thermsim.assess.fields.lethality import gathered_lethality
from thermsim.assess.simulate.simulation import simulate
from thermsim.case.case import Case, Lethality
from thermsim.case.container import Container, Wall
from thermsim.case.probe import Fitting, Gap, Probe, Segment
from thermsim.case.process import Film, Process, Stage
from thermsim.case.product import Headspace, Product
from thermsim.case.profile import straight
from thermsim.physics.materials import Material
from thermsim.solve.grid.body import body_of

PASTE = Material("paste", 0.58, 1050.0, 3700.0)
STEEL = Material("steel", 50.0, 7800.0, 450.0)
STAINLESS = Material("stainless steel", 15.0, 7900.0, 500.0)
POLYMER = Material("polymer", 0.25, 1200.0, 1500.0)
GLASS = Material("glass", 1.0, 2500.0, 750.0)
GAS = Material("gas", 0.1, 1.0, 1000.0)


def can(**parts):
    """Steel can R 36 x 108.4 mm with headspace, stem 3 mm solid stainless to mid-height, 40 mm of it outside."""
    heating, cooling = Film.everywhere(2000.0), Film.everywhere(500.0)
    stages = (
        Stage("come-up", np.array([0.0, 300.0]), np.array([40.0, 121.1]), heating),
        Stage("hold", np.array([300.0, 3900.0]), np.array([121.1, 121.1]), heating),
        Stage("cool", np.array([3900.0, 5700.0]), np.array([25.0, 25.0]), cooling),
    )
    wall = Wall(STEEL, 0.0002)
    stem = Probe("lid", "through", (Segment(0.003, 0.094, STAINLESS),), insertion=0.0544, sensing=0.002, **parts)
    return Case(
        title="can",
        container=Container(straight(0.072, 0.1084), wall, wall, wall),
        product=Product(PASTE, 40.0),
        fill_height=0.1004,
        headspace=Headspace("fixed", GAS),
        process=Process(stages),
        lethality=Lethality(121.1, 10.0),
        probe=stem,
    )


def can_with_fitting():
    """The same with a gland in the lid, and a layer of gas 0.05 mm thick between stem and product."""
    return can(fitting=Fitting(0.012, 0.004, 0.010, STAINLESS), gap=Gap(5e-5, GAS), film=150.0)


def jar_with_logger():
    """Glass jar; steel body 16 x 22 mm on a polymer post 8 x 20 mm, stem 3 x 10 mm, standing on the base."""
    heating, cooling = Film.everywhere(450.0), Film.everywhere(200.0)
    stages = (
        Stage("come-up", np.array([0.0, 720.0]), np.array([40.0, 118.0]), heating),
        Stage("hold", np.array([720.0, 5220.0]), np.array([118.0, 118.0]), heating),
        Stage("cool", np.array([5220.0, 6420.0, 7320.0]), np.array([118.0, 30.0, 30.0]), cooling),
    )
    stack = (Segment(0.008, 0.020, POLYMER), Segment(0.016, 0.022, STAINLESS), Segment(0.003, 0.010, STAINLESS))
    return Case(
        title="jar",
        container=Container(straight(0.066, 0.113), Wall(GLASS, 0.003), Wall(GLASS, 0.005), Wall(STEEL, 0.00025)),
        product=Product(PASTE, 40.0),
        fill_height=0.101,
        headspace=Headspace("fixed", GAS),
        process=Process(stages),
        lethality=Lethality(121.1, 10.0),
        probe=Probe("base", "inside", stack, sensing=0.002),
    )


def reference_reading(case, **mesh):
    """The mean over the sensing volume by finite elements: Gauss points in r and z, weighted by r."""
    low, high = case.probe.sensed(case.container)
    points, weights = np.polynomial.legendre.leggauss(4)
    places, shares = [], []
    for x, a in zip(points, weights, strict=True):
        for y, b in zip(points, weights, strict=True):
            r = case.probe.tip_radius * (1 + x) / 2
            places.append((r, (low + high) / 2 + (high - low) / 2 * y))
            shares.append(a * b * r)
    process = case.process.facing(case.probe.entry, case.probe.film)
    time, values = solve_by_finite_elements(body_of(case), process, places, **mesh)
    return time, values @ (np.array(shares) / sum(shares))


@pytest.mark.parametrize(
    "build",
    [
        pytest.param(can, marks=pytest.mark.whole),
        pytest.param(can_with_fitting, marks=pytest.mark.long),
        pytest.param(jar_with_logger, marks=pytest.mark.whole),
    ],
)
def test_reading_agrees_with_finite_elements(build):
    case = build()
    effect = simulate(case).probe
    # the mesh is coarse in the bulk and fine at interfaces; a finer one moves F by less than 0.01 %
    time, reference = reference_reading(case, widest=3e-3, finest=0.4e-3, step=20.0)
    difference = effect.reading.temperature - np.interp(effect.reading.time, time, reference)
    assert np.abs(difference).max() < 0.05
    lethality = gathered_lethality(time, reference, case.lethality)[-1]
    assert abs(effect.reading.lethality / lethality - 1) < 0.005


def test_a_logger_body_errs_far_more_than_a_bare_stem_and_it_is_said_loudly():
    result = simulate(jar_with_logger())
    assert result.probe.at_place.heating_lethality > 0.10
    assert any(warning.startswith("UNSAFE SIDE") for warning in result.warnings)


def test_energy_balance_closes_with_a_probe_that_sticks_out():
    from thermsim.assess.fields.refinement import refine

    refined = refine(can_with_fitting(), time=np.array([0.0]), tolerance=0.01)
    assert abs(refined.history.energy_defect) < 1e-8
    assert math.isfinite(refined.readings[0].log_lethality)
