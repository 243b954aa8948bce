"""Figures whose error closed forms or far finer grids tell lie within what is stated. Rung: exact solution."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from drawn_cases import drawn
from scipy.optimize import brentq

from thermsim.assess.simulate.fineness import time_tolerance
from thermsim.assess.simulate.simulation import simulate
from thermsim.assess.spots.hold import required_hold
from thermsim.assess.verify.bare_cylinder import STERILISATION, bare_cylinders
from thermsim.case.case import Accuracy, Case, Lethality, Point
from thermsim.case.container import Container, Wall
from thermsim.case.process import Film, Process, Stage
from thermsim.case.product import Headspace, Product
from thermsim.exact import semi_infinite_unaccomplished
from thermsim.physics.materials import Material

#: A wall of what it holds: a flat solid without any interface, as far as heat knows.
STUFF = Material("stuff", 0.22, 1000.0, 1800.0)


@pytest.mark.parametrize("thickness", [0.2e-3, pytest.param(0.5e-3, marks=pytest.mark.long)])
def test_the_first_seconds_after_a_jump_in_a_wall_that_warms_slowly(thickness):
    film = Film.everywhere(900.0)
    depths = {"half-way through the wall": thickness / 2, "inside of the wall": thickness}
    case = Case(
        "flat",
        Container.straight(0.1, 0.2, base=Wall(STUFF, thickness)),
        Product(STUFF, 20.0),
        0.2,
        Headspace("insulated"),
        Process((Stage("hold", np.array([0.0, 60.0]), np.array([90.0, 90.0]), film),)),
        Lethality(90.0, 10.0),
        tuple(Point(name, 0.0, depth) for name, depth in depths.items()),
        output_every=1.0,
    )
    result = simulate(case)
    for k, depth in enumerate(depths.values()):
        curve = result.points[k]
        # 60 s reach 6 mm into the solid, the other faces are 50 and 200 mm away
        left = semi_infinite_unaccomplished(
            depth,
            curve.time,
            conductivity=STUFF.conductivity,
            density=STUFF.density,
            specific_heat=STUFF.specific_heat,
            film=film.base,
        )[:, 0]
        error = np.abs(curve.temperature - (90.0 - 70.0 * left)).max()
        stated = result.uncertainty[f"points.{k}.temperature"]
        assert error <= stated <= max(30.0 * error, 0.5)


def test_an_arrival_between_output_times():
    cylinder = bare_cylinders()[0]
    case = cylinder.case(STERILISATION)
    lethality = dataclasses.replace(case.lethality, reach=(60.0, 85.0, 100.0))
    result = simulate(case.replace(lethality=lethality, output_every=90.0))
    least = result.cold_spot.least_lethality
    for k, (aim, arrival) in enumerate(result.cold_spot.arrivals):

        def above(time, aim=aim):
            there = cylinder.temperature(np.array([least.r]), np.array([least.z]), np.array([time]))
            return float(there[0, 0, 0]) - aim

        # straight lines between output times are off by up to seconds
        error = abs(arrival - brentq(above, 0.5 * arrival, 1.2 * arrival, xtol=1e-9))
        assert error <= result.uncertainty[f"cold_spot.arrivals.{k}"] < 0.5


def test_factors_of_a_reading_that_long_steps_follow(monkeypatch):
    """Half a kelvin is asked for: the march's steps are a quarter of an hour, and scatter along the straight part."""
    case = drawn(29, 53)
    found = simulate(case)
    monkeypatch.setattr("thermsim.assess.simulate.simulation.time_tolerance", lambda _: time_tolerance(case) / 40.0)
    closer = simulate(case)
    for figure in "fj":
        stated, left = (one.uncertainty[f"probe.factors.{figure}"] for one in (found, closer))
        error = abs(getattr(found.probe.factors, figure) - getattr(closer.probe.factors, figure))
        assert left < error < stated + left


@pytest.mark.long
@pytest.mark.parametrize("accuracy", [Accuracy(), pytest.param(Accuracy(0.5, 0.05, 1e-3), marks=pytest.mark.long)])
def test_the_hold_that_just_reaches_a_target(accuracy):
    cylinder = bare_cylinders()[1]
    case = cylinder.case(STERILISATION).replace(accuracy=accuracy)
    found = required_hold(case, 300.0, tolerance=time_tolerance(case))
    held, longer = (cylinder.heated_for(found.hold * part) for part in (1.0, 1.01))
    r, z, least = held.least_lethality((2e-3, cylinder.height / 2), STERILISATION)
    slope = math.log(sum(longer.lethality(r, z, STERILISATION)) / least) / (0.01 * found.hold)
    error = abs(math.log(least / 300.0)) / slope
    assert error <= found.uncertainty < 5.0
