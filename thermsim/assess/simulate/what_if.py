"""Another process for a case that is solved: what happens at its cold spots, in a few thousandths of a second.

The shapes that the temperatures are made of are known from the solved case; another course of the medium, with the
same films, only makes other sums of them. Other films cost one more basis, once. Where properties change with
temperature there are no such shapes, and the other process is marched.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.fields.curve import Curve
from thermsim.assess.fields.family import Family, FourSolutions
from thermsim.assess.fields.lethality import LEAST, gathered_by_cubics
from thermsim.assess.fields.local_fit import Stencil
from thermsim.assess.fields.refinement import Refined
from thermsim.assess.simulate.findings import curves_at
from thermsim.assess.simulate.fineness import output_times
from thermsim.assess.simulate.result import Result
from thermsim.assess.simulate.simulation import simulate_container
from thermsim.assess.spots.cold_spot import ProductFields, stencil_at
from thermsim.case.case import Case, Lethality
from thermsim.case.process import Process
from thermsim.solve.basis.basis import Modes
from thermsim.solve.basis.evolution import Evolution

Array = NDArray[np.float64]

#: So much closer cubics follow the few places' temperatures than a whole field's: it costs next to nothing.
CLOSER = 0.01


def solved(case: Case) -> Solved:
    """Solve a case, without the probes it may have, so that other processes can be asked about.

    Raises
    ------
    NumericalError
        If a temperature is not a number.

    Examples
    --------
    >>> import thermsim
    >>> case = thermsim.read_case("cases/jar.toml").replace(accuracy=thermsim.Accuracy(1.0, 0.2, 5e-3))
    >>> solved = thermsim.solved(case)
    >>> least, slowest, *points = solved.with_process(case.process.with_hold(80 * 60.0))
    >>> least.lethality > solved.result.cold_spot.least_lethality.lethality
    True
    """
    result, refined = simulate_container(case.replace(probe=None, probes=()))
    return Solved(result, refined)


@dataclass(frozen=True)
class Solved:
    """A solved case without probe: its ``result``, and what it takes to ask about other processes."""

    result: Result
    refined: Refined

    @property
    def family(self) -> Family:
        """The case's grids with their bases."""
        return self.refined.family

    def with_process(self, process: Process) -> tuple[Curve, ...]:
        """Effect of another process at the two cold spots of the solved case and at the points that it names.

        The places are those of the solved case: with another process its cold spots may lie elsewhere, so before a
        process is relied on, simulate it.

        Parameters
        ----------
        process : Process
            Of any course; with films of which the solved process had the same sets it is quickest. Where properties
            change with temperature it is marched, which takes as long as the solved one's fields did.

        Returns
        -------
        tuple of Curve
            Least lethality, slowest heating, then the points; at the output times of the new process.

        Raises
        ------
        NumericalError
            If a temperature is not a number, or the march cannot go on.
        """
        coarse, middle, fine = (solver.follow(process, trusted=True) for solver in self.family.solvers)
        grids = [found for found in (coarse, middle, fine) if isinstance(found, Evolution)]
        if len(grids) < len(self.family.solvers):
            return self._by_fields(process, (coarse, middle, middle, fine))
        when, entries, rates = self._at_entries(grids)
        ended = int(np.searchsorted(when, process.heated_until * (1 - 1e-12)))  # before any jump
        logs = _log_lethality(when, entries, rates, self.result.case.lethality)[[-1, ended]]
        time = output_times(self.result.case, process)
        temperature = self._at(time, grids)
        ends = entries[ended]
        return tuple(
            Curve(
                known.name,
                known.r,
                known.z,
                math.exp(logs[0, k]),
                math.exp(logs[1, k]),
                float(ends[k]),
                time,
                temperature[:, k],
            )
            for k, known in enumerate(self.curves)
        )

    def _by_fields(self, process: Process, found: FourSolutions) -> tuple[Curve, ...]:
        """The same of whole fields, where a process was marched."""
        time = output_times(self.result.case, process)
        (best, _, _), _ = self.family.fields(self.result.case.replace(process=process), found, time)
        return tuple(curves_at(self.curves, ProductFields.of(self.refined.grid, best), time))

    @property
    def curves(self) -> Sequence[Curve]:
        """Of the solved case, at the places that are asked about."""
        return (*self.result.spots, *self.result.points)

    @cached_property
    def _stencils(self) -> list[tuple[tuple[slice, slice], Stencil]]:
        return [stencil_at(self.refined.grid, curve.r, curve.z) for curve in self.curves]

    @cached_property
    def _known(self) -> dict[int, tuple[Modes, Array]]:
        return {}

    def _rows(self, modes: Modes, level: int) -> Array:
        """Share of each mode of a grid at the places, extrapolated between the grids, shape (m, places)."""
        if id(modes) not in self._known:
            passed = self.family.parts.whole(level, self.family.solvers[level].fields(modes.shapes))
            rows = np.stack([stencil.value(passed[:, *block]) for block, stencil in self._stencils], axis=1)
            self._known[id(modes)] = (modes, rows)  # with the modes, so that no others get their key
        return self._known[id(modes)][1]

    def _at_entries(self, grids: Sequence[Evolution]) -> tuple[Array, Array, Array]:
        """Times (n_t,) between which cubics serve at the places; temperature [degC] and rate [K/s] (n_t, places)."""
        times, found, rates = [], [], []
        places = len(self.curves)
        for legs in zip(*(grid.legs for grid in grids), strict=True):
            time, piece = legs[2].entries(CLOSER * grids[2].tolerance, self._rows(legs[2].modes, 2))
            times.append(time)
            for level, leg in enumerate(legs):
                rows = self._rows(leg.modes, level)
                coordinates, change, course = leg.at(time, piece, settled=True)
                if level == 0:  # what all nodes have in common counts once
                    found.append(np.repeat(course[:, :1], places, axis=1))
                    rates.append(np.repeat(course[:, 1:], places, axis=1))
                found[-1] += coordinates @ rows
                rates[-1] += change @ rows
        return np.concatenate(times), np.concatenate(found), np.concatenate(rates)

    def _at(self, time: Array, grids: Sequence[Evolution]) -> Array:
        """Temperature [degC] of the places at some times [s], shape (n_t, places)."""
        total = np.empty((time.size, len(self.curves)))
        starts = [leg.time[0] for leg in grids[2].legs[1:]]
        edges = [0, *np.searchsorted(time, starts).tolist(), time.size]
        for k, legs in enumerate(zip(*(grid.legs for grid in grids), strict=True)):
            mine = slice(edges[k], edges[k + 1])
            piece = legs[0].piece(time[mine])
            for level, leg in enumerate(legs):
                coordinates, _, course = leg.at(time[mine], piece)
                if level == 0:
                    total[mine] = course[:, :1]
                total[mine] += coordinates @ self._rows(leg.modes, level)
        return total


def _log_lethality(time: Array, temperature: Array, rate: Array, lethality: Lethality) -> Array:
    """Logarithms of the lethality in s that places gather up to each of some times, shape (n_t, places)."""
    return np.asarray(np.log(np.maximum(gathered_by_cubics(time, temperature, rate, lethality), LEAST)))
