"""A march that goes on from another one's beginning, against one from the start. Rung: the same by another way."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from bodies import jar
from numpy.testing import assert_array_equal

from thermsim.case.process import Film, Process, Stage
from thermsim.physics.materials import Tabulated
from thermsim.solve.basis.reduced import Solver
from thermsim.solve.grid.grid import grid_family
from thermsim.solve.grid.operator import operator_of
from thermsim.solve.march.march import march

TOLERANCE = 0.002
HEATING, COOLING = Film.everywhere(800.0), Film(300.0, 200.0, 100.0)


def operator():
    grid = grid_family(jar(3))[0]
    first, *others = grid.materials
    tabulated = Tabulated((0.0, 150.0), (first.conductivity, 1.3 * first.conductivity), (first.capacity,) * 2)
    return operator_of(
        dataclasses.replace(grid, materials=(dataclasses.replace(first, tabulated=tabulated), *others))
    )


def process(hold, *, up=600.0, top=121.0, heating=HEATING):
    return Process(
        (
            Stage("come-up", np.array([0.0, up]), np.array([40.0, top]), heating),
            Stage("hold", np.array([up, up + hold]), np.array([top, top]), heating),
            Stage("cool", np.array([up + hold, up + hold + 900.0]), np.array([20.0, 20.0]), COOLING),
        )
    )


BEFORE = process(1800.0)


@pytest.mark.parametrize(
    ("wanted", "common"),
    [
        (process(2400.0), 2400.0),
        (process(1100.0), 1700.0),
        (process(300.0), 900.0),
        (process(1800.0), 3300.0),
        (process(1800.0, up=500.0), 0.0),
        (process(1800.0, top=120.0), 0.0),
        (process(1800.0, heating=Film.everywhere(700.0)), 0.0),
    ],
    ids=["longer", "shorter", "much shorter", "the same", "another come-up", "another height", "another film"],
)
def test_what_is_the_same_is_taken_over_and_the_rest_is_as_from_the_start(wanted, common):
    body = operator()
    known = march(body, BEFORE, tolerance=TOLERANCE)
    found = march(body, wanted, tolerance=TOLERANCE, known=(BEFORE, known))
    whole = march(body, wanted, tolerance=TOLERANCE)
    times = np.linspace(30.0, wanted.end, 60)
    # steps that differ, and cubics between them: each march keeps within twice the tolerance
    assert np.abs(found.at(times) - whole.at(times)).max() < 4 * TOLERANCE
    assert abs(found.energy_defect) < 1e-8 and abs(found.heat_in / whole.heat_in - 1.0) < 1e-4
    taken = int((known.time <= common).sum()) - 2  # but for the entries of the last step
    if common:
        assert taken > 10
        assert_array_equal(found.time[:taken], known.time[:taken])
        assert_array_equal(found.temperature[:taken], known.temperature[:taken])
    else:
        assert_array_equal(found.time, whole.time)
        assert_array_equal(found.temperature, whole.temperature)
    jumps = [stage.start for stage in wanted.stages[1:]]
    assert [int((found.time == jump).sum()) for jump in jumps] == [2] * len(jumps)


def test_stages_that_end_and_begin_apart_by_rounding_alone_leave_no_sliver():
    come_up, hold, cool = BEFORE.stages
    before = Process((come_up, hold, dataclasses.replace(cool, time=np.nextafter(cool.time, np.inf))))
    body = operator()
    known = march(body, before, tolerance=TOLERANCE)
    for wanted in (before.with_hold(2400.0), before.with_hold(1800.0 * (1.0 + 1e-13)), before):
        found = march(body, wanted, tolerance=TOLERANCE, known=(before, known))
        whole = march(body, wanted, tolerance=TOLERANCE)
        assert found.time.size < known.time.size + 20
        assert np.abs(found.temperature[-1] - whole.temperature[-1]).max() < 2 * TOLERANCE


def test_held_nodes_stand_at_the_medium_and_take_up_their_heat():
    held = Film(np.inf, 200.0, np.inf)
    body, before, wanted = operator(), process(1800.0, heating=held), process(900.0, heating=held)
    known = march(body, before, tolerance=TOLERANCE)
    found = march(body, wanted, tolerance=TOLERANCE, known=(before, known))
    whole = march(body, wanted, tolerance=TOLERANCE)
    assert np.abs(found.temperature[-1] - whole.temperature[-1]).max() < 2 * TOLERANCE
    assert abs(found.energy_defect) < 1e-8 and abs(found.heat_in / whole.heat_in - 1.0) < 1e-4


def test_a_solver_made_afresh_knows_no_beginning():
    solver = Solver(operator(), tolerance=TOLERANCE)
    first = solver.follow(process(1100.0))
    solver.follow(BEFORE)
    again = solver.without_bases().follow(process(1100.0))
    assert_array_equal(again.temperature, first.temperature)
