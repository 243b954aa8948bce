"""A probe through the edge of a brick against another code, and against what must come out without any code.

Rungs: another code (finite volumes on a grid of boxes, written here, with the stem as a square rod that conducts,
stores and passes heat to the product like the round one), symmetry, and hand-written arithmetic.
"""

import dataclasses
import math
import re

import numpy as np
import pytest
from job_cases import SHAPE, TEXT, replaced
from numpy.testing import assert_allclose
from probed import STEEL
from scipy import sparse
from scipy.sparse.linalg import splu

from thermsim import case_from_text
from thermsim.assess.depth.recommendation import recommend
from thermsim.assess.side.background import brick_background
from thermsim.assess.side.field import MIDDLE
from thermsim.assess.side.reading import changes_of_reading
from thermsim.assess.simulate.simulation import simulate
from thermsim.assess.spots.brick_field import brick_field
from thermsim.case.container import Wall
from thermsim.case.probe import Probe, Segment
from thermsim.case.process import Film, Process, Stage
from thermsim.errors import CaseError, InputError
from thermsim.physics.materials import Material, Tabulated

#: Sides of the brick, the stem's diameter, how far it stands in and out [m].
SIDES, DIAMETER, DEPTH, OUT = (0.100, 0.070, 0.036), 4e-3, 0.050, 0.010
#: Temperatures [degC], film [W/m2K], time [s].
START, HOT, FILM, HEATING = 40.0, 121.1, 900.0, 1500.0
SOLID = replaced(
    TEXT[: TEXT.index("[probe]")],
    ("thin sauce", "gel/solid"),
    ("stock = ", "# "),
    ("headspace_mm = 5.0", "headspace_mm = 0.0"),
    (SHAPE, "brick_mm = [100.0, 70.0, 36.0]"),
)


def brick(*, edge="short", wall=None, text=SOLID, mount="through", **parts):
    """The brick in a hot medium at once, with a steel rod through the middle of an edge."""
    case = case_from_text(text)
    stages = (Stage("hold", np.array([0.0, HEATING]), np.array([HOT, HOT]), Film(FILM, FILM, FILM)),)
    product = dataclasses.replace(case.product, initial=START)
    container = dataclasses.replace(case.container, side=wall, base=wall, lid=wall)
    z = SIDES[2] / 2 + (wall.thickness if wall else 0.0)
    parts.setdefault("segments", (Segment(DIAMETER, DEPTH + OUT, STEEL),))
    parts.setdefault("insertion", DEPTH)
    probe = Probe("side", mount, z=z, edge=edge, **parts)
    return case.replace(container=container, product=product, process=Process(stages), probe=probe)


def lines(*parts):
    """Faces of cells [m]: between two places so many cells, evenly."""
    return np.unique(np.concatenate([np.linspace(low, high, count + 1) for low, high, count in parts]).round(9))


def by_boxes(*, stem, food=None):
    """Time [s] and temperature of the tip's face by finite volumes, in a quarter of the brick about its middle.

    Along the stem a square rod conducts and stores as the round one does, across it as steel does; its side is the
    round one's radius over 0.5902 (a square's outer conformal radius, from memory).
    """
    food = food or case_from_text(SOLID).product.material
    side = DIAMETER / 2 / 0.5902
    part = math.pi * (DIAMETER / 2) ** 2 / side**2
    length, tip, half = SIDES[0] / 2, SIDES[0] / 2 - DEPTH, side / 2
    near, far = tip - 0.006, tip + 0.006
    faces = (
        lines((-length, near, 8), (near, far, 12), (far, length, 16), (length, length + OUT, 5)),
        lines((0.0, half, 2), (half, 4 * half, 5), (4 * half, SIDES[1] / 2, 6)),
        lines((0.0, half, 2), (half, 4 * half, 5), (4 * half, SIDES[2] / 2, 4)),
    )
    size = np.meshgrid(*(np.diff(line) for line in faces), indexing="ij")
    x, y, z = np.meshgrid(*((line[1:] + line[:-1]) / 2 for line in faces), indexing="ij")
    steel = stem & (x > tip) & (y < half) & (z < half)
    there = (x < length) | steel
    number = np.where(there, np.cumsum(there).reshape(there.shape) - 1, -1)
    at = int(np.abs(faces[0] - tip).argmin())
    n, places = int(there.sum()), number[at - 1 : at + 1, :2, :2].reshape(2, -1)

    def made(temperature):
        """Matrix, capacity and the weights of the tip's face, at temperatures of the cells."""
        now = np.full(there.shape, START)
        now[there] = temperature
        k, c = properties(food, now)
        matrix = sparse.csc_matrix((n, n))
        for axis in range(3):
            conducts = np.where(steel, STEEL.conductivity * (1.0 if axis else part), k)
            # what the medium sees of the rod: its round flank, its round end
            seen = np.where(steel, math.pi * DIAMETER / (4 * side) if axis else part, 1.0)
            area = np.prod([size[other] for other in range(3) if other != axis], axis=0)
            cells, solid, half_way, areas, film = (
                np.moveaxis(one, axis, 0) for one in (number, there, size[axis] / 2 / conducts, area, FILM * seen)
            )
            both = solid[1:] & solid[:-1]
            flow = (areas[1:] / (half_way[1:] + half_way[:-1]))[both]
            i, j = cells[1:][both], cells[:-1][both]
            pairs = (np.r_[i, j, i, j], np.r_[i, j, j, i])
            matrix += sparse.coo_matrix((np.r_[flow, flow, -flow, -flow], pairs), (n, n))
            outer = np.zeros_like(solid)
            outer[:-1] = solid[:-1] & ~solid[1:]
            outer[-1] = solid[-1]
            if axis == 0:  # the low ends of the other two are planes of symmetry
                outer[0] = solid[0]
            passed = np.zeros(n)
            np.add.at(passed, cells[outer], (areas / (1.0 / film + half_way))[outer])
            matrix += sparse.diags(passed)
        capacity = (np.where(steel, STEEL.capacity * part, c) * np.prod(size, axis=0))[there]
        before, behind = k[at - 1, :2, :2].mean(), k[at, :2, :2].mean()
        beyond = STEEL.conductivity * part if stem else behind
        leads = [value / np.diff(faces[0])[cell] for value, cell in ((before, at - 1), (beyond, at))]
        mean = np.zeros(n)
        for nodes, lead in zip(places, leads, strict=True):
            mean[nodes] = lead / sum(leads) / 4.0
        return matrix, capacity, mean

    u, time, found = np.full(n, START - HOT), 0.0, []
    gamma, slope = 1.0 - math.sqrt(0.5), np.zeros(n)
    changes, solve = food.tabulated is not None, None
    for step, count in ((2.0, 50), (14.0, 100)):
        for k in range(count):
            if changes or k == 0:  # properties half-way through the step
                matrix, capacity, mean = made(HOT + u + step / 2.0 * slope)
                solve = splu((sparse.diags(capacity) + gamma * step * matrix).tocsc()).solve
            # two implicit stages of second order (Alexander, 1977, from memory)
            first = solve(-(matrix @ u))
            second = solve(-(matrix @ (u + (1.0 - gamma) * step * first)))
            slope = (1.0 - gamma) * first + gamma * second
            u, time = u + step * slope, time + step
            found.append((time, HOT + mean @ u))
    return np.array(found).T


def properties(food, temperature):
    """Conductivity [W/mK] and capacity [J/m3K] of food at temperatures [degC]."""
    if food.tabulated is None:
        return np.full_like(temperature, food.conductivity), np.full_like(temperature, food.capacity)
    of = food.tabulated
    k, c = (np.interp(temperature, of.temperature, values) for values in (of.conductivity, of.capacity))
    return k, c


@pytest.mark.long
def test_a_stem_through_the_edge_of_a_brick_changes_what_another_code_says():
    effect = simulate(brick()).probe
    time, read = by_boxes(stem=True)
    without = by_boxes(stem=False)[1]
    assert time[-1] == HEATING
    changed = np.interp(time, effect.reading.time, effect.reading.temperature - effect.without_probe.temperature)
    late = time > 100.0
    assert 1.4 < (read - without)[-1] < 2.2
    # the boxes are coarse: a twentieth of the largest change
    assert_allclose(changed[late], (read - without)[late], rtol=0, atol=0.05 * (read - without).max())


def with_food(case, material):
    return case.replace(product=dataclasses.replace(case.product, material=material))


def growing(food, low, high):
    """Food whose conductivity and capacity are such parts of what they were, at 0 and at 140 degC."""
    parts = (low, high)
    tabulated = Tabulated(
        (0.0, 140.0), *(tuple(value * p for p in parts) for value in (food.conductivity, food.capacity))
    )
    return dataclasses.replace(food, tabulated=tabulated)


@pytest.mark.long
def test_where_properties_change_the_stem_changes_what_another_code_says_within_what_is_stated():
    case = brick()
    food = growing(case.product.material, 0.8, 1.2)
    food = dataclasses.replace(food, tabulated=dataclasses.replace(food.tabulated, capacity=(food.capacity,) * 2))
    effect = simulate(with_food(case, food)).probe
    time, read = by_boxes(stem=True, food=food)
    without = by_boxes(stem=False, food=food)[1]
    # the undisturbed brick, far from the first seconds
    late = time > 100.0
    plain = np.interp(time, effect.without_probe.time, effect.without_probe.temperature)
    assert_allclose(plain[late], without[late], rtol=0, atol=0.3)
    changed = np.interp(time, effect.reading.time, effect.reading.temperature) - plain
    true = read - without
    # the boxes are coarse: a twentieth of the largest change; and a fifth of what properties of half-way up change
    behind = brick_background(with_food(case, food).replace(probe=None), np.array([HEATING]))
    near, half = (
        changes_of_reading(one, case.probe, time=np.array([HEATING]), tolerance=0.1, levels=MIDDLE)[0][1]
        for one in (behind, behind.half_way)
    )
    assert abs(half - near) > 0.04 * true.max()
    assert abs(changed[-1] - true[-1]) < abs(half - near) / 5.0 + 0.05 * true.max()


def test_a_product_written_as_tables_that_do_not_change_gives_the_stem_of_constant_properties():
    case = brick()
    as_tables = with_food(case, growing(case.product.material, 1.0, 1.0))
    # what the march of the brick leaves
    assert_allclose(change(as_tables), change(case), rtol=0, atol=2e-3)


def change(case):
    bare = case.replace(probe=None)
    behind = brick_background(bare, np.array([HEATING]))
    # neither depends on how fine the grid and the steps are
    (found,) = changes_of_reading(behind, case.probe, time=np.array([HEATING]), tolerance=1.0, levels=MIDDLE)
    return found


def test_a_stem_of_product_changes_nothing_and_one_of_steel_alike_through_either_edge_of_a_square():
    food = case_from_text(SOLID).product.material
    same = brick(mount="inside", insertion=None, segments=(Segment(DIAMETER, DEPTH, food),))
    assert_allclose(change(same), 0.0, rtol=0, atol=1e-6)
    square = replaced(SOLID, ("[100.0, 70.0, 36.0]", "[70.0, 70.0, 36.0]"))
    short, long = (change(brick(text=square, edge=edge, insertion=0.035)) for edge in ("short", "long"))
    assert_allclose(short, long, rtol=1e-9, atol=1e-9)
    assert short[1] > 1.0


def test_in_a_thin_wall_the_temperature_runs_straight_from_the_product_to_the_medium():
    plate = Wall(Material("plate", conductivity=0.2, density=900.0, specific_heat=1900.0), 4e-4)
    case = brick(wall=plate)
    field = brick_field(case.replace(probe=None), fine=True)
    half, z = SIDES[0] / 2, SIDES[2] / 2 + plate.thickness
    face, middle, outside = field.end_at(np.array([(half + x, 0.0, z) for x in (0.0, 2e-4, 4e-4)]))
    assert START < face < middle < outside < HOT
    assert_allclose(middle - face, outside - middle, rtol=1e-9)
    # what the film passes the wall passes
    assert_allclose(FILM * (HOT - outside), 0.2 * (outside - face) / 4e-4, rtol=1e-9)


def test_the_places_of_edges_and_of_what_reaches_in_are_those_of_the_brick():
    plate = Wall(Material("plate", conductivity=0.2, density=900.0, specific_heat=1900.0), 4e-4)
    for edge, side in (("short", SIDES[0]), ("", SIDES[0]), ("long", SIDES[1])):
        case = brick(wall=plate, edge=edge, insertion=0.020)
        assert_allclose(case.probe.tip(case.container), side / 2 + 4e-4 - 0.020, rtol=1e-12)
        assert case.at_height(case.probe, 0.0).wall == f"{edge or 'short'} edge"


def test_what_cannot_be_computed_through_an_edge_is_refused_in_words():
    case = brick()
    for changes, words in (
        ({"edge": "narrow"}, 'edge = "narrow" is unknown'),
        ({"entry": "lid", "z": None}, 'edge = "short" has a meaning only with entry = "side"'),
        ({"insertion": 0.101}, "beyond the inside of the side wall opposite"),
        ({"z": 0.003}, "must be from 4 to 32 mm"),
    ):
        with pytest.raises(CaseError, match=re.escape(words)):
            case.replace(probe=dataclasses.replace(case.probe, **changes))
    with pytest.raises(CaseError, match="has a meaning only in a brick"):
        case.replace(container=dataclasses.replace(case.container, brick=None, stands_in=False))
    heavy = brick(wall=Wall(STEEL, 3e-3), insertion=0.040)
    with pytest.raises(InputError, match="is not handled here, as its walls store"):
        simulate(heavy)
    with pytest.raises(InputError, match="compared with the brick itself"):
        lid = dataclasses.replace(case.probe, entry="lid", edge="", z=None, insertion=0.018)
        recommend(case.replace(probe=lid), side=True)
