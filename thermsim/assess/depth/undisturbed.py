"""The container's undisturbed field as a stem meets it along its axis, at one fineness: a first look's."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.fields.curve import Curve
from thermsim.assess.fields.lethality import lethal_rate
from thermsim.assess.probe.mismatch import Truth
from thermsim.assess.side.background import check_edge
from thermsim.assess.side.field import interpolation
from thermsim.assess.side.reading import about_of
from thermsim.assess.spots.brick import brick_spots
from thermsim.assess.spots.brick_field import BrickField, brick_field
from thermsim.case.case import Case
from thermsim.case.probe import Probe
from thermsim.solve.grid.grid import Grid
from thermsim.solve.march.history import hermite_sum, hermite_weights

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Undisturbed:
    """The undisturbed field at the output times, and its place of least lethality."""

    case: Case
    time: Array
    truth: Truth

    def along(self, probe: Probe, depth: Array) -> tuple[Array, Array, Array]:
        """Temperatures (n_t, n) at depths on a stem's axis, conductivity [W/mK] and capacity [J/m3K] (n,) there.

        Where nothing conducts the medium's temperature, and zeros.
        """
        raise NotImplementedError

    @property
    def medium(self) -> Array:
        """The medium's temperature, at a jump as it is before (n_t,)."""
        return self.case.process.medium_at(np.maximum(self.time - 1e-6, 0.0))

    def gained(self, temperature: Array) -> tuple[float, float]:
        """Lethality of a curve at the output times [s]: in all, and until heating ends."""
        return gained_by(self.case, self.time, temperature)


@dataclass(frozen=True)
class AlongAxes(Undisturbed):
    """That of a body of revolution, on one grid."""

    grid: Grid
    temperature: Array

    def along(self, probe: Probe, depth: Array) -> tuple[Array, Array, Array]:
        """See :class:`Undisturbed`."""
        r, z = places_of(probe, self.case, depth)
        conductivity, capacity = (np.zeros(depth.size) for _ in range(2))
        for k in np.flatnonzero(depth > 0.0):
            material = _material_at(self.grid, float(r[k]), float(z[k]))
            if material is not None:
                conductivity[k], capacity[k] = material
        conducts = conductivity > 0.0
        undisturbed = np.repeat(self.medium[:, None], depth.size, axis=1)
        weights = interpolation(self.grid, r[conducts], z[conducts])
        undisturbed[:, conducts] = (weights @ self.temperature.reshape(self.time.size, -1).T).T
        return undisturbed, conductivity, capacity


@dataclass(frozen=True)
class AlongEdges(Undisturbed):
    """That of a brick itself, for stems through its edges."""

    brick: BrickField

    @classmethod
    def of(cls, case: Case, time: Array) -> AlongEdges:
        """Of a case without a probe, solved in three dimensions."""
        check_edge(case)
        spot, brick = brick_spots(case)[0].least_lethality, brick_field(case, fine=False)
        at_spot = brick.temperature_at(np.array([[spot.x, spot.y, spot.z]]), time)[:, 0]
        return cls(case, time, truth_at(case, time, at_spot, math.hypot(spot.x, spot.y), spot.z), brick)

    def along(self, probe: Probe, depth: Array) -> tuple[Array, Array, Array]:
        """See :class:`Undisturbed`."""
        container, wall = self.case.container, self.case.container.side
        (inner, _), outer = container.halves(probe.edge), probe.side_face(container)
        about = np.stack([outer - depth, *np.zeros((2, depth.size))], axis=1)
        course = self.brick.course_at(about_of(self.case, probe).in_brick(about))
        undisturbed = hermite_sum(*hermite_weights(course.time, self.time), course.temperature, course.rate)
        conductivity, capacity = (np.zeros(depth.size) for _ in range(2))
        made_of = [(np.abs(outer - depth) < inner, self.case.product.material)]
        if wall is not None:
            made_of.append(((depth > 0.0) & (outer - depth > inner), wall.material))
        for there, material in made_of:
            conductivity[there], capacity[there] = material.conductivity, material.capacity
        return np.where(conductivity > 0.0, undisturbed, self.medium[:, None]), conductivity, capacity


def gained_by(case: Case, time: Array, temperature: Array) -> tuple[float, float]:
    """Lethality of a curve [s], in all and until heating ends; it errs alike for all curves: their ratios count."""
    rate, heating = lethal_rate(temperature, case.lethality), time <= case.process.heated_until
    return float(np.trapezoid(rate, time)), float(np.trapezoid(rate[heating], time[heating]))


def truth_at(case: Case, time: Array, temperature: Array, r: float, z: float) -> Truth:
    """The cold spot's curve, whose lethality is that of the output times, like the readings'."""
    until = case.process.heated_until
    total, heating = gained_by(case, time, temperature)
    curve = Curve("cold spot", r, z, total, heating, float(np.interp(until, time, temperature)), time, temperature)
    return Truth("least lethality", curve, case.lethality, until)


def places_of(probe: Probe, case: Case, depth: Array) -> tuple[Array, Array]:
    """Places r, z [m] of depths below the outer face on the stem's axis."""
    container = case.container
    if probe.entry == "side":
        return np.abs(container.outer_radius - depth), np.full(depth.size, probe.z or 0.0)
    z = container.outer_height - depth if probe.entry == "lid" else container.crown + depth
    return np.zeros(depth.size), np.clip(z, 0.0, container.outer_height)


def _material_at(grid: Grid, r: float, z: float) -> tuple[float, float] | None:
    """Conductivity [W/mK] and capacity [J/m3K] at a place; None where nothing conducts."""
    column, level = grid.reference(r, z)
    i = min(max(int(np.searchsorted(grid.columns, column)) - 1, 0), grid.columns.size - 2)
    j = min(max(int(np.searchsorted(grid.levels, level)) - 1, 0), grid.levels.size - 2)
    number = int(grid.material[i, j])
    if number < 0:
        return None
    return grid.materials[number].conductivity, grid.materials[number].capacity
