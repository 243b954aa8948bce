"""Temperature and lethality of a brick or a flat pouch itself, at any place and time."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.fields.lethality import LEAST, lethal_rate
from thermsim.assess.fields.reading import Course
from thermsim.case.case import Case
from thermsim.case.rules import ROUNDING
from thermsim.physics.films import resistance_of
from thermsim.solve.brick.brick import BrickCourse, Edges, Films, Piece, follow, pieces, weights_at
from thermsim.solve.brick.edge import Edge

Array = NDArray[np.float64]

#: Degrees of the elements in the middle and at a face, and panels in time: as used, rougher, and to show the error.
FINE, COARSE, FINER = ((9, 5), 2), ((7, 4), 1), ((11, 7), 4)
#: Ends of the elements from the middle to a face, and from one face to the other, as parts of the edge.
TO_FACE, ACROSS = (0.0, 0.8, 1.0), (0.0, 0.1, 0.9, 1.0)
#: Walls may store at most this part of the product's heat. It counts as if the product stored it, which then heats
#: more slowly than it does: what lies at the surface is soon as warm as the medium.
MOST_STORED = 0.04
#: Entries of a course: the first step after a bend of the medium [s], its growth, and how many over the process.
FIRST, GROWTH, ENTRIES = 0.25, 1.4, 120
#: What of a step between entries remains before a bend [s].
BEFORE = 1e-6


def unsolved(case: Case) -> str:
    """The reason why a case is not solved as a brick in three dimensions; "" where it is."""
    if case.container.brick is None:
        return "it is no brick"
    product = case.product.material
    if product.tabulated is not None:
        return "the product's properties change with temperature"
    if case.headspace.model in ("air", "humid"):
        return "what crosses the headspace changes with temperature"
    stored = _stored(case)
    if stored > MOST_STORED:
        return f"its walls store {100 * stored:.0f} % of what the product does, more than {100 * MOST_STORED:.0f} %"
    if case.container.initial not in (None, case.product.initial):
        return "its walls start at another temperature than the product"
    return ""


def _sides(case: Case) -> tuple[float, float, float]:
    """Length, width and depth of the product [m]."""
    length, width, _ = case.container.brick or (0.0, 0.0, 0.0)
    return length, width, case.fill_height


def _stored(case: Case) -> float:
    """Heat that the walls store as a part of what the product does."""
    length, width, depth = _sides(case)
    side, base, lid = (
        0.0 if wall is None else wall.material.capacity * wall.thickness
        for wall in (case.container.side, case.container.base, case.container.lid)
    )
    held = 2.0 * side * (length + width) * depth + (base + lid) * length * width
    return held / (case.product.material.capacity * length * width * depth)


def course_of(case: Case, degrees: tuple[int, int], fineness: int) -> BrickCourse:
    """Solve the case as a brick; x and y run from its middle to a face, z from the base's inside to the surface."""
    edges, films = _laid_out(case, degrees)
    return follow(edges, case.process.stages, case.product.initial, films, fineness)


def _laid_out(case: Case, degrees: tuple[int, int]) -> tuple[Edges, Films]:
    """Edges, from the middle to a face and from the base's inside to the surface, and each stage's films."""
    container, product, headspace = case.container, case.product.material, case.headspace
    gap = case.headspace_height
    full = gap <= ROUNDING
    length, width, depth = _sides(case)
    capacity = product.capacity * (1.0 + _stored(case))
    made = [
        Edge(size, parts, of_each, product.conductivity, capacity)
        for size, parts, of_each in (
            (length / 2, TO_FACE, degrees),
            (width / 2, TO_FACE, degrees),
            (depth, ACROSS, (degrees[1], *degrees)),
        )
    ]
    edges: Edges = (made[0], made[1], made[2])
    resistances = [
        0.0 if wall is None else resistance_of(wall.thickness, wall.material.conductivity)
        for wall in (container.side, container.base, container.lid)
    ]
    if not full and headspace.material is not None:
        resistances[2] += resistance_of(gap, headspace.material.conductivity)
    films: Films = []
    for stage in case.process.stages:
        film = stage.film.behind((resistances[0], resistances[1], resistances[2]))
        top = 0.0 if not full and headspace.model == "insulated" else film.lid
        films.append(((0.0, film.side), (0.0, film.side), (film.base, top)))
    return edges, films


class _Entries(NamedTuple):
    """At times (n,) [s]: excess and its change over the functions (n, m), medium, its slope, and the side's film."""

    time: Array
    excess: Array
    change: Array
    medium: Array
    slope: Array
    film: Array


@dataclass(frozen=True)
class BrickField:
    """A brick at places (n, 3): from its middle along its two sides, and the height z above the base's outside [m].

    Places in its side wall have the steady profile between the product's face and the medium.
    """

    case: Case
    degrees: tuple[int, int]
    fineness: int

    @cached_property
    def _parts(self) -> tuple[Edges, tuple[Piece, ...]]:
        edges, films = _laid_out(self.case, self.degrees)
        return edges, tuple(pieces(edges, self.case.process.stages, self.case.product.initial, films))

    @cached_property
    def _gathered(self) -> BrickCourse:
        return course_of(self.case, self.degrees, self.fineness)

    def course_at(self, places: Array) -> Course:
        """The temperature over time, (n_t, n)."""
        weights, depth = self._weights(places)
        time, excess, change, medium, slope, film = self._entries
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
        _, parts = self._parts
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
            entries.medium[last] + (1.0 - entries.film[last] * depth) * (weights @ entries.excess[last])
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
        edges, _ = self._parts
        x, y, z = np.abs(places[:, 0]), np.abs(places[:, 1]), places[:, 2] - self.case.container.floor
        ends = [edge.length for edge in edges]
        beyond = np.maximum(np.maximum(x - ends[0], y - ends[1]), 0.0)
        side = self.case.container.side
        conductivity = side.material.conductivity if side else np.inf
        inside = np.stack([np.clip(one, 0.0, end) for one, end in zip((x, y, z), ends, strict=True)], axis=-1)
        return weights_at(edges, inside), np.where(beyond > ROUNDING, beyond / conductivity, 0.0)

    @cached_property
    def _entries(self) -> _Entries:
        _, parts = self._parts
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
            excess, change = (values.reshape(since.size, -1) for values in (piece.excess(since), piece.change(since)))
            slope, film = (np.full(since.size, one) for one in (piece.slope, piece.films[0][1]))
            found.append((piece.start + since, excess, change, piece.medium(since), slope, film))
        return _Entries(*(np.concatenate(part) for part in zip(*found, strict=True)))


def brick_field(case: Case, *, fine: bool) -> BrickField:
    """A brick for which :func:`unsolved` has nothing to say, as it is used or as its uncertainty is found."""
    return BrickField(case, *(FINE if fine else COARSE))


def _steps(length: float, longest: float) -> Iterator[float]:
    """Times from a bend of the medium on [s], closer together behind it, all well before the next."""
    time, step = 0.0, min(FIRST, longest)
    while time < length - max(step / 2, 2 * BEFORE):
        yield time
        time, step = time + step, min(step * GROWTH, longest)
