"""Measured runs with a probe from the side: readings, the stem's change in them, and what a comparison finds.

Rungs: hand-worked sums, and the path that :func:`thermsim.simulate` takes for the same reading.
"""

import dataclasses

import numpy as np
import pytest
from measured_runs import CAN, TIME
from numpy.testing import assert_allclose
from probed import probed_can

from thermsim.assess.fields.reading import Course
from thermsim.assess.measured.comparison import _at_a_height, compare
from thermsim.assess.measured.doubts.explanation import Depth
from thermsim.assess.measured.doubts.judgement import _places, depth_text
from thermsim.assess.measured.lattice import Lattice
from thermsim.assess.measured.model import Probed, ProbeModel
from thermsim.assess.measured.result import Plan
from thermsim.assess.measured.stem import StemChanges, _in_grid, _weights, held_longer
from thermsim.assess.simulate.simulation import simulate
from thermsim.case.case import Accuracy
from thermsim.case.probe import Probe
from thermsim.loggers.run import Columns, run_from_bytes
from thermsim.records.measured.rows import _tip_found
from thermsim.solve.grid.body import body_of
from thermsim.solve.grid.grid import grid_family

DEPTH, HEIGHT, START = 0.0262, 0.038, 30.0
STEM = Probe("side", "through", CAN.probe.segments, insertion=DEPTH, sensing=4e-3, z=HEIGHT)
CASE = CAN.replace(probe=STEM, accuracy=Accuracy(0.2, 0.02, 2e-3))


class Told(StemChanges):
    """Changes that are given: by so many kelvin, growing over the process."""

    def __init__(self, kelvin):
        super().__init__(CASE)
        self.kelvin, self.asked = kelvin, []

    def at(self, depth, *, finer):
        self.asked.append((depth, finer))
        end = self.case.process.end
        return Course(np.array([0.0, end]), np.array([0.0, self.kelvin]), np.full(2, self.kelvin / end))


def test_where_a_stem_from_the_side_senses_a_field_is_averaged_over_its_volume():
    grid = grid_family(body_of(CASE.replace(probe=None)))[1]
    weights = _weights(CASE, grid, stem=False)
    # the tip is 4 mm from the axis (26.2 mm below the outer face, of 30.2), and it senses 4 mm towards the entry
    low, high, radius = 4e-3, 8e-3, STEM.tip_radius
    assert_allclose(weights.sum(), 1.0, rtol=1e-9)
    # the mean of x^2 along it, and R^2/4 across it; upwards it is the mean of a disc about its height
    assert_allclose((weights * grid.r**2).sum(), (low**2 + low * high + high**2) / 3 + radius**2 / 4, rtol=2e-3)
    assert_allclose((weights * grid.z).sum(), HEIGHT, rtol=1e-9)
    lid = probed_can()
    assert _in_grid(lid, lid.probe) and not _in_grid(CASE, STEM)


def test_what_a_stem_changes_is_added_to_what_the_container_does_without_it():
    names = ("diffusivity", "initial", "offset")
    time, values = np.arange(0.0, 4500.0, 500.0), [CASE.product.material.diffusivity * 1.05, START + 1.0, 0.0]
    told, none = (Told(kelvin) for kelvin in (0.9, 0.0))
    with_stem, without = (ProbeModel(CASE, CASE.process, names, time, None, changes) for changes in (told, none))
    expected = 0.9 * time / CASE.process.end
    for finer in (True, False):
        apart = (one.on_grids(values, finer=finer).temperature for one in (with_stem, without))
        assert_allclose(np.subtract(*apart), expected, rtol=0, atol=1e-6)
    assert_allclose(with_stem.curve(values) - without.curve(values), expected, rtol=0, atol=1e-6)
    assert set(told.asked) == {(DEPTH, True), (DEPTH, False)}
    # the clocks' offset moves both alike
    late = with_stem.curve([*values[:2], 250.0]) - without.curve([*values[:2], 250.0])
    assert_allclose(late[1:], 0.9 * (time[1:] - 250.0) / CASE.process.end, rtol=0, atol=1e-6)


def test_readings_between_places_of_the_lattice_have_it_too(monkeypatch):
    found = []
    for kelvin in (0.9, 0.0):
        lattice = Lattice(CASE, CASE.process)
        lattice.changes = Told(kelvin)
        # along a radius a field bends more than along the axis
        assert np.diff(lattice.rungs).max() < 4.001e-3
        found.append(lattice(0.03, START, DEPTH, 0.0, np.array([4500.0])))
        assert all(not finer for _, finer in lattice.changes.asked)
    assert_allclose(found[0] - found[1], 0.9, rtol=0, atol=1e-3)


@pytest.mark.parametrize("later", [30.0, 0.0, -30.0])
def test_where_a_hold_is_longer_what_a_stem_changes_in_cooling_comes_later(later):
    time = np.array([0.0, 50.0, 100.0, 150.0, 200.0])
    course = Course(time, np.array([0.0, 3.0, 4.0, -1.0, 0.0]), np.array([0.1, 0.05, 0.0, -0.02, 0.0]))
    moved = held_longer(course, 100.0, later)
    assert (np.diff(moved.time) > 0.0).all()
    moved = Probed(moved.time, moved.temperature, moved.rate)
    assert_allclose(moved.at(np.array([100.0, 150.0, 200.0]) + later), [4.0, -1.0, 0.0], atol=1e-12)
    assert_allclose(moved.at(np.array([0.0, 50.0])), [0.0, 3.0], atol=1e-12)


@pytest.mark.long
@pytest.mark.parametrize("longer", [300.0, -300.0])
def test_a_hold_that_is_not_the_process_s_is_found_to_seconds(longer):
    there = CASE.process.with_hold(CASE.process.held + longer)
    time = np.arange(0.0, there.end + 1.0, 30.0)
    model = ProbeModel(CASE.replace(process=there), there, ("diffusivity", "initial"), time)
    curve = model.on_grids([1.05 * CASE.product.material.diffusivity, START - 0.6], finer=True).temperature
    curve += np.random.default_rng(3).normal(0.0, 0.08, time.size)
    text = "Time [s];Can\n" + "".join(f"{a:.0f};{b:.2f}\n" for a, b in zip(time, curve, strict=True))
    columns = Columns(probes=("Can",))
    (one,) = compare(CASE, run_from_bytes(text.encode(), columns), Plan(columns, design=False)).containers
    assert [flag.code for flag in one.flags] == ["heating-ended-otherwise"] and one.held.likelier
    # by the turn of its own clock it would be half a minute
    assert_allclose(one.held.later, longer, atol=3.0)


@pytest.mark.long
def test_the_reading_is_that_of_a_simulation():
    result = simulate(CASE)
    found = result.probe.reading
    model = ProbeModel(CASE, CASE.process, ("diffusivity", "initial"), TIME)
    reading = model.on_grids([CASE.product.material.diffusivity, START], finer=True)
    _, ours, theirs = np.intersect1d(TIME, found.time, return_indices=True)
    assert ours.size > 50
    assert_allclose(reading.temperature[ours], found.temperature[theirs], rtol=0, atol=0.05)
    # twice what the simulation says that it is off by itself
    for name, value in (
        ("lethality", np.exp(reading.log_lethality)),
        ("heating_lethality", np.exp(reading.log_heating)),
        ("end_of_heating", reading.end_of_heating),
    ):
        assert abs(value - getattr(found, name)) < 2.0 * result.uncertainty[f"probe.reading.{name}"]


@pytest.mark.whole
def test_a_run_gives_back_what_it_was_made_of_and_a_tip_elsewhere_is_found():
    names, material = ("diffusivity", "initial"), CASE.product.material
    columns = Columns(probes=("Can 1",), medium="Retort")
    noise = np.random.default_rng(3).normal(0.0, 0.08, TIME.size)
    found = []
    for depth in (DEPTH, DEPTH - 0.008):
        there = CASE.replace(probe=STEM.at_depth(depth, CASE.container))
        model = ProbeModel(there, CASE.process, names, TIME)
        curve = model.on_grids([1.05 * material.diffusivity, START - 0.6], finer=True).temperature + noise
        rows = zip(TIME, CASE.process.medium_at(TIME), curve, strict=True)
        text = "Time [s];Retort;Can 1\n" + "".join(f"{a:.0f};{b:.2f};{c:.2f}\n" for a, b, c in rows)
        found.append(compare(CASE, run_from_bytes(text.encode(), columns), Plan(columns, design=False)).containers[0])
    sound, moved = found
    assert_allclose(sound.fit.value("diffusivity"), 1.05 * material.diffusivity, rtol=0.01)
    assert_allclose(sound.fit.value("initial"), START - 0.6, rtol=0, atol=0.3)
    true = ProbeModel(CASE, CASE.process, names, TIME).case_with([1.05 * material.diffusivity, START - 0.6])[0]
    least = simulate(true.replace(probe=None)).cold_spot.least_lethality.lethality
    assert sound.corrected.low < least < sound.corrected.high
    places = (moved.depth.best, *moved.depth.others)
    assert min(abs(place - (DEPTH - 0.008)) for place in places) < 1.5e-3


def test_a_height_that_is_left_open_is_the_cold_spots():
    rough = CASE.replace(accuracy=Accuracy(2.0, 0.5, 2e-2))
    placed = _at_a_height(rough, dataclasses.replace(STEM, z=None)).probe
    spot = simulate(rough.replace(probe=None)).cold_spot.least_lethality
    assert_allclose(placed.z, spot.z, rtol=0, atol=1e-3)
    assert _at_a_height(CASE, STEM) is CASE


def test_places_on_either_side_of_the_axis_are_both_named():
    depth = Depth(0.0488, 0.0474, 0.0502, 190.0, (0.0271,))
    assert _places(depth) == "48.8 or 27.1" and _tip_found(depth) == "47.4 to 50.2 or 27.1"
    assert depth_text(depth) == "48.8 (47.4 to 50.2) mm or about 27 mm"
    alone = dataclasses.replace(depth, others=())
    assert _places(alone) == "48.8" and _tip_found(alone) == "47.4 to 50.2"


def test_along_a_radius_a_tip_says_nothing_of_the_filling():
    assert Lattice(CASE, CASE.process).fillings == () != Lattice(CAN, CAN.process).fillings
