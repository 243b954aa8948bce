"""Steps in time of a brick whose properties change with temperature, those of its product or of the gas above it.

By Kirchhoff's variable, the integral of k dT, conduction is as with constant properties (Carslaw and Jaeger,
Conduction of Heat in Solids, 1959, section 1.6, from memory): what changes is how much heat a node stores by it, and
how warm a face is. Stages are corrected with the modes of constant properties, which leave a small part of what is
wrong each time.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.case.process import Film, Process
from thermsim.physics.gap import turned
from thermsim.physics.materials import Material, Tabulated
from thermsim.solve.brick.brick import POINTS, BrickCourse, Edges, Entries, Faces, rates_of
from thermsim.solve.brick.edge import HELD
from thermsim.solve.march import tableau
from thermsim.solve.march.history import hermite_weights
from thermsim.solve.march.march import Beginning, follow_steps

Array = NDArray[np.float64]

#: Spacing of the temperatures at which properties are looked up, and how far beyond those met a table reaches [K]:
#: corrections may lead astray a while.
SPACING, MARGIN = 0.5, 200.0
#: Corrections of a stage until it must have settled, and how much of the step's tolerance may be left then.
CORRECTIONS, SETTLED = 15, 0.03
#: How often the temperature of the lid's inside is found anew from what the gas below it then conducts.
LOOKS = 4
#: Temperatures of the gas's two faces so near to each other are one [K].
ALIKE = 1e-3
#: Part of a correction that the next one is taken to be before there are two.
UNKNOWN = 0.5


@dataclass(frozen=True)
class Lookup:
    """Properties at evenly spaced temperatures [degC].

    ``conductivity`` as a part of that at one temperature and ``potential``, its integral [K]; ``capacity`` [J/m3K]
    and ``content``, its integral [J/m3].
    """

    temperature: Array
    conductivity: Array
    potential: Array
    capacity: Array
    content: Array

    @classmethod
    def of(cls, material: Material, low: float, high: float, *, besides: float = 0.0) -> Lookup:
        """Of a material between two temperatures [degC], and what its walls store ``besides`` [J/m3K].

        Beyond its tables a property stays as at their end.
        """
        temperature = np.arange(low - MARGIN, high + MARGIN + SPACING, SPACING)
        of = material.tabulated or Tabulated((low, high), (material.conductivity,) * 2, (material.capacity,) * 2)
        conductivity = np.interp(temperature, of.temperature, of.conductivity) / material.conductivity
        capacity = np.interp(temperature, of.temperature, of.capacity) + besides
        potential, content = (
            np.concatenate([[0.0], np.cumsum(SPACING * (values[1:] + values[:-1]) / 2.0)])
            for values in (conductivity, capacity)
        )
        return cls(temperature, conductivity, potential, capacity, content)

    def at(self, temperature: Array, values: Array) -> Array:
        """One of its properties at temperatures."""
        return np.interp(temperature, self.temperature, values)


@dataclass(frozen=True)
class GasLayer:
    """Gas between the product's surface and the lid, ``thickness`` high [m], of a material that changes.

    Upright alone and without storing: what it stores counts elsewhere, as what the lid does.
    """

    material: Tabulated
    thickness: float

    def coefficient(self, surface: Array, weights: tuple[Array, Array], beyond: float, medium: float) -> Array:
        """Heat-transfer coefficient between the product's surface and the medium [W/m2K].

        Parameters
        ----------
        surface : ndarray, shape (a, b)
            Its temperatures [degC].
        weights : two ndarray
            Of an integral over it, along both edges.
        beyond : float
            The coefficient between the lid's inside and the medium [W/m2K].
        medium : float
            [degC].
        """
        area, (along, across) = float(weights[0].sum() * weights[1].sum()), weights
        met = self._conducts(surface, surface, 1.0)
        for _ in range(LOOKS):
            lid = (
                medium + (surface - medium) * met / (met + beyond) if beyond < HELD else np.full_like(surface, medium)
            )
            upwards = turned(float(along @ (surface - lid) @ across) / area)
            met = self._conducts(surface, lid, upwards)
        return np.asarray(met if beyond >= HELD else met * beyond / (met + beyond))

    def _conducts(self, surface: Array, lid: Array, upwards: float) -> Array:
        """The coefficient between two faces [W/m2K]: by the mean of the conductivity between their temperatures."""
        of = self.material
        up, down = np.array(of.conductivity), np.array(of.downwards or of.conductivity)
        now, known = down + upwards * (up - down), np.array(of.temperature)
        passed = np.concatenate([[0.0], np.cumsum(np.diff(known) * (now[1:] + now[:-1]) / 2.0)])
        one, other = (np.clip(face, known[0], known[-1]) for face in (surface, lid))
        apart = one - other
        near = np.abs(apart) < ALIKE
        mean = (np.interp(one, known, passed) - np.interp(other, known, passed)) / np.where(near, 1.0, apart)
        return np.asarray(np.where(near, np.interp(other, known, now), mean) / self.thickness)


class BrickStepper:
    """A stepper (:class:`thermsim.solve.march.march.Stepper`) of temperatures at the nodes along three edges.

    Parameters
    ----------
    edges : three Edge
        With the conductivity that the lookup's are parts of.
    lookup : Lookup
    faces : callable
        The heat-transfer coefficients at both ends of each edge [W/m2K] under a film.
        With gas above the product that of the upper face is beyond it.
    initial : float
        Temperature of the product at the start [degC].
    tolerance : float
        Largest estimated error of a step [K]: how far stages have to settle follows from it.
    gas : GasLayer, optional
        Above the product.
    """

    def __init__(
        self,
        edges: Edges,
        lookup: Lookup,
        faces: Callable[[Film], Faces],
        initial: float,
        *,
        tolerance: float,
        gas: GasLayer | None = None,
    ) -> None:
        self._edges, self._lookup, self._faces, self._tolerance = edges, lookup, faces, tolerance
        self._gas = gas
        self._reference = edges[0].capacity
        self._conducts = [self._reference * edge.values @ edge.stiffness @ edge.of_values for edge in edges]
        # what a flow through an end brings to the nodes, and weights of an integral over an edge
        self._ends = [[edge.values @ end for end in edge.ends] for edge in edges]
        self._weights = [edge.of_values.T @ edge.ones for edge in edges]
        self.temperature = np.full([edge.ones.size for edge in edges], initial)
        self.rate = np.zeros_like(self.temperature)
        self._heat = lookup.at(self.temperature, lookup.content)
        self._began = 0.0
        self._began = self.stored()
        self._last: list[Array] = []  # what counts of the last step's stages
        self._last_length = 0.0

    def enter(self, film: Film, medium: float) -> float:
        """Take on films and a medium's temperature."""
        before = self.stored()
        self._films = films = self._faces(film)
        if self._gas:  # corrections go by what the gas passes now
            passes = self._beyond_gas(self.temperature[..., -1], films[2][1], medium)
            films = (*films[:2], (films[2][0], float(passes.mean())))
        decays = [edge.decay(pair) for edge, pair in zip(self._edges, films, strict=True)]
        self._into = [decay.modes.T @ edge.of_values for decay, edge in zip(decays, self._edges, strict=True)]
        self._out = [edge.values @ decay.modes for decay, edge in zip(decays, self._edges, strict=True)]
        self._rates = rates_of(decays)
        self.temperature = self.temperature.copy()
        for k, end, film_there, face in self._passing():
            if film_there >= HELD and not self._under_gas(k, end):
                self.temperature[face] = medium
        self._heat = self._lookup.at(self.temperature, self._lookup.content)
        self._last = []
        return self.stored() - before

    def resume(self, temperature: Array, film: Film, medium: float) -> None:
        """Stand at temperatures that were reached before, under films and a medium's temperature."""
        self.temperature = temperature
        self.enter(film, medium)

    def face(self, medium: float, slope: float) -> None:
        """Let the medium go on from a temperature with a slope."""
        self._medium, self._slope = medium, slope
        self._flow, self._entering = self._flows(self.temperature, medium)
        self.rate = self._flow / self._lookup.at(self.temperature, self._lookup.capacity)

    def attempt(self, length: float) -> float:
        """Try a step; its estimated error."""
        lookup, a, gamma = self._lookup, tableau.A, tableau.GAMMA * length
        media = self._medium + self._slope * length * tableau.C
        flows, entering, reached = [self._flow], [self._entering], [*self._last, self.temperature]
        leads = tableau.leads(self._last_length / length if self._last else 0.0)
        leads = leads[:, tableau.OF_LAST - len(self._last) :]
        ratio = lookup.capacity / lookup.conductivity
        met = lookup.at(np.array([self.temperature.min(), self.temperature.max()]), ratio)
        inverse = 1.0 / (float(met.sum()) / 2.0 + gamma * self._reference * self._rates)
        for s in range(1, len(a)):
            right = self._heat + length * sum(a[s, q] * flow for q, flow in enumerate(flows))
            trial = np.asarray(sum(w * one for w, one in zip(leads[s], reached, strict=False) if w))
            before, settled = math.inf, False
            for _ in range(CORRECTIONS):
                flow, _ = self._flows(trial, float(media[s]))
                left = right + gamma * flow - lookup.at(trial, lookup.content)
                correction = self._solved(left, inverse) / lookup.at(trial, lookup.conductivity)
                trial = trial + correction
                worst = float(np.abs(correction).max())
                if not math.isfinite(worst) or worst > 2.0 * before:
                    return math.inf
                shrinks = min(worst / before, UNKNOWN) if before < math.inf else UNKNOWN
                before = worst
                if worst * shrinks <= SETTLED * self._tolerance:
                    settled = True
                    break
            if not settled:
                return math.inf
            content = lookup.at(trial, lookup.content)
            # what has not settled counts as flow: all heat goes somewhere
            flows.append((content - right) / gamma)
            entering.append(self._flows(trial, float(media[s]))[1])
            reached.append(trial)
        off = length * sum(w * flow for w, flow in zip(tableau.OFF, flows, strict=True))
        error = self._solved(np.asarray(off), inverse) / lookup.at(trial, lookup.conductivity)
        worst = float(np.abs(error).max())
        self._reached, self._content, self._length = reached, content, length
        self._next, self._gained = (flows[-1], entering[-1]), length * float(a[-1] @ entering)
        return worst if math.isfinite(worst) else math.nan

    def accept(self, medium: float) -> float:
        """Go where the last attempt led."""
        reached = self._reached[-tableau.C.size :]
        self._last, self._last_length = [reached[0], reached[tableau.BETWEEN]], self._length
        self.temperature, self._heat, self._medium = reached[-1], self._content, medium
        self._flow, self._entering = self._next
        self.rate = self._flow / self._lookup.at(self.temperature, self._lookup.capacity)
        return self._gained

    def stored(self) -> float:
        """Heat stored since the start [J], in the part of the brick that the edges span."""
        return float(np.einsum("ijk,i,j,k->", self._heat, *self._weights)) - self._began

    def _passing(self) -> list[tuple[int, int, float, tuple[slice | int, ...]]]:
        """Faces that heat passes: number of the edge, of its end, the coefficient [W/m2K], and its nodes."""
        every = [slice(None)] * 3
        return [
            (k, end, min(film, HELD), (*every[:k], -end, *every[k + 1 :]))
            for k, pair in enumerate(self._films)
            for end, film in enumerate(pair)
            if film > 0.0
        ]

    def _under_gas(self, edge: int, end: int) -> bool:
        return self._gas is not None and (edge, end) == (2, 1)

    def _beyond_gas(self, surface: Array, beyond: float, medium: float) -> Array:
        if self._gas is None:
            raise ValueError("there is no gas above the product")
        return self._gas.coefficient(surface, (self._weights[0], self._weights[1]), beyond, medium)

    def _flows(self, temperature: Array, medium: float) -> tuple[Array, float]:
        """Heat that enters at nodes [W/m3], and through the faces together [W]."""
        potential = self._lookup.at(temperature, self._lookup.potential)
        flow = -_along(0, self._conducts[0], potential)
        for k in (1, 2):
            flow -= _along(k, self._conducts[k], potential)
        total = 0.0
        for k, end, film, face in self._passing():
            if self._under_gas(k, end):
                passed = self._beyond_gas(temperature[face], film, medium) * (medium - temperature[face])
            elif film < HELD:
                passed = film * (medium - temperature[face])
            else:  # by the potential, which corrections go by: it is held as well
                passed = film * (self._lookup.at(np.array(medium), self._lookup.potential) - potential[face])
            shape = [1, 1, 1]
            shape[k] = -1
            flow += self._ends[k][end].reshape(shape) * np.expand_dims(passed, k)
            others = [self._weights[other] for other in range(3) if other != k]
            total += float(others[0] @ passed @ others[1])
        return flow, total

    def _solved(self, left: Array, inverse: Array) -> Array:
        """The potential that stores what is left at nodes and conducts meanwhile, but for changing properties."""
        for k in range(3):
            left = _along(k, self._into[k], left)
        left = left * inverse
        for k in range(3):
            left = _along(k, self._out[k], left)
        return left


def _along(axis: int, matrix: Array, values: Array) -> Array:
    """A matrix applied along one of three axes."""
    if axis == 0:
        return np.asarray((matrix @ values.reshape(len(values), -1)).reshape(-1, *values.shape[1:]))
    return np.asarray(values @ matrix.T if axis == 2 else matrix @ values)


def march_brick(
    edges: Edges,
    lookup: Lookup,
    faces: Callable[[Film], Faces],
    process: Process,
    initial: float,
    *,
    tolerance: float,
    gas: GasLayer | None = None,
) -> Entries:
    """March a brick through a process; parameters are those of :class:`BrickStepper`."""
    stepper = BrickStepper(edges, lookup, faces, initial, tolerance=tolerance, gas=gas)
    went = follow_steps(stepper, Beginning(process.stages), tolerance=tolerance)
    media, slopes, films = [], [], []
    pieces = (
        (stage.medium[k], (stage.medium[k + 1] - stage.medium[k]) / (stage.time[k + 1] - stage.time[k]), stage, k)
        for stage in process.stages
        for k in range(stage.time.size - 1)
    )
    last = math.nan
    for now in went.time:
        if not now > last:
            low, slope, stage, k = next(pieces)
            film = min(faces(stage.film)[0][1], HELD)
        media.append(low + slope * (now - stage.time[k]))
        slopes.append(slope)
        films.append(film)
        last = now
    medium, slope = np.array(media), np.array(slopes)
    excess = np.stack(went.temperature) - medium[:, None, None, None]
    change = np.stack(went.rate) - slope[:, None, None, None]
    excess, change = (_over_functions(edges, values) for values in (excess, change))
    return Entries(np.array(went.time), excess, change, medium, slope, np.array(films))


def gathered_from(edges: Edges, entries: Entries, heated_until: float) -> BrickCourse:
    """The temperature at the times of a quadrature over what was marched, cubic between its entries."""
    nodes, weights = np.polynomial.legendre.leggauss(POINTS)
    step = np.diff(entries.time)
    first = np.flatnonzero(step > 0.0)
    time = (entries.time[first, None] + step[first, None] * (nodes + 1.0) / 2.0).ravel()
    excess, medium = excess_at(entries, time)
    ended = int(np.searchsorted(entries.time, heated_until * (1.0 - 1e-12)))
    return BrickCourse(
        edges,
        time,
        (step[first, None] * weights / 2.0).ravel(),
        medium,
        excess,
        int((time < heated_until).sum()),
        (entries.excess[ended], float(entries.medium[ended])),
    )


def excess_at(entries: Entries, time: Array) -> tuple[Array, Array]:
    """Temperature less the medium's at times [s], over the edges' functions, and the medium's [degC].

    Where the medium jumps, as it is before.
    """
    weights, first = hermite_weights(entries.time, np.nextafter(time, -np.inf))
    excess = np.empty((time.size, *entries.excess.shape[1:]))
    for n, k in enumerate(first.tolist()):
        excess[n] = np.tensordot(weights[:2, n], entries.excess[k : k + 2], axes=1)
        excess[n] += np.tensordot(weights[2:, n], entries.change[k : k + 2], axes=1)
    return excess, entries.medium[first] + entries.slope[first] * (time - entries.time[first])


def _over_functions(edges: Edges, values: Array) -> Array:
    """Coefficients over the edges' functions of values at the nodes, (n, a, b, c)."""
    x, y, z = (edge.of_values for edge in edges)
    return np.asarray(np.einsum("ai,bj,ck,nijk->nabc", x, y, z, values, optimize=True))
