"""Disturbance by a stem: the march of the difference between the temperatures with it and without it.

With the matrices of both, C for capacity, K for conductance and X for exchange with the medium (0 for those without
the probe), the temperature with it is T0 + u, where T0 is that without it and

    C u' = -(K + X) u - (K - K0) T0 - (C - C0) T0' - (X - X0)(T0 - medium).

The right side is nought but at the probe's nodes, so T0 need be known only there. Where there is nothing without the
probe T0 is any constant.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from thermsim.case.process import Film, Process
from thermsim.errors import NumericalError
from thermsim.solve.march import tableau
from thermsim.solve.march.history import hermite_slopes, hermite_weights
from thermsim.solve.matrix.linear import Pairs, Symmetric
from thermsim.solve.stem.stem_operator import STRONGEST, StemOperator

Array = NDArray[np.float64]

#: Factors kept at a time: steps change by powers of two and come again.
KEPT = 10
#: First step after a jump of the medium or a change of the films, and one so short that it is taken as it is [s].
FIRST_STEP, SHORTEST = 0.25, 1e-6


@dataclass(frozen=True)
class Undisturbed:
    """The temperature without the probe at some nodes, cubic in time between the entries.

    Parameters
    ----------
    nodes : ndarray of int, shape (m,)
        Numbers of the nodes.
    time : ndarray, shape (n_t,)
        [s]; a time that stands twice is a break.
    temperature, rate : ndarray, shape (n_t, m)
        [degC], [K/s].
    """

    nodes: NDArray[np.int64]
    time: Array
    temperature: Array
    rate: Array


@dataclass(frozen=True)
class Behind:
    """Layers behind the product's ends beside the stem: resistance up to the outer surface, stores, a sheet.

    ``resistance`` [m2K/W] without the film, inf where no heat crosses; ``capacity`` [J/m2K] and ``sheet`` [W/K] of
    the wall there; ``film`` the name of the film.
    """

    resistance: float
    capacity: float
    sheet: float
    film: str

    def towards(self, film: Film) -> float:
        """Exchange with the medium [W/m2K]."""
        strength = coefficient(film, self.film)
        return 0.0 if np.isinf(self.resistance) else strength / (1.0 + strength * self.resistance)

    def share(self, film: Film) -> float:
        """Part of the product's temperature there that the outer surface has; 1 where no heat crosses."""
        return 1.0 if np.isinf(self.resistance) else 1.0 / (1.0 + coefficient(film, self.film) * self.resistance)


@dataclass(frozen=True)
class Disturbance:
    """The difference over time, cubic between the entries: ``time`` (n_t,), ``difference`` and ``rate`` (n_t, n)."""

    time: Array
    difference: Array
    rate: Array


def coefficient(film: Film, name: str) -> float:
    """The film coefficient of that name [W/m2K]; one without resistance as strong as is needed to seem so."""
    value = getattr(film, name)
    if value is None:
        raise ValueError("a probe sticks out into the medium, and its film coefficient is not known")
    return min(float(value), STRONGEST)


def special_nodes(operator: StemOperator) -> NDArray[np.int64]:
    """Numbers of the nodes at which the matrices with and without the probe differ, or that see them."""
    changed = abs(operator.stiffness - operator.stiffness_without)
    touched = np.asarray(changed.sum(axis=0)).ravel() > 0.0
    touched |= operator.capacity != operator.capacity_without
    for name, area in operator.faces.items():
        touched |= area != operator.faces_without[name]
    return np.flatnonzero(touched)


def march_disturbance(
    operator: StemOperator,
    process: Process,
    undisturbed: Undisturbed,
    behind: dict[str, Behind],
    *,
    start: Array,
    tolerance: float,
) -> Disturbance:
    """March the difference through the whole process.

    Parameters
    ----------
    operator : StemOperator
    process : Process
        With every film's ``probe`` known.
    undisturbed : Undisturbed
        Of :func:`special_nodes`.
    behind : dict of str to Behind
        By the names of the operator's ``edges``.
    start : ndarray, shape (n,)
        The difference at the start [K].
    tolerance : float
        Largest estimated error of one step at any node [K].

    Returns
    -------
    Disturbance

    Raises
    ------
    NumericalError
        If a temperature is no longer a number.
    """
    pieces = _pieces(process, undisturbed.time)
    u = start.copy()
    step = FIRST_STEP
    system: _System | None = None
    film: Film | None = None
    entries: list[tuple[float, Array, Array]] = []
    before: Array | None = None
    for first, last, stage_film, jump in pieces:
        if system is None or stage_film != film:
            system, film = _System(operator, stage_film, behind), stage_film
        source = _Source(operator, process, undisturbed, slice(first, last + 1), system)
        now = undisturbed.temperature[first]
        if before is not None:
            # what stands without the probe may jump where a surface is held: the body itself does not
            u[undisturbed.nodes] -= now - before
        if jump:
            step = FIRST_STEP
        time, end = float(undisturbed.time[first]), float(undisturbed.time[last])
        k = np.empty((tableau.A.shape[0], u.size))
        k[0] = system.rate(u, source.at(np.array([time]))[0])
        entries.append((time, u.copy(), k[0].copy()))
        while time < end:
            left = end - time
            h = left if step >= left * (1.0 - 1e-9) else (left / 2 if 2 * step > left else step)
            trial, worst = _stages(system, source, u, k, time, h)
            if not np.isfinite(worst):
                raise NumericalError("the march of a stem's disturbance stopped", time_s=time, step_s=h)
            if worst > tolerance and h > SHORTEST:
                step = h * (0.5 if worst < 10.0 * tolerance else 0.25)
                continue
            time = end if h == left else time + h
            u = trial
            k[0] = k[-1]
            entries.append((time, u.copy(), k[0].copy()))
            if h >= step * (1.0 - 1e-9):
                growth = 0.9 * (tolerance / max(worst, 1e-30)) ** 0.25
                step *= 4.0 if growth >= 4.0 else 2.0 if growth >= 2.0 else 1.0
        before = undisturbed.temperature[last]
    times, values, rates = zip(*entries, strict=True)
    return Disturbance(np.array(times), np.array(values), np.array(rates))


class _System:
    """One film's matrix, its factors by the step, and what the source needs of it."""

    def __init__(self, operator: StemOperator, film: Film, behind: dict[str, Behind]) -> None:
        self.exchange = np.zeros(operator.count)
        self.change = np.zeros(operator.count)
        for name, area in operator.faces.items():
            if area.any() or operator.faces_without[name].any():
                self.exchange += coefficient(film, name) * area
                self.change += coefficient(film, name) * (area - operator.faces_without[name])
        self.capacity = operator.capacity.copy()
        matrix = operator.stiffness.copy()
        for name, one in behind.items():
            # a wall behind the product takes part with the square of its share of the temperature there
            share = one.share(film)
            part = (1.0 + share + share**2) / 3.0
            self.exchange += one.towards(film) * operator.edges[name]
            self.capacity += one.capacity * part * operator.edges[name]
            matrix = matrix + one.sheet * part * operator.sheets[name]
        self.matrix = (matrix + sparse.diags(self.exchange)).tocsr()
        self.symmetric = _symmetric(self.matrix)
        self.solvers: dict[float, Callable[[Array], Array]] = {}

    def rate(self, u: Array, source: Array) -> Array:
        """The difference's rate of change [K/s]."""
        return np.asarray((source - self.matrix @ u) / self.capacity)

    def solved(self, right: Array, scaled: float) -> Array:
        """Solve (C + scaled K) x = right."""
        key = round(scaled, 9)
        if key not in self.solvers:
            if len(self.solvers) >= KEPT:
                self.solvers.pop(next(iter(self.solvers)))
            self.solvers[key] = self.symmetric.factor(scaled, self.capacity)
        return self.solvers[key](right)


class _Source:
    """The right side within one piece of the process: at each entry what temperature and rate there make of it."""

    def __init__(
        self, operator: StemOperator, process: Process, undisturbed: Undisturbed, piece: slice, system: _System
    ) -> None:
        self.nodes, self.count, self.process = undisturbed.nodes, operator.count, process
        self.time, self.exchange = undisturbed.time[piece], system.change[self.nodes]
        self.end = float(self.time[-1])
        changed = (operator.stiffness - operator.stiffness_without).tocsr()[self.nodes][:, self.nodes]
        conducted = changed + sparse.diags(self.exchange)
        stored = (operator.capacity - operator.capacity_without)[self.nodes]
        both = undisturbed.temperature[piece], undisturbed.rate[piece]
        self.parts = np.stack([*((conducted @ one.T).T for one in both), *(stored * one for one in both)], axis=1)

    def at(self, time: Array) -> Array:
        """The right side (n_t, n) [W] at times [s]."""
        weights, first = hermite_weights(self.time, time)
        slopes = hermite_slopes(self.time, time, first)
        # by entry: the value's share of temperature and of rate, then that of its change
        shares = np.stack([weights, slopes]).reshape(2, 2, 2, -1).transpose(3, 2, 0, 1).reshape(-1, 8)
        # at the end of a piece the medium before a jump counts
        medium = self.process.medium_at(np.where(time < self.end, time, self.end * (1 - 1e-12)))
        found = np.zeros((time.size, self.count))
        for k, entry in enumerate(first.tolist()):
            driven = shares[k] @ self.parts[entry : entry + 2].reshape(8, -1)
            found[k, self.nodes] = self.exchange * medium[k] - driven
        return found


def _stages(system: _System, source: _Source, u: Array, k: Array, time: float, h: float) -> tuple[Array, float]:
    """The stages of one step: where it leads, and its estimated error [K]."""
    gamma = tableau.GAMMA * h
    trial, driven = u, source.at(time + tableau.C * h)
    for s in range(1, k.shape[0]):
        known = u + h * (tableau.A[s, :s] @ k[:s])
        right = system.capacity * known + gamma * driven[s]
        trial = system.solved(right, gamma)
        k[s] = (trial - known) / gamma
    error = h * (tableau.OFF @ k)
    return trial, float(np.abs(error).max())


def _pieces(process: Process, time: Array) -> list[tuple[int, int, Film, bool]]:
    """Between jumps of the medium, changes of the films and the end of heating: first and last entry, film, jump.

    Bends of the medium do not break the march: the product feels them softly.
    """
    found: list[tuple[int, int, Film, bool]] = []
    medium, film = np.nan, process.stages[0].film
    for place, stage in enumerate(process.stages):
        jump = bool(place == 0 or stage.medium[0] != medium or stage.film != film)
        last = int(np.searchsorted(time, stage.end * (1 - 1e-12)))
        if place and not jump and stage.start != process.heated_until:
            first, _, _, jumped = found.pop()
            found.append((first, last, stage.film, jumped))
        else:
            first = int(np.searchsorted(time, stage.start * (1 + 1e-12), side="right")) - 1 if place else 0
            found.append((first, last, stage.film, jump))
        medium, film = stage.medium[-1], stage.film
    return found


def _symmetric(matrix: sparse.csr_matrix) -> Symmetric:
    """A symmetric matrix by its nodes and pairs."""
    lower = sparse.tril(matrix, -1).tocoo()
    pairs = Pairs(matrix.shape[0], lower.col.astype(np.int64), lower.row.astype(np.int64), lower.data)
    return Symmetric(matrix.diagonal(), pairs)
