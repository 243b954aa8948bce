"""Another process on a solved case against a solution of its own; what is asked in vain is refused."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from numpy.testing import assert_allclose
from places import CASES

from thermsim import read_case
from thermsim.assess.simulate.simulation import simulate, simulate_container
from thermsim.assess.simulate.what_if import solved
from thermsim.case.case import Accuracy, Lethality, Point
from thermsim.case.process import Film, Process


@pytest.fixture(scope="module")
def ready(jar_path):
    case = read_case(jar_path)
    return solved(case.replace(lethality=Lethality(case.lethality.reference, case.lethality.z)))


@pytest.fixture(scope="module")
def jar_path():

    return CASES / "jar.toml"


def hotter(process, by, films=None):
    """The same stages with their high temperatures changed, and other films if they are given."""
    return Process(
        tuple(
            dataclasses.replace(
                stage,
                medium=np.where(stage.medium > 100.0, stage.medium + by, stage.medium),
                film=stage.film if films is None else films,
            )
            for stage in process.stages
        )
    )


def test_the_solved_process_gives_the_solved_curves(ready):
    for found, known in zip(ready.with_process(ready.result.case.process), ready.curves, strict=True):
        assert (found.name, found.r, found.z) == (known.name, known.r, known.z)
        # temperatures are extrapolated alike; lethality from extrapolated temperatures, not from its own logarithms
        assert_allclose(found.temperature, known.temperature, rtol=0, atol=1e-3)
        assert_allclose(found.end_of_heating, known.end_of_heating, rtol=0, atol=1e-9)
        assert_allclose(found.lethality, known.lethality, rtol=2e-4)
        assert_allclose(found.heating_lethality, known.heating_lethality, rtol=2e-4)


@pytest.mark.parametrize("films", [None, Film.everywhere(900.0)], ids=["same films", "other films"])
@pytest.mark.parametrize("hold", [1800.0, 6000.0])
def test_another_process_gives_what_its_own_solution_gives(ready, hold, films):
    process = hotter(ready.result.case.process.with_hold(hold), 2.5, films)
    found = ready.with_process(process)
    own = simulate(ready.result.case.replace(process=process))
    # a named point does not move
    (point,) = own.points
    assert_allclose(found[2].temperature, point.temperature, rtol=0, atol=2 * own.effort.tolerance)
    assert_allclose(found[2].lethality, point.lethality, rtol=1e-3)  # 4 mK are worth 1e-3
    # the cold spot has moved a little, and is the least there is
    assert found[0].lethality >= own.cold_spot.least_lethality.lethality * (1.0 - 1e-3)


def test_no_cubics_come_between_what_is_asked_roughly(jar_path):
    """With a kelvin allowed cubics between a field's entries are off by 0.05 % of this lethality."""
    rough = solved(read_case(jar_path).replace(accuracy=Accuracy(1.0, 0.2, 5e-3), lethality=Lethality(121.1, 10.0)))
    process = rough.result.case.process.with_hold(4800.0)
    own = simulate(rough.result.case.replace(process=process)).cold_spot.least_lethality
    assert_allclose(rough.with_process(process)[0].lethality, own.lethality, rtol=3e-5)


def test_where_properties_change_another_process_is_marched():
    """The places do not move, so that a solution of its own says the same there, but for its steps in time."""
    case = read_case(CASES / "jar_composition.toml").replace(
        accuracy=Accuracy(1.0, 0.2, 5e-3), lethality=Lethality(121.1, 10.0), points=(Point("high", 0.0, 0.09),)
    )
    ready = solved(case)
    for found, known in zip(ready.with_process(case.process), ready.curves, strict=True):
        assert_allclose(found.temperature, known.temperature, rtol=0, atol=1e-3)  # bounds hold at nodes there
        assert_allclose(found.lethality, known.lethality, rtol=1e-9)
    process = hotter(case.process.with_hold(3000.0), -1.5)
    own, _ = simulate_container(case.replace(process=process))
    _, _, found = ready.with_process(process)
    assert_allclose(found.temperature, own.points[0].temperature, rtol=0, atol=2 * own.effort.tolerance)
    assert_allclose(found.lethality, own.points[0].lethality, rtol=1e-3)
    assert not np.allclose(found.temperature[-1], ready.curves[2].temperature[-1], rtol=0, atol=1.0)


def test_a_process_out_of_order_is_refused(ready):
    process = ready.result.case.process
    with pytest.raises(ValueError, match=r"stages\[1\]: begins at .*, but the stage before it ends at"):
        ready.with_process(Process(process.stages[::-1]))
