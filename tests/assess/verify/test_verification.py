"""The program's own verification passes, and would not if the solver were wrong."""

from __future__ import annotations

import numpy as np
import pytest

from thermsim.assess.verify import verification
from thermsim.assess.verify.verification import Convergence, Row, Verification, verify


@pytest.fixture(scope="module")
def verified():
    return verify()


@pytest.mark.long
def test_every_figure_is_within_its_bound(verified):
    assert [row for row in verified.rows if not row.passed] == []
    assert verified.passed


@pytest.mark.long
def test_orders_in_space_and_time_are_at_least_1_9(verified):
    assert 1.9 < verified.space.order < 2.2
    assert 1.9 < verified.time.order < 4.6


@pytest.mark.long
def test_the_bounds_are_those_promised(verified):
    bounds = {(row.case, row.quantity): row.bound for row in verified.rows}
    cylinder = "bare cylinder, fixed surface"
    assert bounds[cylinder, "worst T deeper than 5 mm, from minute 2"] == 0.05
    assert bounds[cylinder, "worst T at any node, from minute 5"] == 0.2
    assert bounds[cylinder, "worst T at the slowest-heating place"] == 0.02
    assert bounds[cylinder, "its place, r"] == 0.5
    assert bounds[cylinder, "its place, z"] == 0.2
    assert bounds["can 307x409", "heating for centre F = 6 min"] == 5.0 / 60


def test_a_wrong_conductance_is_noticed(monkeypatch):
    """Two per cent less conduction along r puts the orders and the rows out of bounds."""
    right = verification.operator_of

    def wrong(grid):
        import dataclasses

        operator = right(grid)
        return dataclasses.replace(operator, conductance_r=0.98 * operator.conductance_r)

    monkeypatch.setattr(verification, "operator_of", wrong)
    assert not verification.order_in_space().passed


def test_one_bad_row_fails_the_whole():
    good = Convergence("space", np.array([2.0, 1.0]), np.array([4.0, 1.0]), 1.9, 2.2)
    bad = Row("case", "quantity", 1.0, 2.0, 1.0, 0.5, "K")
    lost = Row("case", "quantity", 1.0, float("nan"), float("nan"), 0.5, "K")
    assert Verification((), good, good).passed
    assert not Verification((bad,), good, good).passed
    assert not Verification((lost,), good, good).passed
