"""Steps with constant properties: C du/dt = -K u - C dT_medium/dt with u = T - T_medium."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from thermsim.case.process import Film
from thermsim.solve.grid.operator import Operator
from thermsim.solve.march import tableau
from thermsim.solve.matrix.numbering import Numbering
from thermsim.solve.matrix.system import system_of

Array = NDArray[np.float64]


class ConstantStepper:
    """A stepper (:class:`thermsim.solve.march.march.Stepper`) with a factor kept as long as the step stays."""

    def __init__(self, operator: Operator, numbering: Numbering) -> None:
        self._operator, self._numbering = operator, numbering
        self._capacity = numbering.vector(operator.capacity)
        self._began = self.temperature = numbering.vector(operator.initial)
        self.rate = np.zeros_like(self.temperature)
        self._film: Film | None = None

    def enter(self, film: Film, medium: float) -> float:
        """Take on films and a medium's temperature."""
        if film != self._film:
            self._system, self._film = system_of(self._operator, film, self._numbering), film
            self._solve: Callable[[Array], Array] | None = None
            self._length = 0.0
        system = self._system
        # nodes held at the medium's temperature take up their heat at once
        held = system.free == 0.0
        taken_up = float(self._capacity[held] @ (medium - self.temperature[held]))
        u = (self.temperature - medium) * system.free
        self.temperature = u + medium
        self.rate = -system.matrix.times(u) / system.capacity
        return taken_up

    def resume(self, temperature: Array, film: Film, medium: float) -> None:
        """Stand at temperatures that were reached before."""
        self.temperature = temperature
        self.enter(film, medium)

    def face(self, medium: float, slope: float) -> None:
        """Let the medium go on from a temperature with a slope."""
        self._slope, self._u = slope, (self.temperature - medium) * self._system.free
        self._k = np.zeros((len(tableau.A), self._u.size))
        self._k[0] = (self.rate - slope) * self._system.free
        self.temperature, self.rate = self._u + medium, self._k[0] + slope

    def attempt(self, length: float) -> float:
        """Try a step; its estimated error."""
        system, a, k, u = self._system, tableau.A, self._k, self._u
        gamma, solve = a[1, 1] * length, self._solver(length)
        heat = -length * a[-1, 0] * float(system.exchange @ u)
        new = u
        for s in range(1, len(a)):
            trial = u + length * (a[s, :s] @ k[:s])
            new = solve(system.capacity * (trial - gamma * self._slope) * system.free)
            k[s] = (new - trial) / gamma
            heat -= length * a[-1, s] * float(system.exchange @ new)
        self._new, self._gained = new, float(heat + system.held * self._slope * length)
        worst = float(np.abs(length * (tableau.OFF @ k)).max(initial=0.0))
        return worst if np.isfinite(worst) else np.nan

    def accept(self, medium: float) -> float:
        """Go where the last attempt led."""
        self._u, self._k[0] = self._new, self._k[-1]
        self.temperature, self.rate = self._u + medium, self._k[0] + self._slope
        return self._gained

    def stored(self) -> float:
        """Heat stored since the start [J]."""
        return float(self._capacity @ (self.temperature - self._began))

    def _solver(self, length: float) -> Callable[[Array], Array]:
        """The solver of (C + gamma length K) x = b, kept as long as the step stays."""
        if self._solve is None or abs(length - self._length) > 1e-9 * length:
            self._solve = self._system.matrix.factor(tableau.A[1, 1] * length, self._system.capacity)
            self._length = length
        return self._solve
