"""Rungs: operator order by manufactured solutions, conservation, symmetry, continuity, on grids fitted to walls."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from bodies import PASTE, plain_body
from numpy.testing import assert_allclose
from scipy import sparse
from scipy.sparse.linalg import spsolve
from shapes import CONE, DOME, ROUNDED, SHAPES, SHOULDER, TAPER, packed, vase

from thermsim.assess.simulate.simulation import simulate
from thermsim.case.container import Container, Wall
from thermsim.case.profile import Profile, Rise, straight
from thermsim.errors import InputError
from thermsim.exact import observed_order
from thermsim.solve.grid.body import body_of
from thermsim.solve.grid.grid import grid_family
from thermsim.solve.grid.operator import SURFACES, operator_of
from thermsim.solve.march.march import march

every_shape = pytest.mark.parametrize("case", SHAPES.values(), ids=SHAPES.keys())


def conduction_matrix(op):
    """K [W/K] over all nodes, surfaces insulated, put together from the operator's conductances."""
    number = np.arange(op.capacity.size).reshape(op.capacity.shape)
    pairs = (
        (op.conductance_r, number[:-1], number[1:]),
        (op.conductance_z, number[:, :-1], number[:, 1:]),
        (op.rising, number[:-1, :-1], number[1:, 1:]),
        (op.falling, number[1:, :-1], number[:-1, 1:]),
    )
    total = sparse.csr_matrix((number.size, number.size))
    for conductance, one, other in pairs:
        value, i, j = conductance.ravel(), one.ravel(), other.ravel()
        entries = np.concatenate([value, value, -value, -value])
        places = np.concatenate([i, j, i, j]), np.concatenate([i, j, j, i])
        total = total + sparse.csr_matrix((entries, places), shape=total.shape)
    return total.tocsr()


# -- operator order -------------------------------------------------------------------------------------------------


def manufactured(r, z):
    """A temperature with no symmetry but that at the axis, its gradient, and its Laplacian in cylinder coordinates.

    T = cos(a r^2) exp(b z) + r^2 z; the Laplacian is worked out by hand.
    """
    a, b = 900.0, 12.0
    swing, rise = a * r**2, np.exp(b * z)
    value = np.cos(swing) * rise + 1e3 * r**2 * z
    along_r = -2 * a * r * np.sin(swing) * rise + 2e3 * r * z
    along_z = b * np.cos(swing) * rise + 1e3 * r**2
    # (1/r) d/dr (r dT/dr) of cos(a r^2) is -4 a sin(a r^2) - 4 a^2 r^2 cos(a r^2)
    laplacian = (-4 * a * np.sin(swing) - 4 * a * swing * np.cos(swing) + b**2 * np.cos(swing)) * rise + 4e3 * z
    return value, along_r, along_z, laplacian


def test_the_manufactured_laplacian_is_that_of_the_manufactured_temperature():
    r, z, step = 0.02, 0.03, 1e-5
    _, along_r, along_z, laplacian = manufactured(r, z)
    (east, west), (north, south) = (manufactured(r + s * step, z) for s in (1, -1)), (
        manufactured(r, z + s * step) for s in (1, -1)
    )  # fmt: skip
    assert_allclose((east[0] - west[0]) / (2 * step), along_r, rtol=1e-6)
    assert_allclose((north[0] - south[0]) / (2 * step), along_z, rtol=1e-6)
    flows = ((r + step) * east[1] - (r - step) * west[1]) / (2 * step * r)
    assert_allclose(flows + (north[2] - south[2]) / (2 * step), laplacian, rtol=1e-6)


def errors_of_manufactured(case, *, held):
    """Root mean square and largest error of the steady problem on three nested grids.

    ``held``: the surfaces are held at the manufactured temperature; otherwise they exchange, through a film, with a
    medium whose temperature along the surface makes the manufactured one the solution.
    """
    errors = []
    film, k = 300.0, PASTE.conductivity
    for grid in grid_family(body_of(case), refinement=1.5):
        op = operator_of(grid)
        exact, along_r, along_z, laplacian = manufactured(grid.r, grid.z)
        # heat set free in each control volume, per unit of its capacity's volume
        right = (-k * laplacian * op.capacity / PASTE.capacity).ravel()
        matrix = conduction_matrix(op)
        area = {name: getattr(op, name) for name in SURFACES}
        surface = sum(area.values()) > 0
        if held:
            free = ~surface.ravel()
            found = exact.ravel().copy()
            rest = right - matrix @ np.where(free, 0.0, found)
            found[free] = spsolve(matrix[free][:, free].tocsc(), rest[free])
        else:
            # outward normals: of base and lid along the axis, of the side across the wall
            slope = case.container.profile.slope(np.clip(grid.z[-1], 0.0, None))
            across = (along_r[-1] - slope * along_z[-1]) / np.hypot(1.0, slope)
            flow = {"side": np.zeros(grid.shape), "base": -along_z, "lid": along_z}
            flow["side"][-1] = across
            for name, normal in flow.items():
                right += (area[name] * (film * exact + k * normal)).ravel()
            exchange = film * sum(area.values())
            found = spsolve((matrix + sparse.diags(exchange.ravel())).tocsc(), right)
        error = found.reshape(grid.shape) - exact
        errors.append((np.sqrt((op.capacity * error**2).sum() / op.capacity.sum()), np.abs(error).max()))
    return np.array(errors).T


@pytest.mark.parametrize("held", [True, False], ids=["held", "film"])
@pytest.mark.parametrize("profile", [TAPER, vase(161)], ids=["taper", "smooth"])
def test_the_operator_is_of_second_order_on_skewed_grids(profile, held):
    root_mean_square, largest = errors_of_manufactured(packed(profile, walls=False), held=held)
    order = observed_order(np.array([4.0, 2.0, 1.0]), root_mean_square)
    assert 1.9 < order < 2.3
    assert observed_order(np.array([4.0, 2.0, 1.0]), largest) > 1.7
    # the finest error is small beside the temperature's range of about 3
    assert root_mean_square[-1] < 2e-3


@pytest.mark.parametrize("rise", [DOME, CONE], ids=["dome", "cone"])
def test_the_operator_is_of_second_order_over_a_base_that_rises(rise):
    root_mean_square, _ = errors_of_manufactured(packed(TAPER, walls=False, rise=rise), held=True)
    assert 1.85 < observed_order(np.array([4.0, 2.0, 1.0]), root_mean_square) < 2.3


def test_leaving_out_the_diagonals_would_not_be_of_second_order():
    """The order test can fail: with flows along the grid lines alone the error stays as the grid is refined."""
    case = packed(TAPER, walls=False)
    largest = []
    for grid in grid_family(body_of(case), refinement=1.5):
        whole = operator_of(grid)
        op = dataclasses.replace(whole, rising=0.0 * whole.rising, falling=0.0 * whole.falling)
        exact, _, _, laplacian = manufactured(grid.r, grid.z)
        free = ~(sum(getattr(op, name) for name in SURFACES) > 0).ravel()
        found = exact.ravel().copy()
        matrix = conduction_matrix(op)
        right = (-PASTE.conductivity * laplacian * op.capacity / PASTE.capacity).ravel()
        found[free] = spsolve(matrix[free][:, free].tocsc(), (right - matrix @ np.where(free, 0.0, found))[free])
        largest.append(np.abs(found - exact.ravel()).max())
    assert largest[-1] > 0.5 * largest[0]


# -- conservation and symmetry --------------------------------------------------------------------------------------


@every_shape
def test_the_operator_is_symmetric_positive_and_conserves(case):
    op = operator_of(grid_family(body_of(case))[0])
    matrix = conduction_matrix(op)
    assert abs(matrix - matrix.T).max() == 0.0
    scale = abs(matrix).max()
    assert np.abs(matrix.sum(axis=1)).max() < 1e-12 * scale
    eigenvalues = np.linalg.eigvalsh(matrix.toarray())
    assert eigenvalues[0] > -1e-10 * scale
    conducting = int((op.capacity > 0).sum())
    # but one level field (and nodes that nothing touches) every field makes heat flow
    assert (eigenvalues > 1e-12 * scale).sum() == conducting - 1


@every_shape
def test_heat_taken_in_is_heat_stored(case):
    history = march(operator_of(grid_family(body_of(case))[1]), case.process, tolerance=0.01)
    assert abs(history.energy_defect) < 1e-8


@every_shape
def test_volumes_and_areas_are_those_of_the_container(case):
    container = case.container
    grid = grid_family(body_of(case))[-1]
    op = operator_of(dataclasses.replace(grid, material=np.where(grid.product, grid.material, -1)))
    # straight edges between nodes cut curved walls and bases short: second order in the spacing
    assert_allclose(op.capacity.sum() / PASTE.capacity, case.product_volume, rtol=1e-3)
    whole = operator_of(grid)
    heights = np.linspace(0.0, container.inner_height, 20001) + container.floor
    r, z = container.outside(heights)
    wall = np.pi * ((r[1:] + r[:-1]) * np.hypot(np.diff(r), np.diff(z))).sum()
    rims = 2 * np.pi * (r[0] * container.floor + r[-1] * (container.outer_height - container.ceiling))
    assert_allclose(whole.side.sum(), wall + rims, rtol=1e-3)
    assert_allclose(whole.lid.sum(), np.pi * r[-1] ** 2, rtol=1e-12)


def test_a_polygonal_container_has_its_exact_volume_on_the_grid():
    for profile in (TAPER, SHOULDER):
        grid = grid_family(body_of(packed(profile, walls=False)))[0]
        op = operator_of(grid)
        assert_allclose(op.capacity.sum() / PASTE.capacity, profile.volume(profile.height), rtol=1e-12)


def test_temperatures_stay_between_start_and_medium_within_what_skewed_grids_cost():
    for case in SHAPES.values():
        history = march(operator_of(grid_family(body_of(case))[-1]), case.process, tolerance=0.002)
        # grids that are not at right angles know no strict bounds: some hundredths of a kelvin right after a jump
        assert history.temperature.min() > 30.0 - 0.05
        assert history.temperature.max() < 118.0 + 0.05


# -- one answer, however it is said ---------------------------------------------------------------------------------


def figures(case):
    result = simulate(case)
    spots = (result.cold_spot.least_lethality, result.cold_spot.slowest_heating)
    return np.array([(s.lethality, s.heating_lethality, s.end_of_heating) for s in spots]), np.array(
        [(s.r, s.z) for s in spots]
    )


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (straight(0.06, 0.08), Profile(((0.0, 0.03), (0.031, 0.03), (0.08, 0.03)))),
        (TAPER, Profile(((0.0, 0.030), (0.035, 0.03375), (0.070, 0.0375)))),
        (SHOULDER, Profile((*SHOULDER.corners[:2], (0.085, 0.031), *SHOULDER.corners[2:]))),
        (ROUNDED, Profile((*ROUNDED.corners[:1], (0.04, 0.036), *ROUNDED.corners[1:]), rounding=0.004)),
    ],
    ids=["straight", "taper", "shoulder", "rounded"],
)
def test_a_point_on_a_straight_line_changes_nothing(one, other):
    (values, places), (again, elsewhere) = (figures(packed(profile, fill=0.06)) for profile in (one, other))
    assert_allclose(again, values, rtol=1e-10)
    # places follow from a search that ends at 1e-4 of an interval between nodes
    assert_allclose(elsewhere, places, rtol=0, atol=1e-6)


def test_a_wall_that_hardly_leans_gives_the_answer_of_an_upright_one():
    """The fitted grid's own formulas, skewed by next to nothing, against the rectangular ones."""
    leaning = packed(Profile(((0.0, 0.03), (0.08, 0.03 + 1e-10))), fill=0.06)
    assert not leaning.container.is_straight
    values, _ = figures(packed(straight(0.06, 0.08), fill=0.06))
    # 1e-10 m is 3e-9 of the radius, and the lethality goes with some 10 times its relative change
    assert_allclose(figures(leaning)[0], values, rtol=1e-7)


def test_a_wall_course_of_equal_thicknesses_is_a_plain_wall():
    plain = packed(SHOULDER, fill=0.1)
    wall = dataclasses.replace(plain.container.side, course=(0.003,) * 4)
    course = plain.replace(container=dataclasses.replace(plain.container, side=wall))
    assert_allclose(figures(course)[0], figures(plain)[0], rtol=1e-10)


def test_a_shape_turned_upside_down_mirrors_the_answer():
    upright = packed(TAPER, walls=False)
    corners = tuple((TAPER.height - z, r) for z, r in reversed(TAPER.corners))
    turned = packed(Profile(corners), walls=False)
    (values, places), (again, elsewhere) = figures(upright), figures(turned)
    # rounding may tip a step's size: some time tolerances of 0.002 K, 0.05 % of the lethality each
    assert_allclose(again, values, rtol=1e-4)
    assert_allclose(elsewhere[:, 1], TAPER.height - places[:, 1], rtol=0, atol=1e-5)


def test_a_wall_too_thick_for_its_profile_is_refused():
    with pytest.raises(InputError, match="fold over itself"):
        packed(Profile(((0.0, 0.03), (0.02, 0.03), (0.0205, 0.02), (0.021, 0.03), (0.06, 0.03))))


def test_a_grid_that_folds_is_refused_with_its_place():
    body = plain_body(
        np.array([0.0, 0.03]),
        np.array([0.0, 0.05]),
        np.array([[0]]),
        np.array([[True]]),
        np.array([[20.0]]),
        (PASTE,),
    )
    grid = grid_family(body)[0]
    z = grid.z.copy()
    z[3, 4] = z[3, 6]
    with pytest.raises(InputError, match="fold over themselves near r = "):
        operator_of(dataclasses.replace(grid, z=z))


# -- coordinates ----------------------------------------------------------------------------------------------------


@every_shape
def test_places_and_reference_places_are_each_others_inverse(case):
    coordinates = body_of(case).coordinates
    container = case.container
    for column in np.linspace(0.0, coordinates.outside, 13):
        for level in np.linspace(0.0, container.outer_height, 17):
            r, z = (float(value) for value in coordinates.place(column, level))
            assert_allclose(coordinates.reference(r, z), (column, level), rtol=0, atol=1e-9)


def test_columns_lie_on_the_wall_and_levels_on_the_base():
    case = SHAPES["rounded, with a dome"]
    container, grid = case.container, grid_family(body_of(case))[-1]
    wall = np.flatnonzero(np.isclose(grid.columns, grid.coordinates.side, rtol=0, atol=1e-12))[0]
    inside = (grid.levels >= container.floor) & (grid.levels <= container.ceiling)
    assert_allclose(
        grid.r[wall, inside], container.profile.radius(grid.z[wall, inside] - container.floor), rtol=0, atol=1e-15
    )
    floor = np.flatnonzero(np.isclose(grid.levels, container.floor, rtol=0, atol=1e-12))[0]
    within = grid.r[:, floor] < 0.025
    sphere = (0.025**2 + 0.010**2) / 0.020
    cap = np.sqrt(sphere**2 - grid.r[within, floor] ** 2) - (sphere - 0.010)
    assert_allclose(grid.z[within, floor] - container.floor, cap, rtol=0, atol=1e-12)


def test_the_outside_of_a_leaning_wall_is_parallel_to_its_inside():
    container = Container(TAPER, Wall(PASTE, 0.0009), Wall(PASTE, 0.001), None)
    r, z = container.outside(np.array([0.001, 0.036, 0.071]))
    slope = (0.0375 - 0.030) / 0.070
    # distance of the outer places from the line of the inner wall
    away = (r - 0.030 - slope * (z - 0.001)) / np.hypot(1.0, slope)
    assert_allclose(away, 0.0009, rtol=1e-12)
    assert_allclose(z[[0, 2]], [0.001, 0.071], rtol=0, atol=1e-15)  # it ends level with base and lid


def test_a_dome_under_a_probe_is_level_there_and_keeps_its_rim():
    rise = Rise(0.010, 0.050)
    assert_allclose(rise.at(np.array([0.0, 0.002, 0.004]), level=0.004), 0.010, rtol=1e-14)
    assert_allclose(rise.at(np.array([0.025, 0.03]), level=0.004), 0.0, rtol=0, atol=1e-15)
