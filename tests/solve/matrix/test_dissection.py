"""Rungs: another code (SuperLU through SciPy), slow twins (dense algebra, the band), counts known from theory."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest
from bodies import heat_and_cool, jar
from numpy.testing import assert_allclose
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import splu
from shapes import SHAPES

from thermsim.case.process import Film
from thermsim.solve.basis.reduced import Reduced
from thermsim.solve.grid.body import body_of
from thermsim.solve.grid.grid import grid_family
from thermsim.solve.grid.operator import operator_of
from thermsim.solve.march.march import march
from thermsim.solve.matrix import front_kernels, matrix_kernels, system
from thermsim.solve.matrix.dissection import PATCH, dissected
from thermsim.solve.matrix.numbering import Numbering
from thermsim.solve.matrix.system import banded, in_fronts, system_of

STRAIGHT = ((np.s_[:-1, :], np.s_[1:, :]), (np.s_[:, :-1], np.s_[:, 1:]))
ACROSS = ((np.s_[:-1, :-1], np.s_[1:, 1:]), (np.s_[:-1, 1:], np.s_[1:, :-1]))


class Lattice:
    """A drawn symmetric positive definite system on a lattice with holes; across its cells of either sign."""

    def __init__(self, rows, columns, *, holes=0.0, diagonals=False, seed=0, active=None):
        rng = np.random.default_rng(seed)
        there = rng.uniform(size=(rows, columns)) >= holes if active is None else active
        self.number = np.where(there, np.cumsum(there).reshape(there.shape) - 1, -1)
        self.count, self.diagonals = int(there.sum()), diagonals
        pairs = []
        for low, high in STRAIGHT + (ACROSS if diagonals else ()):
            both = there[low] & there[high]
            pairs.append((self.number[low][both], self.number[high][both]))
        self.before, self.after = (np.concatenate(part) for part in zip(*pairs, strict=True))
        straight = pairs[0][0].size + pairs[1][0].size
        size = rng.uniform(0.1, 1.0, self.before.size) * np.geomspace(1.0, 1e3, self.before.size)
        self.conductance = np.where(np.arange(size.size) < straight, size, rng.uniform(-0.2, 0.2, size.size))
        self.diagonal = rng.uniform(0.01, 0.1, self.count)
        for end in (self.before, self.after):
            np.add.at(self.diagonal, end, np.abs(self.conductance))
        self.pairs = self.before, self.after, self.conductance, self.diagonal

    def matrix(self):
        """The same for SciPy."""
        own = np.arange(self.count)
        i = np.concatenate([own, self.before, self.after])
        j = np.concatenate([own, self.after, self.before])
        values = np.concatenate([self.diagonal, -self.conductance, -self.conductance])
        return coo_matrix((values, (i, j)), shape=(self.count, self.count)).tocsc()

    def in_fronts(self):
        return in_fronts(*self.pairs, dissected(self.number, diagonals=self.diagonals))


def solved(matrix, right, capacity=None, *, scale=1.0, shift=0.0):
    """Solutions of (scale K + shift C) x = right for rows of right; None if there is no factor."""
    capacity = np.ones(right.shape[-1]) if capacity is None else capacity
    factors, x = np.zeros(matrix.stored), right.copy()
    if not matrix_kernels.factorise(matrix.banded, matrix.dissected, scale, capacity, shift, factors):
        return None
    if x.ndim > 1 and matrix.dissected is not None:
        front_kernels.solve(factors, matrix.dissected[-1], x)
    else:
        for one in np.atleast_2d(x):
            matrix_kernels.solve_one(factors, matrix.banded, matrix.dissected, one)
    return x


LATTICES = {
    "one node": Lattice(1, 1),
    "a line": Lattice(1, 100),
    "a patch": Lattice(4, 4, diagonals=True),
    "narrow": Lattice(300, 3, diagonals=True),
    "straight": Lattice(37, 82),
    "diagonals": Lattice(70, 55, diagonals=True),
    "holes": Lattice(61, 80, holes=0.25, seed=1),
    "holes and diagonals": Lattice(61, 80, holes=0.25, diagonals=True, seed=2),
    "mostly holes": Lattice(60, 60, holes=0.7, diagonals=True, seed=3),
    # as a probe outside a container: a wide part and a narrow one, and something that touches neither
    "parts": Lattice(
        80,
        60,
        active=np.pad(np.ones((40, 60), bool), ((0, 40), (0, 0)))
        | (np.add.outer(np.arange(80) // 45, np.arange(60) // 3) == 1),
    ),
    "wide": Lattice(160, 130, diagonals=True, seed=4),
}


@pytest.mark.parametrize("lattice", LATTICES.values(), ids=list(LATTICES))
def test_solutions_are_those_of_superlu_and_of_the_band(lattice):
    rng = np.random.default_rng(5)
    capacity, right = rng.uniform(0.1, 2.0, lattice.count), rng.normal(size=lattice.count)
    matrix = lattice.matrix().copy() * 0.7
    matrix.setdiag(matrix.diagonal() + 0.3 * capacity)
    expected = splu(matrix).solve(right)
    dense = solved(banded(*lattice.pairs), right, capacity, scale=0.7, shift=0.3)
    found = solved(lattice.in_fronts(), right, capacity, scale=0.7, shift=0.3)
    # conductances over three decades beside films of a tenth: the condition is some 1e5, rounding 1e-16
    bound = 1e-10 * np.abs(expected).max()
    assert_allclose(found, expected, rtol=0, atol=bound)
    assert_allclose(found, dense, rtol=0, atol=bound)


@pytest.mark.parametrize("name", ["narrow", "holes and diagonals"])
def test_many_right_hand_sides_are_solved_as_each_by_itself(name):
    matrix, rights = LATTICES[name].in_fronts(), np.random.default_rng(6).normal(size=(5, LATTICES[name].count))
    for found, right in zip(solved(matrix, rights), rights, strict=True):
        assert np.array_equal(found, solved(matrix, right))


@pytest.mark.parametrize("wrong", [-1.0, np.nan])
@pytest.mark.parametrize("place", [0, 1000, 3033])
def test_a_matrix_that_is_not_positive_definite_is_told(wrong, place):
    lattice = Lattice(37, 82)
    right = np.ones(lattice.count)
    assert solved(lattice.in_fronts(), right) is not None
    lattice.diagonal[place] = wrong
    assert solved(lattice.in_fronts(), right) is None
    assert solved(banded(*lattice.pairs), right) is None


@pytest.mark.parametrize("name", ["a line", "holes and diagonals", "mostly holes", "parts"])
def test_every_node_is_eliminated_once_and_after_what_its_front_parts(name):
    lattice = LATTICES[name]
    order, first, rows_at, rows, _, _, below, _ = dissected(lattice.number, diagonals=lattice.diagonals).fronts
    assert np.array_equal(np.sort(order), np.arange(lattice.count))
    place = np.argsort(order)
    front = np.searchsorted(first, np.arange(lattice.count), side="right") - 1
    low = np.minimum(place[lattice.before], place[lattice.after])
    high = np.maximum(place[lattice.before], place[lattice.after])
    for early, late in zip(low.tolist(), high.tolist(), strict=True):
        one, other = front[early], front[late]
        # the later is in the same front or in one above: only what ends with it lies between
        assert other - below[other] < one <= other
        assert one == other or late in rows[rows_at[one] : rows_at[one + 1]]


def test_storage_and_work_grow_as_theory_says():
    # A. George, SIAM Journal on Numerical Analysis 10 (1973) 345-363 (from memory): of a square of m x m nodes the
    # factor has O(m^2 log m) elements and takes O(m^3) products; a band has m^3 and takes m^4. Finite sizes come near
    # from above, as all lower terms are taken off: hence 9 for 8 and not the band's 16
    stored, products = [], []
    for m in (100, 200, 400):
        dissection = dissected(np.arange(m * m).reshape(m, m), diagonals=True)
        _, first, rows_at, *_ = dissection.fronts
        pivots, beside = np.diff(first).astype(float), np.diff(rows_at).astype(float)
        stored.append(dissection.stored / (m * m * np.log2(m)))
        products.append(float((pivots**3 / 3 + pivots**2 * beside + pivots * beside**2).sum()))
        assert dissection.stored == (pivots * (pivots + beside)).sum()
    assert stored[2] < 1.1 * stored[0]
    assert products[1] < 9.0 * products[0]
    assert products[2] < 9.0 * products[1]


def test_a_patch_is_one_front():
    assert dissected(np.arange(PATCH)[None], diagonals=True).stored == PATCH**2
    assert dissected(np.arange(PATCH + 1)[None], diagonals=True).stored < PATCH**2


def test_what_flows_is_the_matrix_times_the_temperatures():
    lattice = LATTICES["holes and diagonals"]
    exchange, x = np.random.default_rng(7).uniform(size=(2, lattice.count))
    diagonal = exchange.copy()
    for end in (lattice.before, lattice.after):
        np.add.at(diagonal, end, lattice.conductance)
    matrix = lattice.matrix()
    matrix.setdiag(diagonal)
    flow = np.empty(lattice.count)
    matrix_kernels.conduct(lattice.before, lattice.after, lattice.conductance, exchange, x, flow)
    assert_allclose(flow, matrix @ x, rtol=0, atol=1e-12 * diagonal.max())


def operators():
    """A jar of rectangles, a container whose grid is skewed, the jar with more nodes than the band is used for."""
    return {
        "straight": operator_of(grid_family(jar(3))[1]),
        "skewed": operator_of(grid_family(body_of(SHAPES["shoulder"]))[1]),
        "large": operator_of(grid_family(jar(3), refinement=5.0)[1]),
    }


PROCESSES = {
    "films": heat_and_cool(400.0),
    "held": heat_and_cool(np.inf),
    "mixed": heat_and_cool(Film(800.0, 60.0, np.inf)),
}


@pytest.mark.parametrize(
    ("name", "films"),
    [(name, films) for name in ("straight", "skewed") for films in PROCESSES] + [("large", "mixed")],
)
def test_bases_and_marches_agree_however_the_matrix_is_factored(monkeypatch, name, films):
    operator, process = operators()[name], PROCESSES[films]
    time = np.linspace(0.0, process.end, 40)
    found = []
    for large in (1, 10**9):
        monkeypatch.setattr(system, "LARGE", large)
        evolution = Reduced(operator, tolerance=0.002).evolve(process)
        history = march(operator, process, tolerance=0.01)
        found.append((evolution.at(time), history.at(time), history.steps, history.heat_in, evolution.heat_in))
    assert found[0][2] == found[1][2]
    for k in (0, 1):  # rounding, blown up by what little tiny volumes hold
        assert_allclose(found[0][k], found[1][k], rtol=0, atol=1e-6)
    assert_allclose(found[0][3:], found[1][3:], rtol=1e-8)


def test_the_choice_goes_by_the_number_of_nodes():
    operator = operator_of(grid_family(jar(3), refinement=5.0)[1])
    numbering = Numbering(operator.capacity > 0.0)
    few = operator_of(grid_family(jar(3))[1])
    assert (few.capacity > 0.0).sum() < system.LARGE <= numbering.count
    large = system_of(operator, Film.everywhere(100.0), numbering).matrix
    small = system_of(few, Film.everywhere(100.0), Numbering(few.capacity > 0.0)).matrix
    assert large.banded is None
    assert small.dissected is None
    assert large.stored == (numbering.dissection(diagonals=False).stored,)
    # another film: dissected once
    again = system_of(operator, Film.everywhere(np.inf), numbering).matrix
    assert again.dissected[-1] is large.dissected[-1]


def test_small_grids_do_not_wait_for_what_only_large_ones_need():
    code = (
        "from thermsim.solve.compiling import compile_kernels\n"
        "from thermsim.solve.matrix import dissection_kernels, front_kernels, matrix_kernels\n"
        "compile_kernels()\n"
        "print(len(matrix_kernels.factorise_shifted.signatures), len(front_kernels.factor.signatures),"
        " len(front_kernels.solve.signatures), len(dissection_kernels.dissect.signatures))"
    )
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    assert done.stdout.split() == ["1", "0", "0", "0"]
