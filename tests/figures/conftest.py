"""An invented jar of paste, and the same food bare, insulated above, flat: solved once for all figure tests."""

import numpy as np
import pytest

from thermsim.assess.result import Result
from thermsim.assess.simulation import simulate
from thermsim.case.case import Case, Lethality, Point
from thermsim.case.container import Container, Wall
from thermsim.case.materials import Material
from thermsim.case.process import Film, Process, Stage
from thermsim.case.product import Headspace, Product

PASTE = Material("bean paste", 0.55, 1050.0, 3700.0)
GLASS = Material("soda-lime glass", 1.0, 2500.0, 750.0)
STEEL = Material("tinplate", 50.0, 7800.0, 450.0)
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
        Container(0.066, 0.113, Wall(GLASS, 0.003), Wall(GLASS, 0.005), Wall(STEEL, 0.0002)),
        Product(PASTE, 40.0),
        0.101,
        Headspace("fixed", GAS),
        process(Film.everywhere(450.0)),
        Lethality(121.1, 10.0, 360.0, reach=(110.0, 125.0)),
        (Point("mid-height", 0.0, 0.0555), Point("glass", 0.0345, 0.05)),
    )


@pytest.fixture(scope="session")
def jar() -> Result:
    return simulate(jar_case())


@pytest.fixture(scope="session")
def bare() -> Result:
    """No walls, surfaces at the medium's temperature: the least lethality lies beside the axis."""
    food = Material("food", 0.5, 1040.0, 3650.0)
    everywhere = Film.everywhere(np.inf)
    stages = (
        Stage("hold", np.array([0.0, 3600.0]), np.array([121.1, 121.1]), everywhere),
        Stage("cool", np.array([3600.0, 6000.0]), np.array([25.0, 25.0]), everywhere),
    )
    container = Container(0.073, 0.110)
    return simulate(
        Case(
            "bare",
            container,
            Product(food, 30.0),
            0.110,
            Headspace("insulated"),
            Process(stages),
            Lethality(121.1, 10.0),
        )
    )


@pytest.fixture(scope="session")
def insulated() -> Result:
    case = jar_case().replace(headspace=Headspace("insulated"), points=(), lethality=Lethality(121.1, 10.0))
    return simulate(case)


@pytest.fixture(scope="session")
def flat() -> Result:
    foil = Wall(Material("aluminium foil laminate with a long name", 50.0, 2700.0, 900.0), 0.0002)
    return simulate(
        jar_case().replace(container=Container(0.2, 0.024, foil, foil, foil), fill_height=0.02, points=())
    )
