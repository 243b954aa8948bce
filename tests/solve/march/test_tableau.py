"""Rung: the time scheme's own conditions (order, stability), which its remembered digits must meet."""

from __future__ import annotations

import numpy as np
from numpy.testing import assert_allclose

from thermsim.solve.march.tableau import B_EMBEDDED, GAMMA, A, B, C


def stability(z, b=B):
    return 1 + z * b @ np.linalg.solve(np.eye(6) - z * A, np.ones(6))


def test_step_meets_the_eight_conditions_of_order_four():
    found = [B.sum(), B @ C, B @ C**2, B @ A @ C, B @ C**3, (B * C) @ A @ C, B @ A @ C**2, B @ A @ A @ C]
    # 1e-14: rounding of the fractions
    assert_allclose(found, [1, 1 / 2, 1 / 3, 1 / 6, 1 / 4, 1 / 8, 1 / 12, 1 / 24], rtol=0, atol=1e-14)


def test_embedded_solution_is_of_order_three_and_not_four():
    found = [B_EMBEDDED.sum(), B_EMBEDDED @ C, B_EMBEDDED @ C**2, B_EMBEDDED @ A @ C]
    assert_allclose(found, [1, 1 / 2, 1 / 3, 1 / 6], rtol=0, atol=1e-14)
    assert abs(B_EMBEDDED @ C**3 - 1 / 4) > 1e-4


def test_stages_are_singly_diagonally_implicit_and_the_last_is_the_step():
    assert_allclose(np.diag(A), [0, *[GAMMA] * 5], rtol=0, atol=0)
    assert np.all(np.triu(A, 1) == 0)
    assert C[-1] == 1.0


def test_scheme_is_l_stable():
    assert max(abs(stability(1j * y)) for y in np.logspace(-3, 5, 500)) <= 1 + 1e-12
    assert max(abs(stability(-x)) for x in np.logspace(-3, 8, 500)) < 1
    assert abs(stability(-1e9)) < 1e-7
