"""Rung: compiled loops against slow twins (SciPy's banded and dense algebra, quadrature)."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from thermsim.solve.matrix import band_kernels as kernels


def random_band(n, width, seed):
    """A symmetric positive definite band matrix by rows, and the same matrix dense."""
    rng = np.random.default_rng(seed)
    band = np.zeros((n, width + 1))
    dense = np.zeros((n, n))
    for i in range(n):
        for j in range(max(0, i - width), i):
            dense[i, j] = dense[j, i] = band[i, width - (i - j)] = rng.normal()
    diagonal = np.abs(dense).sum(axis=1) + rng.uniform(0.1, 1.0, n)
    band[:, width] = diagonal
    dense[np.arange(n), np.arange(n)] = diagonal
    return band, dense


@pytest.mark.parametrize(("n", "width"), [(1, 1), (5, 1), (9, 2), (10, 3), (7, 6), (40, 7), (60, 13), (61, 13)])
def test_factor_and_solve_agree_with_dense_algebra(n, width):
    band, dense = random_band(n, width, seed=n)
    x = np.random.default_rng(1).normal(size=n)
    right = dense @ x
    reach = np.minimum(np.arange(n), width)
    assert kernels.factor(band)
    kernels.forward(band, reach, right, 0)
    kernels.backward(band, reach, right, 0, n)
    assert_allclose(right, x, rtol=1e-10, atol=1e-10)  # well conditioned: rounding only


@pytest.mark.parametrize("begin", [0, 1, 30, 48, 60, 61])
def test_right_sides_that_are_zero_but_in_the_last_rows_are_solved_from_there(begin):
    band, dense = random_band(61, 13, seed=2)
    reach, right = np.minimum(np.arange(61), 13), np.zeros(61)
    right[begin:] = np.random.default_rng(1).normal(size=61 - begin)
    expected = np.linalg.solve(dense, right)
    assert kernels.factor(band)
    kernels.forward(band, reach, right, begin)
    kernels.backward(band, reach, right, 0, 61)
    assert_allclose(right, expected, rtol=1e-10, atol=1e-12)


@pytest.mark.parametrize("begin", [0, 1, 30, 48, 60, 61])
def test_what_follows_from_the_last_rows_is_known_when_they_have_been_corrected_again_and_again(begin):
    """Hand-worked: the last rows' own equation bends, x + x^3; Newton's corrections of those rows alone."""
    band, dense = random_band(61, 13, seed=4)
    reach, right = np.minimum(np.arange(61), 13), np.random.default_rng(5).normal(size=61)
    bends = np.arange(61) >= begin
    assert kernels.factor(band)
    found, step, since = np.zeros(61), np.zeros(61), 0
    for _ in range(60):
        at_start = np.where(bends, found, 0.0)  # of the others as at the start: they have not been moved
        step[since:] = (right - dense @ at_start - 0.1 * bends * found**3)[since:]
        kernels.forward(band, reach, step, since)
        kernels.backward(band, reach, step, begin, 61)
        found[begin:] += step[begin:]
        since = begin
    kernels.backward(band, reach, step, 0, begin)
    found[:begin] = step[:begin]
    assert_allclose(dense @ found + 0.1 * bends * found**3, right, rtol=0, atol=1e-11)


def test_rows_that_begin_late_are_factored_from_where_they_begin():
    band, dense = random_band(40, 9, seed=5)
    reach = np.minimum(np.arange(40), np.random.default_rng(6).integers(0, 10, 40))
    for i in range(40):
        for j in range(i - reach[i]):
            dense[i, j] = dense[j, i] = 0.0
        band[i, : 9 - reach[i]] = 0.0
    x = np.random.default_rng(7).normal(size=40)
    right = dense @ x
    assert kernels.factor(band)
    kernels.forward(band, reach, right, 0)
    kernels.backward(band, reach, right, 0, 40)
    assert_allclose(right, x, rtol=1e-10, atol=1e-10)


def test_factor_says_when_a_matrix_is_not_positive_definite():
    band, _ = random_band(20, 4, seed=3)
    band[7, 4] = -1.0
    assert not kernels.factor(band)
    band, _ = random_band(20, 4, seed=3)
    band[11, 4] = np.nan
    assert not kernels.factor(band)
