"""Readings that are interpolated over diffusivity, depth and start, beside those that are solved at the same values.

Rung: our own model by another way. A logger stands at one depth; a stem through the lid is moved.
"""

import dataclasses
import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from probed import PASTE, logger_can, probed_can

from thermsim.assess.measured.doubts.suspicion import Column
from thermsim.assess.measured.lattice import Lattice
from thermsim.assess.measured.model import ProbeModel
from thermsim.assess.measured.shared import Known
from thermsim.case.process import Film, Process, Stage
from thermsim.case.profile import straight
from thermsim.physics.materials import Tabulated

HOLD = Process((Stage("hold", np.array([0.0, 1200.0]), np.array([121.0, 121.0]), Film.everywhere(1500.0)),))
TIME = np.array([0.0, 300.0, 600.0, 900.0, 1200.0])
#: Properties that change, and the same that do not but stand in a table.
CHANGING = Tabulated((0.0, 130.0), (0.5, 0.6), (3.8e6, 3.9e6))
LEVEL = Tabulated((0.0, 130.0), (PASTE.conductivity,) * 2, (PASTE.capacity,) * 2)


def both(case, log_factor, initial, depth, offset):
    """The reading as it is interpolated, and as it is solved."""
    case = case.replace(process=HOLD)
    lattice = Lattice(case, HOLD)
    found = lattice(log_factor, initial, depth, offset, TIME)
    moved = case.replace(probe=case.probe.at_depth(depth, case.container))
    model = ProbeModel(moved, HOLD, ("diffusivity", "initial", "offset"), TIME)
    factor = math.exp(log_factor) * case.product.material.diffusivity
    return found, model.on_grids([factor, initial, offset], finer=False).temperature


@pytest.mark.parametrize("tabulated", [None, CHANGING, LEVEL], ids=["constant", "changing", "level"])
@pytest.mark.parametrize(("log_factor", "initial", "offset"), [(0.05, 33.0, 20.0), (-0.13, 26.0, 0.0)])
def test_readings_between_the_places_are_those_solved_there(tabulated, log_factor, initial, offset):
    case = logger_can()
    food = dataclasses.replace(case.product.material, tabulated=tabulated)
    case = case.replace(product=dataclasses.replace(case.product, material=food))
    found, solved = both(case, log_factor, initial, case.probe.depth(case.container), offset)
    # cubics between places are within 0.02 K; another start changes properties along its whole course
    assert_allclose(found, solved, rtol=0, atol=0.02)
    assert found[0] == pytest.approx(initial, abs=1e-9)


def test_readings_between_depths_are_those_solved_there():
    for depth in (0.0371, 0.052):
        found, solved = both(probed_can(), 0.05, 31.0, depth, 10.0)
        # in the first ten minutes behind a jump a logger's noise, then as ever
        assert_allclose(found[:3], solved[:3], rtol=0, atol=0.1)
        assert_allclose(found[3:], solved[3:], rtol=0, atol=0.02)


def test_readings_between_depths_are_those_solved_there_in_a_flat_container_too():
    """In a can 30 mm high places 8 mm apart were off by 1.8 K."""
    can = probed_can(insertion=0.015)
    flat = can.replace(
        container=dataclasses.replace(can.container, profile=straight(0.060, 0.030)), fill_height=0.030
    )
    for depth in (0.0085, 0.0135, 0.021):
        found, solved = both(flat, 0.05, 31.0, depth, 10.0)
        assert_allclose(found, solved, rtol=0, atol=0.1)


def test_without_a_fault_a_curve_says_what_it_was_made_with_wherever_its_search_begins():
    lattice, depth = Lattice(logger_can(), HOLD), logger_can().probe.depth(logger_can().container)
    time, made = np.arange(0.0, 1201.0, 30.0), (0.05, 31.0, 12.0)
    curve = lattice(*made[:2], depth, made[2], time)
    for begun in ((0.0, 30.0), (0.12, 33.0)):
        column = Column(lattice, time, curve, begun, stated=depth, clock=Known(), correction=np.zeros(time.size))
        assert_allclose(column.plain, (*made, depth, 0.0), rtol=0, atol=1e-3)
