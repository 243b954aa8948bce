"""The container without a probe from the side, as the stem feels it: a body of revolution, or a brick itself."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.fields.curve import Curve
from thermsim.assess.fields.family import Fields, Followed
from thermsim.assess.fields.reading import Course, Reading
from thermsim.assess.fields.refinement import Refined
from thermsim.assess.side.field import About, interpolation
from thermsim.assess.spots.brick import BrickSpot
from thermsim.assess.spots.brick_field import BrickField, brick_field, unsolved
from thermsim.assess.spots.cold_spot import ProductFields
from thermsim.case.case import Case
from thermsim.errors import InputError
from thermsim.solve.grid.grid import Grid

Array = NDArray[np.float64]

#: Ways of computing it: the best, a coarser one, and one with looser steps in time.
WAYS = ("best", "coarser", "looser")


class Background(Protocol):
    """The container without the stem, at places about it (n, 3): along it, aside and above [m]."""

    @property
    def case(self) -> Case:
        """The container's, without a probe."""

    def course_at(self, about: About, places: Array, level: int) -> Course:
        """The temperature over time at places in what conducts, (n_t, n).

        As it drives the stem's disturbance on the grid of a ``level`` about it.
        """

    def end_at(self, about: About, places: Array, way: int) -> Array:
        """Temperature when heating ends [degC] at places in what conducts, shape (n,)."""

    def logs_at(self, about: About, places: Array, way: int) -> Array:
        """Logarithms of lethality in s at places in the product, in all and until heating ends, shape (2, n)."""

    def stack_at(self, about: About, places: Array, weights: Array, way: int) -> Array:
        """Weighted mean over places of a :class:`thermsim.assess.fields.reading.Reading`, as its stack."""


@dataclass(frozen=True)
class RoundBackground:
    """Of a body of revolution: its grids, what is followed on each, and the fields in the three ways.

    Each grid about the stem goes with the container's of the same level, so that what is extrapolated is free of the
    error that either leaves.
    """

    case: Case
    grids: tuple[Grid, ...]
    histories: tuple[Followed, ...]
    fields: tuple[Fields, Fields, Fields]

    @classmethod
    def of(cls, case: Case, refined: Refined) -> RoundBackground:
        """Of what a case without a probe was solved to."""
        coarse, middle, _, fine = refined.found
        ways = refined.best, refined.coarser, refined.looser
        return cls(case, refined.family.grids, (coarse, middle, fine), ways)

    @property
    def grid(self) -> Grid:
        """The finest grid."""
        return self.grids[-1]

    def course_at(self, about: About, places: Array, level: int) -> Course:
        """See :class:`Background`."""
        history = self.histories[level]
        weights, flat = interpolation(self.grids[level], *about.section(places)), (history.time.size, -1)
        temperature, rate = ((weights @ values.reshape(flat).T).T for values in (history.temperature, history.rate))
        return Course(history.time, temperature, rate)

    def end_at(self, about: About, places: Array, way: int) -> Array:
        """See :class:`Background`."""
        weights = interpolation(self.grid, *about.section(places))
        return np.asarray(weights @ self.fields[way].end_of_heating.ravel())

    def logs_at(self, about: About, places: Array, way: int) -> Array:
        """See :class:`Background`."""
        weights, fields = interpolation(self.grid, *about.section(places)), self.fields[way]
        return np.stack([weights @ log.ravel() for log in (fields.log_lethality, fields.log_heating)])

    def stack_at(self, about: About, places: Array, weights: Array, way: int) -> Array:
        """See :class:`Background`."""
        r, z = about.section(places)
        product = self._products[way]
        return product.stack_at([*zip(r.tolist(), z.tolist(), strict=True)], weights)

    @cached_property
    def _products(self) -> tuple[ProductFields, ...]:
        return tuple(ProductFields.of(self.grid, fields) for fields in self.fields)


@dataclass(frozen=True)
class BrickBackground:
    """Of a brick itself, solved in three dimensions; steps in time leave it no error of their own."""

    case: Case
    time: Array
    fine: BrickField
    coarse: BrickField

    def course_at(self, about: About, places: Array, level: int) -> Course:
        """See :class:`Background`: no grid of its own leaves an error, so on all alike."""
        return self.fine.course_at(about.in_brick(places))

    def end_at(self, about: About, places: Array, way: int) -> Array:
        """See :class:`Background`."""
        return self._field(way).end_at(about.in_brick(places))

    def logs_at(self, about: About, places: Array, way: int) -> Array:
        """See :class:`Background`."""
        return self._field(way).logs_at(about.in_brick(places))

    def stack_at(self, about: About, places: Array, weights: Array, way: int) -> Array:
        """See :class:`Background`."""
        return self._stack(about.in_brick(places), weights, way)

    def curve(self, name: str, spot: BrickSpot) -> Curve:
        """The curve at one of its cold spots."""
        place = np.array([[spot.x, spot.y, spot.z]])
        read = Reading.unstack(self._stack(place, np.ones(1), 0))
        whole, heating = spot.lethality, spot.heating_lethality
        return Curve(
            name, float(np.hypot(spot.x, spot.y)), spot.z, whole, heating, spot.end_of_heating, self.time,
            read.temperature,
        )  # fmt: skip

    def _stack(self, places: Array, weights: Array, way: int) -> Array:
        field = self._field(way)
        read = field.temperature_at(places, self.time) @ weights
        ends = np.stack([field.end_at(places), *field.logs_at(places)])
        return np.concatenate([read, ends @ weights])

    def _field(self, way: int) -> BrickField:
        return self.coarse if WAYS[way] == "coarser" else self.fine


def background_of(case: Case, refined: Refined, time: Array) -> Background:
    """The background that a stem from the side disturbs: of a brick itself, else of what is solved.

    Parameters
    ----------
    case : Case
        Without a probe.
    refined : Refined
        It solved.
    time : ndarray, shape (n_t,)
        Output times [s].

    Raises
    ------
    InputError
        If it is a brick that is not solved in three dimensions.
    """
    if case.container.brick is None:
        return RoundBackground.of(case, refined)
    why = unsolved(case)
    if why:
        raise InputError(
            f"a probe through the edge of a brick is not handled here, as {why}; take the lid or the base"
        )
    return brick_background(case, time)


def brick_background(case: Case, time: Array) -> BrickBackground:
    """Of a brick that is solved in three dimensions; parameters as above."""
    return BrickBackground(case, time, *(brick_field(case, fine=fine) for fine in (True, False)))
