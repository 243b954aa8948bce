"""Rung: exact solutions. A fin in a bath, a rod in food; values computed with 40 digits from the exact series."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.interpolate import CubicSpline, RectBivariateSpline
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve

from thermsim.case.process import Film, Process, Stage
from thermsim.exact import fin_temperature
from thermsim.physics.materials import Material
from thermsim.solve.grid.body import OUTSIDE, Body
from thermsim.solve.grid.grid import grid_family
from thermsim.solve.grid.operator import exchange_of, operator_of
from thermsim.solve.march.march import march


def body(r, z, material, probe, materials, wanted):
    """A body whose grid is fine at the rod's surface."""
    material = np.array(material)
    return Body(
        columns=np.array(r),
        levels=np.array(z),
        material=material,
        product=material == 0,
        probe=np.array(probe),
        initial=np.zeros(material.shape),
        materials=materials,
        wanted_columns=np.array([math.inf, wanted, *[math.inf] * (len(r) - 2)]),
        wanted_levels=np.full(len(z), math.inf),
    )


def steady(grid, held, exchange):
    """Steady temperatures with some nodes held at given values (NaN where free) and exchange with a bath at 0."""
    operator = operator_of(grid)
    number = np.arange(held.size).reshape(held.shape)
    rows, columns, values = [], [], []
    for i, j, g in (
        (number[:-1], number[1:], operator.conductance_r),
        (number[:, :-1], number[:, 1:], operator.conductance_z),
    ):
        for a, b in ((i, j), (j, i)):
            rows += [a.ravel(), a.ravel()]
            columns += [a.ravel(), b.ravel()]
            values += [g.ravel(), -g.ravel()]
    idle = operator.capacity.ravel() == 0.0
    rows.append(number.ravel())
    columns.append(number.ravel())
    values.append(exchange.ravel() + idle)
    n = held.size
    matrix = coo_matrix(
        (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))), shape=(n, n)
    ).tocsr()
    known = np.isfinite(held.ravel())
    solution = np.where(known, held.ravel(), 0.0)
    free = ~known
    solution[free] = spsolve(matrix[free][:, free].tocsc(), -matrix[free][:, known] @ solution[known])
    return solution.reshape(held.shape)


# conductivity, film, diameter, length, tip over base with a convecting tip (closed form, computed)
FINS = [
    (15.0, 20.0, 0.003, 0.05, 0.232253998168),
    pytest.param(15.0, 200.0, 0.003, 0.05, 0.00231387657262, marks=pytest.mark.long),
    pytest.param(385.0, 200.0, 0.003, 0.05, 0.492048202135, marks=pytest.mark.long),
]


@pytest.mark.parametrize(("k", "h", "diameter", "length", "tip"), FINS)
def test_stem_in_a_bath_is_the_fin(k, h, diameter, length, tip):
    rod, radius, foot = Material("rod", k, 7900.0, 500.0), diameter / 2, 0.001
    # a plate 1 mm thick is the container; the rod passes it and sticks out into the bath
    stem = body(
        [0.0, radius, 0.01],
        [0.0, foot, foot + length],
        [[0, 0], [0, OUTSIDE]],
        [[True, True], [False, False]],
        (rod,),
        radius / 8,
    )
    grid = grid_family(stem)[-1]
    held = np.full(grid.shape, np.nan)
    held[:, grid.levels <= foot + 1e-9] = 1.0
    exchange, _ = exchange_of(operator_of(grid), Film(side=1.0, base=1.0, lid=1.0, probe=h))
    found = steady(grid, held, exchange)
    # the fin is one-dimensional: its Biot number h r/k is at most 0.02; where the tip is cold that shows most
    assert_allclose(found[0, -1], tip, rtol=0.005 if tip > 0.01 else 0.05)
    middle = fin_temperature([length / 2], length, conductivity=k, diameter=diameter, film=h, tip_film=h)[0]
    assert_allclose(np.interp(foot + length / 2, grid.levels, found[0]), middle, rtol=0.005 if tip > 0.01 else 0.03)


# rod radius and conductivity in a cylinder R = 40 mm, H = 100 mm, k = 0.5, one face at 1, the rest at 0:
# T on the axis at 10, 20, 50 mm and at (10, 10), (10, 20), (20, 50) mm (exact two-material series, computed)
RODS = [
    (0.0015, 0.5, (0.68080060802, 0.42347436489, 0.078028103012, 0.66337007803, 0.40169430318, 0.053155499328)),
    (0.0015, 15.0, (0.71707040375, 0.47780617581, 0.10884783520, 0.67395779372, 0.41877240834, 0.059363169115)),
    (0.0015, 2.0, (0.68575106288, 0.43045261135, 0.081176996822, 0.66474829682, 0.40383413458, 0.053830121182)),
    (0.0008, 15.0, (0.69637798565, 0.44575054123, 0.088440202086, 0.66686715131, 0.40721593715, 0.054991847945)),
    (0.003, 15.0, (0.75592253726, 0.54220501262, 0.16550205827, 0.69477977235, 0.45366670815, 0.074713174592)),
]
PLACES = ((0.0, 0.01), (0.0, 0.02), (0.0, 0.05), (0.01, 0.01), (0.01, 0.02), (0.02, 0.05))


@pytest.mark.parametrize(("radius", "k", "exact"), RODS)
def test_rod_in_food_is_the_two_material_series(radius, k, exact):
    food, rod = Material("food", 0.5, 1000.0, 3500.0), Material("rod", k, 7900.0, 500.0)
    whole = body([0.0, radius, 0.04], [0.0, 0.1], [[1], [0]], [[True], [False]], (food, rod), radius / 4)
    grids = grid_family(whole, refinement=1.5)[1:]
    fields = []
    for grid in grids:
        held = np.full(grid.shape, np.nan)
        held[:, -1] = 0.0
        held[-1] = 0.0
        held[:, 0] = 1.0
        held[-1, 0] = 0.5  # where the faces meet
        fields.append(steady(grid, held, np.zeros(grid.shape)))
    for (r, z), value in zip(PLACES, exact, strict=True):
        coarse, fine = (
            float(RectBivariateSpline(grid.columns, grid.levels, field)(r, z)[0, 0])
            for grid, field in zip(grids, fields, strict=True)
        )
        assert_allclose(fine + (fine - coarse) / 3, value, rtol=0.005)


# rod and annulus of infinite length, R = 40 mm held, food k 0.5 and rho c 3.5e6: unaccomplished fraction at
# (0, 600 s), (0, 1800 s), (0, 3600 s), (20 mm, 600 s), (20 mm, 1800 s) (exact series, computed)
COAXIAL = [
    (0.0015, 15.0, 3.95e6, (0.981726034072, 0.624133232135, 0.249623694283, 0.816798572479, 0.425088489262)),
    (0.003, 15.0, 3.95e6, (0.980545034700, 0.622270092383, 0.249288141335, 0.816801767207, 0.425333066692)),
    (0.003, 0.25, 2.2e6, (0.981269323798, 0.618686075184, 0.245318052310, 0.816791333501, 0.424119929926)),
]


@pytest.mark.parametrize(("radius", "k", "heat", "exact"), COAXIAL)
def test_rod_and_annulus_heat_as_the_exact_series(radius, k, heat, exact):
    food, rod = Material("food", 0.5, 1000.0, 3500.0), Material("rod", k, 1000.0, heat / 1000.0)
    whole = body([0.0, radius, 0.04], [0.0, 0.05], [[1], [0]], [[True], [False]], (food, rod), radius / 4)
    film = Film(side=math.inf, base=0.0, lid=0.0, probe=0.0)
    process = Process((Stage("hold", np.array([0.0, 3600.0]), np.array([1.0, 1.0]), film),))
    middle, fine = grid_family(whole)[1:]
    times = np.array([600.0, 1800.0, 3600.0])
    on_middle, on_fine = (march(operator_of(grid), process, tolerance=1e-6).at(times) for grid in (middle, fine))
    common = np.searchsorted(fine.columns, middle.columns)
    best = on_fine[:, common, 0] + (on_fine[:, common, 0] - on_middle[:, :, 0]) / 3
    axis = 1.0 - best[:, 0]
    assert_allclose(axis, exact[:3], rtol=0.005)
    halfway = [1.0 - float(CubicSpline(middle.columns, row)(0.02)) for row in best[:2]]
    assert_allclose(halfway, exact[3:], rtol=0.005)
