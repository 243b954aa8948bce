"""Shapes of containers go through the codec without loss, bit by bit, and what does not fit is refused.

Rung: hand-worked.
"""

import dataclasses
import json

import numpy as np
import pytest
from small_cans import LOGGER, SHOULDERED, TAPERED, TIN, small_can

from thermsim.case.case import Case
from thermsim.case.container import Container, Wall
from thermsim.case.profile import Profile, Rise
from thermsim.records.files.codec import decode, encode
from thermsim.solve.grid.body import body_of
from thermsim.solve.grid.coordinates import Coordinates
from thermsim.solve.grid.grid import Grid, grid_family

#: Sizes that have no short decimal form.
AWKWARD = Profile(((0.0, 0.1 / 3), (0.1, float(np.nextafter(0.04, 1.0))), (0.1 + 0.2, 0.1 / 3)), rounding=1e-3 / 7)


def there_and_back(kind, value):
    """What comes back by way of JSON's own text, and the tree."""
    kept = {}

    def put(trail, stored):
        if isinstance(stored, str):
            return None
        kept[".".join(trail)] = stored
        return ".".join(trail)

    tree = json.loads(json.dumps(encode(value, put), allow_nan=False))
    return decode(kind, tree, kept.__getitem__), tree, kept


@pytest.mark.parametrize(
    "container",
    [
        SHOULDERED,
        TAPERED,
        Container(AWKWARD),
        Container(
            AWKWARD, Wall(TIN, 0.002, (0.1 / 70, 0.0018, 0.002)), rise=Rise(0.1 / 30, 0.05, "cone"), initial=20.0
        ),
    ],
)
def test_container_comes_back_equal(container):
    back, _, _ = there_and_back(Container, container)
    assert back == container
    assert repr(back) == repr(container)


def test_shape_of_a_case_comes_back_and_a_change_of_one_bit_is_not_lost():
    case = small_can(container=SHOULDERED, fill_height=0.062)
    corners = (*SHOULDERED.profile.corners[:-1], (0.070, float(np.nextafter(0.020, 1.0))))
    other = dataclasses.replace(SHOULDERED, profile=Profile(corners, rounding=0.004))
    assert there_and_back(Case, case)[0].container == SHOULDERED
    assert there_and_back(Case, case.replace(container=other))[0].container == other
    assert other != SHOULDERED


@pytest.mark.parametrize("container", [SHOULDERED, TAPERED, small_can().container])
def test_grid_comes_back_with_its_coordinates(container):
    case = small_can(container=container, fill_height=container.inner_height, probe=LOGGER)
    grid = grid_family(body_of(case))[0]
    back, _, _ = there_and_back(Grid, grid)
    assert back.coordinates == grid.coordinates
    for name in ("columns", "levels", "r", "z"):
        assert getattr(back, name).tobytes() == getattr(grid, name).tobytes()
    # the map itself, not only its numbers
    assert back.place(0.01, 0.02) == grid.place(0.01, 0.02)
    assert back.reference(0.01, 0.02) == grid.reference(0.01, 0.02)


def test_grid_without_coordinates_comes_back_without():
    grid = dataclasses.replace(grid_family(body_of(small_can()))[0], coordinates=None)
    assert there_and_back(Grid, grid)[0].coordinates is None


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        (
            lambda tree: tree["rise"].update(form="ring"),
            "part container.rise.form must be one of dome, cone, not 'ring'",
        ),
        (lambda tree: tree["profile"].pop("corners"), "part container.profile.corners is missing"),
        (lambda tree: tree["profile"]["corners"][1].pop(), r"part container.profile.corners.1 must be"),
        (lambda tree: tree["profile"]["corners"][1].append(1.0), r"part container.profile.corners.1 must be"),
        (
            lambda tree: tree["profile"]["corners"].__setitem__(0, [0, "r"]),
            r"container.profile.corners.0.1 must be float",
        ),
        (lambda tree: tree["side"].update(course=3), r"part container.side.course must be"),
        (lambda tree: tree.update(colour=1), r"part container.colour is not known"),
    ],
)
def test_shape_that_does_not_fit_is_refused_by_the_name_of_the_part(change, reason):
    _, tree, kept = there_and_back(Coordinates, Coordinates(SHOULDERED, 0.005, 0.04))
    change(tree["container"])
    with pytest.raises(ValueError, match=reason):
        decode(Coordinates, tree, kept.__getitem__)
