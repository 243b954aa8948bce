"""Cold spots of a brick against the product of three slabs, and what its walls, films and headspace do.

Rung: exact solutions. A body whose faces have one film each is the product of its slabs (Carslaw and Jaeger,
Conduction of Heat in Solids, 1959, section 1.15, from memory); lethality of its curve by adaptive quadrature.
"""

import dataclasses
import math

import numpy as np
import pytest
from job_cases import HOT, START, bare, brick
from numpy.testing import assert_allclose
from scipy import integrate

from thermsim.assess.simulate.simulation import simulate
from thermsim.assess.spots.brick import brick_hold, brick_spots
from thermsim.assess.spots.brick_field import brick_field, unsolved
from thermsim.case.container import Wall
from thermsim.case.process import Film, Process
from thermsim.case.product import Headspace
from thermsim.exact import Slab
from thermsim.physics.materials import Material
from thermsim.records.files.results import load_result, save_result
from thermsim.records.numbers.summary import summary
from thermsim.records.words.answer import answer

PLATE = '{ material = "tinplate", thickness_mm ='


def middle(case, sides, film, time):
    """The temperature in the middle while heating, by three slabs."""
    food = case.product.material
    of_food = {"conductivity": food.conductivity, "density": food.density, "specific_heat": food.specific_heat}
    left = math.prod(
        Slab(side / 1e3, **of_food, film_base=film, film_lid=film).unaccomplished([side / 2e3], time)[:, 0]
        for side in sides
    )
    return HOT + (START - HOT) * left


@pytest.mark.parametrize(
    ("sides", "film"),
    [
        ((180, 130, 40), np.inf),
        ((60, 60, 60), 300.0),
        pytest.param((180, 130, 40), 300.0, marks=pytest.mark.long),
        pytest.param((60, 60, 60), np.inf, marks=pytest.mark.long),
    ],
)
def test_the_slowest_place_of_a_brick_is_its_middle_and_reads_the_product_of_three_slabs(sides, film):
    case = bare(sides, (film, film))
    spots, unsure = brick_spots(case)
    slow, end = spots.slowest_heating, 40 * 60.0
    assert_allclose(slow.end_of_heating, middle(case, sides, film, np.array([end]))[0], rtol=0, atol=0.02)
    assert_allclose([slow.x, slow.y], 0.0, atol=1e-3 + unsure["slowest_heating.x"])
    assert_allclose(slow.z, sides[2] / 2e3, atol=1e-4)

    def rate(time):
        return 10.0 ** ((middle(case, sides, film, np.array([time]))[0] - 121.1) / 10.0)

    gathered = integrate.quad(rate, 1.0, end, epsrel=1e-6, limit=200)[0]
    assert_allclose(slow.heating_lethality, gathered, rtol=3e-3)
    # nowhere less than at the least
    assert spots.least_lethality.lethality <= slow.lethality * (1 + 1e-9)


def test_base_and_lid_may_have_films_of_their_own():
    sides, (side, base, lid) = (120, 90, 40), (400.0, 150.0, 900.0)
    case = bare(sides, (1.0, 1.0))
    heating, cooling = case.process.stages
    case = case.replace(process=Process((dataclasses.replace(heating, film=Film(side, base, lid)), cooling)))
    food, end = case.product.material, np.array([40 * 60.0])
    of_food = {"conductivity": food.conductivity, "density": food.density, "specific_heat": food.specific_heat}
    across = [
        Slab(size / 1e3, **of_food, film_base=side, film_lid=side).unaccomplished([size / 2e3], end)
        for size in sides[:2]
    ]
    heights = np.array([0.0, 0.004, 0.020, 0.036, 0.040])
    up = Slab(0.040, **of_food, film_base=base, film_lid=lid).unaccomplished(heights, end)
    places = np.stack([0.0 * heights, 0.0 * heights, heights + case.container.floor], axis=-1)
    found = brick_field(case, fine=True).end_at(places)
    assert_allclose(found, HOT + (START - HOT) * (math.prod(across) * up).ravel(), rtol=0, atol=1e-3)
    assert found[-1] - found[0] > 1.0


def test_a_walls_outside_takes_up_what_passes_it():
    case = bare((120, 90, 40), (500.0, 500.0))
    felt = Wall(Material("felt", 0.05, 1.0, 10.0), 1e-4)
    case = case.replace(container=dataclasses.replace(case.container, side=felt, base=felt, lid=felt))
    faces = np.array([[0.060, 0.0, 0.015], [0.060 + 1e-4, 0.0, 0.015], [0.0, 0.045, 0.030], [0.0, 0.0451, 0.030]])
    course = brick_field(case, fine=False).course_at(faces)
    medium = case.process.medium_at(np.nextafter(course.time, -np.inf))[:, None]
    inside, outside = course.temperature[:, ::2], course.temperature[:, 1::2]
    later = (course.time > 60.0) & (course.time != 2400.0)
    assert_allclose(
        (500.0 * (medium - outside))[later], (0.05 / 1e-4 * (outside - inside))[later], rtol=1e-9, atol=1e-6
    )
    assert np.abs(outside - inside)[later].max() > 1.0


def test_cooling_with_another_film_keeps_what_the_brick_held():
    # a film so small in cooling that nothing leaves: temperatures even out at the mean when heating ended
    case = bare((60, 60, 60), (5000.0, 1e-9), minutes=15.0, cooling=6000.0)
    food = case.product.material
    half, film = 0.03, 5000.0
    # mean of a slab by its own series: quadrature over the height
    places = np.polynomial.legendre.leggauss(60)
    of_food = {"conductivity": food.conductivity, "density": food.density, "specific_heat": food.specific_heat}
    slab = Slab(0.06, **of_food, film_base=film, film_lid=film)
    mean = slab.unaccomplished(half * (places[0] + 1.0), np.array([900.0]))[0] @ places[1] / 2.0
    even = HOT + (START - HOT) * mean**3
    spots, _ = brick_spots(case)
    rate = 10.0 ** ((even - 121.1) / 10.0)
    assert_allclose(spots.least_lethality.lethality, rate * 6000 * 60, rtol=0.01)


@pytest.mark.long
def test_a_brick_insulated_above_is_half_of_one_twice_as_high():
    one, two = bare((120, 90, 40), (800.0, 800.0)), bare((120, 90, 60), (800.0, 800.0))
    half = one.replace(
        fill_height=0.030,
        container=dataclasses.replace(one.container, brick=(0.120, 0.090, 0.040)),
        headspace=Headspace("insulated"),
    )
    (lower, _), (whole, _) = brick_spots(half), brick_spots(two)
    assert_allclose(lower.slowest_heating.z, 0.030, atol=1e-5)
    assert_allclose(lower.slowest_heating.end_of_heating, whole.slowest_heating.end_of_heating, atol=2e-3)
    assert_allclose(lower.least_lethality.lethality, whole.least_lethality.lethality, rtol=1e-3)


@pytest.mark.long
def test_a_wall_resists_like_a_smaller_film_and_stores_heat():
    case = bare((120, 90, 40), (500.0, 500.0))
    hard = Material("felt", 0.05, 1.0, 10.0)
    felt = Wall(hard, 1e-4)
    walled = case.replace(container=dataclasses.replace(case.container, side=felt, base=felt, lid=felt))
    smaller = bare((120, 90, 40), (1 / (1 / 500 + 1e-4 / 0.05),) * 2)
    assert_allclose(
        brick_spots(walled)[0].least_lethality.lethality,
        brick_spots(smaller)[0].least_lethality.lethality,
        rtol=1e-5,  # 1 mJ/m2K is stored after all
    )
    # where little heat enters all is warmed alike: 2 % more to be warmed take 2 % more time
    case = bare((120, 90, 40), (0.5, 0.5), minutes=4000.0)
    food = case.product.material
    storing = Material("storing", 5000.0, 0.02 * food.density / 6, food.specific_heat)
    plates = [Wall(storing, side) for side in (0.120, 0.090, 0.040)]
    heavy = case.replace(container=dataclasses.replace(case.container, side=plates[1], base=plates[2], lid=plates[2]))
    assert unsolved(heavy) == ""
    plain, slowed = (
        math.log((HOT - START) / (HOT - brick_spots(one)[0].least_lethality.end_of_heating)) for one in (case, heavy)
    )
    stored = 0.02 / 3 * (0.090 / 0.120 + 2.0)  # the side wall's thickness goes by the width, on both pairs of faces
    assert_allclose(plain / slowed, 1.0 + stored, rtol=2e-3)


@pytest.mark.long
def test_the_hold_that_is_found_reaches_the_target():
    case = bare((90, 60, 36), (800.0, 800.0))
    found = brick_hold(case, 360.0, unsure=1e-5)
    assert found.uncertainty < 0.3
    held = case.replace(process=case.process.with_hold(found.hold))
    assert_allclose(brick_spots(held)[0].least_lethality.lethality, 360.0, rtol=1e-3)


def test_the_answer_goes_by_the_brick_and_says_how_far_its_place_lies_from_every_face(tmp_path):
    case = brick((180, 130, 40), ("target_min = 60.0", "target_min = 6.0"), ("start_C = 60.0", "start_C = 121.1"))
    result = simulate(case)
    spot = result.brick.least_lethality
    assert result.target.least == spot.lethality != result.cold_spot.least_lethality.lethality
    text = " ".join(" ".join(answer(result)).split())
    wall = 0.2
    for expected in (
        f"{spot.lethality / 60:.2f} +- ",
        f"{90 + wall - 1e3 * spot.x:.1f} mm from an end",
        f"{65 + wall - 1e3 * spot.y:.1f} mm from a long edge",
        f"{1e3 * spot.z:.1f} mm from the lower face",
        f"{40 + 2 * wall - 1e3 * spot.z:.1f} mm from the upper",
        "F0 = 6 min is NOT reached",
    ):
        assert expected in text, expected
    assert "brick-solved" in {notice.code for notice in result.notices}
    assert (result.body, result.both_spots[0].z, result.both_spots[0].lethality) == ("brick", spot.z, spot.lethality)
    assert result.both_spots[0].r == math.hypot(spot.x, spot.y)
    record = summary(result)
    assert_allclose(record["brick"]["least_lethality"]["lethality_min"], spot.lethality / 60)
    assert record["target"]["least_lethality_min"] == record["brick"]["least_lethality"]["lethality_min"]
    save_result(result, tmp_path / "r.h5")
    assert load_result(tmp_path / "r.h5").brick == result.brick


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({f"side = {PLATE} 0.2": f"side = {PLATE} 4"}, "its walls store"),
        ({"brick_mm": "initial_C = 20.0\nbrick_mm"}, "its walls start at another temperature"),
    ],
)
def test_what_is_not_solved_as_a_brick_says_why(changes, why):
    case = brick((180, 130, 40), *changes.items())
    assert why in unsolved(case)
    result = simulate(case)
    assert result.brick is None
    (said,) = (notice for notice in result.notices if notice.code == "stands-in")
    assert said.severity == "danger" and why in said.text
