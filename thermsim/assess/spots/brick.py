"""Cold spots in a brick or a flat pouch itself, beside the cylinder that encloses it."""

from __future__ import annotations

import dataclasses
import functools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from thermsim.assess.fields.lethality import LEAST, lethal_rate
from thermsim.assess.spots.brick_field import COARSE, FINE, FINER, course_of, time_uncertainty
from thermsim.assess.spots.hold import RequiredHold, hold_by
from thermsim.case.case import Case
from thermsim.solve.brick.brick import BrickCourse

Array = NDArray[np.float64]
Along = tuple[Array, Array, Array]

#: Places along each edge at which the minima are first looked for.
LOOKS = (5, 5, 11)
#: The search for a minimum ends where its value changes by no more than this part; steps of Newton's method bring the
#: place nearer, by differences between places so far apart, a part of the edges.
SETTLED, APART, STEPS = 1e-13, 2e-3, 3
#: Places are found to this part of an edge: that of rounding, where a minimum is flat.
CLOSE = 1e-7
#: How many times what higher degrees change counts: that is the error itself but for what they leave, of F a
#: thirtieth as a rule, of places in a flat valley up to as much again. And the least that counts of what lower
#: degrees change, a thirtieth of which is left as a rule: what higher ones change may happen to vanish.
COUNTED, AT_LEAST = 2.5, 0.02
#: What counts of the distance from the hold that lower degrees need: their slope is a little off.
OF_HOLD = 0.05
#: Values so near to each other are alike, as at the two places of a brick that is the same upside down.
ALIKE = 1e-9


@dataclass(frozen=True)
class BrickSpot:
    """A place in a brick and what it gets.

    ``x``, ``y``: from the middle along length and width; ``z``: above the outside of the base [m]. ``lethality``,
    ``heating_lethality``: in all and until heating ends [s]; ``end_of_heating`` [degC].
    """

    x: float
    y: float
    z: float
    lethality: float
    heating_lethality: float
    end_of_heating: float


@dataclass(frozen=True)
class BrickSpots:
    """Both cold spots of a brick."""

    least_lethality: BrickSpot
    slowest_heating: BrickSpot


def brick_spots(case: Case) -> tuple[BrickSpots, dict[str, float]]:
    """Solve a brick in three dimensions.

    Parameters
    ----------
    case : Case
        Of a brick for which :func:`thermsim.assess.spots.brick_field.unsolved` has nothing to say.

    Returns
    -------
    BrickSpots, uncertainty
        With the uncertainties by names like ``least_lethality.lethality``, in the figures' units: what higher
        degrees and more times give otherwise.
    """
    fields = [_Fields(course_of(case, *numbers), case) for numbers in (FINE, FINER, COARSE)]
    best, *others = (BrickSpots(*one.spots()) for one in fields)
    sizes = dict(zip("xyz", (edge.length for edge in fields[0].course.edges), strict=True))
    uncertainty = {}
    for kind in ("least_lethality", "slowest_heating"):
        for name in (one.name for one in dataclasses.fields(BrickSpot)):
            value, *beside = (getattr(getattr(spots, kind), name) for spots in (best, *others))
            better, rough = (abs(other - value) for other in beside)
            uncertainty[f"{kind}.{name}"] = max(COUNTED * better, AT_LEAST * rough) + CLOSE * sizes.get(name, 0.0)
        # errors of steps differ in sign, and may cancel in what finer ones change
        unsure = time_uncertainty(case)
        gathered = getattr(best, kind)
        uncertainty[f"{kind}.end_of_heating"] += unsure
        for name in ("lethality", "heating_lethality"):
            uncertainty[f"{kind}.{name}"] += math.log(10.0) / case.lethality.z * unsure * getattr(gathered, name)
    return best, uncertainty


def brick_hold(case: Case, target: float, *, unsure: float) -> RequiredHold:
    """Find the hold with which the brick's least lethality, uncertain by a part of it, just reaches a target [s]."""

    def excess(log_hold: float, numbers: tuple[tuple[int, int], int]) -> float:
        held = case.replace(process=case.process.with_hold(math.exp(log_hold)))
        return brick_log_least(held, numbers) - math.log(target)

    rough, exact = (functools.cache(functools.partial(excess, numbers=one)) for one in (COARSE, FINE))
    return hold_by(case.process, rough, exact, counted=OF_HOLD, unsure=unsure)


def brick_log_least(case: Case, numbers: tuple[tuple[int, int], int] = COARSE) -> float:
    """Natural logarithm of a brick's least lethality in s; the numbers are degrees of elements and panels in time."""
    fields = _Fields(course_of(case, *numbers), case)
    return fields.least(fields.log_lethality)[1]


class _Fields:
    """Lethality and temperature of a course anywhere in the brick; places are parts of the edges."""

    def __init__(self, course: BrickCourse, case: Case) -> None:
        self.course, self.lethality, self.bottom = course, case.lethality, case.bottom

    def along(self, parts: Sequence[ArrayLike] | Array) -> Along:
        """Places [m] along the three edges."""
        x, y, z = (
            np.atleast_1d(np.asarray(part, dtype=float)) * edge.length
            for part, edge in zip(parts, self.course.edges, strict=True)
        )
        return x, y, z

    def gathered(self, along: Along, until: int | None = None) -> Array:
        """Lethality [s] at the crossings of places, of the whole process or of the first so many times."""
        rate = lethal_rate(self.course.temperature(along)[:until], self.lethality)
        return np.asarray(np.tensordot(self.course.weight[:until], rate, axes=1))

    def log_lethality(self, along: Along) -> Array:
        return np.asarray(np.log(np.maximum(self.gathered(along), LEAST)))

    def heat(self, along: Along) -> Array:
        """Temperature when heating ends in z-values, so that it changes about as much as a log of lethality."""
        return self.course.end_of_heating(along) / self.lethality.z

    def least(self, value: Callable[[Along], Array]) -> tuple[Array, float]:
        """The place of the least value, as parts of the edges, and the value."""
        from scipy import optimize  # only here: few cases are bricks

        looks = [np.linspace(0.0, 1.0, count) for count in LOOKS]
        field = value(self.along(looks))
        first = np.unravel_index(int(np.argmax(field <= field.min() + ALIKE)), field.shape)
        start = [look[k] for look, k in zip(looks, first, strict=True)]
        found = optimize.minimize(
            lambda parts: float(value(self.along(parts))[0, 0, 0]),
            start,
            method="L-BFGS-B",
            bounds=[(0.0, 1.0)] * 3,
            options={"ftol": SETTLED, "gtol": 1e-7},
        )
        return self._nearer(value, found.x)

    def _nearer(self, value: Callable[[Along], Array], parts: Array) -> tuple[Array, float]:
        """The place of the least value close to one, and the value, by Newton's method where no edge ends.

        Beyond its middle, along length and width, the brick goes on as in a mirror.
        """
        free = (parts < 1.0 - APART) & ((parts > APART) | np.array([True, True, False]))
        for _ in range(STEPS):
            around = parts[:, None] + APART * np.outer(free, [-1.0, 0.0, 1.0])
            slope, bend = _differences(value(self.along(np.abs(around))))
            bend = bend[np.ix_(free, free)]
            if not free.any() or np.linalg.eigvalsh(bend).min() <= 0.0:
                break
            step = np.zeros(3)
            step[free] = -np.linalg.solve(bend, slope[free])
            if np.abs(step).max() > 1.0:
                break
            parts = np.abs(parts + APART * step)
        return parts, float(value(self.along(parts))[0, 0, 0])

    def spot(self, value: Callable[[Along], Array]) -> BrickSpot:
        """The place of the least value and what it gets."""
        along = self.along(self.least(value)[0])
        whole, heating = (float(self.gathered(along, until)[0, 0, 0]) for until in (None, self.course.heating))
        ended = float(self.course.end_of_heating(along)[0, 0, 0])
        x, y, z = (float(one[0]) for one in along)
        return BrickSpot(x, y, self.bottom + z, whole, heating, ended)

    def spots(self) -> tuple[BrickSpot, BrickSpot]:
        return self.spot(self.log_lethality), self.spot(self.heat)


def _differences(near: Array) -> tuple[Array, Array]:
    """First (3,) and second (3, 3) differences of values (3, 3, 3) at evenly spaced places, in the middle."""
    first, second = np.empty(3), np.empty((3, 3))
    for i in range(3):
        low, here, high = (float(np.take(near, k, axis=i)[1, 1]) for k in range(3))
        first[i], second[i, i] = (high - low) / 2.0, high - 2.0 * here + low
        for j in range(i):
            plane = np.take(near, 1, axis=3 - i - j)
            second[i, j] = second[j, i] = (plane[2, 2] - plane[2, 0] - plane[0, 2] + plane[0, 0]) / 4.0
    return first, second
