"""Rung: a published method by another code. Containers with shaped profiles against finite elements (scikit-fem)."""

from __future__ import annotations

import functools
import math

import numpy as np
import pytest
from finite_elements import solve_by_finite_elements
from shaped_elements import Settings, Shape, lethality_of, outer_line, shaped_mesh, solve_shape
from skfem import Basis, ElementQuad2, FacetBasis, Functional

from thermsim.assess.simulate.simulation import simulate
from thermsim.case.case import Case, Lethality, Point
from thermsim.case.container import Container, Wall
from thermsim.case.process import Film, Process, Stage
from thermsim.case.product import Headspace, Product
from thermsim.case.profile import Profile, straight
from thermsim.physics.materials import Material
from thermsim.solve.grid.body import body_of

PASTE = Material("paste", 0.55, 1050.0, 3700.0)
GLASS = Material("glass", 1.0, 2500.0, 750.0)
STEEL = Material("steel", 50.0, 7800.0, 450.0)
GAS = Material("gas", 0.05, 1.0, 1000.0)
STIRRED_GAS = Material("stirred gas", 0.1, 1.0, 1000.0)
PLASTIC = Material("plastic", 0.22, 910.0, 1800.0)

#: Bounds asked of thermsim: temperature [K], lethality (a fraction), place [m]. The elements' error is far smaller.
TEMPERATURE, LETHALITY, PLACE = 0.05, 0.005, 0.3e-3


def tapered_cup(corners=((0.0, 0.030), (0.070, 0.0375))):
    """Plastic cup, 60 mm wide at the base and 75 mm at the lid, 10 mm of gas; unlike films; P(90, 10)."""
    heating, cooling = Film(900.0, 700.0, 500.0), Film(500.0, 300.0, 200.0)
    stages = (
        Stage("come-up", np.array([0.0, 600.0]), np.array([20.0, 95.0]), heating),
        Stage("hold", np.array([600.0, 4200.0]), np.array([95.0, 95.0]), heating),
        Stage("cool", np.array([4200.0, 4500.0, 6000.0]), np.array([95.0, 15.0, 15.0]), cooling),
    )
    wall = Wall(PLASTIC, 0.0009)
    return Case(
        title="cup",
        container=Container(Profile(corners), wall, wall, Wall(PLASTIC, 0.0001)),
        product=Product(PASTE, 20.0),
        fill_height=0.060,
        headspace=Headspace("fixed", GAS),
        process=Process(stages),
        lethality=Lethality(90.0, 10.0),
        points=(Point("near the wall", 0.031, 0.050), Point("near the base", 0.015, 0.004)),
    )


def shouldered_jar(fill=0.100, hold=118.0):
    """Glass jar, 72 mm wide inside, a shoulder at 45 degrees from 80 to 90 mm, a neck of 52 mm; F(121.1, 10)."""
    heating, cooling = Film.everywhere(450.0), Film.everywhere(200.0)
    stages = (
        Stage("come-up", np.array([0.0, 720.0]), np.array([40.0, hold]), heating),
        Stage("hold", np.array([720.0, 6120.0]), np.array([hold, hold]), heating),
        Stage("cool", np.array([6120.0, 7320.0, 8220.0]), np.array([hold, 30.0, 30.0]), cooling),
    )
    profile = Profile(((0.0, 0.036), (0.080, 0.036), (0.090, 0.026), (0.110, 0.026)))
    return Case(
        title="jar",
        container=Container(profile, Wall(GLASS, 0.003), Wall(GLASS, 0.005), Wall(STEEL, 0.00025)),
        product=Product(PASTE, 40.0),
        fill_height=fill,
        headspace=Headspace("fixed", STIRRED_GAS),
        process=Process(stages),
        lethality=Lethality(121.1, 10.0),
        points=(
            Point("under the shoulder", 0.031, 0.087),
            # half-way through the glass, opposite the shoulder's middle
            Point("in the shoulder", 0.031 + 0.0015 * math.sqrt(0.5), 0.090 + 0.0015 * math.sqrt(0.5)),
        ),
    )


def jar_filled_to_its_shoulder():
    """The same with the surface in the shoulder, held at 120 degC."""
    return shouldered_jar(fill=0.084, hold=120.0)


CASES = (tapered_cup, shouldered_jar, jar_filled_to_its_shoulder)
FINER = [pytest.param(build, marks=pytest.mark.whole) for build in CASES[1:]]


def shape_of(case):
    """The plain numbers of a case whose container has all its walls."""
    container = case.container
    parts = {"product": case.product.material, "gas": case.headspace.material}
    parts |= {name: getattr(container, name).material for name in ("side", "base", "lid")}
    return Shape(
        corners=container.profile.corners,
        fill=case.fill_height,
        side=container.side.thickness,
        base=container.base.thickness,
        lid=container.lid.thickness,
        materials={name: (m.conductivity, m.density, m.specific_heat) for name, m in parts.items()},
    )


@functools.cache
def simulated(build):
    """A case's result, worked out once for all tests."""
    return simulate(build())


@functools.cache
def solved(build):
    """The finite elements' solution of a case, worked out once for all tests."""
    case = build()
    return solve_shape(shape_of(case), case.process, case.product.initial)


def minima(solution, case):
    """Places of least lethality and of slowest heating in the finite elements' own fields."""
    lethality = case.lethality
    least = solution.minimum(solution.log_lethality(lethality.reference, lethality.z))
    slowest = solution.minimum(solution.temperature_at(case.process.heated_until))
    return least[0], slowest[0]


def places_to_follow(case, solution):
    """Both cold spots of the finite elements, and the case's points."""
    return [*minima(solution, case), *((point.r, point.z) for point in case.points)]


@pytest.mark.long
@pytest.mark.parametrize("build", [tapered_cup, *FINER])
def test_cold_spots_agree_with_finite_elements(build):
    case, result, solution = build(), simulated(build), solved(build)
    spots = result.cold_spot.least_lethality, result.cold_spot.slowest_heating
    for spot, (r, z) in zip(spots, minima(solution, case), strict=True):
        assert math.hypot(spot.r - r, spot.z - z) < PLACE
    curves = [*result.spots, *result.points]
    temperature = solution.curves([(curve.r, curve.z) for curve in curves])
    lethality = lethality_of(solution.time, temperature, case.lethality.reference, case.lethality.z)
    for k, curve in enumerate(curves):
        difference = curve.temperature - np.interp(curve.time, solution.time, temperature[:, k])
        assert np.abs(difference).max() < TEMPERATURE, curve.name
        assert abs(curve.lethality / lethality[k] - 1) < LETHALITY, curve.name


FAULTS = [
    (shouldered_jar, {"side": 1.2 * 0.003}, "jar's wall"),
    (
        shouldered_jar,
        {"corners": ((0.0, 0.036), (0.079, 0.036), (0.091, 0.026), (0.110, 0.026))},
        "steepness of the shoulder",
    ),
    (
        jar_filled_to_its_shoulder,
        {"corners": ((0.0, 0.036), (0.080, 0.036), (0.090, 0.025), (0.110, 0.025))},
        "width of the neck",
    ),
]


@pytest.mark.long
@pytest.mark.parametrize(
    ("build", "fault"),
    [
        pytest.param(tapered_cup, {"side": 1.2 * 0.0009}, id="cup's wall"),
        pytest.param(
            tapered_cup, {"corners": ((0.0, 0.030), (0.070, 0.0370))}, id="cup's slope", marks=pytest.mark.whole
        ),
        *(pytest.param(build, fault, id=name, marks=pytest.mark.whole) for build, fault, name in FAULTS),
    ],
)
def test_the_comparison_would_notice_a_wrong_shape(build, fault):
    """A fault of half a millimetre or a millimetre moves some curve by far more than the bound above."""
    case, result = build(), simulated(build)
    solution = solve_shape(shape_of(case).replace(**fault), case.process, case.product.initial)
    curves = [*result.spots, *result.points]
    temperature = solution.curves([(curve.r, curve.z) for curve in curves])
    differences = [
        np.abs(curve.temperature - np.interp(curve.time, solution.time, temperature[:, k])).max()
        for k, curve in enumerate(curves)
    ]
    assert max(differences) > 5 * TEMPERATURE


@pytest.mark.whole  # a check of the other code alone, where its field is least smooth
@pytest.mark.parametrize("build", [shouldered_jar])
def test_finite_elements_have_converged(build):
    """Elements and steps 1.5 times finer: second order leaves 1/1.5^2 = 4/9 of the error, so most of it shows here.

    A tenth of what is asked of thermsim; a fifth at the points: near walls and corners the field is less smooth.
    """
    case, solution = build(), solved(build)
    finer = solve_shape(shape_of(case), case.process, case.product.initial, Settings().finer(1.5))
    for place, other in zip(minima(solution, case), minima(finer, case), strict=True):
        assert math.dist(place, other) < 0.1 * PLACE
    places = places_to_follow(case, finer)
    temperature, closer = solution.curves(places), finer.curves(places)
    for k in range(len(places)):
        difference = temperature[:, k] - np.interp(solution.time, finer.time, closer[:, k])
        assert np.abs(difference).max() < (0.1 if k < 2 else 0.2) * TEMPERATURE
    scale = case.lethality.reference, case.lethality.z
    np.testing.assert_allclose(
        lethality_of(solution.time, temperature, *scale),
        lethality_of(finer.time, closer, *scale),
        rtol=0.1 * LETHALITY,
    )


@pytest.mark.parametrize("build", CASES)
def test_elements_fill_the_exact_body(build):
    """Volume and outer faces against frustums of cones: V = pi/3 h (a^2 + ab + b^2), A = pi (a + b) slant."""
    shape = shape_of(build())
    mesh, _, films = shaped_mesh(shape, Settings())
    height, radius = outer_line(shape.corners, shape.side).T
    foot, head = radius[0], radius[-1]
    rise, low, high = np.diff(height), radius[:-1], radius[1:]
    volume = math.pi / 3 * rise @ (low**2 + low * high + high**2)
    volume += math.pi * (foot**2 * shape.base + head**2 * shape.lid)
    side = math.pi * np.hypot(rise, high - low) @ (low + high)
    side += 2 * math.pi * (foot * shape.base + head * shape.lid)
    areas = {"base": math.pi * foot**2, "lid": math.pi * head**2, "side": side}
    ring = Functional(lambda w: 2 * np.pi * w.x[0])
    # exact up to rounding: the integrands are polynomials
    assert ring.assemble(Basis(mesh, ElementQuad2(), intorder=5)) == pytest.approx(volume, rel=1e-12)
    for name, area in areas.items():
        face = FacetBasis(mesh, ElementQuad2(), facets=films[name], intorder=5)
        assert ring.assemble(face) == pytest.approx(area, rel=1e-12), name


def test_an_offset_corner_is_mitred():
    """Worked by hand: where the wall turns by 45 degrees the outer corner is t tan(22.5 degrees) farther along."""
    outer = outer_line(((0.0, 0.036), (0.080, 0.036), (0.090, 0.026), (0.110, 0.026)), 0.003)
    along = 0.003 * (math.sqrt(2) - 1)
    expected = [(0.0, 0.039), (0.080 + along, 0.039), (0.090 + along, 0.029), (0.110, 0.029)]
    np.testing.assert_allclose(outer, expected, atol=1e-15)
    # a wall that ends on a level plane is thicker there by 1/cos(slope)
    slanting = outer_line(((0.0, 0.030), (0.040, 0.060)), 0.004)
    np.testing.assert_allclose(slanting, [(0.0, 0.035), (0.040, 0.065)], atol=1e-15)


@pytest.mark.whole  # the two other codes beside each other
def test_a_straight_wall_with_an_extra_corner_gives_what_a_mesh_of_rectangles_gives():
    case = tapered_cup(straight(0.070, 0.070).corners)
    shape = shape_of(case).replace(corners=((0.0, 0.035), (0.041, 0.035), (0.070, 0.035)))
    places = [(0.0, 0.030), (0.020, 0.050), (0.034, 0.040), (0.0354, 0.040)]
    steps = {"step": 10.0, "first": 0.25}
    time, expected = solve_by_finite_elements(body_of(case), case.process, places, **steps)
    solution = solve_shape(shape, case.process, case.product.initial, Settings(**steps))
    np.testing.assert_allclose(solution.time, time, atol=1e-9)
    # the same steps on another mesh: what is left is the error of the elements
    np.testing.assert_allclose(solution.curves(places), expected, atol=5e-3)
