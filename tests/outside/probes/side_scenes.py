"""Cases with a probe from the side that an independent three-dimensional solution was computed for; all invented."""

from __future__ import annotations

import numpy as np

from thermsim.case.case import Case, Lethality
from thermsim.case.container import Container, Wall
from thermsim.case.probe import Fitting, Probe, Segment
from thermsim.case.process import Film, Process, Stage
from thermsim.case.product import Headspace, Product
from thermsim.case.profile import straight
from thermsim.physics.materials import Material

PASTE = Material("paste", 0.58, 1050.0, 3700.0)
STEEL = Material("steel", 50.0, 7800.0, 450.0)
STAINLESS = Material("stainless steel", 15.0, 7900.0, 500.0)
POLYMER = Material("polymer", 0.25, 1200.0, 1500.0)
GLASS = Material("glass", 1.0, 2500.0, 750.0)
GAS = Material("gas", 0.1, 1.0, 1000.0)


def can(**changes):
    """Steel can R 36 x 100 mm with headspace; stem 3 mm of stainless steel through the side, its tip on the axis."""
    heating, cooling = Film.everywhere(2000.0), Film.everywhere(500.0)
    stages = (
        Stage("come-up", np.array([0.0, 300.0]), np.array([40.0, 121.1]), heating),
        Stage("hold", np.array([300.0, 3900.0]), np.array([121.1, 121.1]), heating),
        Stage("cool", np.array([3900.0, 5700.0]), np.array([25.0, 25.0]), cooling),
    )
    wall = Wall(STEEL, 0.0005)
    parts = {
        "segments": (Segment(0.003, 0.056, STAINLESS),),
        "insertion": 0.0365,
        "sensing": 0.002,
        "z": 0.0465,
        "mount": "through",
        **changes,
    }
    return Case(
        title="can",
        container=Container(straight(0.072, 0.100), wall, wall, wall),
        product=Product(PASTE, 40.0),
        fill_height=0.092,
        headspace=Headspace("fixed", GAS),
        process=Process(stages),
        lethality=Lethality(121.1, 10.0),
        probe=Probe(entry="side", **parts),
    )


def jar(**changes):
    """Glass jar; stem 4.8 mm of stainless steel in a gland, low in the jar, its tip 10 mm beyond the axis."""
    heating, cooling = Film.everywhere(450.0), Film.everywhere(200.0)
    stages = (
        Stage("come-up", np.array([0.0, 720.0]), np.array([40.0, 118.0]), heating),
        Stage("hold", np.array([720.0, 5220.0]), np.array([118.0, 118.0]), heating),
        Stage("cool", np.array([5220.0, 6420.0, 7320.0]), np.array([118.0, 30.0, 30.0]), cooling),
    )
    parts = {
        "segments": (Segment(0.0048, 0.070, STAINLESS),),
        "insertion": 0.046,
        "sensing": 0.002,
        "fitting": Fitting(0.012, 0.004, 0.008, STAINLESS),
        "z": 0.032,
        "mount": "through",
        **changes,
    }
    return Case(
        title="jar",
        container=Container(straight(0.066, 0.113), Wall(GLASS, 0.003), Wall(GLASS, 0.005), Wall(STEEL, 0.0005)),
        product=Product(PASTE, 40.0),
        fill_height=0.101,
        headspace=Headspace("fixed", GAS),
        process=Process(stages),
        lethality=Lethality(121.1, 10.0),
        probe=Probe(entry="side", **parts),
    )


def jar_with_logger():
    """The jar with a logger on its side wall: a plate of polymer, a steel body of 16 mm and a stem of 3 mm."""
    stack = (Segment(0.008, 0.004, POLYMER), Segment(0.016, 0.018, STAINLESS), Segment(0.003, 0.011, STAINLESS))
    return jar(segments=stack, insertion=None, fitting=None, z=0.0545, mount="inside")


SCENES = {"can": can, "jar": jar, "jar_with_logger": jar_with_logger}
