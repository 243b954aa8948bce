"""Readings over diffusivity and depth, solved at some of both and interpolated between: the same for all containers.

A reading is linear in the temperature at the start, so each place of the lattice holds two curves; a step of the
start is a step of the medium the other way, which costs nothing on a basis that is there already.
"""

from __future__ import annotations

import dataclasses
import functools
import math
import threading

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.depth.limits import allowed_depths
from thermsim.assess.fields.family import extrapolated
from thermsim.assess.measured.model import TOLERANCE, Probed, ProbeModel
from thermsim.assess.measured.stem import StemChanges, sensing_weights, without_stem
from thermsim.case.case import Case
from thermsim.case.process import Process
from thermsim.case.product import Headspace
from thermsim.physics.materials import Material
from thermsim.solve.basis.reduced import Solver
from thermsim.solve.grid.body import body_of
from thermsim.solve.grid.grid import grid_family
from thermsim.solve.grid.operator import operator_of

Array = NDArray[np.float64]

#: Between neighbouring places: the logarithm of the diffusivity, and depth [m], along the axis and along a radius.
#: Cubics through four of them are within 0.02 K, but for the first centimetre at a fitting, and the first ten
#: minutes behind a jump (0.08 K).
SPREAD, APART, APART_ALONG_RADIUS = 0.2, 8e-3, 4e-3
#: Step of the temperature at the start [K].
WARMER = 5.0
#: Between the times at which curves are kept [s].
EVERY = 10.0
#: A container filled otherwise than said, by a size of 1: so much lower [m], or with a headspace that carries so many
#: times less heat; a gas carries no less than this [W/mK]; sizes beyond the last are taken as that.
FILLINGS = FILL, HEADSPACE = "fill", "headspace"
LOWER, LESS, LEAST_CARRIED, FAR_OFF = 8e-3, 5.0, 0.02, 1.5
#: Density [kg/m3] and specific heat [J/kgK] of a gas.
_GAS = 1.0, 1010.0


class Lattice:
    """Readings of the case's probe under a process, for any diffusivity, start, depth and offset of the clocks.

    Parameters
    ----------
    case : Case
        With its probe, the insertion known.
    process : Process
        What the containers went through.
    """

    def __init__(self, case: Case, process: Process) -> None:
        if case.probe is None:
            raise ValueError("the case has no probe")
        self.case, self.process = case.replace(process=process), process
        depth = case.probe.depth(case.container)
        self.depths = allowed_depths(case, case.probe) or (float(depth or 0.0),) * 2
        if case.probe.mount == "inside":
            self.depths = (float(depth or 0.0),) * 2
        low, high = self.depths
        apart = APART_ALONG_RADIUS if case.probe.entry == "side" else APART
        self.rungs = np.linspace(low, high, max(4, math.ceil((high - low) / apart) + 1)) if high > low else None
        self.time = np.arange(0.0, process.end + EVERY, EVERY)
        self._known: dict[tuple[int, int], Array] = {}
        self._blocks: dict[tuple[int, int], Array] = {}
        self._one_at_a_time = threading.Lock()
        self._others: dict[tuple[str, int], Lattice] = {}
        self.changes = StemChanges(self.case, tolerance=TOLERANCE)

    def __call__(self, log_factor: float, initial: float, depth: float, offset: float, time: Array) -> Array:
        """The reading [degC] at some times by the probe's clock.

        Parameters
        ----------
        log_factor : float
            Logarithm of the diffusivity over the case's.
        initial : float
            Product at the start [degC].
        depth : float
            Insertion [m], within :attr:`depths`.
        offset : float
            How far the probe's clock is ahead [s].
        time : ndarray, shape (n,)
            [s].

        Returns
        -------
        ndarray, shape (n,)
        """
        place, shares = _shares(log_factor / SPREAD)
        rung, parts = self._between(depth)
        block = self._block(place, len(shares), rung, len(parts))
        base, warmer = np.outer(shares, parts).ravel() @ block
        curve = base + (initial - self.case.product.initial) / WARMER * warmer
        return np.asarray(np.interp(time - offset, self.time, curve))

    @functools.cached_property
    def fillings(self) -> tuple[str, ...]:
        """Names of what may be otherwise about the filling: nothing from the side or in a brick."""
        case = self.case
        if case.probe is None or case.probe.entry == "side" or case.container.brick is not None:
            return ()
        low = (FILL,) if case.fill_height > 4.0 * LOWER else ()
        return (*low, HEADSPACE) if case.headspace_height > 0.0 else low

    def change(self, name: str, size: float, values: tuple[float, float, float, float], time: Array) -> Array:
        """Change of the reading of such values by a filling that is otherwise by a size [K], along a parabola."""
        size = float(np.clip(size, -FAR_OFF, FAR_OFF))
        here, less = self(*values, time), self._filled(name, 1)(*values, time)
        if name == FILL:
            return size * (less - here)
        more = self._filled(name, -1)(*values, time)
        return size * (less - more) / 2.0 + size**2 * ((less + more) / 2.0 - here)

    def _filled(self, name: str, size: int) -> Lattice:
        if (name, size) not in self._others:
            self._others[name, size] = Lattice(filled_otherwise(self.case, name, size), self.process)
        return self._others[name, size]

    def _between(self, depth: float) -> tuple[int, list[float]]:
        if self.rungs is None:
            return 0, [1.0]
        at = (depth - self.rungs[0]) / (self.rungs[1] - self.rungs[0])
        return _shares(at, last=self.rungs.size - 1)

    def _block(self, place: int, places: int, rung: int, rungs: int) -> Array:
        """The curves of some neighbouring diffusivities and depths, as :meth:`_solved`; shape (2, n, n_t)."""
        if (place, rung) not in self._blocks:
            with self._one_at_a_time:
                curves = [
                    self._curves(one, other)
                    for one in range(place, place + places)
                    for other in range(rung, rung + rungs)
                ]
                self._blocks[place, rung] = np.stack(curves, axis=1)
        return self._blocks[place, rung]

    def _curves(self, place: int, rung: int) -> Array:
        """The reading, and by how much it is higher for a warmer start; shape (2, n_t)."""
        key = place, rung
        if key not in self._known:
            depth = self.depths[0] if self.rungs is None else float(self.rungs[rung])
            self._known[key] = self._solved(math.exp(SPREAD * place), depth)
        return self._known[key]

    def _solved(self, factor: float, depth: float) -> Array:
        case = self.case
        if self.rungs is not None and case.probe is not None:
            case = case.replace(probe=case.probe.at_depth(depth, case.container))
        model = ProbeModel(case, self.process, ("diffusivity", "initial"), self.time, changes=self.changes)
        start, own = case.product.initial, case.product.material.diffusivity * factor
        cold = _readings(model.case_with((own, start))[0], self.process, self.time)
        if case.product.material.tabulated is not None:
            warm = _readings(model.case_with((own, start + WARMER))[0], self.process, self.time)[0]
        else:
            warm = cold[1] + WARMER
        change = self.changes.at(depth, finer=False)
        by_stem = 0.0 if change is None else Probed(change.time, change.temperature, change.rate).at(self.time)
        return np.stack([cold[0] + by_stem, warm - cold[0]])


def filled_otherwise(case: Case, name: str, size: float) -> Case:
    """The case filled lower, or with a headspace that carries less heat, by a size of :data:`FAR_OFF` at most."""
    size, case = float(np.clip(size, -FAR_OFF, FAR_OFF)), case.replace(points=())  # one may lie in what is empty then
    if name == FILL:
        height = min(case.fill_height - size * LOWER, case.fill_height + case.headspace_height)
        lower, gap, own = case.fill_height - height, case.headspace.gap, case.headspace.material
        if case.headspace_height <= 0.0 and own is None:
            return case.replace(fill_height=height, headspace=Headspace("insulated"))
        if gap is None or own is None or own.tabulated is None:
            return case.replace(fill_height=height)
        gap, met = dataclasses.replace(gap, thickness=gap.thickness + lower), own.tabulated.temperature
        return case.replace(fill_height=height, headspace=Headspace.of_gas(gap, (float(met[0]), float(met[-1]))))
    own = case.headspace.material
    carried = LEAST_CARRIED if own is None else own.at(max(case.met)).conductivity
    carries = max(carried / LESS**size, LEAST_CARRIED)
    return case.replace(headspace=Headspace("fixed", Material("headspace", carries, *_GAS)))


def _readings(case: Case, process: Process, time: Array) -> tuple[Array, Array]:
    """The reading, and that with the medium lower by :data:`WARMER`, both extrapolated from the two coarser grids."""
    probe = case.probe
    if probe is None:
        raise ValueError("the case has no probe")
    processes = [process.facing(probe.entry, probe.film)]
    if case.product.material.tabulated is None:
        lower = tuple(dataclasses.replace(stage, medium=stage.medium - WARMER) for stage in processes[0].stages)
        processes.append(Process(lower, process.source))
    found = []
    for grid in grid_family(body_of(without_stem(case)))[:2]:
        solver, weights = Solver(operator_of(grid), tolerance=TOLERANCE), sensing_weights(case, grid)
        nodes = weights != 0.0
        for one in processes:
            history = solver.follow(one)
            temperature, rate = (values @ weights[nodes] for values in history.entries(nodes))
            found.append(Probed(history.time, temperature, rate).at(time))
    count = len(processes)
    curves = [extrapolated(found[k], found[count + k]) for k in range(count)]
    return curves[0], curves[-1]


def _shares(at: float, *, last: int | None = None) -> tuple[int, list[float]]:
    """The first of the four places round one, and the shares with which a cubic through them takes each."""
    first = math.floor(at) - 1
    if last is not None:
        first = min(max(first, 0), last - 3)
    places = range(first, first + 4)
    return first, [math.prod((at - other) / (one - other) for other in places if other != one) for one in places]
