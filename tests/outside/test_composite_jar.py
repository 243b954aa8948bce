"""Rung: a published method by another code. Containers of several materials against finite elements (scikit-fem)."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from finite_elements import solve_by_finite_elements

from thermsim.assess.fields.lethality import gathered_lethality
from thermsim.assess.simulate.simulation import simulate
from thermsim.case.case import Case, Lethality, Point
from thermsim.case.container import Container, Wall
from thermsim.case.process import Film, Process, Stage
from thermsim.case.product import Headspace, Product
from thermsim.case.profile import straight
from thermsim.physics.materials import Material
from thermsim.solve.grid.body import body_of

PASTE = Material("paste", 0.55, 1050.0, 3700.0)
GLASS = Material("glass", 1.0, 2500.0, 750.0)
STEEL = Material("steel", 50.0, 7800.0, 450.0)
GAS = Material("gas", 0.1, 1.0, 1000.0)
PLASTIC = Material("plastic", 0.22, 910.0, 1800.0)


def glass_jar():
    """66 x 113 mm inside, glass 3 mm and 5 mm, steel lid 0.25 mm, 12 mm of gas; come-up, hold, ramped cooling."""
    heating, cooling = Film.everywhere(450.0), Film.everywhere(200.0)
    stages = (
        Stage("come-up", np.array([0.0, 720.0]), np.array([40.0, 118.0]), heating),
        Stage("hold", np.array([720.0, 5220.0]), np.array([118.0, 118.0]), heating),
        Stage("cool", np.array([5220.0, 6420.0, 7320.0]), np.array([118.0, 30.0, 30.0]), cooling),
    )
    return Case(
        title="jar",
        container=Container(straight(0.066, 0.113), Wall(GLASS, 0.003), Wall(GLASS, 0.005), Wall(STEEL, 0.00025)),
        product=Product(PASTE, 40.0),
        fill_height=0.101,
        headspace=Headspace("fixed", GAS),
        process=Process(stages),
        lethality=Lethality(121.1, 10.0),
        points=(
            Point("off the axis", 0.02, 0.03),
            Point("rim of the surface", 0.030, 0.106),
            Point("in the glass", 0.0345, 0.05),
        ),
    )


def thin_can():
    """A steel can with walls of 0.1 mm, an insulated headspace and unlike films; medium and films jump."""
    heating, cooling = Film(side=800.0, base=300.0, lid=2000.0), Film(side=500.0, base=100.0, lid=30.0)
    stages = (
        Stage("hold", np.array([0.0, 3000.0]), np.array([121.0, 121.0]), heating),
        Stage("cool", np.array([3000.0, 4500.0]), np.array([25.0, 25.0]), cooling),
    )
    wall = Wall(STEEL, 0.0001)
    return Case(
        title="can",
        container=Container(straight(0.065, 0.10), wall, wall, wall),
        product=Product(PASTE, 50.0),
        fill_height=0.09,
        headspace=Headspace("insulated"),
        process=Process(stages),
        lethality=Lethality(121.1, 10.0),
    )


def plastic_cup():
    """A cup with walls of 0.9 mm plastic, no lid wall, no headspace; pasteurisation, P(90, 10)."""
    film, cooling = Film.everywhere(900.0), Film.everywhere(600.0)
    stages = (
        Stage("come-up", np.array([0.0, 900.0]), np.array([20.0, 95.0]), film),
        Stage("hold", np.array([900.0, 3900.0]), np.array([95.0, 95.0]), film),
        Stage("cool", np.array([3900.0, 4200.0, 5400.0]), np.array([95.0, 20.0, 20.0]), cooling),
    )
    return Case(
        title="cup",
        container=Container(straight(0.075, 0.06), Wall(PLASTIC, 0.0009), Wall(PLASTIC, 0.0009), None),
        product=Product(PASTE, 20.0),
        fill_height=0.06,
        headspace=Headspace("insulated"),
        process=Process(stages),
        lethality=Lethality(90.0, 10.0),
    )


@pytest.mark.parametrize(
    "build",
    [pytest.param(glass_jar, marks=pytest.mark.long), thin_can, pytest.param(plastic_cup, marks=pytest.mark.long)],
)
def test_temperature_and_lethality_agree_with_finite_elements(build):
    case = build()
    result = simulate(case)
    curves = [*result.spots, *result.points]
    time, reference = solve_by_finite_elements(body_of(case), case.process, [(c.r, c.z) for c in curves])
    for k, curve in enumerate(curves):
        difference = curve.temperature - np.interp(curve.time, time, reference[:, k])
        assert np.abs(difference).max() < 0.05, curve.name
        lethality = gathered_lethality(time, reference[:, k], case.lethality)[-1]
        assert abs(curve.lethality / lethality - 1) < 0.005, curve.name


@pytest.mark.whole
def test_the_comparison_would_notice_a_wrong_material():
    """A film a tenth too strong moves the finite-element curve by far more than the bounds above."""
    case = glass_jar()
    result = simulate(case)
    spot = result.spots[1]
    stages = tuple(
        dataclasses.replace(stage, film=Film.everywhere(1.1 * stage.film.side)) for stage in case.process.stages
    )
    time, reference = solve_by_finite_elements(body_of(case), Process(stages), [(spot.r, spot.z)], step=30.0)
    difference = spot.temperature - np.interp(spot.time, time, reference[:, 0])
    assert np.abs(difference).max() > 0.2
