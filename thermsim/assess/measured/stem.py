"""Readings that a measured run is compared with: the container's own temperature, and what a stem changes of it.

The container's own temperature follows what is fitted. What a stem changes that is no part of the container's grid,
one from the side or in a brick, is that of the case as it stands, under the process as measured: what is fitted would
change that by a small part of itself, and it is a small part of the reading.
"""

from __future__ import annotations

import copy
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.depth.limits import set_to
from thermsim.assess.fields.reading import Course, Sensor, extrapolated_course, summed
from thermsim.assess.fields.refinement import refine
from thermsim.assess.side.background import Background, RoundBackground, brick_background
from thermsim.assess.side.field import FINER, LEVELS, MIDDLE, interpolation
from thermsim.assess.side.reading import about_of, sensor_of, stem_disturbances
from thermsim.assess.spots.brick_field import brick_field, unsolved
from thermsim.case.case import Case
from thermsim.case.probe import Probe
from thermsim.case.process import Process
from thermsim.solve.basis.reduced import Solver
from thermsim.solve.grid.body import body_of
from thermsim.solve.grid.grid import Grid, grid_family
from thermsim.solve.grid.operator import operator_of

Array = NDArray[np.float64]

#: Time tolerance of the marches of a fit [K].
TOLERANCE = 0.004


class StemChanges:
    """Changes of the reading by a probe's stem over its insertion; none of a probe that is part of the grid.

    Parameters
    ----------
    case : Case
        With its probe, and the process as measured.
    """

    def __init__(self, case: Case) -> None:
        self.case = case
        self._known: dict[tuple[float, bool], Course] = {}
        self._later = 0.0
        self._behind: Background | None = None

    def at(self, depth: float, *, finer: bool) -> Course | None:
        """The change at an insertion [m], of the middle grid about the stem or extrapolated from two, if any."""
        probe = self.case.probe
        if probe is None or _in_grid(self.case, probe):
            return None
        if (depth, finer) not in self._known:
            changes = self._from_side if probe.entry == "side" else self._along_axis
            self._known[depth, finer] = changes(set_to(self.case, probe, depth), finer=finer)
        known = self._known[depth, finer]
        return held_longer(known, self.case.process.heated_until, self._later) if self._later else known

    def held(self, later: float) -> StemChanges:
        """The changes if heating ended so much later [s], nearly: see :func:`held_longer`."""
        moved = copy.copy(self)
        moved._later = later
        return moved

    def _from_side(self, placed: Probe, *, finer: bool) -> Course:
        sensor, parts = sensor_of(placed, self.case), []
        for operator, found in stem_disturbances(
            self._background(), placed, tolerance=TOLERANCE, levels=LEVELS[1:] if finer else MIDDLE
        ):
            mean = operator.mean(sensor.low, sensor.high, sensor.radius)
            parts.append(Course(found.time, found.difference @ mean, found.rate @ mean))
        return extrapolated_course(*parts, ratio=FINER) if finer else parts[0]

    def _along_axis(self, placed: Probe, *, finer: bool) -> Course:
        """In a brick: that in the cylinder round it, whose grid has the stem, or else product in its place."""
        case = self.case.replace(probe=placed)
        facing = [case.process.facing(placed.entry, placed.film)]
        with_stem, without = (
            extrapolated_course(*_on_grids(case, facing, stem=stem, finer=finer)[0]) for stem in (True, False)
        )
        return summed(with_stem, Course(without.time, -without.temperature, -without.rate))

    def _background(self) -> Background:
        if self._behind is None:
            bare = self.case.replace(probe=None, probes=())
            ends = np.array([0.0, bare.process.end])
            if unsolved(bare):
                self._behind = RoundBackground.of(bare, refine(bare, time=ends, tolerance=TOLERANCE, once=True))
            else:
                self._behind = brick_background(bare, ends)
        return self._behind


def held_longer(course: Course, ends: float, later: float) -> Course:
    """A course of which all from ``ends`` on comes so much later [s], or earlier; longer, it stays as it is then."""
    before = (course.time <= ends) & (course.time < ends + later)
    after = course.time >= ends
    time, temperature, rate = (
        np.concatenate([values[before], values[after] + moved])
        for values, moved in ((course.time, later), (course.temperature, 0.0), (course.rate, 0.0))
    )
    return Course(time, temperature, rate)


def sensed(case: Case, processes: Sequence[Process], *, finer: bool) -> list[tuple[Course, Course]]:
    """The temperature of the volume that the case's probe senses, without its stem where that is no part of the grid.

    Parameters
    ----------
    case : Case
        With its probe, the insertion known.
    processes : sequence of Process
        What it goes through, in turn.
    finer : bool
        Whether the two finer or the two coarser grids of the family are meant.

    Returns
    -------
    list of (Course, Course)
        For each process those of two grids, to be extrapolated; of a brick, which is solved itself, one course twice.
    """
    probe = case.probe
    if probe is None:
        raise ValueError("the case has no probe")
    if not unsolved(case):
        places, weights = sensor_of(probe, case).places()
        # one along the axis has heights where one from the side has distances from it
        places = about_of(case, probe).in_brick(places) if probe.entry == "side" else places[:, [1, 2, 0]]
        found = []
        for process in processes:
            course = brick_field(case.replace(process=process), fine=finer).course_at(places)
            mean = Course(course.time, course.temperature @ weights, course.rate @ weights)
            found.append((mean, mean))
        return found
    facing = [process.facing(probe.entry, probe.film) for process in processes]
    return _on_grids(case, facing, stem=_in_grid(case, probe), finer=finer)


def _on_grids(case: Case, processes: Sequence[Process], *, stem: bool, finer: bool) -> list[tuple[Course, Course]]:
    """Temperature of a case's sensor on two grids of the family, with its stem or without, under some processes."""
    body = case if stem else case.replace(probe=None, probes=())
    on_grids: list[list[Course]] = []
    for grid in grid_family(body_of(body))[1 if finer else 0 :][:2]:
        solver = Solver(operator_of(grid), tolerance=TOLERANCE, once=len(processes) == 1)
        weights = _weights(case, grid, stem=stem)
        nodes = weights != 0.0
        on_grids.append([])
        for process in processes:
            history = solver.follow(process)
            temperature, rate = (values @ weights[nodes] for values in history.entries(nodes))
            on_grids[-1].append(Course(history.time, temperature, rate))
    return list(zip(*on_grids, strict=True))


def _weights(case: Case, grid: Grid, *, stem: bool) -> Array:
    """Weights (n_r, n_z) of a grid's nodes in the mean over what the probe senses, with its stem or without."""
    probe = case.probe
    if probe is None:
        raise ValueError("the case has no probe")
    if stem:
        return Sensor(probe.tip_radius, *probe.sensed(case.container)).weights(grid)
    places, weights = sensor_of(probe, case).places()
    if probe.entry == "side":
        section = about_of(case, probe).section(places)
    else:
        section = np.hypot(places[:, 1], places[:, 2]), places[:, 0]
    return np.asarray(weights @ interpolation(grid, *section)).reshape(grid.shape)


def _in_grid(case: Case, probe: Probe) -> bool:
    """Tell whether a probe is part of the container's grid: it stands on the axis of a body of revolution."""
    return probe.entry != "side" and bool(unsolved(case))
