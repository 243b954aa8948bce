"""Rung: compiled loops against slow twins (NumPy's products, a closed form)."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from thermsim.solve.basis import basis_kernels

RANDOM = np.random.default_rng(11)


@pytest.mark.parametrize("rate", [0.0, 1e-12, 1e-5, 2e-3, 0.5, 300.0])
def test_a_mode_decays_as_the_closed_form_says(rate):
    # da/dt = -rate a - ones s on one ramp of slope s: a = (a0 + ones s/rate) e^(-rate t) - ones s/rate
    knots, medium, ones, start = np.array([0.0, 40.0, 100.0]), np.array([20.0, 30.0, 45.0]), 0.7, 5.0
    at_knots, gathered = np.empty((3, 1)), np.empty(1)
    basis_kernels.decay(np.array([rate]), np.array([ones]), knots, medium, np.array([start]), at_knots, gathered)
    slope, end = 0.25, 100.0
    if rate * end < 1e-6:
        expected, area = start - ones * slope * end, start * end - ones * slope * end**2 / 2
    else:
        level = ones * slope / rate
        expected = (start + level) * np.exp(-rate * end) - level
        area = (start + level) * -np.expm1(-rate * end) / rate - level * end
    # the closed form itself loses digits where rate x time is small: 1e-16 / 1e-3 twice
    assert_allclose(at_knots[-1, 0], expected, rtol=1e-8, atol=1e-9)
    assert_allclose(gathered[0], area, rtol=1e-7, atol=1e-6)


def test_carrying_agrees_with_dense_weights():
    along_r, along_z = np.zeros((5, 4)), np.zeros((7, 6))
    first_r, first_z = np.array([0, 0, 1, 1, 2]), np.array([0, 0, 1, 2, 2, 3, 3])
    few_r, few_z = RANDOM.normal(size=(5, 2)), RANDOM.normal(size=(7, 3))
    for dense, first, few in ((along_r, first_r, few_r), (along_z, first_z, few_z)):
        for row, (start, weights) in enumerate(zip(first, few, strict=True)):
            dense[row, start : start + weights.size] = weights
    fields = RANDOM.normal(size=(3, 4, 6))
    out = np.ones((3, 5, 7))
    rows, columns = np.arange(fields.shape[1]), np.arange(fields.shape[2])
    basis_kernels.carry(fields, rows, columns, -2.0, first_r, few_r, first_z, few_z, out)
    assert_allclose(out, 1.0 - 2.0 * along_r @ fields @ along_z.T, rtol=0, atol=1e-13)
    # the same nodes picked out of a grid that has more of them
    finer = RANDOM.normal(size=(3, 8, 12))
    finer[:, ::2, ::2] = fields
    again = np.ones((3, 5, 7))
    basis_kernels.carry(finer, 2 * rows, 2 * columns, -2.0, first_r, few_r, first_z, few_z, again)
    assert_allclose(again, out, rtol=0, atol=1e-13)
