"""Steps where properties change with temperature: the same time scheme on the heat content of every node.

Each stage is solved by corrections with a matrix that is kept as long as they shrink fast; the flows are those of the
temperatures that the stage has settled to, so the heat taken in is the heat stored.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.case.process import Film, Process
from thermsim.physics.materials import Material
from thermsim.solve.grid.operator import CORNERS, Operator, Varying, exchange_of
from thermsim.solve.march import tableau
from thermsim.solve.march.changing_kernels import UNKNOWN, solve_stages
from thermsim.solve.march.exchange_kernels import PAIRS, assemble, conductivities, contents, direction, dot, flows
from thermsim.solve.matrix.band_kernels import factor
from thermsim.solve.matrix.numbering import Numbering

Array = NDArray[np.float64]
Whole = NDArray[np.int64]

#: Spacing of the temperatures at which the loops look properties up [K].
SPACING = 0.5
#: How far beyond the temperatures met a table reaches [K]: skewed grids may overshoot a little.
MARGIN = 1.0


@dataclass(frozen=True)
class Tables:
    """Properties at evenly spaced temperatures, for the compiled loops.

    ``first`` and ``spacing`` of the temperatures [degC]; ``upwards`` and ``downwards`` conductivity [W/mK] where heat
    flows up or down, ``capacity`` rho c [J/m3K] and ``content`` its integral from the first temperature [J/m3], each
    of shape (materials, temperatures).
    """

    first: float
    spacing: float
    upwards: Array
    downwards: Array
    capacity: Array
    content: Array

    @classmethod
    def of(cls, materials: tuple[Material, ...], low: float, high: float) -> Tables:
        """Tabulate materials between two temperatures [degC]; beyond its tables a property stays as at their end."""
        count = int(np.ceil((high - low + 2 * MARGIN) / SPACING)) + 1
        temperature = low - MARGIN + SPACING * np.arange(count)
        upwards, downwards, capacity = (np.empty((len(materials), count)) for _ in range(3))
        for k, material in enumerate(materials):
            tabulated = material.tabulated
            if tabulated is None:
                upwards[k] = downwards[k] = material.conductivity
                capacity[k] = material.capacity
                continue
            upwards[k] = np.interp(temperature, tabulated.temperature, tabulated.conductivity)
            down = tabulated.downwards or tabulated.conductivity
            downwards[k] = np.interp(temperature, tabulated.temperature, down)
            capacity[k] = np.interp(temperature, tabulated.temperature, tabulated.capacity)
        steps = SPACING * (capacity[:, 1:] + capacity[:, :-1]) / 2
        content = np.concatenate([np.zeros((len(materials), 1)), np.cumsum(steps, axis=1)], axis=1)
        return cls(float(temperature[0]), SPACING, upwards, downwards, capacity, content)


@dataclass(frozen=True)
class _Mesh:
    """A grid for the compiled loops: see the functions of the kernels for its arrays.

    Quadrilaterals are in the order of the last of their nodes.
    """

    corner: Whole
    material: Whole
    shares: Array
    volume: Array
    across: Array
    turn: Whole
    reach: Whole
    width: int


class ChangingStepper:
    """A stepper (:class:`thermsim.solve.march.march.Stepper`) on the heat content of every node.

    Parameters
    ----------
    operator, varying
        The body, and what changes of it.
    numbering : Numbering
    process : Process
        Its temperatures bound the tables.
    tolerance : float
        Largest estimated error of a step [K]: how far stages have to settle follows from it.
    """

    def __init__(
        self, operator: Operator, varying: Varying, numbering: Numbering, process: Process, tolerance: float
    ) -> None:
        self._operator, self._numbering, self._tolerance = operator, numbering, tolerance
        self._mesh = mesh = _mesh(varying, numbering)
        self.temperature = numbering.vector(operator.initial)
        self.rate = np.zeros_like(self.temperature)
        met = np.concatenate([self.temperature, *(stage.medium for stage in process.stages)])
        tables = Tables.of(varying.materials, float(met.min()), float(met.max()))
        self._lookup = (tables.first, tables.spacing, tables.upwards, tables.downwards)
        self._contents = (tables.first, tables.spacing, tables.capacity, tables.content)
        # most of a body may be constant
        changing = [np.ptp(np.concatenate(rows)) > 0.0 for rows in zip(tables.upwards, tables.downwards, strict=True)]
        cells = np.flatnonzero(np.array(changing)[mesh.material])
        changing = [np.ptp(row) > 0.0 for row in tables.capacity]
        self._nodes = np.flatnonzero((mesh.volume[:, changing] > 0.0).any(axis=1))
        self._cells = (mesh.corner, mesh.material, cells)
        # the first node that has to do with what changes, and the first quadrilateral that has such a node
        n, stages = self.temperature.size, len(tableau.A)
        begin = min(_first(self._nodes, n), _first(mesh.corner[cells], n))
        joined = int(np.searchsorted(mesh.corner.max(axis=1), begin))
        since = np.array([[0, 0], [begin, joined]])
        self._which = (cells, self._nodes, mesh.turn, since, _first(mesh.corner[mesh.turn], n))
        self._conductivity = np.empty(len(mesh.corner))
        every = (mesh.corner, mesh.material, np.arange(len(mesh.corner)))
        conductivities(self.temperature, every, 0.0, self._lookup, self._conductivity)
        self._matrix = np.zeros((n, mesh.width + 1))
        self._slope, self._content = np.empty(n), np.empty(n)
        self._trial, self._flow, self._reached = (
            np.empty(n),
            np.zeros((stages, n)),
            np.empty((tableau.OF_LAST + stages, n)),
        )
        self._entering = np.zeros(stages)
        self._room = np.empty((4, n))
        contents(self.temperature, np.arange(n), mesh.volume, *self._contents, self._content, self._slope)
        self._began = float(self._content.sum())
        self._heat = self._content.copy()
        self._film: Film | None = None
        self._forget()

    def _forget(self) -> None:
        """Begin anew: no factor, no last step, no flow that is known."""
        self._factored_for, self._stale, self._shrinks = -1.0, False, UNKNOWN
        self._last_length = 0.0
        self._flow_known = False

    def enter(self, film: Film, medium: float) -> float:
        """Take on films and a medium's temperature."""
        if film != self._film:
            exchange, fixed = (self._numbering.vector(part) for part in exchange_of(self._operator, film))
            self._free, self._held, self._film = (~fixed).astype(float), np.flatnonzero(fixed), film
            self._exchange = exchange * self._free
        self.temperature = self.temperature.copy()
        self.temperature[self._held] = medium
        self._forget()
        return self._taken_up()

    def resume(self, temperature: Array, film: Film, medium: float) -> None:
        """Stand at temperatures that were reached before."""
        self.temperature = temperature
        self.enter(film, medium)
        self._heat = self._content.copy()

    def _taken_up(self) -> float:
        """Work out the contents; the heat that nodes held at the medium's temperature have taken up [J]."""
        contents(self.temperature, self._nodes, self._mesh.volume, *self._contents, self._content, self._slope)
        had, self._heat[self._held] = self._heat[self._held], self._content[self._held]
        return float((self._heat[self._held] - had).sum())

    def face(self, medium: float, slope: float) -> None:
        """Let the medium go on from a temperature with a slope."""
        self._medium, self._climb = medium, slope
        if not self._flow_known:
            self._look_up()
            self._entering[0] = flows(
                self.temperature, self._conductivity, self._mesh.corner, self._mesh.shares,
                self._exchange, medium, self._free, self._flow[0], 0,
            )  # fmt: skip
            self._flow_known = True
        self._went()

    def _went(self) -> None:
        """Work out the rates."""
        self.rate = self._flow[0] / self._slope
        self.rate[self._held] = self._climb

    def _look_up(self) -> None:
        """Work out the conductivities."""
        upwards = direction(dot(self._mesh.across, self.temperature))
        conductivities(self.temperature, self._cells, upwards, self._lookup, self._conductivity)

    def attempt(self, length: float) -> float:
        """Try a step; its estimated error."""
        mesh, gamma = self._mesh, tableau.GAMMA * length
        if self._stale or abs(length - self._factored_for) > 1e-9 * length:
            self._look_up()
            contents(self.temperature, self._nodes, mesh.volume, *self._contents, self._content, self._slope)
            assemble(
                self._conductivity,
                mesh.corner,
                mesh.shares,
                self._exchange,
                self._free,
                self._slope,
                gamma,
                self._matrix,
            )
            if not factor(self._matrix):
                return math.nan
            self._factored_for, self._stale, self._shrinks = length, False, UNKNOWN
        error, stale, self._shrinks = solve_stages(
            (mesh.corner, mesh.material, mesh.shares, mesh.volume, mesh.across, mesh.reach),
            self._which,
            (*self._lookup, *self._contents[2:]),
            (self._exchange, self._free),
            self._medium + self._climb * length * tableau.C,
            (self.temperature, self._heat),
            length,
            self._tolerance,
            (tableau.BEFORE, tableau.leads(self._last_length / length), tableau.OFF, tableau.GAMMA),
            self._matrix,
            self._shrinks,
            (self._trial, self._conductivity, self._content, self._slope),
            (self._flow, self._entering, self._reached),
            self._room,
        )
        self._stale = self._stale or stale
        self._length = length
        return float(error)

    def accept(self, medium: float) -> float:
        """Go where the last attempt led."""
        before, gained = tableau.OF_LAST, self._length * float(tableau.B @ self._entering)
        self._reached[:before] = self._reached[before], self._reached[before + tableau.BETWEEN]
        self._last_length = self._length
        had, self._heat = self._heat[self._held], self._content.copy()
        self._heat[self._held] = had
        self.temperature = self._trial.copy()
        self._flow[0], self._entering[0] = self._flow[-1], self._entering[-1]
        gained += self._taken_up()
        self._medium = medium
        self._went()
        return gained

    def stored(self) -> float:
        """Heat stored since the start [J]."""
        return float(self._content.sum()) - self._began


def _first(nodes: Whole, count: int) -> int:
    """The first of some nodes; the count of all where there is none."""
    return int(nodes.min(initial=count))


def _mesh(varying: Varying, numbering: Numbering) -> _Mesh:
    """Quadrilaterals, the pairs of nodes that they join, and the volumes round the nodes."""
    shares, number = varying.shares, numbering.turn(numbering.number)
    rows, columns = np.nonzero(varying.material >= 0)
    order = np.argsort(np.max([number[nodes][rows, columns] for nodes in CORNERS], axis=0), kind="stable")
    conducts = rows[order], columns[order]
    corner = np.stack([number[nodes][conducts] for nodes in CORNERS], axis=1)
    material = varying.material[conducts]
    of = shares.along_r, shares.along_z, (shares.rising, shares.falling)
    share = np.stack([part[conducts] for pair in of for part in pair], axis=1)  # as in PAIRS
    volume = np.zeros((numbering.count, len(varying.materials)))
    for k in range(len(CORNERS)):
        np.add.at(volume, (corner[:, k], material), shares.volume[k][conducts])
    reach = np.zeros(numbering.count, dtype=np.int64)
    for k, (one, other) in enumerate(PAIRS):
        ends = corner[share[:, k] != 0.0][:, (one, other)]
        np.maximum.at(reach, ends.max(axis=1), np.abs(np.diff(ends, axis=1)[:, 0]))
    one_way = np.array([bool(m.tabulated and m.tabulated.downwards) for m in varying.materials])[material]
    across = _across(corner[one_way], shares.volume[:, *conducts][:, one_way], numbering.count)
    width = max(1, int(reach.max(initial=0)))
    return _Mesh(corner, material, share, volume, across, np.flatnonzero(one_way), reach, width)


def _across(corner: Whole, volume: Array, count: int) -> Array:
    """Weights (count,) of the mean temperature of a gap's lower face less that of its upper one; 0 without a gap."""
    weights = np.zeros(count)
    upper_ends, lower_ends = corner[:, 2:], corner[:, :2]
    for k, sign, others in ((0, 1.0, upper_ends), (1, 1.0, upper_ends), (2, -1.0, lower_ends), (3, -1.0, lower_ends)):
        at_face = ~np.isin(corner[:, k], others)
        face = np.zeros(count)
        np.add.at(face, corner[at_face, k], volume[k][at_face])
        weights += sign * face
    for sign in (1.0, -1.0):
        side = sign * weights > 0.0
        if side.any():
            weights[side] *= sign / weights[side].sum()
    return weights
