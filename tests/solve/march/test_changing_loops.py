"""The loops of changing properties one by one, as plain Python: tables, their ends, and what a stage begins with.

Rung: hand-worked.
"""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from thermsim.solve.march import changing_kernels, exchange_kernels

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


@pytest.mark.parametrize("x", [1.0, 1.3, 1.44, 2.0])
def test_a_stage_begins_on_the_parabola_through_three_values(x):
    def parabola(at):
        return 3.0 - 2.0 * at + 0.7 * at**2

    middle = 0.44
    found = changing_kernels.led_on.py_func(parabola(0.0), parabola(middle), parabola(1.0), middle, x)
    assert_allclose(found, parabola(x), rtol=1e-12)
