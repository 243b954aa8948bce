"""Changes of a reading by the stem of a probe from the side, as a measured run is compared with it.

The container's own temperature follows what is fitted; what the stem changes of it is that of the case as it stands,
under the process as measured. What is fitted would change that by a small part of itself, and it is a small part of
the reading.
"""

from __future__ import annotations

import copy

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.depth.limits import set_to
from thermsim.assess.fields.reading import Course, Sensor, extrapolated_course
from thermsim.assess.fields.refinement import refine
from thermsim.assess.side.background import RoundBackground
from thermsim.assess.side.field import FINER, LEVELS, MIDDLE, interpolation
from thermsim.assess.side.reading import about_of, sensor_of, stem_disturbances
from thermsim.case.case import Case
from thermsim.solve.grid.grid import Grid

Array = NDArray[np.float64]


class StemChanges:
    """Changes of the reading by a probe from the side over its insertion; none of a probe that is part of the grid.

    Parameters
    ----------
    case : Case
        With its probe, and the process as measured.
    tolerance : float
        Of the time steps [K].
    """

    def __init__(self, case: Case, *, tolerance: float) -> None:
        self.case, self.tolerance = case, tolerance
        self._known: dict[tuple[float, bool], Course] = {}
        self._later = 0.0
        self._behind: RoundBackground | None = None

    def at(self, depth: float, *, finer: bool) -> Course | None:
        """The change at an insertion [m], of the middle grid about the stem or extrapolated from two, if any."""
        probe = self.case.probe
        if probe is None or probe.entry != "side":
            return None
        if (depth, finer) not in self._known:
            placed, parts = set_to(self.case, probe, depth), []
            levels = LEVELS[1:] if finer else MIDDLE
            sensor = sensor_of(placed, self.case)
            for operator, found in stem_disturbances(
                self._background(), placed, tolerance=self.tolerance, levels=levels
            ):
                mean = operator.mean(sensor.low, sensor.high, sensor.radius)
                parts.append(Course(found.time, found.difference @ mean, found.rate @ mean))
            self._known[depth, finer] = extrapolated_course(*parts, ratio=FINER) if finer else parts[0]
        known = self._known[depth, finer]
        return held_longer(known, self.case.process.heated_until, self._later) if self._later else known

    def held(self, later: float) -> StemChanges:
        """The changes if heating ended so much later [s], nearly: see :func:`held_longer`."""
        moved = copy.copy(self)
        moved._later = later
        return moved

    def _background(self) -> RoundBackground:
        if self._behind is None:
            bare = without_stem(self.case)
            ends = np.array([0.0, bare.process.end])
            self._behind = RoundBackground.of(bare, refine(bare, time=ends, tolerance=self.tolerance, once=True))
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


def without_stem(case: Case) -> Case:
    """The case whose grid a reading is taken from: without a probe from the side, which is no part of it."""
    return case.replace(probe=None, probes=()) if case.probe is not None and case.probe.entry == "side" else case


def sensing_weights(case: Case, grid: Grid) -> Array:
    """Weights (n_r, n_z) of a grid's nodes in the mean over the volume that the case's probe senses."""
    probe = case.probe
    if probe is None:
        raise ValueError("the case has no probe")
    if probe.entry != "side":
        return Sensor(probe.tip_radius, *probe.sensed(case.container)).weights(grid)
    places, weights = sensor_of(probe, case).places()
    return np.asarray(weights @ interpolation(grid, *about_of(case, probe).section(places))).reshape(grid.shape)
