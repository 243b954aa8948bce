"""The container without a probe from the side, as the stem feels it: a body of revolution, or a brick itself.

A stem's disturbance is linear. Where properties change with temperature, the container's or the stem's own, it has
those of one moment, near the end of heating, when most lethality is gathered; the container without it is computed as
it is. Beside stems on the axis (1.5 to 6 mm, conductivity growing or falling by a quarter over 100 K), which are
computed with changing properties too, that is off by at most a fifth of what properties of half-way up would change.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from thermsim.assess.fields.curve import Curve
from thermsim.assess.fields.family import Fields, Followed
from thermsim.assess.fields.reading import Course, Reading, extrapolated_course
from thermsim.assess.fields.refinement import Refined
from thermsim.assess.side.field import About, interpolation
from thermsim.assess.spots.brick import BrickSpot
from thermsim.assess.spots.brick_field import BrickField, brick_field, unsolved
from thermsim.assess.spots.cold_spot import ProductFields
from thermsim.case.case import Case
from thermsim.case.probe import Fitting, Gap, Probe, Segment
from thermsim.errors import InputError
from thermsim.solve.grid.grid import Grid

Array = NDArray[np.float64]
Part = TypeVar("Part", Segment, Fitting, Gap)

#: Ways of computing it: the best, a coarser one, and one with looser steps in time.
WAYS = ("best", "coarser", "looser")
#: Properties are those at this part of the way from the start to the lowest temperature when heating ends, and at
#: that one where it is asked what they matter. The first is a choice, made beside stems on the axis.
MOST_OF_THE_WAY, HALF_WAY = 0.9, 0.5


class Background(Protocol):
    """The container without the stem, at places about it (n, 3): along it, aside and above [m]."""

    @property
    def case(self) -> Case:
        """The container's, without a probe, of constant properties."""

    @property
    def temperature(self) -> float:
        """Temperature at which properties are taken [degC]."""

    @property
    def changing(self) -> bool:
        """Tell whether properties of what is about the stem change with temperature."""

    @property
    def half_way(self) -> Background | None:
        """The same with properties of half-way up; None of that itself."""

    def course_at(self, about: About, places: Array) -> Course:
        """The temperature over time at places in what conducts, (n_t, n)."""

    def end_at(self, about: About, places: Array, way: int) -> Array:
        """Temperature when heating ends [degC] at places in what conducts, shape (n,)."""

    def logs_at(self, about: About, places: Array, way: int) -> Array:
        """Logarithms of lethality in s at places in the product, in all and until heating ends, shape (2, n)."""

    def stack_at(self, about: About, places: Array, weights: Array, way: int) -> Array:
        """Weighted mean over places of a :class:`thermsim.assess.fields.reading.Reading`, as its stack."""


@dataclass(frozen=True)
class RoundBackground:
    """Of a body of revolution: its two finer grids, what is followed on them, and the fields in the three ways."""

    case: Case
    grids: tuple[Grid, Grid]
    histories: tuple[Followed, Followed]
    fields: tuple[Fields, Fields, Fields]
    temperature: float
    changing: bool = False
    half_way: RoundBackground | None = None

    @classmethod
    def of(cls, case: Case, refined: Refined) -> RoundBackground:
        """Of what a case without a probe was solved to."""
        ways = refined.best, refined.coarser, refined.looser
        lowest = float(refined.best.end_of_heating[refined.grid.product_nodes].min())
        near, half = (on_the_way(case, lowest, part) for part in (MOST_OF_THE_WAY, HALF_WAY))
        _, middle, _, fine = refined.found
        grids = refined.family.grids
        found = cls(constant_at(case, near), (grids[-2], grids[-1]), (middle, fine), ways, near, changes(case))
        return dataclasses.replace(
            found, half_way=dataclasses.replace(found, case=constant_at(case, half), temperature=half)
        )

    @property
    def grid(self) -> Grid:
        """The finest grid."""
        return self.grids[-1]

    def course_at(self, about: About, places: Array) -> Course:
        """See :class:`Background`: extrapolated from two grids."""
        section = about.section(places)
        middle, fine = (
            _course_of(history, interpolation(grid, *section))
            for grid, history in zip(self.grids, self.histories, strict=True)
        )
        return extrapolated_course(middle, fine)

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
    """Of a brick itself, solved in three dimensions.

    Steps in time leave it no error of their own where properties are constant, and next to none where they change.
    """

    case: Case
    time: Array
    fine: BrickField
    coarse: BrickField
    temperature: float
    changing: bool = False
    half_way: BrickBackground | None = None

    def course_at(self, about: About, places: Array) -> Course:
        """See :class:`Background`."""
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


def changes(case: Case, probe: Probe | None = None) -> bool:
    """True if properties of what is about a stem from the side, or those of the stem, change with temperature."""
    wall = case.container.side
    materials = [case.product.material, *([] if wall is None else [wall.material])]
    materials += [] if probe is None else probe.materials
    return any(material.tabulated is not None for material in materials)


def probe_at(probe: Probe, temperature: float) -> Probe:
    """The probe with constant properties, those that its parts have at a temperature [degC]."""

    def there(part: Part) -> Part:
        return dataclasses.replace(part, material=part.material.at(temperature))

    segments = (
        dataclasses.replace(there(segment), core=segment.core and segment.core.at(temperature))
        for segment in probe.segments
    )
    fitting, gap = probe.fitting and there(probe.fitting), probe.gap and there(probe.gap)
    return dataclasses.replace(probe, segments=tuple(segments), fitting=fitting, gap=gap)


def on_the_way(case: Case, lowest: float, part: float = MOST_OF_THE_WAY) -> float:
    """Temperature [degC] at a part of the way from the start to the lowest when heating ends."""
    return case.product.initial + part * (lowest - case.product.initial)


def constant_at(case: Case, temperature: float) -> Case:
    """The case with constant properties, those that its product, walls and headspace have at a temperature [degC]."""
    container, headspace = case.container, case.headspace
    walls = {
        name: dataclasses.replace(wall, material=wall.material.at(temperature))
        for name in ("side", "base", "lid")
        if (wall := getattr(container, name)) is not None and wall.material.tabulated is not None
    }
    if headspace.material is not None and headspace.material.tabulated is not None:
        headspace = dataclasses.replace(headspace, material=headspace.material.at(temperature))
    product = dataclasses.replace(case.product, material=case.product.material.at(temperature))
    container = dataclasses.replace(container, **walls) if walls else container
    return case.replace(product=product, container=container, headspace=headspace)


def _course_of(history: Followed, weights: sparse.csr_matrix) -> Course:
    """Weighted sums (n, n_r n_z) over the nodes, from entry to entry."""
    flat = (history.time.size, -1)
    temperature, rate = ((weights @ values.reshape(flat).T).T for values in (history.temperature, history.rate))
    return Course(history.time, temperature, rate)


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
    check_edge(case)
    return brick_background(case, time)


def check_edge(case: Case) -> None:
    """Refuse a probe through the edge of a brick that is not solved in three dimensions, by ``InputError``."""
    why = unsolved(case)
    if why:
        raise InputError(
            f"{case.file or 'the case'} [probe]: one through the edge of a brick is not handled here, as {why}; take "
            "the lid or the base"
        )


def brick_background(case: Case, time: Array) -> BrickBackground:
    """Of a brick that is solved in three dimensions; parameters as above."""
    fine, coarse = (brick_field(case, fine=fine) for fine in (True, False))
    middle = np.array([[0.0, 0.0, case.bottom + case.fill_height / 2.0]])
    near, half = (on_the_way(case, float(fine.end_at(middle)[0]), part) for part in (MOST_OF_THE_WAY, HALF_WAY))
    found = BrickBackground(constant_at(case, near), time, fine, coarse, near, changes(case))
    return dataclasses.replace(
        found, half_way=dataclasses.replace(found, case=constant_at(case, half), temperature=half)
    )
