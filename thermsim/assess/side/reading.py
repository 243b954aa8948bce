"""Reading of a probe from the side: the undisturbed temperature where it senses, and the stem's disturbance there.

The stem's disturbance is computed on three grids about it and extrapolated from the two finer ones; what that changes
and what the two coarser ones give show how well. The undisturbed part is that of the container's own fields,
extrapolated as everywhere.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.fields.error_estimate import QUARTER
from thermsim.assess.fields.family import LOOSER, extrapolated
from thermsim.assess.fields.reading import Course, reading_along, summed
from thermsim.assess.fields.refinement import ABOUT_A_STEM
from thermsim.assess.side.background import Background, probe_at
from thermsim.assess.side.background import changes as properties_change
from thermsim.assess.side.field import FINE, FINER, LEVELS, MIDDLE, About, about_side, disturbances
from thermsim.case.case import Case
from thermsim.case.probe import Probe
from thermsim.solve.stem.disturbance import Disturbance
from thermsim.solve.stem.stem_operator import StemOperator

Array = NDArray[np.float64]
#: Three times the fifth that a disturbance of constant properties is off by: see the background.
LEFT_OPEN = 3.0 / 5.0
#: Disturbances by a stem on the grids about it, the coarsest first.
Disturbed: TypeAlias = list[tuple[StemOperator, Disturbance]]


@dataclass(frozen=True)
class SideSensor:
    """The volume that a sensor from the side averages over: a cylinder along a radius of the container.

    ``radius``, ``low`` and ``high`` as distances from the container's axis towards the entry, alike for the tip's
    face [m].
    """

    radius: float
    low: float
    high: float

    def places(self) -> tuple[Array, Array]:
        """Places about the stem (n, 3) [m] and weights whose mean is exact for degree 3, along it for degree 5."""
        points, weights = np.polynomial.legendre.leggauss(3)
        along = (self.low + self.high) / 2 + (self.high - self.low) / 2 * points
        # over a disc the mean of the square of a distance from a diameter is R^2/4
        off = self.radius / np.sqrt(2.0)
        across = ((off, 0.0, 0.5), (0.0, off, 0.25), (0.0, -off, 0.25))
        places = [(x, aside, above) for x in along for aside, above, _ in across]
        return np.array(places), np.outer(weights / 2.0, [share for _, _, share in across]).ravel()


def sensor_of(probe: Probe, case: Case) -> SideSensor:
    """The sensing volume of a probe from the side whose insertion is known; raises ``ValueError`` where it is not."""
    return SideSensor(probe.tip_radius, *probe.sensed(case.container))


def changes_of_reading(
    background: Background, probe: Probe, *, time: Array, tolerance: float, levels: Sequence[int] = LEVELS
) -> list[Array]:
    """Change of the reading by the stem of a probe from the side, on the grids about it, the coarsest first.

    Parameters
    ----------
    background : Background
    probe : Probe
        Its insertion and height known.
    time : ndarray, shape (n_t,)
        Output times [s].
    tolerance : float
        Largest estimated error of a time step [K].
    levels : sequence of int, optional
        On which of the grids.

    Returns
    -------
    list of ndarray, shape (n_t + 3,)
        Each as the stack of a :class:`thermsim.assess.fields.reading.Reading` less that of the same place
        without the probe.
    """
    found = stem_disturbances(background, probe, tolerance=tolerance, levels=levels)
    return changes_in(background, probe, found, time=time)


def stem_disturbances(
    background: Background, probe: Probe, *, tolerance: float, levels: Sequence[int] = LEVELS
) -> Disturbed:
    """Disturbances by a probe from the side, on the grids about it, the coarsest first; parameters as above."""
    case, about = background.case, about_of(background.case, probe_at(probe, background.temperature))
    return disturbances(
        case,
        about,
        functools.partial(background.course_at, about),
        film=probe.film,
        tolerance=tolerance,
        levels=levels,
    )


def three_ways(
    background: Background, probe: Probe, changes: Sequence[Array], *, time: Array, tolerance: float
) -> tuple[Array, Array, Array]:
    """A change of a reading from those on the three grids: the best, a coarser one, and with looser steps in time.

    The coarser one is of the two coarser grids, or of the finest alone where that is further off: by either the best
    may happen to change by nothing. The last also has what properties that change leave open. Parameters are those
    above.
    """
    (loose,) = changes_of_reading(background, probe, time=time, tolerance=LOOSER * tolerance, levels=MIDDLE)
    loose = loose + left_open(background, probe, changes[1], time=time, tolerance=tolerance)
    best, earlier = best_changes(changes)
    finest = changes[-1]
    coarser = np.where(np.abs(earlier - best) > np.abs(finest - best), earlier, finest)
    return best, coarser, best + loose - changes[1]


def left_open(background: Background, probe: Probe, change: Array, *, time: Array, tolerance: float) -> Array:
    """Part of a change, that on the middle grid, which is not known as properties change with temperature.

    As a difference of which a third counts; nothing where they are constant. Parameters are those above.
    """
    if background.half_way is None or not (background.changing or properties_change(background.case, probe)):
        return np.zeros_like(change)
    (other,) = changes_of_reading(background.half_way, probe, time=time, tolerance=tolerance, levels=MIDDLE)
    return LEFT_OPEN * (other - change)


def changes_in(background: Background, probe: Probe, disturbed: Disturbed, *, time: Array) -> list[Array]:
    """Change of a reading by disturbances; see :func:`changes_of_reading`."""
    case, sensor = background.case, sensor_of(probe, background.case)
    places, weights = sensor.places()
    about, end = about_of(case, probe), case.process.heated_until
    found = []
    for operator, disturbance in disturbed:
        at = background.course_at(about, places)
        without = Course(at.time, at.temperature @ weights, at.rate @ weights)
        plain = reading_along(without, case.lethality, heated_until=end, time=time).stack()
        mean = operator.mean(sensor.low, sensor.high, sensor.radius)
        change = Course(disturbance.time, disturbance.difference @ mean, disturbance.rate @ mean)
        read = reading_along(summed(without, change), case.lethality, heated_until=end, time=time)
        found.append(read.stack() - plain)
    return found


def undisturbed_reading(background: Background, probe: Probe, way: int = 0) -> Array:
    """Reading of a probe from the side if its stem changed nothing, as its stack; ``way`` counts from the best."""
    places, weights = sensor_of(probe, background.case).places()
    return background.stack_at(about_of(background.case, probe), places, weights, way)


def undisturbed_ways(background: Background, probe: Probe) -> tuple[Array, Array, Array]:
    """The same in all ways; the coarser so far off that what counts about a stem is what does of a container."""
    best, coarser, looser = (undisturbed_reading(background, probe, way) for way in range(3))
    return best, best + QUARTER[0] / ABOUT_A_STEM[0] * (coarser - best), looser


def about_of(case: Case, probe: Probe) -> About:
    """A case laid out about its probe from the side."""
    depth = probe.depth(case.container)
    if depth is None:
        raise ValueError("the probe's insertion is not known yet")
    return about_side(case, probe, depth)


def best_changes(changes: Sequence[Array]) -> tuple[Array, Array]:
    """Value of the two finer of three grids about the stem, and that of the two coarser."""
    coarse, middle, fine = changes
    return extrapolated(middle, fine, ratio=FINER), extrapolated(coarse, middle, ratio=FINE)
