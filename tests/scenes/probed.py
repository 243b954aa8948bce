"""A small case with a probe that several tests use."""

from __future__ import annotations

import dataclasses
import functools

import numpy as np
import pytest

from thermsim.assess.depth import insertion, stems
from thermsim.assess.depth.recommendation import recommend
from thermsim.assess.fields.reading import Course, Sensor, reading_along, summed
from thermsim.assess.side.background import RoundBackground
from thermsim.assess.side.field import LEVELS, About, disturbances
from thermsim.assess.simulate.result import Result
from thermsim.case.case import Accuracy, Case, Lethality
from thermsim.case.container import Container, Wall
from thermsim.case.probe import Probe, Segment
from thermsim.case.process import Film, Process, Stage
from thermsim.case.product import Headspace, Product
from thermsim.case.profile import straight
from thermsim.physics.materials import Material

PASTE = Material("paste", 0.55, 1050.0, 3700.0)
TIN = Material("tinplate", 50.0, 7800.0, 450.0)
STEEL = Material("stainless steel", 15.0, 7900.0, 500.0)
POLYMER = Material("polymer", 0.25, 1200.0, 1500.0)


def probed_can(*, stem=STEEL, diameter=3e-3, insertion=0.045, length=0.08, entry="lid", **parts):
    """A can 60 x 80 mm, full to the lid, with a stem through it; jump to 121 degC for 35 min, then cold water."""
    film = Film.everywhere(1500.0)
    stages = (
        Stage("hold", np.array([0.0, 2100.0]), np.array([121.0, 121.0]), film),
        Stage("cool", np.array([2100.0, 3300.0]), np.array([20.0, 20.0]), film),
    )
    wall = Wall(TIN, 2e-4)
    return Case(
        title="probed can",
        container=Container(straight(0.060, 0.080), wall, wall, wall),
        product=Product(PASTE, 30.0),
        fill_height=0.080,
        headspace=Headspace("insulated"),
        process=Process(stages),
        lethality=Lethality(121.1, 10.0),
        accuracy=Accuracy(0.2, 0.05, 2e-3),  # flat minima need not be placed exactly here
        probe=Probe(entry, "through", (Segment(diameter, length, stem),), insertion=insertion, sensing=2e-3, **parts),
    )


def logger_can():
    """The same can with a logger on a spacer standing on the base."""
    stack = (
        Segment(0.008, 0.010, POLYMER, spacer=True),
        Segment(0.016, 0.022, STEEL),
        Segment(0.003, 0.008, STEEL),
    )
    return dataclasses.replace(probed_can(), probe=Probe("base", "inside", stack, sensing=2e-3))


def advised_by_few(case: Case, *, rungs=(6, 2, 1), **more) -> Result:
    """The advice on a case from half as many rungs, few other stems: what is said of it, not how good it is."""
    with pytest.MonkeyPatch.context() as patch:
        for name, number in zip(("COARSE", "ADDED", "SETTLED"), rungs, strict=True):
            patch.setattr(insertion, name, number)
        patch.setattr(stems, "STEM_SCALES", (0.5, 1.0))
        patch.setattr(stems, "STEM_CONDUCTIVITIES", (0.25,))
        return recommend(case, **more)


def changes_on_axis(case: Case, behind: RoundBackground, about: About, *, tolerance: float, levels=LEVELS) -> list:
    """Changes of the reading by a stem on the axis when heating ends, as stacks, on the grids about the stem."""
    places, weights = Sensor(case.probe.tip_radius, *case.probe.sensed(case.container)).places()
    where = np.array([(z, r, 0.0) for r, z in places])
    end, undisturbed = case.process.heated_until, functools.partial(behind.course_at, about)
    stacks = []
    found = disturbances(behind.case, about, undisturbed, film=None, tolerance=tolerance, levels=levels)
    for operator, disturbance in found:
        at = behind.course_at(about, where)
        without = Course(at.time, at.temperature @ weights, at.rate @ weights)
        mean = operator.mean(about.tip, about.tip + case.probe.sensing, case.probe.tip_radius)
        change = Course(disturbance.time, disturbance.difference @ mean, disturbance.rate @ mean)
        read, plain = (
            reading_along(course, case.lethality, heated_until=end, time=np.array([end])).stack()
            for course in (summed(without, change), without)
        )
        stacks.append(read - plain)
    return stacks
