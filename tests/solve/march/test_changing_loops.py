"""The loops of changing properties one by one, as plain Python: tables, their ends, and what a stage begins with.

Rung: hand-worked.
"""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from thermsim.solve.march import exchange_kernels, tableau

#: One rounding or two.
EXACT = {"rtol": 1e-13, "atol": 0}
#: A table from 10 degC in steps of 20 K.
FIRST, SPACING = 10.0, 20.0


@pytest.mark.parametrize(("temperature", "down", "up"), [
    (10.0, 1.0, 5.0), (25.0, 1.75, 5.75), (30.0, 2.0, 6.0), (45.0, 3.5, 8.25), (50.0, 4.0, 9.0),
    (-40.0, 1.0, 5.0), (500.0, 4.0, 9.0),
])  # fmt: skip
@pytest.mark.parametrize("upwards", [0.0, 0.25, 1.0])
def test_a_conductivity_is_that_of_the_tables_line_and_beyond_its_ends_stays(temperature, down, up, upwards):
    tables = np.array([[1.0, 2.0, 4.0]]), np.array([[5.0, 6.0, 9.0]])
    out = np.full(2, np.nan)
    corners = np.arange(8).reshape(2, 4)
    around = temperature + np.array([3.0, -1.0, -4.0, 2.0] * 2)
    cells = corners, np.zeros(2, dtype=int), np.array([1])
    exchange_kernels.conductivities.py_func(around, cells, upwards, (FIRST, SPACING, tables[1], tables[0]), out)
    assert np.isnan(out[0])
    assert_allclose(out[1], down + upwards * (up - down), **EXACT)


@pytest.mark.parametrize(("temperature", "content", "capacity"), [
    (10.0, 0.0, 1.0), (20.0, 10 * (1.0 + 1.5) / 2, 1.5), (50.0, 30.0 + 60.0, 4.0), (60.0, 90.0 + 10 * 4.0, 4.0),
    (0.0, -10 * 1.0, 1.0),
])  # fmt: skip
def test_heat_held_is_the_integral_of_a_capacity_that_stays_beyond_the_tables_ends(temperature, content, capacity):
    """Capacity 1, 2, 4 at 10, 30, 50 degC: 30 and 60 J/m3 in its two intervals, in 3 m3 of it and none of another."""
    heat, slope = np.full(1, np.nan), np.full(1, np.nan)
    table = np.array([[1.0, 2.0, 4.0], [9.0, 9.0, 9.0]]), np.array([[0.0, 30.0, 90.0], [0.0, 180.0, 360.0]])
    volume = np.array([[3.0, 0.0]])
    exchange_kernels.contents.py_func(
        np.array([temperature]), np.array([0]), volume, FIRST, SPACING, *table, heat, slope
    )
    assert_allclose([heat[0], slope[0]], [3.0 * content, 3.0 * capacity], **EXACT)


@pytest.mark.parametrize(("share", "lead", "falls", "expected"), [
    (0.0, 0.5, 0.0, 0.5),  # a lead of half of what turns it, whatever it is
    (0.0, 5.0, -1.0, 1.0), (1.0, 0.0, -1.0, 0.5), (1.0, -2.0, -1.0, 0.0), (0.25, 0.75, -1.0, 0.5),
])  # fmt: skip
def test_a_share_that_conducts_upwards_goes_with_the_lead_that_follows_from_it(share, lead, falls, expected):
    found = exchange_kernels.turned_to.py_func(share, lead, falls)
    assert_allclose(found, expected, rtol=0, atol=1e-9)


@pytest.mark.parametrize("stage", range(1, 6))
def test_a_stage_begins_on_the_parabola_through_the_three_before_it(stage):
    """After a step of 6 s one of 4 s: that began 1.5 of its lengths before, and was 62 % on its way 0.57 before."""

    def parabola(at):
        return 3.0 - 2.0 * at + 0.7 * at**2

    places, weights = np.array([-1.5, -1.5 * 0.38, *tableau.C]), tableau.leads(6.0 / 4.0)[stage]
    assert np.flatnonzero(weights).tolist() == [stage - 1, stage, stage + 1]
    assert_allclose(weights @ parabola(places), parabola(tableau.C[stage]), rtol=1e-12)


def test_the_first_step_begins_on_what_is_known_of_it_alone():
    """Its first stage at its start, its second on the line through two, the third on the parabola through three."""
    weights, known = tableau.leads(0.0), tableau.C
    assert weights[1].tolist() == [0, 0, 1, 0, 0, 0, 0, 0]
    line = (known[2] - known[0]) / (known[1] - known[0])
    assert_allclose(weights[2], [0, 0, 1.0 - line, line, 0, 0, 0, 0], rtol=1e-12)
    assert np.flatnonzero(weights[3]).tolist() == [2, 3, 4]


def test_heat_that_flows_in_a_quadrilateral_is_that_of_its_six_pairs():
    """Corners at 10, 30, 20, 60 degC, 2 W/mK, shares 1 to 6 m: what each pair exchanges, worked out by hand."""
    corner, shares = np.array([[0, 1, 2, 3]]), np.array([[1.0, 2.0, 3.0, 4.0, 5.0, 6.0]])
    temperature, out = np.array([10.0, 30.0, 20.0, 60.0]), np.empty(4)
    # 2 W/mK times: 0-1 20, 2-3 80, 0-2 30, 1-3 120, 0-3 250, 1-2 -60 of W per W/mK into the first of each pair
    into = [2.0 * (20 + 30 + 250), 2.0 * (-20 + 120 - 60), 2.0 * (80 - 30 + 60), -2.0 * (80 + 120 + 250)]
    nothing, all_free = np.zeros(4), np.ones(4)
    flows = exchange_kernels.flows.py_func
    assert flows(temperature, np.array([2.0]), corner, shares, nothing, 99.0, all_free, out, 0) == 0.0
    assert_allclose(out, into, **EXACT)
    # the last is held at the medium's temperature: what it gives comes from outside, as what a film of 0.5 W/K gives
    film, free = np.array([0.5, 0.0, 0.0, 0.0]), np.array([1.0, 1.0, 1.0, 0.0])
    entered = flows(temperature, np.array([2.0]), corner, shares, film, 60.0, free, out, 0)
    assert_allclose(entered, 25.0 + 900.0, **EXACT)
    assert_allclose(out, [into[0] + 25.0, into[1], into[2], 0.0], **EXACT)


def test_the_matrix_of_a_step_has_what_flows_for_each_kelvin():
    """Column by column: slope less a step's part of what one kelvin more at a node lets flow."""
    corner, shares = np.array([[2, 0, 3, 1]]), np.array([[1.0, 2.0, 3.0, 4.0, 5.0, 6.0]])
    film, free, slope = (
        np.array([0.5, 0.0, 0.0, 0.0]),
        np.array([1.0, 1.0, 0.0, 1.0]),
        np.array([7.0, 8.0, 9.0, 10.0]),
    )
    conductivity, band, out = np.array([2.0]), np.full((4, 4), np.nan), np.empty(4)
    exchange_kernels.assemble.py_func(conductivity, corner, shares, film, free, slope, 0.3, band)
    for k, kelvin in enumerate(np.eye(4) * free):
        exchange_kernels.flows.py_func(kelvin, conductivity, corner, shares, film, 0.0, free, out, 0)
        column = [band[max(i, k), 3 - abs(i - k)] for i in range(4)]
        assert_allclose(column, np.where(free[k], slope * kelvin - 0.3 * out, np.eye(4)[k]), **EXACT)
