"""Results with a probe, computed once for all tests of the records."""

import math

import pytest
from probed import advised_by_few
from saved_results import kept, saved  # noqa: F401
from small_cans import LOGGER, SHOULDERED, STEM, STEPPED, TAPERED, small_can

from thermsim.assess.depth.recommendation import recommend
from thermsim.assess.simulate.simulation import simulate
from thermsim.case.case import Accuracy
from thermsim.case.probe import Stock
from thermsim.case.process import Film, Process, Stage


@pytest.fixture(scope="session")
def probed(once):
    """A result with a probe whose insertion is given."""
    return once("records probed", lambda: simulate(small_can(probe=STEPPED)))


@pytest.fixture(scope="session")
def shaped(once):
    """A result of a container that is not straight, with a headspace and a probe through its lid."""
    return once("records shaped", lambda: simulate(small_can(container=SHOULDERED, fill_height=0.062, probe=STEPPED)))


@pytest.fixture(scope="session")
def standing(once):
    """A result of a tapered cup, nothing over its product, with a logger on the cone of its base."""
    return once("records standing", lambda: simulate(small_can(container=TAPERED, fill_height=0.080, probe=LOGGER)))


@pytest.fixture(scope="session")
def advised(once):
    """A result with advice: a stem through either end, and what is at hand."""
    accuracy = Accuracy(temperature=0.5, lethality=0.1, place=2e-3)  # so that an over-reading is told to a tenth
    stock = Stock(lengths=(0.050, 0.080), travel=(0.010, 0.030))
    return once("records advised", lambda: recommend(small_can(probe=STEM, stock=stock, accuracy=accuracy)))


@pytest.fixture(scope="session")
def stacked(once):
    """A result with advice on a logger that stands on spacers, held against the slowest-heating place."""
    case = small_can(probe=LOGGER, stock=Stock(spacers=(0.005, 0.010), most_spacers=2))
    return once("records stacked", lambda: advised_by_few(case, criterion="slowest heating"))


@pytest.fixture(scope="session")
def uncooled():
    """A result with a probe and without cooling, under a medium that gets hotter: no heat-penetration factors."""
    stages = (Stage("come-up", [0.0, 2400.0], [60.0, 121.1], Film.everywhere(math.inf)),)
    case = small_can(process=Process(stages))
    return simulate(case.replace(probe=STEM.at_depth(0.036, case.container)))
