"""An invented jar of paste, bare, insulated above, flat, with a probe or a logger; a cup, a jar with a shoulder."""

import numpy as np
import pytest
from probed import advised_by_few
from small_jars import ROUGH, jar_case, logger_case, probed_case, shouldered_case, tapered_case

from thermsim.assess.simulate.result import Result
from thermsim.assess.simulate.simulation import simulate
from thermsim.case.case import Case, Lethality
from thermsim.case.container import Container, Wall
from thermsim.case.process import Film, Process, Stage
from thermsim.case.product import Headspace, Product
from thermsim.case.profile import straight
from thermsim.physics.materials import Material


@pytest.fixture(scope="session")
def jar() -> Result:
    return simulate(jar_case().replace(accuracy=ROUGH))


@pytest.fixture(scope="session")
def bare() -> Result:
    """No walls, surfaces at the medium's temperature: the least lethality lies beside the axis."""
    food = Material("food", 0.5, 1040.0, 3650.0)
    everywhere = Film.everywhere(np.inf)
    stages = (
        Stage("hold", np.array([0.0, 3600.0]), np.array([121.1, 121.1]), everywhere),
        Stage("cool", np.array([3600.0, 6000.0]), np.array([25.0, 25.0]), everywhere),
    )
    container = Container(straight(0.073, 0.110))
    return simulate(
        Case(
            "bare",
            container,
            Product(food, 30.0),
            0.110,
            Headspace("insulated"),
            Process(stages),
            Lethality(121.1, 10.0),
            accuracy=ROUGH,
        )
    )


@pytest.fixture(scope="session")
def insulated() -> Result:
    case = jar_case().replace(
        headspace=Headspace("insulated"), points=(), lethality=Lethality(121.1, 10.0), accuracy=ROUGH
    )
    return simulate(case)


@pytest.fixture(scope="session")
def flat() -> Result:
    foil = Wall(Material("aluminium foil laminate with a long name", 50.0, 2700.0, 900.0), 0.0002)
    return simulate(
        jar_case().replace(container=Container(straight(0.2, 0.024), foil, foil, foil), fill_height=0.02, points=())
    )


@pytest.fixture(scope="session")
def advised(once) -> Result:
    return once("figures advised", lambda: advised_by_few(probed_case().replace(accuracy=ROUGH)))


@pytest.fixture(scope="session")
def logged(once) -> Result:
    return once("figures logged", lambda: advised_by_few(logger_case().replace(accuracy=ROUGH)))


@pytest.fixture(scope="session")
def tapered() -> Result:
    case = tapered_case().replace(accuracy=ROUGH, stock=None)
    return simulate(case.replace(probe=case.probe.at_depth(0.030, case.container)))


@pytest.fixture(scope="session")
def tapered_advised(once) -> Result:
    return once("figures tapered_advised", lambda: advised_by_few(tapered_case().replace(accuracy=ROUGH)))


@pytest.fixture(scope="session")
def shouldered(once) -> Result:
    return once("figures shouldered", lambda: advised_by_few(shouldered_case().replace(accuracy=ROUGH)))
