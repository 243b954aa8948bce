"""Rung: matrices factored side by side against NumPy's dense solutions, one at a time."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from thermsim.solve.basis import basis_kernels
from thermsim.solve.matrix import matrix_kernels
from thermsim.solve.matrix.lane_kernels import LANES
from thermsim.solve.matrix.system import Matrix

RANDOM = np.random.default_rng(5)


def banded(n, width):
    """A random symmetric matrix (n, n) that is positive definite, within a ragged band: whole, and by rows."""
    reach = np.minimum(RANDOM.integers(0, width + 1, size=n), np.arange(n))
    reach[n - 1] = min(width, n - 1)  # the band is as wide as it is said to be
    dense, band = np.zeros((n, n)), np.zeros((n, width + 1))
    for i in range(n):
        for k in range(reach[i]):
            value = RANDOM.normal()
            dense[i, i - k - 1] = dense[i - k - 1, i] = band[i, width - k - 1] = value
    dense += np.diag(np.abs(dense).sum(axis=1) + RANDOM.random(n))
    band[:, width] = np.diag(dense)
    return dense, band, reach


def factored(band, reach, capacity, shifts):
    """Factors of K + shift C, or None."""
    factors = np.full(Matrix((band, reach), None, band.shape).side_by_side(len(shifts)), np.nan)
    done = matrix_kernels.factorise_shifted((band, reach), None, capacity, shifts, factors)
    return factors if done else None


@pytest.mark.parametrize("n", [1, 2, 3, 4, 5, 9, 42, 103])
@pytest.mark.parametrize("width", [0, 1, 2, 3, 4, 5, 12, 33])
@pytest.mark.parametrize("count", [1, 3, LANES, LANES + 1])
def test_a_basis_grows_by_what_dense_solutions_hold(n, width, count):
    dense, band, reach = banded(n, min(width, n - 1))
    capacity, shifts = 0.5 + RANDOM.random(n), np.geomspace(0.1, 30.0, count)
    factors = factored(band, reach, capacity, shifts)
    starts = RANDOM.normal(size=(2, n)) if n > 1 else np.ones((1, 1))
    vectors = np.zeros((len(starts) * (1 + count), n))
    vectors[: len(starts)] = np.linalg.qr(starts.T)[0].T
    heads = np.repeat(np.arange(len(starts))[:, None], count, axis=1)
    root, marks = np.sqrt(capacity), np.empty(1, dtype=np.int64)
    found = basis_kernels.grow(factors, (band, reach), None, root, heads, vectors, len(starts), marks)
    assert marks[0] == len(starts)
    basis = vectors[:found]
    assert_allclose(basis @ basis.T, np.eye(found), rtol=0, atol=1e-12)
    for start in vectors[: len(starts)]:
        for shift in shifts:
            one = root * np.linalg.solve(dense + shift * np.diag(capacity), root * start)
            assert_allclose(basis.T @ (basis @ one), one, rtol=0, atol=1e-10 * np.linalg.norm(one))


def test_a_matrix_that_is_not_positive_definite_has_no_factor():
    _, band, reach = banded(23, 6)
    shifts = np.array([1.0, 2.0, 3.0])
    assert factored(band, reach, np.ones(23), shifts) is not None
    band[17, 6] = -2.5  # with the last shift alone it would be one
    assert factored(band, reach, np.ones(23), shifts) is None
    band[17, 6] = np.nan
    assert factored(band, reach, np.ones(23), shifts) is None
