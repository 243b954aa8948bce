"""The march of a stem's disturbance, checked against what is computed otherwise.

Rungs: another code (a stem on the axis is solved by the two-dimensional path too), observed order (two grids about
the stem), conservation (heat of an insulated can), and closed form (volumes, areas, the mirror symmetry of a stem
across the whole diameter).
"""

import dataclasses
import functools
import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from probed import STEEL, changes_on_axis, probed_can

from thermsim.assess.fields.error_estimate import cubics_of
from thermsim.assess.fields.reading import Course, Reading, summed
from thermsim.assess.fields.refinement import refine
from thermsim.assess.side.background import RoundBackground
from thermsim.assess.side.field import LEVELS, about_axis, about_side, disturbances
from thermsim.assess.side.reading import SideSensor, best_changes, changes_of_reading
from thermsim.assess.simulate.simulation import simulate
from thermsim.assess.spots.cold_spot import ProductFields
from thermsim.case.probe import Probe, Segment
from thermsim.case.process import Film, Process, Stage
from thermsim.solve.stem import stem_grid
from thermsim.solve.stem.stem_grid import stem_grids
from thermsim.solve.stem.stem_operator import stem_operator

TOLERANCE = 0.002


def from_side(*, insertion=0.0302, diameter=3e-3, length=0.05, z=0.040, **parts):
    return Probe(
        "side", "through", (Segment(diameter, length, STEEL),), insertion=insertion, sensing=2e-3, z=z, **parts
    )


def background_of(case):
    bare = case.replace(probe=None)
    refined = refine(bare, time=np.array([0.0]), tolerance=TOLERANCE)
    return RoundBackground.of(bare, refined)


@pytest.mark.long
@pytest.mark.parametrize(
    ("diameter", "insertion"),
    [
        (3e-3, 0.045),
        pytest.param(1.5e-3, 0.030, marks=pytest.mark.whole),
        pytest.param(6e-3, 0.040, marks=pytest.mark.whole),
    ],
)
def test_a_stem_on_the_axis_has_the_bias_of_the_two_dimensional_path_within_a_tenth(diameter, insertion):
    case = probed_can(diameter=diameter, insertion=insertion)
    (heating, _) = case.process.stages
    case = case.replace(process=Process((heating,)))
    effect = simulate(case).probe
    behind = background_of(case)
    about = about_axis(case, case.probe, insertion)
    stacks = changes_on_axis(case, behind, about, tolerance=TOLERANCE)
    best, _ = best_changes(stacks)
    bias = effect.at_place
    assert_allclose(
        [best[1], math.expm1(best[3])], [bias.end_of_heating, bias.heating_lethality], rtol=0.10, atol=0
    )  # the stem's own grid is coarser than the container's; a tenth of the bias is what a drilling asks for


@pytest.mark.long
def test_the_change_of_a_reading_converges_with_the_grid(monkeypatch):
    case = probed_can()
    behind = background_of(case)
    usual = changes_of_reading(behind, from_side(), time=np.array([2100.0]), tolerance=TOLERANCE)
    monkeypatch.setattr(stem_grid, "DIVIDED", (2, 3, 4))
    monkeypatch.setattr(stem_grid, "_COMMON", 12)
    finer = changes_of_reading(behind, from_side(), time=np.array([2100.0]), tolerance=TOLERANCE)
    true, (_, middle, fine) = finer[-1][1], (change[1] for change in usual)
    # second order: spacings are as 3 to 2, and what is extrapolated leaves a tenth of the error or less
    assert 1.8 < (middle - true) / (fine - true) < 2.8
    best, earlier = best_changes(usual)
    assert abs(best[1] - true) < 0.1 * abs(middle - true)
    assert abs(best[1] - true) < max(abs(best[1] - earlier[1]), abs(best[1] - fine)) / 2.0
    assert 0.0 < abs(fine - middle) < 0.03 * abs(fine)


@pytest.mark.long
def test_heat_of_an_insulated_can_with_a_hot_stem_is_kept():
    case = probed_can()
    still = Film.everywhere(0.0)
    stages = (Stage("hold", np.array([0.0, 900.0]), np.array([121.0, 121.0]), still),)
    case = case.replace(process=Process(stages), probe=from_side(initial=90.0))
    behind = background_of(case)
    about = about_side(case, case.probe, case.probe.insertion)
    undisturbed = functools.partial(behind.course_at, about)
    for operator, found in disturbances(case, about, undisturbed, film=None, tolerance=TOLERANCE):
        # the lid and the base take part by what they store: their share is in the matrices, not in these capacities
        stored = found.difference @ operator.capacity
        beside = sum(one.capacity * (found.difference @ operator.edges[name]) for name, one in about.behind.items())
        heat = stored + beside
        assert stored[0] > 0.0
        assert_allclose(heat, heat[0], rtol=2e-6, atol=0)  # tolerance of the steps, not of the scheme


def test_grids_about_a_stem_hold_the_containers_volume_and_face_its_surface():
    case = probed_can()
    about = about_side(case, from_side(), 0.0302)
    inner, wall, height = 0.030, 2e-4, 0.080
    off = []
    grids = stem_grids(about.layers, about.parts, about.surrounds, about.lines)
    for grid, rtol in zip(grids, (5e-2, 2e-2, 5e-3), strict=True):
        operator = stem_operator(grid, about.ends)
        product = case.product.material
        stored = math.pi * inner**2 * height * product.capacity + math.pi * ((inner + wall) ** 2 - inner**2) * (
            height * case.container.side.material.capacity
        )
        # half of it, the plane of mirror symmetry in between; straight sectors cut the circle's corners off
        assert_allclose(operator.capacity_without.sum(), stored / 2, rtol=rtol, atol=0)
        # lid and base end the product in half a disc each; an arc is cut off at the stem's sectors
        for end in ("above", "below"):
            assert_allclose(operator.edges[end].sum(), math.pi * inner**2 / 2, rtol=rtol, atol=0)
        off.append(abs(operator.faces_without["side"].sum() / (math.pi * (inner + wall) * height) - 1.0))
        assert_allclose(np.abs(operator.stiffness @ np.ones(operator.count)).max(), 0.0, atol=1e-12)
    # beside the stem, a quarter turn away, sectors end in a cusp, whose surface two points each way see less well
    assert off[1] < 0.06
    assert off[2] < 0.75 * off[1]  # spacings are as 3 to 2, and errors at a cusp fall about as these


def test_sensing_places_of_the_side_average_polynomials_exactly():
    places, weights = SideSensor(2e-3, 0.010, 0.014).places()
    along, aside, above = places.T
    # over the cylinder: mean of x^2 is 0.012^2 + 0.004^2/12, of aside^2 (and of above^2) R^2/4
    assert_allclose(weights.sum(), 1.0, rtol=1e-12, atol=0)
    assert_allclose(weights @ along**2, 0.012**2 + 0.004**2 / 12, rtol=1e-12, atol=0)
    for across in (aside, above):
        assert_allclose(weights @ across**2, 2e-3**2 / 4, rtol=1e-12, atol=0)


def test_a_sum_of_courses_keeps_the_breaks_of_both():
    one = Course(np.array([0.0, 1.0, 1.0, 2.0]), np.array([0.0, 1.0, 1.0, 1.0]), np.array([1.0, 1.0, 0.0, 0.0]))
    other = Course(np.array([0.0, 2.0]), np.array([0.0, 4.0]), np.array([2.0, 2.0]))
    total = summed(one, other)
    assert_allclose(total.time, [0.0, 1.0, 1.0, 2.0], rtol=0, atol=0)
    assert_allclose(total.temperature, [0.0, 3.0, 3.0, 5.0], rtol=1e-12, atol=0)
    assert_allclose(total.rate, [3.0, 3.0, 2.0, 2.0], rtol=1e-12, atol=0)


def test_a_stem_of_product_changes_nothing():
    case = probed_can()
    wall, same = case.container.side, case.product.material
    stem = dataclasses.replace(from_side(), segments=(Segment(3e-3, 0.0300, same),), mount="inside", insertion=None)
    assert wall is not None
    time = np.array([2000.0, 2100.0, 2101.0, 2200.0])
    changes = np.array(changes_of_reading(background_of(case), stem, time=time, tolerance=TOLERANCE))
    assert_allclose(changes, 0.0, rtol=0, atol=1e-6)


def test_beside_a_steel_stem_heating_gives_more_and_the_whole_process_less_than_without_it():
    """Heat comes in along the stem and leaves by it: more is gathered while heating, less of the rest in cooling."""
    case = probed_can()
    least = simulate(case.replace(probe=from_side())).probe.least_lethality
    refined = refine(case.replace(probe=None), time=np.array([2100.0]), tolerance=TOLERANCE)
    own = ProductFields.of(refined.grid, refined.best).spot_at(least.r, least.z)
    assert least.heating_lethality > 1.5 * own.heating_lethality
    assert least.lethality < 0.95 * own.lethality
    assert least.end_of_heating > own.end_of_heating + 1.0


def test_looser_steps_about_a_stem_leave_its_lethality_within_what_is_stated_of_them():
    """A march two hundred times as close says what the steps leave: less than a tenth of their tolerance."""
    case, stem, loose = probed_can(), from_side(), 0.02
    behind, time = background_of(case), np.linspace(0.0, 3300.0, 12)
    found = [
        changes_of_reading(behind, stem, time=time, tolerance=one, levels=LEVELS[:1])
        for one in (loose, loose / 200.0)
    ]
    kelvin = np.abs(found[0][0] - found[1][0])[-2:] * case.lethality.z / math.log(10.0)  # logarithms of lethality
    assert 0.0 < kelvin.max() < cubics_of(stem) * loose < loose / 5.0


def test_without_the_stem_the_sensing_volume_reads_the_containers_own_field():
    case = probed_can()
    refined = refine(case.replace(probe=None), time=np.array([2100.0]), tolerance=TOLERANCE)
    behind = RoundBackground.of(case.replace(probe=None), refined)
    about = about_side(case, from_side(z=0.040), 0.0302)
    stack = behind.stack_at(about, *SideSensor(1e-6, -1e-6, 1e-6).places(), 0)
    spot = ProductFields.of(refined.grid, refined.best).spot_at(0.0, 0.040)
    assert_allclose(Reading.unstack(stack).end_of_heating, spot.end_of_heating, rtol=0, atol=1e-6)
