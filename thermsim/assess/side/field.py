"""A stem that enters from the side: laid out about its own axis, driven by the container's undisturbed field."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from thermsim.assess.fields.reading import Course
from thermsim.case.case import Case
from thermsim.case.probe import Probe
from thermsim.solve.grid.grid import Grid
from thermsim.solve.stem.disturbance import Behind, Disturbance, Undisturbed, march_disturbance, special_nodes
from thermsim.solve.stem.stem_grid import DIVIDED, Layer, Part, Surrounds, stem_grids
from thermsim.solve.stem.stem_operator import StemOperator, stem_operator

Array = NDArray[np.float64]

#: Nodes along each direction through which undisturbed temperatures are interpolated.
STENCIL = 4
#: Largest spacing at the surfaces of what a probe is made of, in its radii, on the coarsest grid.
ROUND_STEM = 2.0
#: The grids about a stem, the coarsest first; what need not be known as well takes the middle one alone.
LEVELS, MIDDLE = (0, 1, 2), (1,)
#: How much finer the middle one is than the coarsest, and the finest than the middle one.
FINE, FINER = (finer / coarser for coarser, finer in itertools.pairwise(DIVIDED))


@dataclass(frozen=True)
class About:
    """A case laid out about its stem, for :func:`thermsim.solve.stem.stem_grid.stem_grids`, and what is behind.

    ``tip`` is the place of the tip along the stem [m], ``height`` the height z of its axis [m] (None: the stem stands
    on the container's axis and places along it are heights), ``ends`` the names of the films at both ends. In a brick
    ``lengthwise`` says whether the stem lies along the first of its sides.
    """

    layers: list[Layer]
    parts: list[Part]
    surrounds: Surrounds
    lines: list[float]
    behind: dict[str, Behind]
    ends: tuple[str, str]
    tip: float
    height: float | None
    lengthwise: bool = True

    def section(self, places: Array) -> tuple[Array, Array]:
        """Distance from the container's axis and height z [m] of places about the stem (..., 3)."""
        if self.height is None:
            return np.hypot(places[..., 1], places[..., 2]), places[..., 0]
        return np.hypot(places[..., 0], places[..., 1]), self.height + places[..., 2]

    def in_brick(self, places: Array) -> Array:
        """Places about it as of a brick (..., 3): from its middle along its two sides, and the height z [m]."""
        along, aside, above = np.moveaxis(places, -1, 0)
        flat = (along, aside) if self.lengthwise else (aside, along)
        return np.stack([*flat, (self.height or 0.0) + above], axis=-1)


def about_side(case: Case, probe: Probe, depth: float) -> About:
    """Lay a case out about a stem along a radius, its tip at a depth below the outer face of the side wall [m]."""
    container, height = case.container, probe.z
    if height is None:
        raise ValueError("the probe's height z is not known")
    is_brick, outer = container.brick is not None, probe.side_face(container)
    inner, beside = container.halves(probe.edge)
    layers = [Layer(-inner, inner, case.product.material, True)]
    if container.side:
        wall = container.side.material
        layers = [Layer(-outer, -inner, wall), *layers, Layer(inner, outer, wall)]
    surrounds = Surrounds(beside, case.surface - height, height - container.floor, bowed=not is_brick)
    behind = {"above": _above(case), "below": _of_wall(case, "base")}
    if is_brick:
        behind["beside"] = _of_wall(case, "side")
    tip = outer - depth
    parts = _parts(case, probe, tip, (inner, outer))
    lines, lengthwise = [tip, tip + probe.sensing], container.lengthwise(probe.edge)
    return About(layers, parts, surrounds, lines, behind, ("side", "side"), tip, height, lengthwise)


def about_axis(case: Case, probe: Probe, depth: float) -> About:
    """Lay a case out about a stem through the lid on the container's axis: what is solved otherwise, as a check."""
    container = case.container
    layers = [Layer(container.floor, case.surface, case.product.material, True)]
    if container.base:
        layers.insert(0, Layer(0.0, container.floor, container.base.material))
    if case.headspace_height > 0.0:
        layers.append(Layer(case.surface, container.ceiling, case.headspace.material))
    if container.lid:
        layers.append(Layer(container.ceiling, container.outer_height, container.lid.material))
    tip = container.outer_height - depth
    parts = _parts(case, probe, tip, (container.ceiling, container.outer_height))
    surrounds = Surrounds(container.radius_at(tip))
    lines = [tip, tip + probe.sensing]
    return About(layers, parts, surrounds, lines, {"round": _of_wall(case, "side")}, ("base", "lid"), tip, None)


def _of_wall(case: Case, name: str) -> Behind:
    wall = getattr(case.container, name)
    if wall is None:
        return Behind(0.0, 0.0, 0.0, name)
    material = wall.material
    return Behind(
        wall.thickness / material.conductivity,
        wall.thickness * material.density * material.specific_heat,
        wall.thickness * material.conductivity,
        name,
    )


def _above(case: Case) -> Behind:
    """Layers above the product: the headspace and the lid."""
    lid, gas, height = _of_wall(case, "lid"), case.headspace.material, case.headspace_height
    if height <= 0.0:
        return lid
    if gas is None:
        return Behind(math.inf, 0.0, 0.0, "lid")
    stored = height * gas.density * gas.specific_heat
    return Behind(lid.resistance + height / gas.conductivity, stored, height * gas.conductivity, "lid")


def _parts(case: Case, probe: Probe, tip: float, wall: tuple[float, float]) -> list[Part]:
    """Gap, fitting and stack along the stem, in the order in which they take each other's place."""
    start = case.product.initial if probe.initial is None else probe.initial
    stack, end = [], tip
    for segment in reversed(probe.segments):
        stack.append((segment, end, end + segment.length))
        end += segment.length
    parts = []
    if probe.gap:
        for segment, low, high in stack:
            if low < wall[0]:
                radius = segment.radius + probe.gap.thickness
                parts.append(Part(low, min(high, wall[0]), 0.0, radius, probe.gap.material, case.product.initial))
    if probe.fitting:
        reach = (wall[0] - probe.fitting.inside, wall[1] + probe.fitting.outside)
        parts.append(Part(*reach, 0.0, probe.fitting.diameter / 2, probe.fitting.material, start))
    for segment, low, high in stack:
        wanted = ROUND_STEM * segment.radius
        # a stack inside ends at the wall's inner face, but for rounding
        top = wall[0] if probe.mount == "inside" and abs(high - wall[0]) < 1e-9 else high
        if segment.wall is None or segment.core is None:
            parts.append(Part(low, top, 0.0, segment.radius, segment.material, start, wanted))
        else:
            core = segment.radius - segment.wall
            parts.append(Part(low, top, core, segment.radius, segment.material, start, wanted))
            parts.append(Part(low, top, 0.0, core, segment.core, start, wanted))
    return parts


def disturbances(
    case: Case,
    about: About,
    undisturbed: Callable[[Array], Course],
    *,
    film: float | None,
    tolerance: float,
    levels: Sequence[int] = LEVELS,
) -> list[tuple[StemOperator, Disturbance]]:
    """Disturbance by the stem, on the grids about it, the coarsest first.

    Parameters
    ----------
    case : Case
        The container's.
    about : About
        It and its stem.
    undisturbed : callable
        The temperature over time without the stem, (n_t, n), at places about it (n, 3) [m] in what conducts.
    film : float or None
        Film coefficient of the probe's parts outside [W/m2K]; None: that of the wall entered.
    tolerance : float
        Largest estimated error of a time step [K].
    levels : sequence of int, optional
        On which of the grids.
    """
    process = case.process.facing("side" if about.height is not None else "lid", film)
    found = []
    grids = stem_grids(about.layers, about.parts, about.surrounds, about.lines)
    for level in levels:
        operator = stem_operator(grids[level], about.ends)
        driving, start = _driving(case, operator, undisturbed)
        found.append(
            (operator, march_disturbance(operator, process, driving, about.behind, start=start, tolerance=tolerance))
        )
    return found


def _driving(case: Case, operator: StemOperator, undisturbed: Callable[[Array], Course]) -> tuple[Undisturbed, Array]:
    """The undisturbed temperature where the stem feels it, and the difference at the start."""
    nodes = special_nodes(operator)
    where = operator.of_nodes_many(operator.grid.places())[nodes]
    there = operator.capacity_without[nodes] > 0.0
    course = undisturbed(where[there])
    temperature = np.full((course.time.size, nodes.size), case.product.initial)
    rate = np.zeros_like(temperature)
    temperature[:, there], rate[:, there] = course.temperature, course.rate
    before = np.full(operator.count, case.product.initial)
    before[nodes] = temperature[0]
    return Undisturbed(nodes, course.time, temperature, rate), operator.started(before)


def interpolation(grid: Grid, r: Array, z: Array) -> sparse.csr_matrix:
    """Weights (n, n_r n_z) that give a smooth field at places [m] from the nodes, each within its own material."""
    edge = 1e-9 * grid.levels[-1]
    r, z = np.clip(r, 0.0, grid.columns[-1]), np.clip(z, 0.0, grid.levels[-1])
    cells = np.stack([np.searchsorted(grid.columns, r - edge), np.searchsorted(grid.levels, z - edge)], axis=1)
    rows, columns, values = [], [], []
    _, examples, kind = np.unique(cells, axis=0, return_index=True, return_inverse=True)
    blocks = [_block(grid, float(r[one]), float(z[one])) for one in examples]
    together: dict[tuple[int, int, int, int], list[int]] = {}
    for one, block in enumerate(blocks):
        together.setdefault((block[0].start, block[0].stop, block[1].start, block[1].stop), []).append(one)
    for alike in together.values():
        here, block = np.flatnonzero(np.isin(kind, alike)), blocks[alike[0]]
        index_r, along_r = _weights(grid.columns, block[0], r[here], mirrored=True)
        index_z, along_z = _weights(grid.levels, block[1], z[here], mirrored=False)
        numbers = index_r[:, :, None] * grid.levels.size + index_z[:, None, :]
        rows.append(np.repeat(here, numbers[0].size))
        columns.append(numbers.ravel())
        values.append((along_r[:, :, None] * along_z[:, None, :]).ravel())
    shape = (r.size, grid.columns.size * grid.levels.size)
    if not rows:
        return sparse.csr_matrix(shape)
    found = np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))
    return sparse.coo_matrix(found, shape=shape).tocsr()


def _block(grid: Grid, r: float, z: float) -> tuple[slice, slice]:
    """Nodes of the material at a place [m]."""
    block = grid.smooth_at(r, z)
    if block is None:
        raise ValueError(f"r = {r} m, z = {z} m lies where nothing conducts")
    return block


def _weights(lines: Array, block: slice, x: Array, *, mirrored: bool) -> tuple[NDArray[np.int64], Array]:
    """Nodes (n, m) round places and their Lagrange weights, mirrored at 0 where that is the axis."""
    index = np.arange(block.start, block.stop)
    nodes = lines[index]
    if mirrored and nodes[0] == 0.0 and nodes.size > 2:
        index, nodes = np.concatenate([[2, 1], index]), np.concatenate([[-nodes[2], -nodes[1]], nodes])
    first = np.clip(np.searchsorted(nodes, x) - STENCIL // 2, 0, max(0, nodes.size - STENCIL))
    taken = first[:, None] + np.arange(min(STENCIL, nodes.size))
    near = nodes[taken]
    weights = np.ones(taken.shape)
    for p in range(taken.shape[1]):
        for q in range(taken.shape[1]):
            if p != q:
                weights[:, p] *= (x - near[:, q]) / (near[:, p] - near[:, q])
    return index[taken], weights
