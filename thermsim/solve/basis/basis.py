"""A few dozen shapes that stand in for all nodes under one set of films, whatever the medium does.

With constant properties C du/dt = -K u - C 1 dT_medium/dt, u = T - T_medium. What u can become is spanned by
functions of C^-1 K applied to 1 and to what u begins with; a rational Krylov space, built of solutions of
(K + s C) x = C y for a few real s in turn, holds these functions to many digits. On it the equations are small, their
modes decay each by itself, and any process with these films is followed exactly.

Source: V. Druskin and V. Simoncini, "Adaptive rational Krylov subspaces for large-scale dynamical systems", Systems &
Control Letters 60 (2011) 546-560 (from memory); here the shifts are few and fixed, so that one factorisation serves
many solutions.
"""

from __future__ import annotations

import copy
import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from thermsim.solve.matrix.system import System

Array = NDArray[np.float64]

#: What is no more than this part of a new start vector is rounding; a field no larger than this is nothing [K].
NOTHING_NEW, NOTHING = 1e-10, 1e-12
#: A solution that differs from what is there by no more than this part of it holds nothing new.
ANYTHING = 1e-11
#: Vectors whose flows are looked at together: more would take more memory on large grids.
AT_ONCE = 12


@dataclass(frozen=True)
class Modes:
    """Shapes that decay each at its own rate: T = T_medium + sum of a_k shape_k.

    Parameters
    ----------
    rates : ndarray, shape (m,)
        Of decay [1/s].
    vectors : ndarray, shape (m, n)
        C^(1/2) times fields over the active nodes, orthonormal; 0 at held nodes.
    eigenvectors : ndarray, shape (m, m)
        A column each: how the vectors make the modes.
    system : System
        The equations that these are the modes of.
    ones, start : ndarray, shape (m,)
        What one is made of, and what the temperatures at the start are.
    exchange : ndarray, shape (m,)
        Heat that each mode gives to the medium [W].
    """

    rates: Array
    vectors: Array
    eigenvectors: Array
    system: System
    ones: Array
    start: Array
    exchange: Array

    @cached_property
    def root(self) -> Array:
        """Square roots of the capacities, 0 at held nodes, shape (n,)."""
        return np.sqrt(self.system.capacity) * self.system.free

    @cached_property
    def shapes(self) -> Array:
        """The modes over the active nodes, orthonormal with the capacities as weights, shape (m, n)."""
        found = self.eigenvectors.T @ self.vectors
        found /= np.sqrt(self.system.capacity)
        return found

    @cached_property
    def sampled_shapes(self) -> Array:
        """The shapes at some of the nodes, shape (m, some): enough to say how large a sum of them is."""
        some = sample(self.vectors.shape[1])
        return self.eigenvectors.T @ self.vectors[:, some] / np.sqrt(self.system.capacity[some])

    def made_of(self, fields: Array) -> Array:
        """Coordinates (k, m) of fields (k, n), the nearest in heat."""
        return (fields * self.root) @ self.vectors.T @ self.eigenvectors


def sample(count: int) -> slice:
    """Every so many of the nodes, some hundred in all, in no step with the lines of a grid."""
    return slice(None, None, max(1, count // 400) | 1)


class Basis:
    """The basis of one set of films; it grows until it is good enough.

    Parameters
    ----------
    system : System
        The equations.
    shifts : tuple of float
        Rates of change that it is made for [1/s].
    initial : ndarray, shape (n,)
        Temperatures at the start [degC].
    """

    def __init__(self, system: System, shifts: tuple[float, ...], initial: Array) -> None:
        self.system = system
        self.root = np.sqrt(system.capacity)
        free = self.root * system.free
        # fields whose coordinates are kept: one everywhere, the temperatures at the start, exchange with the medium
        self._fields = np.stack([free, free * initial, system.exchange / self.root])
        self.coordinates = np.empty((3, 64))
        self.shifts = [shifts]
        self.vectors = np.empty((64, self.root.size))
        self.count = 0
        self.rounds: list[int] = []
        self.starts: list[int] = []
        # of each start, and of each shift, the vector to go on from
        self.heads = [np.empty((0, len(shifts)), dtype=np.int64)]
        self.projected = np.empty((64, 64))
        self._projected_count = 0
        self.known: dict[int, Modes] = {}

    def copy(self) -> Basis:
        """A copy that grows by itself."""
        new = copy.copy(self)
        new.shifts, new.rounds, new.known = list(self.shifts), list(self.rounds), dict(self.known)
        new.starts, new.heads = list(self.starts), [heads.copy() for heads in self.heads]
        new.projected, new.coordinates = self.projected.copy(), self.coordinates.copy()
        # what is there is never written again: only the room beyond it must be the copy's own
        new.vectors = np.empty_like(self.vectors)
        new.vectors[: self.count] = self.vectors[: self.count]
        return new

    def begin(self, field: Array) -> None:
        """Take a field (n,) [K] into the basis and build on it from now on; one that is nothing is left alone."""
        largest = float(np.abs(field).max(initial=0.0))
        if largest < NOTHING:
            return  # what has decayed to the end of the range of numbers has no length to divide by
        self._make_room(1)
        vector = self.root * self.system.free * (field / largest)
        size = np.linalg.norm(vector)
        for _ in range(2 if self.count else 0):
            old = self.vectors[: self.count]
            vector = vector - (old @ vector) @ old
        left = np.linalg.norm(vector)
        if left > NOTHING_NEW * size:
            self.vectors[self.count] = vector / left
            self.starts.append(self.count)
            self.heads = [np.vstack([heads, np.full(heads.shape[1], self.count)]) for heads in self.heads]
            self.count += 1

    def add(self, shift: float) -> None:
        """Go through one more shift [1/s] in each round from now on."""
        self.shifts.append((shift,))
        self.heads.append(np.array(self.starts)[:, None])

    def grow(self, rounds: int = 1) -> None:
        """Go some rounds: from each start and shift (C^-1 K + shift)^-1 times the last vector, made orthonormal.

        Each start goes its own way with each shift. What they span is the same as if each shift went on from the last
        one's solution.
        """
        for _ in range(rounds):
            self.rounds.append(self.count)
            for shifts, heads in zip(self.shifts, self.heads, strict=True):
                self._make_room(heads.size)
                ahead = self.vectors[heads] * self.root
                found = np.concatenate([self.system.solver(shift)(ahead[:, k].T).T for k, shift in enumerate(shifts)])
                found *= self.root
                sizes = np.sqrt(np.einsum("kn,kn->k", found, found))
                old = self.vectors[: self.count]
                for _ in range(2):  # all at once against what is there, which costs less than one by one
                    found -= (found @ old.T) @ old
                begun, starts = self.count, len(heads)
                for k, vector in enumerate(found):
                    if self._take_in(vector, begun, float(sizes[k])):
                        heads[k % starts, k // starts] = self.count - 1

    def _take_in(self, vector: Array, begun: int, before: float) -> bool:
        """Make a vector (n,) the next one of the basis, if it holds anything new.

        It is orthogonal to those before ``begun``; ``before`` is what its length was.
        """
        old = self.vectors[begun : self.count]
        size = math.sqrt(vector @ vector)
        for _ in range(3):  # twice is enough, but for vectors that hold hardly anything new
            last = size
            vector = vector - (old @ vector) @ old
            size = math.sqrt(vector @ vector)
            if size > 0.5 * last:
                break
            old = self.vectors[: self.count]
        if size <= ANYTHING * before:
            return False
        self.vectors[self.count] = vector / size
        self.count += 1
        return True

    def modes(self, *, earlier: int = 0) -> Modes:
        """Modes of the whole basis, or of what it was some rounds earlier."""
        count = self.count if earlier == 0 else self.rounds[-earlier]
        if count not in self.known:
            self._project()
            rates, eigenvectors = np.linalg.eigh(self.projected[:count, :count])
            ones, start, exchange = self.coordinates[:, :count] @ eigenvectors
            self.known[count] = Modes(
                np.maximum(rates, 0.0), self.vectors[:count], eigenvectors, self.system, ones, start, exchange
            )
        return self.known[count]

    def _project(self) -> None:
        """C^(-1/2) K C^(-1/2) on the vectors that are new."""
        for begin in range(self._projected_count, self.count, AT_ONCE):
            new = slice(begin, min(begin + AT_ONCE, self.count))
            vectors = self.vectors[new]
            flows = self.system.matrix.times((vectors / self.root).T).T / self.root
            across = self.vectors[: new.stop] @ flows.T
            self.projected[: new.stop, new] = across
            self.projected[new, : new.stop] = across.T
            self.coordinates[:, new] = self._fields @ vectors.T
        self._projected_count = self.count

    def _make_room(self, more: int) -> None:
        have = len(self.vectors)
        if self.count + more <= have:
            return
        room = max(2 * have, self.count + more)
        vectors = np.empty((room, self.root.size))
        vectors[: self.count] = self.vectors[: self.count]
        self.vectors = vectors
        projected = np.empty((room, room))
        projected[:have, :have] = self.projected
        self.projected = projected
        coordinates = np.empty((3, room))
        coordinates[:, :have] = self.coordinates
        self.coordinates = coordinates
