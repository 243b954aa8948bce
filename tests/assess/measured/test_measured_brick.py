"""Measured runs of a brick: what is sensed in it, what a stem changes there, and the cold spot that counts.

Rung: exact solutions (the product of three slabs: Carslaw and Jaeger, Conduction of Heat in Solids, 1959, section
1.15, from memory), and our own model by another way.
"""

import dataclasses
import math

import numpy as np
import pytest
from job_cases import HOT, START, bare
from numpy.testing import assert_allclose
from probed import STEEL

from thermsim.assess.curves.fit import Fit
from thermsim.assess.curves.general_method import general_method
from thermsim.assess.measured.comparison import _at_a_height
from thermsim.assess.measured.correction import corrected, log_least
from thermsim.assess.measured.fitting import fitted_to
from thermsim.assess.measured.model import ProbeModel
from thermsim.assess.measured.process_design import _hold
from thermsim.assess.measured.stem import StemChanges, sensed
from thermsim.assess.simulate.simulation import simulate
from thermsim.assess.spots.brick import brick_hold, brick_spots
from thermsim.case.case import Accuracy
from thermsim.case.container import Wall
from thermsim.case.probe import Probe, Segment
from thermsim.errors import InputError
from thermsim.exact import Slab
from thermsim.physics.materials import Material

SIDES, FILM, DEPTH = (80, 60, 40), 300.0, 0.015
CASE = bare(SIDES, (FILM, FILM)).replace(accuracy=Accuracy(0.5, 0.1, 5e-3))
FOOD = CASE.product.material


def with_stem(material, entry="lid", *, insertion=DEPTH, case=CASE, **parts):
    stem = (Segment(3e-3, 0.06, material),)
    return case.replace(probe=Probe(entry, "through", stem, insertion=insertion, sensing=2e-3, **parts))


@pytest.fixture(scope="module")
def spots():
    return brick_spots(CASE)[0]


@pytest.mark.parametrize(("finer", "within"), [(False, 0.1), (True, 5e-3)])
def test_what_is_sensed_through_the_lid_is_the_product_of_three_slabs(finer, within):
    ((course, other),) = sensed(with_stem(FOOD), [CASE.process], finer=finer)
    assert other is course  # nothing to extrapolate
    heating = (course.time > 120.0) & (course.time <= CASE.process.heated_until)
    time = course.time[heating]
    food = {"conductivity": FOOD.conductivity, "density": FOOD.density, "specific_heat": FOOD.specific_heat}
    slabs = [Slab(side / 1e3, **food, film_base=FILM, film_lid=FILM) for side in SIDES]
    # the mean over 2 mm from the tip on, 15 mm below the lid
    points, weights = np.polynomial.legendre.leggauss(3)
    upright = slabs[2].unaccomplished(0.040 - DEPTH + 1e-3 + 1e-3 * points, time) @ (weights / 2.0)
    # across, a disc of 3 mm: over it the mean square of the distance from its middle is (0.75 mm)^2 either way
    length, width = (
        slab.unaccomplished([side / 2e3 + 0.75e-3], time)[:, 0]
        for slab, side in zip(slabs[:2], SIDES[:2], strict=True)
    )
    expected = HOT + (START - HOT) * length * width * upright
    assert_allclose(course.temperature[heating], expected, rtol=0, atol=within)


def test_a_stem_through_the_lid_changes_as_much_as_it_conducts_otherwise_than_the_product():
    """One of the product's own material changes nothing; one of steel leads heat in while heating, out in cooling."""
    none, steel = (StemChanges(with_stem(material)).at(DEPTH, finer=False) for material in (FOOD, STEEL))
    assert np.abs(none.temperature[none.time > 120.0]).max() < 0.05
    ends = CASE.process.heated_until
    heating, cooling = (steel.temperature[(steel.time > low) & (steel.time < high)] for low, high in
                        ((120.0, ends), (ends + 120.0, CASE.process.end)))  # fmt: skip
    assert heating.min() > 0.0 and heating.max() > 1.0
    assert cooling.mean() < 0.0


@pytest.mark.long
def test_through_an_edge_the_model_reads_what_the_simulation_does():
    case = with_stem(STEEL, "side", insertion=0.035, edge="short", z=0.020)
    result = simulate(case)
    read = result.probe.reading
    time = np.arange(60.0, case.process.end, 60.0)
    model = ProbeModel(case, case.process, ("diffusivity", "initial"), time)
    found = model.on_grids([FOOD.diffusivity, START], finer=True)
    assert_allclose(found.temperature, np.interp(time, result.time, read.temperature), rtol=0, atol=0.05)
    assert_allclose(found.log_lethality, math.log(read.lethality), rtol=0, atol=5e-3)


def test_the_corrected_record_is_of_the_bricks_own_cold_spot(spots):
    model = ProbeModel(with_stem(FOOD), CASE.process, ("initial",), np.arange(0.0, CASE.process.end + 1.0, 60.0))
    curve = model.on_grids([START], finer=False).temperature
    read = general_method(model.time, curve, CASE.lethality, heated_until=CASE.process.heated_until)
    fit = fitted_to(model, curve)
    assert isinstance(fit, Fit)
    found, _ = corrected(model, fit, read, float(model.time[-1]))
    least = spots.least_lethality
    assert_allclose(found.lethality, least.lethality, rtol=2e-3)
    assert_allclose([found.r, found.z], [math.hypot(least.x, least.y), least.z], rtol=0, atol=1e-3)
    assert_allclose(found.temperature.max(), max(found.temperature.max(), least.end_of_heating), rtol=0, atol=0.5)
    assert_allclose(log_least(CASE), math.log(least.lethality), rtol=0, atol=5e-3)


def test_the_hold_that_is_designed_is_the_bricks_own(spots):
    target = 1.2 * spots.least_lethality.lethality
    assert _hold(CASE, target).hold == pytest.approx(brick_hold(CASE, target, unsure=1e-4).hold, rel=1e-6)


def test_only_an_edge_of_a_brick_that_is_not_solved_itself_is_refused():
    placed = with_stem(STEEL, "side", insertion=0.035, edge="short", z=0.020)
    assert _at_a_height(placed, placed.probe) is placed
    glass = Wall(Material("glass", 1.0, 2500.0, 800.0), 5e-3)
    thick = placed.replace(container=dataclasses.replace(CASE.container, side=glass, base=glass))
    with pytest.raises(InputError, match="through the edge of a brick is not handled here, as its walls store"):
        _at_a_height(thick, placed.probe)
