"""Rung: conservation and symmetry, on bodies and processes drawn at random (hypothesis)."""

from __future__ import annotations

import dataclasses

import numpy as np
from bodies import plain_body
from drawn_bodies import FEW, bodies, processes
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from thermsim.case.process import Film, Process, Stage
from thermsim.solve.grid.grid import grid_family
from thermsim.solve.grid.operator import operator_of
from thermsim.solve.march.march import march

#: The time tolerance at which the invariants are held [K].
TOLERANCE = 0.005


def run(body, process):
    grid = grid_family(body)[1]
    return grid, march(operator_of(grid), process, tolerance=TOLERANCE)


@FEW
@given(bodies(), processes())
def test_heat_in_equals_heat_stored(body, process):
    _, history = run(body, process)
    assert abs(history.energy_defect) < 1e-8


@FEW
@given(bodies(), processes())
def test_no_node_leaves_the_range_of_start_and_medium(body, process):
    grid, history = run(body, process)
    low = min(process.medium_range[0], body.initial.min())
    high = max(process.medium_range[1], body.initial.max())
    temperature = history.temperature[:, grid.active]
    assert temperature.min() >= low - 0.01
    assert temperature.max() <= high + 0.01


@FEW
@given(bodies(), processes(), st.floats(-30.0, 30.0))
def test_shifting_all_temperatures_shifts_the_answer(body, process, shift):
    shifted_body = dataclasses.replace(body, initial=body.initial + shift)
    stages = tuple(Stage(s.name, s.time, s.medium + shift, s.film) for s in process.stages)
    grid, history = run(body, process)
    _, shifted = run(shifted_body, Process(stages))
    difference = (shifted.at(np.array([process.end])) - history.at(np.array([process.end])))[0, grid.active]
    assert_allclose(difference, shift, rtol=0, atol=1e-6)  # the same steps, up to rounding


@FEW
@given(bodies(), processes(), st.floats(0.5, 2.0))
def test_scaling_lengths_and_times_leaves_the_answer(body, process, s):
    scaled_body = dataclasses.replace(body, columns=body.columns * s, levels=body.levels * s)
    # which thin layers are coarsened goes by the first instants after a jump, which do not scale
    assume(all((one == two).all() for one, two in zip(body.bent, scaled_body.bent, strict=True)))
    stages = tuple(
        Stage(k.name, k.time * s**2, k.medium, Film(k.film.side / s, k.film.base / s, k.film.lid / s))
        for k in process.stages
    )
    grid, history = run(body, process)
    scaled_grid, scaled = run(scaled_body, Process(stages))
    assert scaled_grid.shape == grid.shape
    ends = np.array([stage.end for stage in process.stages])[1:]
    difference = (scaled.at(ends * s**2) - history.at(ends))[:, grid.active]
    # the first step after a jump does not scale, so the steps differ: some of them times the tolerance
    assert np.abs(difference).max() < 10 * TOLERANCE


@FEW
@given(bodies(), processes())
def test_a_container_turned_upside_down_mirrors_the_answer(body, process):
    turned = plain_body(
        body.columns,
        body.levels[-1] - body.levels[::-1],
        body.material[:, ::-1],
        body.product[:, ::-1],
        body.initial[:, ::-1],
        body.materials,
    )
    stages = tuple(
        Stage(s.name, s.time, s.medium, Film(s.film.side, s.film.lid, s.film.base)) for s in process.stages
    )
    grid, history = run(body, process)
    turned_grid, mirrored = run(turned, Process(stages))
    assert_allclose(turned_grid.levels[-1] - turned_grid.levels[::-1], grid.levels, rtol=0, atol=1e-9)
    end = np.array([process.end])
    difference = (mirrored.at(end)[:, :, ::-1] - history.at(end))[:, grid.active]
    assert np.abs(difference).max() < TOLERANCE  # rounding may tip a step's size
