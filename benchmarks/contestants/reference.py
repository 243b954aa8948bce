"""The reference: spectral elements in space, eigenmodes in time. Neither is any contestant's method.

Each layer is cut into rectangles that shrink towards the interfaces, with Legendre polynomials of high degree through
Gauss-Lobatto nodes in each, integrated exactly. The symmetric system then falls apart into its eigenmodes; under a
medium that is linear in time each is an exponential and a straight line, so that time has no error but rounding.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.polynomial import legendre
from scipy.linalg import eigh

from contestants.jar import HEATING_END, Array, Jar, Period
from contestants.lethality import lethality

#: Elements beside an interface, from it [m], and the widest elsewhere [m].
NARROW, WIDEST = (0.8e-3, 2.5e-3), 8.5e-3


@dataclass(frozen=True)
class Curves:
    """What is right at some places (n, 2) [m]: each period's modes, as they show there.

    ``rates`` [1/s], ``starts`` and ``lags`` are of shape (periods, modes), ``shapes`` (periods, n, modes).
    """

    periods: tuple[Period, ...]
    places: Array
    rates: Array
    shapes: Array
    starts: Array
    lags: Array

    @property
    def unknowns(self) -> int:
        """Number of unknowns of the reference."""
        return self.rates.shape[1]

    def temperature(self, time: Array) -> Array:
        """Temperature [degC] at times [s]; shape (n_t, n)."""
        found = np.empty((time.size, len(self.places)))
        for k, period in enumerate(self.periods):
            last = k == len(self.periods) - 1
            now = (time >= period.start) & ((time < period.end) | last)
            still = -self.lags[k] * period.slope
            mode = still + (self.starts[k] - still) * np.exp(-np.outer(time[now] - period.start, self.rates[k]))
            found[now] = np.asarray(period.medium_at(time[now]))[:, None] + mode @ self.shapes[k].T
        return found


@dataclass(frozen=True)
class Reference:
    """Modes of the jar on its nodes."""

    jar: Jar
    lines: tuple[tuple[Array, Array], tuple[Array, Array]]
    nodes: tuple[Array, Array]
    degree: int
    rates: tuple[Array, ...]
    shapes: tuple[Array, ...]
    starts: tuple[Array, ...]
    lags: tuple[Array, ...]

    def at(self, places: Array) -> Curves:
        """What is right at places (n, 2) [m]."""
        here = self._weights(places)
        shapes = np.array([here @ shape for shape in self.shapes])
        return Curves(
            self.jar.periods, places, np.array(self.rates), shapes, np.array(self.starts), np.array(self.lags)
        )

    def _weights(self, places: Array) -> Array:
        """What each unknown counts at the places."""
        rows = []
        for place in places:
            along = []
            for nodes, (edges, _), x in zip(self.nodes, self.lines, place, strict=True):
                k = int(np.clip(np.searchsorted(edges, x, side="right") - 1, 0, edges.size - 2))
                mine = slice(k * self.degree, (k + 1) * self.degree + 1)
                weight = np.zeros(nodes.size)
                for i, at in enumerate(nodes[mine]):
                    others = np.delete(nodes[mine], i)
                    weight[k * self.degree + i] = np.prod((x - others) / (at - others))
                along.append(weight)
            rows.append(np.outer(*along).ravel())
        return np.array(rows)


def reference_of(jar: Jar, *, degree: int) -> Reference:
    """Solve a jar with polynomials of a degree; compare two degrees to see how far it is right."""
    lines = elements(jar.columns, axis=True), elements(jar.levels)
    (r, mass_r, stiff_r, end_r), (z, mass_z, stiff_z, _) = (
        _along(edges, degree, radial) for (edges, _), radial in zip(lines, (True, False), strict=True)
    )
    n = r.size * z.size
    mass, conduction, film = np.zeros((n, n)), np.zeros((n, n)), np.zeros((n, n))
    number = np.arange(n).reshape(r.size, z.size)
    for i, in_r in enumerate(lines[0][1]):
        for j, in_z in enumerate(lines[1][1]):
            mine = number[i * degree : (i + 1) * degree + 1, j * degree : (j + 1) * degree + 1].ravel()
            at = np.ix_(mine, mine)
            mass[at] += jar.heat[in_r, in_z] * np.kron(mass_r[i], mass_z[j])
            conduction[at] += jar.conductivity[in_r, in_z] * (
                np.kron(stiff_r[i], mass_z[j]) + np.kron(mass_r[i], stiff_z[j])
            )
            for level, whole in ((0, j == 0), (-1, j == len(lines[1][1]) - 1)):
                if whole:
                    edge = number[i * degree : (i + 1) * degree + 1, level * 1]
                    film[np.ix_(edge, edge)] += mass_r[i]
    for j in range(len(lines[1][1])):
        edge = number[-1, j * degree : (j + 1) * degree + 1]
        film[np.ix_(edge, edge)] += end_r * mass_z[j]
    return _marched(jar, lines, (r, z), degree, (mass, conduction, film))


def _marched(
    jar: Jar,
    lines: tuple[tuple[Array, Array], tuple[Array, Array]],
    nodes: tuple[Array, Array],
    degree: int,
    matrices,
) -> Reference:
    """Modes of each film, and their amplitudes from period to period.

    With y = T - medium: mass y' = -(conduction + h film) y - slope mass 1.
    """
    mass, conduction, film = matrices
    ones = np.ones(mass.shape[0])
    known, rates, shapes, starts, lags = {}, [], [], [], []
    temperature = jar.initial * ones
    for period in jar.periods:
        if period.film not in known:
            known[period.film] = eigh(conduction + period.film * film, mass, driver="gvd")
        rate, shape = known[period.film]
        weight = shape.T @ mass
        start, lag = weight @ (temperature - period.medium), (weight @ ones) / rate
        rates.append(rate), shapes.append(shape), starts.append(start), lags.append(lag)
        still = -lag * period.slope
        end = still + (start - still) * np.exp(-rate * (period.end - period.start))
        temperature = period.medium_end + shape @ end
    return Reference(jar, lines, nodes, degree, tuple(rates), tuple(shapes), tuple(starts), tuple(lags))


def elements(breaks: Array, *, axis: bool = False) -> tuple[Array, Array]:
    """Edges of elements along one axis and the layer each lies in: narrow at the breaks, wide between."""
    edges, layer = [breaks[:1]], []
    for k, (low, high) in enumerate(zip(breaks[:-1], breaks[1:], strict=True)):
        narrow = np.cumsum([part for part in NARROW if part < (high - low) / 6])
        after = low + (narrow if not (axis and k == 0) else narrow[:0])
        before = high - narrow[::-1]
        first, last = ((after[-1] if after.size else low), (before[0] if before.size else high))
        middle = np.linspace(first, last, max(1, int(np.ceil((last - first) / WIDEST))) + 1)
        inside = np.unique(np.concatenate([after, middle[1:-1], before, [first, last, high]]))
        inside = inside[inside > low]
        edges.append(inside)
        layer += [k] * inside.size
    return np.concatenate(edges), np.array(layer)


def _along(edges: Array, degree: int, radial: bool) -> tuple[Array, list[Array], list[Array], float]:
    """Nodes along one axis, each element's mass and stiffness, and 2 pi r of the far end (1 along z)."""
    inner = legendre.Legendre.basis(degree).deriv().roots()
    at = np.concatenate([[-1.0], np.sort(inner.real), [1.0]])
    to_nodes = np.linalg.inv(legendre.legvander(at, degree))
    x, w = legendre.leggauss(degree + 2)
    values = legendre.legvander(x, degree) @ to_nodes
    slopes = np.stack([legendre.legval(x, legendre.legder(c)) for c in np.eye(degree + 1)], axis=1) @ to_nodes
    nodes, mass, stiff = [edges[:1]], [], []
    for low, high in zip(edges[:-1], edges[1:], strict=True):
        half, middle = (high - low) / 2, (high + low) / 2
        weight = w * half * (2 * np.pi * (middle + half * x) if radial else 1.0)
        mass.append(values.T @ (weight[:, None] * values))
        stiff.append(slopes.T @ (weight[:, None] / half**2 * slopes))
        nodes.append(middle + half * at[1:])
    return (np.concatenate(nodes), mass, stiff, (2 * np.pi * float(edges[-1]) if radial else 1.0))


def cold_spots(reference: Reference) -> Array:
    """Places on the axis of least lethality and of the lowest temperature when heating ends, shape (2, 2) [m]."""
    _, bottom, top = reference.jar.product
    places = np.array([(0.0, z) for z in np.linspace(bottom, top, 401)])
    time = np.unique(
        np.concatenate([np.arange(0.0, reference.jar.end, 20.0), [p.end for p in reference.jar.periods]])
    )
    curves = reference.at(places)
    gathered = lethality(time, curves.temperature(time), [p.end for p in reference.jar.periods])
    coldest = curves.temperature(np.array([HEATING_END]))[0]
    return np.array([places[gathered.argmin()], places[coldest.argmin()]])
