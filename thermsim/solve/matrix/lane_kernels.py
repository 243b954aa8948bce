# numba infers the types of the compiled loops; their docstrings give shapes and units
# mypy: allow-untyped-defs, allow-untyped-decorators, allow-untyped-calls, allow-incomplete-defs
"""Banded Cholesky of several matrices at once that differ in one number: what is done to one is done to all.

The bands here are narrow, and loops along them too short for a processor's vectors. So the matrices are kept side by
side: every element is a group of :data:`LANES` numbers, one for each matrix, and every operation one on such groups.
The compiler does not find this by itself: the inner loops are written for LLVM.

A factor is stored by rows of groups, (rows, width + 4, LANES): the element (i, k) stands in row i at ``width + 3 - i
+ k``, the diagonal last, and inverted. Three groups of zeros come before the first, rows of the identity make the
number of rows whole blocks of four, and the width is even: so no loop has to look where the band ends.
"""

from __future__ import annotations

import functools
import math
from typing import Any

import numpy as np
from llvmlite import ir
from numba import types
from numba.core import cgutils
from numba.extending import intrinsic

from thermsim.solve.compiled import inlined

#: Matrices side by side: as many numbers as most processors take at once.
LANES = 4
#: Columns that are worked out together.
BLOCK = 4

_GROUP = ir.VectorType(ir.DoubleType(), LANES)
#: Products may be added without being rounded in between.
_FUSED = ("contract",)


class _Groups:
    """A flat array (n,) of numbers, seen as groups of lanes, while code is written that works on it."""

    def __init__(self, context: Any, builder: Any, kind: Any, array: Any) -> None:
        self.builder = builder
        self.data = context.make_array(kind)(context, builder, array).data

    def _place(self, number: Any) -> Any:
        first = self.builder.mul(number, _number(LANES))
        return self.builder.bitcast(self.builder.gep(self.data, [first]), ir.PointerType(_GROUP))

    def take(self, number: Any) -> Any:
        """The group of a number."""
        return self.builder.load(self._place(number), align=8)

    def put(self, number: Any, group: Any) -> None:
        """Store a group."""
        self.builder.store(group, self._place(number), align=8)


def _less(builder: Any, group: Any, one: Any, other: Any) -> Any:
    """A group less the product of two others."""
    return builder.fsub(group, builder.fmul(one, other, flags=_FUSED), flags=_FUSED)


def _number(value: int) -> Any:
    """A whole number that is known."""
    return ir.Constant(ir.IntType(64), value)


def _plus(builder: Any, number: Any, more: int) -> Any:
    """A whole number and something more."""
    return builder.add(number, _number(more))


def _diagonal(builder: Any, row: Any, stride: Any) -> Any:
    """Where a row's element on the diagonal stands: the last of its groups."""
    return _plus(builder, builder.mul(_plus(builder, row, 1), stride), -1)


def _spread(builder: Any, value: Any) -> Any:
    """A group of one number."""
    group = ir.Constant(_GROUP, ir.Undefined)
    for lane in range(LANES):
        group = builder.insert_element(group, value, ir.Constant(ir.IntType(32), lane))
    return group


def _on_groups(body: Any) -> Any:
    """Make ``body(builder, ...)``, which writes code, a function for compiled loops that gives nothing back.

    Flat arrays come to it as :class:`_Groups`, whole numbers as 64 bits.
    """

    def typed(typing: Any, *kinds: Any) -> Any:
        def known(kind: Any) -> Any:
            return kind if isinstance(kind, (types.Array, types.Float)) else types.int64

        def write(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
            given = [
                _Groups(context, builder, kind, value) if isinstance(kind, types.Array) else value
                for kind, value in zip(signature.args, arguments, strict=True)
            ]
            body(builder, *given)
            return context.get_dummy_value()

        return types.void(*map(known, kinds)), write

    return intrinsic(functools.wraps(body)(typed))


@_on_groups
def spread(builder, groups, at, value):
    """Put one number into a whole group."""
    groups.put(at, _spread(builder, value))


@_on_groups
def pivots(builder, band, first, width):
    """Factor the block of four rows from ``first`` on, on the diagonal, in place."""
    places = _corner(builder, first, width)
    kind = ir.FunctionType(_GROUP, [_GROUP])
    square_root = cgutils.get_or_insert_function(builder.module, kind, f"llvm.sqrt.v{LANES}f64")
    one = ir.Constant(_GROUP, [1.0] * LANES)
    found: dict[tuple[int, int], Any] = {}
    for i in range(BLOCK):
        for k in range(i + 1):
            value = band.take(places[i, k])
            for q in range(k):
                value = _less(builder, value, found[i, q], found[k, q])
            if k < i:
                value = builder.fmul(value, found[k, k])
            else:
                value = builder.fdiv(one, builder.call(square_root, [value]))
            found[i, k] = value
            band.put(places[i, k], value)


def _corner(builder: Any, first: Any, width: Any) -> dict[tuple[int, int], Any]:
    """Where the elements of a block of four rows on the diagonal stand."""
    stride = _plus(builder, width, BLOCK)
    ends = [_diagonal(builder, _plus(builder, first, i), stride) for i in range(BLOCK)]
    return {(i, k): _plus(builder, ends[i], k - i) for i in range(BLOCK) for k in range(i + 1)}


@_on_groups
def settle(builder, band, first, width, row, below):
    """Work out a row's elements in the four columns from ``first`` on, and put them into ``below`` too.

    ``below`` holds four columns of width + 4 groups, from the row behind the block of the diagonal on.
    """
    stride = _plus(builder, width, BLOCK)
    place = builder.sub(_diagonal(builder, row, stride), builder.sub(row, first))
    behind = builder.sub(row, _plus(builder, first, BLOCK))
    corner = _corner(builder, first, width)
    found: list[Any] = []
    for k in range(BLOCK):
        value = band.take(_plus(builder, place, k))
        for q in range(k):
            value = _less(builder, value, found[q], band.take(corner[k, q]))
        value = builder.fmul(value, band.take(corner[k, k]))
        found.append(value)
    for k in range(BLOCK):
        band.put(_plus(builder, place, k), found[k])
        below.put(builder.add(behind, builder.mul(stride, _number(k))), found[k])


@_on_groups
def sweep(builder, band, width, row, behind, below):
    """Take four columns times their own elements from a row and the next one, up to their diagonals.

    ``behind``: how many rows lie between the block on the diagonal and the first of the two; ``below`` as of
    :func:`settle`. The two together, so that what is fetched serves twice.
    """
    stride = _plus(builder, width, BLOCK)
    starts = [builder.mul(stride, _number(k)) for k in range(BLOCK)]
    next_one = _plus(builder, behind, 1)
    own, others = ([below.take(builder.add(start, at)) for start in starts] for at in (behind, next_one))
    place = builder.sub(_diagonal(builder, row, stride), behind)
    below_it = builder.sub(_diagonal(builder, _plus(builder, row, 1), stride), next_one)
    with cgutils.for_range(builder, next_one) as loop:
        one, other = builder.add(place, loop.index), builder.add(below_it, loop.index)
        value, second = band.take(one), band.take(other)
        for start, factor, another in zip(starts, own, others, strict=True):
            column = below.take(builder.add(start, loop.index))
            value = _less(builder, value, factor, column)
            second = _less(builder, second, another, column)
        band.put(one, value)
        band.put(other, second)
    last = builder.add(below_it, next_one)
    value = band.take(last)
    for another in others:
        value = _less(builder, value, another, another)
    band.put(last, value)


@_on_groups
def forward(builder, band, end, reach, x, at):
    """Forward substitution of one row, whose diagonal stands at ``end``, into the group ``at`` of ``x``."""
    first, there = builder.sub(end, reach), builder.sub(at, reach)
    # four sums, so that each need not wait for the one before
    sums = [cgutils.alloca_once(builder, _GROUP) for _ in range(BLOCK)]
    fours = builder.udiv(reach, _number(BLOCK))
    for part in sums:
        builder.store(ir.Constant(_GROUP, [0.0] * LANES), part)

    def gather(part: Any, k: Any) -> None:
        product = builder.fmul(band.take(builder.add(first, k)), x.take(builder.add(there, k)), flags=_FUSED)
        builder.store(builder.fadd(builder.load(part), product, flags=_FUSED), part)

    with cgutils.for_range(builder, fours) as loop:
        for q, part in enumerate(sums):
            gather(part, _plus(builder, builder.mul(loop.index, _number(BLOCK)), q))
    done = builder.mul(fours, _number(BLOCK))
    with cgutils.for_range(builder, builder.sub(reach, done)) as loop:
        gather(sums[0], builder.add(done, loop.index))
    one, two, three, four = (builder.load(part) for part in sums)
    total = builder.fadd(builder.fadd(one, two), builder.fadd(three, four))
    x.put(at, builder.fmul(builder.fsub(x.take(at), total), band.take(end)))


@_on_groups
def backward(builder, band, end, reach, x, at):
    """Backward substitution of one row, as of :func:`forward`."""
    first, there = builder.sub(end, reach), builder.sub(at, reach)
    value = builder.fmul(x.take(at), band.take(end))
    x.put(at, value)
    with cgutils.for_range(builder, reach) as loop:
        place = builder.add(there, loop.index)
        x.put(place, _less(builder, x.take(place), value, band.take(builder.add(first, loop.index))))


@_on_groups
def pass_heat(builder, x, flow, one, other, conductance):
    """Add to ``flow`` what flows between two nodes that conduct so much."""
    through = builder.fmul(_spread(builder, conductance), builder.fsub(x.take(one), x.take(other)))
    flow.put(one, builder.fadd(flow.take(one), through))
    flow.put(other, builder.fsub(flow.take(other), through))


@inlined
def conduct(before, after, conductance, x, flow):
    """Add to ``flow`` what flows between pairs of nodes at temperatures ``x``; flat arrays of groups, (n LANES,)."""
    for pair in range(before.size):
        pass_heat(x, flow, before[pair], after[pair], conductance[pair])


@inlined
def factor(band, reach, capacity, shifts, factors):
    """Put the Cholesky factors of K + shift C into ``factors``; False if there is none.

    ``band`` (n, .) and ``reach`` (n,) are those of K, see :mod:`thermsim.solve.matrix.band_kernels`;
    ``shifts`` (LANES,); ``factors`` (rows, width + 4, LANES), see :func:`stored`.
    """
    n, own = band.shape[0], band.shape[1] - 1
    rows, width = factors.shape[0], factors.shape[1] - BLOCK
    stride = width + BLOCK
    groups, below = factors.reshape(-1), np.zeros(BLOCK * stride * LANES)
    for i in range(rows):
        end = (i + 1) * stride - 1
        within = reach[i] if i < n else 0
        for k in range(within + 1, stride):
            spread(groups, end - k, 0.0)
        for k in range(1, within + 1):
            spread(groups, end - k, band[i, own - k])
        for lane in range(LANES):
            groups[end * LANES + lane] = band[i, own] + shifts[lane] * capacity[i] if i < n else 1.0
    for first in range(0, rows, BLOCK):
        pivots(groups, first, width)
        stop = min(rows, first + BLOCK + width)
        for row in range(first + BLOCK, stop):
            settle(groups, first, width, row, below)
        for row in range(first + BLOCK, stop, 2):
            sweep(groups, width, row, row - first - BLOCK, below)
    for i in range(n):
        for lane in range(LANES):
            if not 0.0 < factors[i, stride - 1, lane] < math.inf:
                return False
    return True


@inlined
def solve(factors, reach, x):
    """Solve with each of the matrices, overwriting right-hand sides ``x`` (m, n, LANES), m for each of them."""
    groups, right = factors.reshape(-1), x.reshape(-1)
    n, row = x.shape[1], factors.shape[1]
    for i in range(n):
        for p in range(x.shape[0]):
            forward(groups, (i + 1) * row - 1, reach[i], right, p * n + i)
    for i in range(n - 1, -1, -1):
        for p in range(x.shape[0]):
            backward(groups, (i + 1) * row - 1, reach[i], right, p * n + i)


def stored(count: int, width: int) -> tuple[int, int, int]:
    """Shape of a factor of matrices of so many rows and sub-diagonals."""
    return -(-count // BLOCK) * BLOCK, max(width + width % 2, BLOCK) + BLOCK, LANES
