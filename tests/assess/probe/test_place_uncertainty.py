"""Rung: hand-worked. Uncertainty of how far a probe moves the cold spot, in which errors of both places cancel."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from small_cans import small_can

from thermsim.assess.fields.error_estimate import USUAL
from thermsim.assess.probe import place_uncertainty as places
from thermsim.assess.probe.place_uncertainty import ALIKE, Changes, move_uncertainty
from thermsim.assess.spots import place_uncertainty
from thermsim.solve.grid.body import body_of
from thermsim.solve.grid.grid import grid_family

STILL = Changes((0.0, 0.0), (0.0, 0.0), (0.0, 0.0))


def stated(by, own, bare, slow=1.0, beyond=(0.0, 0.0)):
    return move_uncertainty(by, own, bare, slow=slow, beyond=beyond)


def test_a_move_is_as_uncertain_as_one_place_changes_more_than_the_other():
    along = (0.0, 0.004)
    own = Changes((0.0, 5e-5), (0.0, 3e-5), (0.0, 1e-5))
    # a quarter by coarser grids, a third by looser steps, and all that nodes left out change
    assert_allclose(stated(along, own, STILL), math.hypot(5e-5 / 4, 3e-5 / 3, 1e-5), rtol=1e-9)
    assert_allclose(stated(along, own, STILL, slow=2.0), math.hypot(5e-5 / 2, 3e-5 / 3, 1e-5), rtol=1e-9)
    # both alike: a part of both together all the same, as that may be chance
    assert_allclose(stated(along, own, own), ALIKE * math.sqrt(2.0) * stated(along, own, STILL), rtol=1e-9)
    against = Changes((0.0, -5e-5), (0.0, -3e-5), (0.0, -1e-5))
    assert_allclose(stated(along, own, against), 2.0 * stated(along, own, STILL), rtol=1e-9)


def test_across_the_move_little_counts_and_what_hardly_moved_may_have_gone_any_way():
    across = Changes((4e-4, 0.0), (0.0, 0.0), (0.0, 0.0))
    # 0.1 mm across 4 mm: a fortieth of it
    assert_allclose(stated((0.0, 0.004), across, STILL), 1e-4 / 40, rtol=1e-9)
    assert_allclose(stated((0.0, 0.0), across, STILL), 1e-4, rtol=1e-9)
    assert_allclose(stated((0.0, 0.004), STILL, STILL, beyond=(0.0, 2e-3)), 2e-3, rtol=1e-9)


def test_a_place_is_uncertain_by_what_nodes_left_out_change_either_way_and_a_little_besides(monkeypatch):
    monkeypatch.setattr(place_uncertainty, "nodes_left_out", lambda *_: (3e-5, -4e-5))
    monkeypatch.setattr(place_uncertainty, "closely", lambda *_: (1e-6, 2e-6))
    assert_allclose(place_uncertainty.between_nodes(None, None, None), (3.1e-5, 4.2e-5), rtol=1e-12)


def test_a_place_on_the_axis_or_a_surface_lies_there_exactly():
    """A thousandth of the middle grid's spacing at most, inside alone; of r not on the axis."""
    grids = grid_family(body_of(small_can()))
    refined = SimpleNamespace(family=SimpleNamespace(grids=grids), grid=grids[2])
    columns, levels = grids[1].columns, grids[1].levels
    row, level = columns.size // 3, levels.size // 2
    steps = [(lines[k + 1] - lines[k - 1]) / 2e3 for lines, k in ((columns, row), (levels, level))]
    r, z = float(columns[row]), float(levels[level])
    assert_allclose(place_uncertainty.closely(refined, SimpleNamespace(r=r, z=z, inside=True)), steps, rtol=0.1)
    assert place_uncertainty.closely(refined, SimpleNamespace(r=0.0, z=z, inside=True))[0] == 0.0
    assert place_uncertainty.closely(refined, SimpleNamespace(r=r, z=z, inside=False)) == (0.0, 0.0)


def test_changes_are_those_of_each_computation_from_the_best(monkeypatch):
    monkeypatch.setattr("thermsim.assess.probe.place_uncertainty.nodes_left_out", lambda *_: (3.0, 4.0))
    spots = [SimpleNamespace(r=r, z=z) for r, z in ((1.0, 2.0), (1.5, 2.5), (0.0, 1.0))]
    found = Changes.of(SimpleNamespace(best=SimpleNamespace(log_lethality=None)), spots)
    assert_allclose(np.array([found.coarser, found.looser, found.fewer]), [[0.5, 0.5], [-1.0, -1.0], [3.0, 4.0]])


def test_what_happens_at_the_own_cold_spot_is_as_uncertain_as_its_place(monkeypatch):
    """A field that rises by 2 K/mm along r and by 1 K/mm along z, known to 0.1 mm and 0.3 mm, up to a surface."""

    def spot_at(r, z):
        return SimpleNamespace(r=r, z=z, end_of_heating=2e3 * r + 1e3 * z, heating_lethality=10.0 * r)

    monkeypatch.setattr(places.ProductFields, "of", lambda *_: SimpleNamespace(spot_at=spot_at))
    refined = SimpleNamespace(grid=SimpleNamespace(holds_product=lambda r, z: z <= 0.05), best=None)
    spot = spot_at(0.01, 0.05)
    found = places._within(refined, spot, 1e-4, 3e-4)
    assert_allclose([found["end_of_heating"], found["heating_lethality"]], [0.3, 1e-3], rtol=1e-9)
    assert places._within(refined, spot, 0.0, 0.0) == {"end_of_heating": 0.0, "heating_lethality": 0.0}


@pytest.mark.parametrize(
    ("corner", "entry", "end", "known"),
    [
        (USUAL, "lid", USUAL, 5e-5),
        (2.5, "base", USUAL, places.FROM_A_CORNER * 1e-5),
        (2.5, "lid", USUAL, 1e-3),
        # at an end of the stem 1/(1.6 - 1) stands for 1/(2.56 - 1), each less the fifteenth that is taken away
        (USUAL, "lid", 1.6, 5e-5 * (1.0 / 0.6 - 1.0 / 15.0) / (1.0 / 1.56 - 1.0 / 15.0)),
    ],
)
def test_beside_a_corner_a_place_is_known_less_closely(monkeypatch, corner, entry, end, known):
    """Coarser grids change 0.03 mm, nodes left out 0.04 mm, together 0.05 mm; 0.01 mm is the least as a rule.

    Where the stem itself goes on in the corner, the least lethality cannot be told from that 1 mm away.
    """
    spot = SimpleNamespace(r=0.01, z=0.05, inside=True, lethality=100.0)
    fields = SimpleNamespace(best=SimpleNamespace(log_lethality=None), coarser=None, looser=None, grid=None)
    monkeypatch.setattr(places.ProductFields, "of", lambda *_: None)
    monkeypatch.setattr(places, "least_lethality", lambda _: [spot])
    for name in ("on_another", "nodes_left_out", "_off"):
        monkeypatch.setattr(places, name, lambda *_: (0.0, 0.0))
    monkeypatch.setattr(places, "between_nodes", lambda *_: (0.0, 4e-5))
    monkeypatch.setattr(places, "reach_alike", lambda _, field, there, off: (0.0, 1e-3 if off == 0.02 else np.nan))
    monkeypatch.setattr(places, "closely", lambda *_: (1e-5, 1e-5))
    monkeypatch.setattr(places, "_within", lambda *_: {})
    effects = [SimpleNamespace(least_lethality=spot, probe=SimpleNamespace(entry=entry))] * 3
    unsure = {"least_lethality.r": 0.0, "least_lethality.z": 3e-5, "least_lethality.lethality": 2.0}
    found = places.place_uncertainties(
        effects, fields, fields, unsure, slow=1.0, valley=(0.0, 0.0), corner=corner, end=end
    )
    assert_allclose(found["least_lethality.z"], known, rtol=1e-12)
