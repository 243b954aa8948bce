"""Rung: compiled loops against slow twins (SciPy's banded and dense algebra, quadrature)."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import quad

from thermsim.solve import lethality_kernels
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
    kernels.solve(band, reach, right)
    assert_allclose(right, x, rtol=1e-10, atol=1e-10)  # well conditioned: rounding only


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
    kernels.solve(band, reach, right)
    assert_allclose(right, x, rtol=1e-10, atol=1e-10)


def test_factor_says_when_a_matrix_is_not_positive_definite():
    band, _ = random_band(20, 4, seed=3)
    band[7, 4] = -1.0
    assert not kernels.factor(band)
    band, _ = random_band(20, 4, seed=3)
    band[11, 4] = np.nan
    assert not kernels.factor(band)


def test_accumulate_integrates_the_lethal_rate_of_a_cubic():
    time = np.array([0.0, 600.0, 600.0, 900.0])
    temperature = np.array([[100.0, 60.0], [115.0, 118.0], [115.0, 118.0], [121.0, 90.0]])
    rate = np.array([[0.01, 0.2], [0.03, 0.0], [0.05, -0.01], [0.0, -0.1]])
    total = np.empty((4, 2))
    lethality_kernels.accumulate(time, temperature, rate, np.arange(2), 121.1, 10.0, total)
    for column in range(2):
        expected = 0.0
        for k in (0, 2):
            h = time[k + 1] - time[k]

            def lethal_rate(t, k=k, h=h, column=column):
                x = (t - time[k]) / h
                y = 1 - x
                value = (
                    y * y * (1 + 2 * x) * temperature[k, column]
                    + x * x * (1 + 2 * y) * temperature[k + 1, column]
                    + h * x * y * (y * rate[k, column] - x * rate[k + 1, column])
                )
                return 10 ** ((value - 121.1) / 10)

            expected += quad(lethal_rate, time[k], time[k + 1], epsabs=0, epsrel=1e-11)[0]
        # 1e-4: four Gauss points a decade, on a curve that spans several decades in one step of 10 min
        assert_allclose(total[3, column], expected, rtol=1e-4)
        assert total[2, column] == total[1, column]  # nothing gathers in no time
