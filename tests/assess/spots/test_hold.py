"""The search for a hold, on curves whose roots are known. Rung: hand-worked."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from thermsim.assess.spots.hold import NO_NEED, TOO_LONG, hold_by
from thermsim.case.process import Film, Process, Stage

FILM = Film.everywhere(500.0)
PROCESS = Process(
    (
        Stage("hold", np.array([0.0, 600.0]), np.array([120.0, 120.0]), FILM),
        Stage("cool", np.array([600.0, 900.0]), np.array([20.0, 20.0]), FILM),
    )
)


def line(root, slope=1.3):
    return lambda log_hold: slope * (log_hold - math.log(root))


@pytest.mark.parametrize("root", [70.0, 600.0, 40_000.0])
def test_the_finer_curves_root_is_found_and_what_counts_of_the_difference_said(root):
    found = hold_by(PROCESS, line(root), line(1.01 * root))
    assert_allclose(found.hold, 1.01 * root, rtol=1e-4)
    assert_allclose(found.uncertainty, 0.01 * root, rtol=0.05)
    found = hold_by(PROCESS, line(root), line(1.01 * root), again=0.1, counted=0.5)
    assert_allclose([found.hold, found.uncertainty], [1.011 * root, 0.0055 * root], rtol=0.02)
    # where F goes with hold^1.3 a hold is uncertain by 10 % if F is by 13 %
    found = hold_by(PROCESS, line(root), line(1.01 * root), unsure=0.13)
    assert_allclose(found.uncertainty, 0.101 * root, rtol=0.02)


def test_a_slope_that_misleads_does_not_lead_out_of_the_search():
    def steep(log_hold):
        assert 0.0 <= log_hold <= math.log(172800.0), "no such hold is looked at"
        return 4.0 * math.tanh(3.0 * (log_hold - math.log(80.0)))

    assert_allclose(hold_by(PROCESS, line(95.0, slope=0.02), steep).hold, 80.0, rtol=1e-2)


def test_what_is_never_or_always_reached_is_said():
    assert hold_by(PROCESS, lambda _: -1.0, lambda _: -1.0).remark == TOO_LONG
    always = hold_by(PROCESS, lambda _: 1.0, lambda _: 1.0)
    assert (always.hold, always.remark) == (0.0, NO_NEED)
    # the rough curve has a root, the fine one has none
    assert hold_by(PROCESS, line(600.0), lambda _: 0.3).remark == NO_NEED
    assert hold_by(PROCESS, line(600.0), lambda _: -0.3).remark == TOO_LONG
