"""Temperature and lethality of a brick or a flat pouch itself, at any place and time."""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.fields.lethality import LEAST, lethal_rate
from thermsim.assess.fields.reading import Course
from thermsim.case.case import Case
from thermsim.case.container import Wall
from thermsim.case.process import Film
from thermsim.case.rules import ROUNDING
from thermsim.physics.films import resistance_of
from thermsim.solve.brick.brick import (
    BrickCourse,
    Edges,
    Entries,
    Faces,
    Films,
    Piece,
    follow,
    pieces,
    weights_at,
)
from thermsim.solve.brick.changing import GasLayer, Lookup, excess_at, gathered_from, march_brick
from thermsim.solve.brick.edge import HELD, Edge

Array = NDArray[np.float64]

#: Degrees of the elements in the middle and at a face, and panels in time: as used, rougher, and to show the error.
FINE, COARSE, FINER = ((9, 5), 2), ((7, 4), 1), ((11, 7), 4)
#: Ends of the elements from the middle to a face, and from one face to the other, as parts of the edge.
TO_FACE, ACROSS = (0.0, 0.8, 1.0), (0.0, 0.1, 0.9, 1.0)
#: Walls may store at most this part of the product's heat. It counts as if the product stored it, which then heats
#: more slowly than it does: what lies at the surface is soon as warm as the medium.
MOST_STORED = 0.04
#: Largest estimated error of a time step where properties change, at a fineness of 1 [K].
TOLERANCE = 0.002
#: Entries of a course: the first step after a bend of the medium [s], its growth, and how many over the process.
FIRST, GROWTH, ENTRIES = 0.25, 1.4, 120
#: What of a step between entries remains before a bend [s].
BEFORE = 1e-6


def unsolved(case: Case) -> str:
    """The reason why a case is not solved as a brick in three dimensions; "" where it is."""
    if case.container.brick is None:
        return "it is no brick"
    stored = _stored(case)
    if stored > MOST_STORED:
        return f"its walls store {100 * stored:.1f} % of what the product does, more than {100 * MOST_STORED:.0f} %"
    if case.container.initial not in (None, case.product.initial):
        return "its walls start at another temperature than the product"
    return ""


def _sides(case: Case) -> tuple[float, float, float]:
    """Length, width and depth of the product [m]."""
    length, width, _ = case.container.brick or (0.0, 0.0, 0.0)
    return length, width, case.fill_height


def _walls(case: Case) -> Iterator[Wall | None]:
    """Side, base and lid, of the properties at the highest temperature met, which thin ones soon are near."""
    for wall in (case.container.side, case.container.base, case.container.lid):
        yield wall and dataclasses.replace(wall, material=wall.material.at(case.met[1]))


def _stored(case: Case) -> float:
    """Heat that the walls and gas above the product store as a part of what the product does."""
    length, width, depth = _sides(case)
    side, base, lid = (0.0 if wall is None else wall.material.capacity * wall.thickness for wall in _walls(case))
    if case.headspace.material is not None and _gas(case):
        lid += case.headspace.material.capacity * case.headspace_height
    held = 2.0 * side * (length + width) * depth + (base + lid) * length * width
    return held / (case.product.material.capacity * length * width * depth)


def course_of(case: Case, degrees: tuple[int, int], fineness: int) -> BrickCourse:
    """Solve the case as a brick; x and y run from its middle to a face, z from the base's inside to the surface."""
    edges = _edges_of(case, degrees)
    if _changes(case):
        return gathered_from(edges, _marched(case, edges, fineness), case.process.heated_until)
    return follow(edges, case.process.stages, case.product.initial, _films(case), fineness)


def _changes(case: Case) -> bool:
    """Tell whether what the brick conducts changes with temperature."""
    return case.product.material.tabulated is not None or _gas(case) is not None


def time_uncertainty(case: Case) -> float:
    """Uncertainty of temperatures as a brick is marched [K], that of a step; 0 where it is exact in time."""
    return TOLERANCE / FINE[1] if _changes(case) else 0.0


def _gas(case: Case) -> GasLayer | None:
    """The layer between the product and the lid that passes heat by its own temperature; None without one."""
    material, height = case.headspace.material, case.headspace_height
    if height <= ROUNDING or material is None or material.tabulated is None:
        return None
    return GasLayer(material.tabulated, height)


def _edges_of(case: Case, degrees: tuple[int, int]) -> Edges:
    """Edges from the middle to a face and from base to surface; what walls store counts as if the product did."""
    product = case.product.material
    length, width, depth = _sides(case)
    capacity = product.capacity * (1.0 + _stored(case))
    x, y, z = (
        Edge(size, parts, of_each, product.conductivity, capacity)
        for size, parts, of_each in (
            (length / 2, TO_FACE, degrees),
            (width / 2, TO_FACE, degrees),
            (depth, ACROSS, (degrees[1], *degrees)),
        )
    )
    return x, y, z


def _faces(case: Case, film: Film) -> Faces:
    """Coefficients at both ends of each edge under a film [W/m2K]: that behind walls and a solid headspace.

    With gas above the product the upper face beyond it.
    """
    headspace, gap = case.headspace, case.headspace_height
    full = gap <= ROUNDING
    side, base, lid = (
        0.0 if wall is None else resistance_of(wall.thickness, wall.material.conductivity) for wall in _walls(case)
    )
    if not full and headspace.material is not None and not _gas(case):
        lid += resistance_of(gap, headspace.material.conductivity)
    met = film.behind((side, base, lid))
    top = 0.0 if not full and headspace.model == "insulated" else met.lid
    return (0.0, met.side), (0.0, met.side), (met.base, top)


def _films(case: Case) -> Films:
    return [_faces(case, stage.film) for stage in case.process.stages]


def _marched(case: Case, edges: Edges, fineness: int) -> Entries:
    """March a brick whose properties change with temperature, more closely with more fineness."""
    product, process = case.product, case.process
    lookup = Lookup.of(product.material, *case.met, besides=product.material.capacity * _stored(case))
    return march_brick(
        edges,
        lookup,
        functools.partial(_faces, case),
        process,
        product.initial,
        tolerance=TOLERANCE / fineness,
        gas=_gas(case),
    )


@dataclass(frozen=True)
class BrickField:
    """A brick at places (n, 3): from its middle along its two sides, and the height z above the base's outside [m].

    Places in its side wall have the steady profile between the product's face and the medium.
    """

    case: Case
    degrees: tuple[int, int]
    fineness: int

    @cached_property
    def _edges(self) -> Edges:
        return _edges_of(self.case, self.degrees)

    @cached_property
    def _parts(self) -> tuple[Piece, ...]:
        return tuple(pieces(self._edges, self.case.process.stages, self.case.product.initial, _films(self.case)))

    @cached_property
    def _gathered(self) -> BrickCourse:
        if _changes(self.case):
            return gathered_from(self._edges, self._entries, self.case.process.heated_until)
        return course_of(self.case, self.degrees, self.fineness)

    def course_at(self, places: Array) -> Course:
        """The temperature over time, (n_t, n)."""
        weights, depth = self._weights(places)
        time, excess, change, medium, slope, film = self._entries
        excess, change = (values.reshape(time.size, -1) for values in (excess, change))
        # a wall that is steady passes the same flow everywhere
        share = 1.0 - film[:, None] * depth
        return Course(
            time,
            medium[:, None] + share * (excess @ weights.T),
            slope[:, None] + share * (change @ weights.T),
        )

    def temperature_at(self, places: Array, time: Array) -> Array:
        """Temperature of the product [degC] at times [s], shape (n_t, n)."""
        weights, _ = self._weights(places)
        if _changes(self.case):
            excess, medium = excess_at(self._entries, time)
            return np.asarray(excess.reshape(time.size, -1) @ weights.T + medium[:, None])
        parts = self._parts
        starts = np.array([piece.start for piece in parts])
        # where the medium jumps, as it is before; the product does not
        mine = np.maximum(np.searchsorted(starts, time) - 1, 0)
        found = np.empty((time.size, len(places)))
        for k in np.unique(mine).tolist():
            here = mine == k
            since = time[here] - parts[k].start
            excess = parts[k].excess(since).reshape(since.size, -1)
            found[here] = excess @ weights.T + parts[k].medium(since)[:, None]
        return found

    def end_at(self, places: Array) -> Array:
        """Temperature when heating ends [degC], shape (n,)."""
        weights, depth = self._weights(places)
        entries = self._entries
        last = int(np.searchsorted(entries.time, self.case.process.heated_until * (1.0 - 1e-12)))
        return np.asarray(
            entries.medium[last] + (1.0 - entries.film[last] * depth) * (weights @ entries.excess[last].ravel())
        )

    def logs_at(self, places: Array) -> Array:
        """Logarithms of the product's lethality in s, in all and until heating ends, shape (2, n)."""
        weights, _ = self._weights(places)
        course = self._gathered
        excess = course.excess.reshape(course.time.size, -1) @ weights.T
        rate = lethal_rate(excess + course.medium[:, None], self.case.lethality)
        gained = [course.weight[:until] @ rate[:until] for until in (None, course.heating)]
        return np.asarray(np.log(np.maximum(gained, LEAST)))

    def _weights(self, places: Array) -> tuple[Array, Array]:
        """Weights of the edges' functions, and the resistance from the product's face to the place [m2K/W]."""
        edges = self._edges
        x, y, z = np.abs(places[:, 0]), np.abs(places[:, 1]), places[:, 2] - self.case.container.floor
        ends = [edge.length for edge in edges]
        beyond = np.maximum(np.maximum(x - ends[0], y - ends[1]), 0.0)
        side, _, _ = _walls(self.case)
        conductivity = side.material.conductivity if side else np.inf
        inside = np.stack([np.clip(one, 0.0, end) for one, end in zip((x, y, z), ends, strict=True)], axis=-1)
        return weights_at(edges, inside), np.where(beyond > ROUNDING, beyond / conductivity, 0.0)

    @cached_property
    def _entries(self) -> Entries:
        if _changes(self.case):
            return _marched(self.case, self._edges, self.fineness)
        parts = self._parts
        longest = self.case.process.end / ENTRIES
        found: list[tuple[Array, ...]] = []
        for k, piece in enumerate(parts):
            after = parts[k + 1] if k + 1 < len(parts) else None
            broken = after is None or (
                after.films != piece.films
                or after.low != float(piece.medium(np.array(piece.length)))
                or piece.start + piece.length == self.case.process.heated_until
            )
            since = np.array([*_steps(piece.length, longest), piece.length - (0.0 if broken else BEFORE)])
            slope, film = (np.full(since.size, one) for one in (piece.slope, min(piece.films[0][1], HELD)))
            found.append(
                (piece.start + since, piece.excess(since), piece.change(since), piece.medium(since), slope, film)
            )
        return Entries(*(np.concatenate(part) for part in zip(*found, strict=True)))


def brick_field(case: Case, *, fine: bool) -> BrickField:
    """A brick for which :func:`unsolved` has nothing to say, as it is used or as its uncertainty is found."""
    return BrickField(case, *(FINE if fine else COARSE))


def _steps(length: float, longest: float) -> Iterator[float]:
    """Times from a bend of the medium on [s], closer together behind it, all well before the next."""
    time, step = 0.0, min(FIRST, longest)
    while time < length - max(step / 2, 2 * BEFORE):
        yield time
        time, step = time + step, min(step * GROWTH, longest)
