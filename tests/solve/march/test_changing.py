"""Rungs: exact solutions by Kirchhoff's transform, manufactured solution, conservation, for changing properties."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from bodies import PASTE, cylinder, heat_and_cool, jar, plain_body
from numpy.testing import assert_allclose
from scipy import sparse
from scipy.sparse.linalg import spsolve
from shapes import SHAPES

from thermsim.case.process import Film, Process, Stage
from thermsim.exact import FiniteCylinder, observed_order
from thermsim.physics.gap import TURNED, turned
from thermsim.physics.materials import Material, Tabulated
from thermsim.solve.grid.body import body_of
from thermsim.solve.grid.grid import grid_family
from thermsim.solve.grid.operator import operator_of
from thermsim.solve.march import changing as changing_module
from thermsim.solve.march import exchange_kernels
from thermsim.solve.march.changing import Tables, _mesh
from thermsim.solve.march.march import march
from thermsim.solve.matrix.numbering import Numbering

START, HOT = 20.0, 121.0


def with_tables(material, temperature, conductivity, capacity, downwards=()):
    tabulated = Tabulated(tuple(temperature), tuple(conductivity), tuple(capacity), tuple(downwards))
    return dataclasses.replace(material, tabulated=tabulated)


def changing(grid, **tabulated):
    """The grid with its first material's properties changing with temperature."""
    first, *others = grid.materials
    return dataclasses.replace(grid, materials=(with_tables(first, **tabulated), *others))


@pytest.mark.parametrize("body", [cylinder(), jar(3), body_of(SHAPES["shoulder"])], ids=["bare", "jar", "shoulder"])
def test_courses_that_do_not_change_give_the_march_of_constant_properties(body):
    grid, process = grid_family(body)[1], heat_and_cool(400.0)
    first = grid.materials[0]
    level = changing(
        grid, temperature=(0.0, 150.0), conductivity=(first.conductivity,) * 2, capacity=(first.capacity,) * 2
    )
    constant, varying = (march(operator_of(g), process, tolerance=0.0005) for g in (grid, level))
    times = np.linspace(60.0, process.end, 40)
    # the two estimate a step's error differently, so their steps differ, and some of their errors add up
    assert np.abs(constant.at(times) - varying.at(times))[:, grid.active].max() < 4 * 0.0005
    assert abs(varying.steps - constant.steps) < 0.2 * constant.steps


# -- exact: k and rho c alike linear in T, surface held -----------------------------------------------------------

B = [0.001, 0.003, -0.001]


def kirchhoff_can(b, grid_of=1, refinement=1.0):
    """Conductivity and capacity 1 + b (T - 20) times their values at 20 degC, in a cylinder with its surface held."""
    body = cylinder(PASTE, radius=0.03, height=0.08, initial=START)
    grids = grid_family(body, refinement=refinement)
    lines = (0.0, 150.0)
    factor = 1.0 + b * (np.array(lines) - START)
    course = {
        "temperature": lines,
        "conductivity": PASTE.conductivity * factor,
        "capacity": PASTE.capacity * factor,
    }
    return [changing(grid, **course) for grid in grids]


def kirchhoff_exact(b, r, z, time):
    """T = 20 + (sqrt(1 + 2 b phi) - 1)/b, phi = (T - 20) + b/2 (T - 20)^2 obeying the equation of constant k."""
    can = FiniteCylinder(0.03, 0.08, PASTE.conductivity, PASTE.density, PASTE.specific_heat, np.inf, np.inf, np.inf)
    surface = (HOT - START) + b / 2 * (HOT - START) ** 2
    phi = surface * (1.0 - can.unaccomplished(r, z, time))
    return START + (np.sqrt(1.0 + 2.0 * b * phi) - 1.0) / b


HELD = Process((Stage("hold", np.array([0.0, 3600.0]), np.array([HOT, HOT]), Film.everywhere(np.inf)),))
TIMES = np.array([600.0, 1200.0, 2400.0, 3600.0])


@pytest.mark.parametrize("b", B)
def test_kirchhoffs_transform_is_met_at_second_order(b):
    errors = []
    grids = kirchhoff_can(b)
    r, z = grids[0].columns, grids[0].levels
    exact = kirchhoff_exact(b, r, z, TIMES)
    for grid in grids:
        rows, columns = np.searchsorted(grid.columns, r), np.searchsorted(grid.levels, z)
        history = march(operator_of(grid), HELD, tolerance=1e-4)
        errors.append(history.at(TIMES)[:, rows[:, None], columns] - exact)
        assert abs(history.energy_defect) < 1e-6
    size = np.array([np.sqrt(np.mean(error[:, :-1, 1:-1] ** 2)) for error in errors])
    assert 1.9 < observed_order(np.array([4.0, 2.0, 1.0]), size) < 2.2
    # extrapolated from the two finer grids, as every figure is: a few thousandths of a kelvin
    assert np.abs(errors[2] + (errors[2] - errors[1]) / 3.0).max() < 0.02


def test_constant_properties_would_be_far_off():
    exact = kirchhoff_exact(0.003, np.array([0.0]), np.array([0.04]), TIMES)
    plain = kirchhoff_exact(1e-9, np.array([0.0]), np.array([0.04]), TIMES)
    assert np.abs(exact - plain).max() > 1.0


@pytest.mark.parametrize(
    ("b", "exact"),
    [
        # T at r = 10, 20, 30 mm between 20 degC at 5 mm and 121 at 40 mm, k = k0 (1 + b T): closed form, computed
        (0.002, (55.710056294347, 89.259987894421, 108.02786765784)),
        (0.005, (58.096235281855, 91.251323316021, 109.00104422796)),
    ],
)
def test_steady_annulus_has_the_profile_of_its_closed_form(b, exact):
    r = np.linspace(0.005, 0.04, 71)
    material = with_tables(PASTE, (0.0, 150.0), (0.5, 0.5 * (1 + 150 * b)), (3.9e6, 3.9e6))
    body = plain_body(
        np.concatenate([[0.0], r]),
        np.array([0.0, 0.01]),
        np.zeros((r.size, 1), dtype=int),
        np.ones((r.size, 1), dtype=bool),
        np.full((r.size, 1), 20.0),
        (material,),
    )
    grid = grid_family(body)[-1]
    # steady: the conductances' own balance, found by fixed-point iteration on k(T)
    temperature = steady(grid, lambda nodes: np.where(nodes <= 0.005 + 1e-9, 20.0, np.nan), hot=(0.04, 121.0))
    found = np.interp([0.01, 0.02, 0.03], grid.columns, temperature[:, 0])
    assert_allclose(found, exact, rtol=0, atol=0.01)


def steady(grid, cold, *, hot, source=None):
    """Steady temperatures: ``cold`` gives held values by radius (NaN: free), ``hot`` is a radius and its value."""
    operator = operator_of(grid)
    numbering = Numbering(operator.capacity > 0.0)
    mesh = _mesh(operator.varying, numbering)
    tables = Tables.of(grid.materials, 0.0, 150.0)
    held = cold(np.repeat(grid.columns[:, None], grid.levels.size, axis=1))
    held = np.where(np.abs(grid.r - hot[0]) < 1e-9, hot[1], held)
    held, right = numbering.vector(held), np.zeros(numbering.count) if source is None else numbering.vector(source)
    return numbering.fields([relaxed(mesh, tables, held, right)[None]], np.zeros(grid.shape))[0]


def relaxed(mesh, tables, held, right):
    """Solve K(T) T = right with some nodes held, by fixed-point iteration on the conductivities."""
    free = np.isnan(held)
    temperature = np.where(free, np.nanmean(held), held)
    conductivity = np.empty(len(mesh.corner))
    for _ in range(200):
        exchange_kernels.conductivities(
            temperature,
            (mesh.corner, mesh.material, np.arange(len(mesh.corner))),
            1.0,
            (tables.first, tables.spacing, tables.upwards, tables.downwards),
            conductivity,
        )
        i, j = (mesh.corner[:, [pair[k] for pair in exchange_kernels.PAIRS]].ravel() for k in (0, 1))
        value = (mesh.shares * conductivity[:, None]).ravel()
        n = temperature.size
        matrix = sparse.coo_matrix(
            (
                np.concatenate([value, value, -value, -value]),
                (np.concatenate([i, j, i, j]), np.concatenate([i, j, j, i])),
            ),
            shape=(n, n),
        ).tocsr()
        found = temperature.copy()
        rest = right - matrix @ np.where(free, 0.0, held)
        found[free] = spsolve(matrix[free][:, free].tocsc(), rest[free])
        change = np.abs(found - temperature).max()
        temperature = found
        if change < 1e-10:
            return temperature
    raise AssertionError("the fixed-point iteration did not settle")


def test_a_manufactured_temperature_with_changing_conductivity_is_met_at_second_order():
    """T = 60 + 30 cos(a r^2) cos(b z), k = k0 + k1 T: the source is -k lap T - k1 |grad T|^2, worked out by hand."""
    a, b, k0, k1 = 900.0, 25.0, 0.45, 0.002
    errors = []
    for grid in grid_family(cylinder(PASTE, radius=0.03, height=0.08)):
        grid = changing(grid, temperature=(0.0, 150.0), conductivity=(k0, k0 + 150 * k1), capacity=(3.9e6, 3.9e6))
        r, z, swing = grid.r, grid.z, a * grid.r**2
        exact = 60.0 + 30.0 * np.cos(swing) * np.cos(b * z)
        along_r = -60.0 * a * r * np.sin(swing) * np.cos(b * z)
        along_z = -30.0 * b * np.cos(swing) * np.sin(b * z)
        laplacian = (
            30.0 * (-4 * a * np.sin(swing) - 4 * a * swing * np.cos(swing) - b**2 * np.cos(swing)) * np.cos(b * z)
        )
        heat = -(k0 + k1 * exact) * laplacian - k1 * (along_r**2 + along_z**2)
        operator = operator_of(grid)
        numbering = Numbering(operator.capacity > 0.0)
        mesh, tables = _mesh(operator.varying, numbering), Tables.of(grid.materials, 0.0, 150.0)
        surface = (operator.side + operator.base + operator.lid) > 0
        held = numbering.vector(np.where(surface, exact, np.nan))
        right = numbering.vector(heat * operator.capacity / PASTE.capacity)
        found = relaxed(mesh, tables, held, right)
        errors.append(np.sqrt(np.mean((found - numbering.vector(exact)) ** 2)))
    assert 1.9 < observed_order(np.array([4.0, 2.0, 1.0]), np.array(errors)) < 2.2


# -- conservation --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("film", [300.0, np.inf], ids=["film", "held"])
@pytest.mark.parametrize("body", [jar(3), body_of(SHAPES["rounded, with a dome"])], ids=["jar", "dome"])
def test_heat_taken_in_is_the_change_of_the_heat_content(body, film):
    grid = grid_family(body)[1]
    k, c = grid.materials[1].conductivity, grid.materials[1].capacity
    materials = (
        grid.materials[0],
        with_tables(grid.materials[1], (-10.0, 60.0, 150.0), (0.8 * k, k, 1.3 * k), (0.9 * c, c, 1.2 * c)),
        *grid.materials[2:],
    )
    history = march(operator_of(dataclasses.replace(grid, materials=materials)), heat_and_cool(film), tolerance=0.002)
    assert abs(history.energy_defect) < 1e-6


def test_a_gap_that_conducts_upwards_alone_lets_heat_through_one_way():
    # a slab of gas between two of product, heated from below or from above
    still = Material("gap", 0.5, 1.0, 1000.0)
    gap = with_tables(still, (0.0, 150.0), (0.5, 0.5), (1e3, 1e3), downwards=(0.005, 0.005))
    ends = {}
    for name, film in (("below", Film(0.0, np.inf, 0.0)), ("above", Film(0.0, 0.0, np.inf))):
        body = plain_body(
            np.array([0.0, 0.03]), np.array([0.0, 0.01, 0.02, 0.03]), np.array([[0, 1, 0]]),
            np.array([[True, False, False]]), np.full((1, 3), 20.0), (PASTE, gap),
        )  # fmt: skip
        process = Process((Stage("hold", np.array([0.0, 3000.0]), np.array([120.0, 120.0]), film),))
        history = march(operator_of(grid_family(body)[-1]), process, tolerance=0.002)
        ends[name] = history.temperature[-1, 0, [0, -1]]
        assert abs(history.energy_defect) < 1e-6
    assert ends["below"][1] > 80.0
    assert ends["above"][0] < 40.0


# -- heat that turns, and bends of the medium ----------------------------------------------------------------------


def slab_over_which_heat_turns():
    """A slab of product under a gas that conducts upwards twenty times better than downwards, heated and cooled."""
    gap = with_tables(
        Material("gap", 0.5, 1.2, 1000.0), (0.0, 150.0), (0.4, 0.6), (1.2e3, 1.2e3), downwards=(0.02, 0.03)
    )
    body = plain_body(
        np.array([0.0, 0.03]), np.array([0.0, 0.03, 0.034, 0.035]), np.array([[0, 1, 2]]),
        np.array([[True, False, False]]), np.full((1, 3), 20.0), (PASTE, gap, Material("steel", 45.0, 7850.0, 470.0)),
    )  # fmt: skip
    film = Film(0.0, 0.0, 500.0)
    stages = (
        Stage("come-up", np.array([0.0, 600.0]), np.array([20.0, 121.0]), film),
        Stage("hold", np.array([600.0, 4000.0]), np.array([121.0, 121.0]), film),
        Stage("cool", np.array([4000.0, 4600.0]), np.array([121.0, 30.0]), film),
        Stage("cool", np.array([4600.0, 7000.0]), np.array([30.0, 30.0]), film),
    )
    return grid_family(body)[1], Process(stages)


def test_where_the_heat_turns_the_steps_leave_no_error_of_their_own():
    grid, process = slab_over_which_heat_turns()
    operator = operator_of(grid)
    times = np.linspace(0.0, process.end, 400)
    best = march(operator, process, tolerance=2e-5).at(times)
    coarser = march(operator, process, tolerance=0.02).at(times)
    # to be seen at all, the heat has to turn
    surface, under_lid = (best[:, 0, np.searchsorted(grid.levels, z)] for z in (0.03, 0.034))
    assert (surface - under_lid).min() < -20.0
    assert (surface - under_lid).max() > 4.0
    assert np.abs(coarser - best)[:, grid.product_nodes].max() < 0.02


def test_a_gap_conducts_more_the_more_its_lower_face_leads_and_never_downwards():
    leads = np.linspace(-3.0, 3.0, 601)
    share = np.array([exchange_kernels.direction(lead) for lead in leads])
    assert (share[leads <= 0.0] == 0.0).all()
    assert (share[leads >= TURNED] == 1.0).all()
    assert_allclose(share, [turned(lead) for lead in leads], rtol=1e-15)
    # what flows grows with the difference, whichever way it goes
    assert (np.diff((0.02 + share * 0.5) * leads) > 0.0).all()


@pytest.mark.parametrize("film", [80.0, np.inf])
def test_correcting_the_nodes_that_change_alone_gives_what_correcting_all_nodes_gives(film, monkeypatch):
    grid, process = grid_family(jar(3))[1], heat_and_cool(film)
    gap = with_tables(grid.materials[3], (0.0, 150.0), (0.2, 3.0), (1e3, 1.4e3), downwards=(0.03, 0.1))
    operator = operator_of(dataclasses.replace(grid, materials=(*grid.materials[:3], gap)))
    alone = march(operator, process, tolerance=2e-4)
    looked_for = []
    monkeypatch.setattr(changing_module, "_first", lambda nodes, count: looked_for.append(nodes.min() / count) or 0)
    every = march(operator, process, tolerance=2e-4)
    assert min(looked_for) > 0.5  # most of the jar is before the first of them
    times = np.linspace(60.0, process.end, 40)
    assert np.abs(alone.at(times) - every.at(times)).max() < 2e-4
    assert abs(alone.energy_defect) < 1e-9


@pytest.mark.parametrize("tolerance", [0.5, 5.0, 50.0])
def test_a_march_that_is_followed_very_loosely_still_ends_and_keeps_its_heat(tolerance):
    grid, process = slab_over_which_heat_turns()
    history = march(operator_of(grid), process, tolerance=tolerance)
    assert np.isfinite(history.temperature).all()
    assert abs(history.energy_defect) < 1e-9


def test_between_its_steps_the_march_follows_a_bend_of_the_medium():
    grid, process = slab_over_which_heat_turns()
    operator = operator_of(grid)
    after = 4600.0 + np.linspace(0.0, 300.0, 61)
    best, coarser = (march(operator, process, tolerance=tolerance).at(after) for tolerance in (2e-5, 0.02))
    lid = np.searchsorted(grid.levels, 0.035)
    assert np.abs(best[-1, 0, lid] - best[0, 0, lid]) > 0.5
    assert_allclose(coarser[:, 0, lid], best[:, 0, lid], rtol=0, atol=0.05)
