"""Rung: hand-worked. Films beside a probe, the hold that is adjusted, and the medium at a jump."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from thermsim.case.process import Film, Process, Stage


def process(*names):
    """Stages of a minute at 100, 110, 120, ... degC, with jumps between them."""
    stages = [
        Stage(name, [60.0 * k, 60.0 * (k + 1)], [100.0 + 10.0 * k] * 2, Film(10.0, 20.0, 30.0))
        for k, name in enumerate(names)
    ]
    return Process(tuple(stages))


@pytest.mark.parametrize(("wall", "film", "bare"), [("side", 10.0, 40.0), ("base", 20.0, 50.0), ("lid", 30.0, 60.0)])
def test_a_probe_meets_the_medium_of_its_own_wall_without_that_walls_label(wall, film, bare):
    assert Film(10.0, 20.0, 30.0).beside(wall) == film
    assert Film(10.0, 20.0, 30.0, bare=(40.0, 50.0, 60.0)).beside(wall) == bare
    assert [stage.film.probe for stage in process("hold", "cool").facing(wall, None).stages] == [film, film]
    assert [stage.film.probe for stage in process("hold", "cool").facing(wall, 7.0).stages] == [7.0, 7.0]


def test_labels_resist_before_each_film_and_what_the_medium_has_is_kept():
    low, high = (5.0, 10.0, 15.0), (20.0, 40.0, 60.0)
    film = Film(10.0, 20.0, 30.0, 7.0, low, high).behind((0.1, 0.0, 0.02))
    assert_allclose([film.side, film.base, film.lid], [1 / (1 / 10 + 0.1), 20.0, 1 / (1 / 30 + 0.02)])
    assert_allclose(film.low, [1 / (1 / 5 + 0.1), 10.0, 1 / (1 / 15 + 0.02)])
    assert_allclose(film.high, [1 / (1 / 20 + 0.1), 40.0, 1 / (1 / 60 + 0.02)])
    assert (film.bare, film.probe) == ((10.0, 20.0, 30.0), 7.0)


def test_the_hold_that_is_adjusted_is_the_last_before_cooling():
    several = process("come-up", "hold", "hold", "cool", "cool")
    assert several.hold == 2
    longer = several.with_hold(90.0)
    assert_allclose([stage.start for stage in longer.stages], [0.0, 60.0, 120.0, 210.0, 270.0])
    assert several.heated_until == 180.0 and longer.heated_until == 210.0
    assert process("come-up", "cool").hold is None


def test_at_a_jump_the_medium_is_what_it_is_after_it():
    jumps = process("hold", "cool")
    assert_allclose(jumps.medium_at(np.array([0.0, 59.9, 60.0, 119.0, 120.0])), [100.0, 100.0, 110.0, 110.0, 110.0])
    ramp = Process((Stage("hold", [0.0, 60.0, 180.0], [20.0, 80.0, 140.0], Film.everywhere(1.0)),))
    assert_allclose(ramp.medium_at(np.array([30.0, 60.0, 120.0])), [50.0, 80.0, 110.0])
