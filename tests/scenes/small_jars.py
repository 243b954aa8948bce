"""An invented jar of paste, with a probe or a logger; a cup, a jar with a shoulder."""

import dataclasses

import numpy as np

from thermsim.case.case import Accuracy, Case, Lethality, Point
from thermsim.case.container import Container, Wall
from thermsim.case.probe import Fitting, Probe, Segment, Stock
from thermsim.case.process import Film, Process, Stage
from thermsim.case.product import Headspace, Product
from thermsim.case.profile import Profile, Rise, straight
from thermsim.physics.materials import Material

PASTE = Material("bean paste", 0.55, 1050.0, 3700.0)


GLASS = Material("soda-lime glass", 1.0, 2500.0, 750.0)


STEEL = Material("tinplate", 50.0, 7800.0, 450.0)


STAINLESS = Material("stainless steel", 16.0, 7900.0, 500.0)


BRASS = Material("brass", 110.0, 8500.0, 380.0)


# figures are drawn of rough numbers as of fine ones, and these take a fraction of the time
ROUGH = Accuracy(temperature=1.0, lethality=0.2, place=5e-3)


GAS = Material("still vapour", 0.1, 1.0, 1000.0)


def process(film: Film) -> Process:
    """Come-up and hold, then a jump down to cold water."""
    return Process(
        (
            Stage("come-up", np.array([0.0, 720.0]), np.array([40.0, 118.0]), film),
            Stage("hold", np.array([720.0, 5220.0]), np.array([118.0, 118.0]), film),
            Stage("cool", np.array([5220.0, 7320.0]), np.array([30.0, 30.0]), Film.everywhere(200.0)),
        )
    )


def jar_case() -> Case:
    return Case(
        "Bean paste in a jar",
        Container(straight(0.066, 0.113), Wall(GLASS, 0.003), Wall(GLASS, 0.005), Wall(STEEL, 0.0002)),
        Product(PASTE, 40.0),
        0.101,
        Headspace("fixed", GAS),
        process(Film.everywhere(450.0)),
        Lethality(121.1, 10.0, 360.0, reach=(110.0, 125.0)),
        (Point("mid-height", 0.0, 0.0555), Point("glass", 0.0345, 0.05)),
    )


def probed_case() -> Case:
    """The jar with a steel stem through its lid, in a brass fitting; probes of two lengths at hand."""
    probe = Probe(
        "lid", "through", (Segment(0.003, 0.090, STAINLESS),), sensing=0.002,
        fitting=Fitting(0.012, 0.004, 0.010, BRASS), name="steel stem",
    )  # fmt: skip
    text = "an invented case, kept as text"
    return jar_case().replace(probe=probe, stock=Stock(lengths=(0.090, 0.110), travel=(0.015, 0.070)), text=text)


def logger_case() -> Case:
    """The jar with a logger that stands on spacers which do not reach its surface."""
    stack = (
        Segment(0.008, 0.020, PASTE, spacer=True),
        Segment(0.016, 0.022, STAINLESS),
        Segment(0.003, 0.010, STAINLESS),
    )
    return jar_case().replace(
        probe=Probe("base", "inside", stack, sensing=0.002, name="logger"),
        stock=Stock(spacers=(0.010,), most_spacers=2),
    )


def tapered_case() -> Case:
    """A plastic cup that opens upwards, a steel stem through its foil lid."""
    plastic, foil = Material("polypropylene", 0.2, 905.0, 1900.0), Material("aluminium foil", 200.0, 2700.0, 900.0)
    return probed_case().replace(
        container=Container(
            Profile(((0.0, 0.026), (0.070, 0.036))), Wall(plastic, 0.001), Wall(plastic, 0.0012), Wall(foil, 0.0001)
        ),
        fill_height=0.062,
        points=(),
    )


def shouldered_case() -> Case:
    """A jar with a shoulder, rounded corners, an uneven wall and a domed base; a steel stem through that."""
    corners = ((0.0, 0.033), (0.004, 0.036), (0.062, 0.036), (0.080, 0.026), (0.095, 0.026))
    container = Container(
        Profile(corners, rounding=0.005),
        Wall(GLASS, 0.004, course=(0.004, 0.0035, 0.0025, 0.003, 0.0035)),
        Wall(GLASS, 0.004),
        Wall(STEEL, 0.0002),
        rise=Rise(0.006, 0.050),
    )
    case = probed_case()
    probe = dataclasses.replace(case.probe, entry="base")
    return case.replace(
        container=container, fill_height=0.088, headspace=Headspace("insulated"), points=(), probe=probe
    )
