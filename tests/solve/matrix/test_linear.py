"""Rung: factors in a band and by elimination of sparse matrices, against NumPy's dense solutions."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from threadpoolctl import threadpool_info

from thermsim.errors import NumericalError
from thermsim.solve.matrix import linear
from thermsim.solve.matrix.linear import Pairs, Symmetric, in_one_thread


def lattice(rows, columns, seed):
    """Conduction over a lattice of nodes with its diagonals, as pairs and whole."""
    rng, number = np.random.default_rng(seed), np.arange(rows * columns).reshape(rows, columns)
    pairs = [
        (number[:-1], number[1:]), (number[:, :-1], number[:, 1:]), (number[:-1, :-1], number[1:, 1:]),
    ]  # fmt: skip
    before, after = (np.concatenate([pair[k].ravel() for pair in pairs]) for k in (0, 1))
    coupling = -rng.uniform(0.1, 2.0, before.size)
    dense = np.zeros((number.size, number.size))
    dense[before, after] = dense[after, before] = coupling
    diagonal = rng.uniform(0.0, 0.5, number.size) - dense.sum(axis=1)
    return Symmetric(diagonal, Pairs(diagonal.size, before, after, coupling)), dense + np.diag(diagonal)


@pytest.mark.parametrize("room", [0, 10**9], ids=["sparse", "band"])
@pytest.mark.parametrize(("rows", "columns"), [(1, 1), (1, 7), (9, 4), (13, 13)])
def test_solutions_agree_with_dense_algebra(rows, columns, room, monkeypatch):
    monkeypatch.setattr(linear, "ROOM", room)
    matrix, dense = lattice(rows, columns, seed=rows)
    capacity = np.random.default_rng(1).uniform(0.5, 3.0, len(dense))
    right = np.random.default_rng(2).normal(size=(len(dense), 3))
    whole = 0.7 * dense + np.diag(0.3 * capacity)
    solve = matrix.factor(0.7, 0.3 * capacity)
    assert_allclose(whole @ solve(right), right, rtol=0, atol=1e-12)
    assert_allclose(whole @ solve(right[:, 0]), right[:, 0], rtol=0, atol=1e-12)
    assert_allclose(matrix.times(right), dense @ right, rtol=0, atol=1e-13)
    assert_allclose(matrix.times(right[:, 0]), dense @ right[:, 0], rtol=0, atol=1e-13)


@pytest.mark.parametrize(("room", "bad"), [(10**9, -50.0), (10**9, np.nan), (0, -50.0)])
def test_a_matrix_that_is_not_positive_is_refused(room, bad, monkeypatch):
    monkeypatch.setattr(linear, "ROOM", room)
    matrix, dense = lattice(6, 5, seed=3)
    added = np.ones(len(dense))
    added[11] = bad
    with pytest.raises(NumericalError, match="cannot be factorised"):
        matrix.factor(1.0, added)


def test_products_run_in_one_thread_and_the_setting_is_given_back():
    @in_one_thread
    def threads():
        return {library["num_threads"] for library in threadpool_info() if library["user_api"] == "blas"}

    before = threadpool_info()
    assert threads() == {1}
    assert threadpool_info() == before
