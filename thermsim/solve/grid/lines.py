"""Places of the nodes along one axis: on every break line, graded between, in nested families."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Growth of the node spacing with the distance from a break line on the finest grid [m/m].
GROWTH = 0.12
#: Spacing at a break line as a part of the widest spacing.
FINEST = 0.2
#: Intervals of the finest grid that one interval of each grid of a family spans, coarsest grid first.
FAMILY = (4, 2, 1)
#: Where the spacing beside a layer calls for no more intervals than this, and its own profile is straight, its
#: neighbours need not follow when it is divided as often as a family of grids wants.
THIN = 2
#: Places in a layer at which the wanted spacing is looked at, as parts of its thickness.
LOOKED_AT = np.linspace(0.0, 1.0, 501)
#: Passes that let neighbouring layers agree on their spacing, and the largest step of it at a break line.
SETTLED, STEP_AT_BREAK = 4, 1.3


def grid_lines(
    breaks: Array,
    widest: float,
    *,
    wanted: Array | None = None,
    bent: NDArray[np.bool_] | None = None,
    growth: float = GROWTH,
    axis: bool = False,
    limit: Callable[[Array], Array] | None = None,
    whole: bool = False,
    family: tuple[int, ...] = FAMILY,
) -> list[tuple[Array, NDArray[np.int64]]]:
    """Node places along one axis for a family of grids: nodes on every break line, a smooth spacing between.

    On the finest grid the spacing wanted at x is min(widest, finest at the break + growth * distance), the finest
    being no more than the thinner layer beside the break. Nodes lie at equal steps of the integral of 1/spacing; a
    coarser grid leaves some of them out, in the thinnest layer too: beside a corner even a
    metal wall's profile is not straight, and what a coarser grid does not change is an error that none can see.

    Parameters
    ----------
    breaks : ndarray, shape (m + 1,)
        Break lines [m], growing.
    widest : float
        Largest spacing of the finest grid [m].
    wanted : ndarray, shape (m + 1,), optional
        Largest spacing at each break line on the finest grid [m].
    bent : ndarray of bool, shape (m,), optional
        Layers whose own profile is not straight, however thin they are.
    growth : float, optional
        Growth of the spacing with the distance from a break line [m/m].
    axis : bool, optional
        The first break is the axis of symmetry, where nothing asks for small spacings.
    limit : callable, optional
        Largest spacing [m] at given places [m], where it is not the same everywhere.
    whole : bool, optional
        Leave thin layers as they are, the same on every grid.
    family : tuple of int, optional
        Intervals that one interval of each grid spans of those that the spacing is wanted of, coarsest grid first.

    Returns
    -------
    list of (lines, layer)
        For each grid of the family, coarsest first: node places [m], shape (n,), and which of the m layers each
        interval lies in, shape (n - 1,).
    """
    thickness = np.diff(breaks)
    beside = np.minimum(np.append(thickness, np.inf), np.insert(thickness, 0, np.inf))
    finest = np.minimum(widest * FINEST, beside)
    if wanted is not None:
        finest = np.minimum(finest, wanted)
    if axis:
        finest[0] = np.inf
    thin = [THIN] * thickness.size if bent is None else np.where(bent, 0, THIN).tolist()
    within = breaks[:-1, None] + thickness[:, None] * LOOKED_AT
    most = np.full(within.shape, widest) if limit is None else limit(within)
    for _ in range(SETTLED):
        places = layer_nodes(breaks, within, finest, growth, most, thin, math.lcm(*family))
        # whole numbers of intervals make a layer finer than was wanted: its neighbours follow
        ends = np.array([(nodes[1] - nodes[0], nodes[-1] - nodes[-2]) for nodes in places])
        met = np.minimum(np.append(ends[:, 0], np.inf), np.insert(ends[:, 1], 0, np.inf))
        narrower = np.minimum(finest, STEP_AT_BREAK * met)
        if np.array_equal(narrower, finest):
            break
        finest = narrower
    if not whole:
        few = math.lcm(*family) + 1
        places = [nodes if nodes.size - 1 > THIN else np.linspace(nodes[0], nodes[-1], few) for nodes in places]
    grids = []
    for stride in family:
        kept = [nodes[::stride] if nodes.size - 1 > THIN else nodes for nodes in places]
        lines = np.concatenate([breaks[:1], *(nodes[1:] for nodes in kept)])
        grids.append((lines, np.repeat(np.arange(len(kept)), [nodes.size - 1 for nodes in kept])))
    return grids


def layer_nodes(
    breaks: Array, within: Array, finest: Array, growth: float, most: Array, thin: Sequence[int], multiple: int
) -> list[Array]:
    """Nodes of each layer [m], both ends included, at equal steps of the integral of 1/spacing.

    ``breaks`` (m + 1,) [m]; ``within`` (m, k) evenly spaced places of each layer [m]; ``finest`` (m + 1,) the spacing
    at each break [m]; ``most`` (m, k) the largest at the places [m]. More intervals than a layer's ``thin`` come in a
    whole ``multiple``.
    """
    # what breaks farther off ask for, they ask for at a layer's ends
    at_ends = (finest + growth * np.abs(breaks - breaks[:, None])).min(axis=1)
    low, high = breaks[:-1, None], breaks[1:, None]
    spacing = np.minimum(at_ends[:-1, None] + growth * (within - low), at_ends[1:, None] + growth * (high - within))
    density = 1.0 / np.minimum(most, spacing)
    step = (high - low) / (within.shape[1] - 1)
    counts = np.zeros(within.shape)
    np.cumsum((density[:, 1:] + density[:, :-1]) / 2.0 * step, axis=1, out=counts[:, 1:])
    found = []
    for k, (count, x) in enumerate(zip(counts, within, strict=True)):
        # a layer as thin as its neighbours' finest spacing is one interval; 0.99 keeps rounding from making it two
        intervals = max(1, math.ceil(0.99 * count[-1]))
        if intervals > thin[k]:
            intervals = multiple * -(-intervals // multiple)
        nodes = np.interp(np.arange(intervals + 1) * (count[-1] / intervals), count, x)
        nodes[0], nodes[-1] = breaks[k], breaks[k + 1]
        found.append(nodes)
    return found


@dataclass(frozen=True)
class Prolongation:
    """Weights that carry a smooth field from the nodes of a grid's axis to those of the next finer one.

    Cubic in the node's number, layer by layer (fields bend at the break lines); nodes in common keep their value.

    Parameters
    ----------
    first : ndarray of int, shape (n_fine,)
        For each finer node the first of the coarser ones that count.
    weights : ndarray, shape (n_fine, k)
        Weights of that one and the next ones.
    """

    first: NDArray[np.int64]
    weights: Array

    @property
    def common(self) -> NDArray[np.int64]:
        """Of each coarser node that a finer one takes whole, the number of this one; shape (n_coarse,)."""
        whole = np.argwhere(self.weights == 1.0)
        found = np.empty(int(self.first[-1]) + self.weights.shape[1], dtype=np.int64)
        found[self.first[whole[:, 0]] + whole[:, 1]] = whole[:, 0]
        return found

    def matrix(self) -> Array:
        """The same as a matrix, shape (n_fine, n_coarse)."""
        rows, along = np.indices(self.weights.shape)
        found = np.zeros((self.first.size, int(self.first[-1]) + self.weights.shape[1]))
        found[rows, self.first[:, None] + along] = self.weights
        return found


def prolongation(coarse: NDArray[np.int64], fine: NDArray[np.int64]) -> Prolongation:
    """Passage of fields from one grid's axis to a finer one's.

    Parameters
    ----------
    coarse, fine : ndarray of int, shapes (n_coarse - 1,) and (n_fine - 1,)
        Layer of each interval, as of :func:`grid_lines`.
    """
    first, weights = np.empty(fine.size + 1, dtype=np.int64), np.zeros((fine.size + 1, min(4, coarse.size + 1)))
    ends = [[0, *(np.flatnonzero(np.diff(layers)) + 1).tolist(), layers.size] for layers in (fine, coarse)]
    for (begin, stop), (low, high) in zip(*map(itertools.pairwise, ends), strict=True):
        nodes = np.arange(begin, stop + 1)
        number = low + (nodes - begin) * ((high - low) / (stop - begin))
        count = min(4, high - low + 1)
        start = np.clip(np.floor(number).astype(np.int64) - (count // 2 - 1), low, high + 1 - count)
        first[nodes] = np.minimum(start, coarse.size + 1 - weights.shape[1])
        weights[nodes] = 0.0  # the last node of the layer before is this one's first
        for k in range(count):
            others = [(number - start - q) / (k - q) for q in range(count) if q != k]
            weights[nodes, start - first[nodes] + k] = np.prod(others, axis=0)
    return Prolongation(first, weights)
