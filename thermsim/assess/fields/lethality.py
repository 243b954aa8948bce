"""Lethal rate and lethality: what a temperature history is worth at the reference temperature.

F = integral of 10^((T - T_ref)/z) dt, by three-point Gauss-Legendre quadrature, so the rate's exponential bend is not
lost: of temperatures that modes give at these times, or that are cubic between a march's steps.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from thermsim.assess.fields.curve import Curve
from thermsim.case.case import Case, Lethality
from thermsim.solve.basis.basis import sample
from thermsim.solve.basis.evolution import Evolution
from thermsim.solve.march.history import History

Array = NDArray[np.float64]

#: The least lethality told apart from none [s]; keeps logarithms finite.
LEAST = 1e-300
#: Gauss-Legendre places and weights on [0, 1], exact for polynomials of degree 5.
PLACES, WEIGHTS = (part / 2.0 for part in np.polynomial.legendre.leggauss(3))
PLACES = PLACES + 0.5
#: Places in a container that are gathered together: what is worked out for them stays near the processor.
AT_ONCE = 512
#: A place gathers next to nothing while it is colder by so many z than it gets.
COLDER = 5.0


def lethal_rate(temperature: Array, lethality: Lethality) -> Array:
    """Lethal rate 10^((T - T_ref)/z), 1 at the reference temperature."""
    # the exponential of numpy takes a third of the time of its powers
    return np.asarray(np.exp(np.log(10.0) / lethality.z * (np.asarray(temperature) - lethality.reference)))


def lethality_map(
    history: Evolution | History, lethality: Lethality, heated_until: float, nodes: NDArray[np.bool_] | None = None
) -> tuple[Array, Array]:
    """Lethality of every node, or of some.

    Parameters
    ----------
    history : Evolution or History
        Temperatures over time.
    lethality : Lethality
        Reference temperature and z.
    heated_until : float
        Time at which heating ends, a knot of the process [s].
    nodes : ndarray of bool, shape (n_r, n_z), optional
        Which nodes are wanted; all of them must conduct. Others have 0.

    Returns
    -------
    total, heating : ndarray, shape (n_r, n_z)
        Lethality over the whole process, and what was gathered until heating ended [s].
    """
    if nodes is None:
        nodes = history.conducting
    found = np.zeros((2, *nodes.shape))
    found[:, nodes] = lethality_of(history, nodes, lethality, heated_until)
    return found[0], found[1]


def lethality_of(
    history: Evolution | History,
    nodes: NDArray[np.bool_],
    lethality: Lethality,
    heated_until: float,
    weights: Array | None = None,
) -> Array:
    """Lethality of nodes, or where temperatures are sums of theirs; parameters as of :func:`lethality_map`.

    Parameters
    ----------
    weights : ndarray, shape (nodes, n), optional
        Of the nodes that are wanted, in their order.

    Returns
    -------
    ndarray, shape (2, n)
        Of the whole process, and until heating ended [s].
    """
    if isinstance(history, Evolution):
        return _lethality_of_modes(history, history.numbering.among(nodes), lethality, heated_until, weights)
    temperature, rate = (values if weights is None else values @ weights for values in history.entries(nodes))
    return gathered_by_cubics(history.time, temperature, rate, lethality)[[-1, history.entry_before(heated_until)]]


def _lethality_of_modes(
    history: Evolution, columns: NDArray[np.intp], lethality: Lethality, heated_until: float, weights: Array | None
) -> Array:
    """The same where modes say every temperature: no cubics come between."""
    found = np.zeros((2, columns.size if weights is None else weights.shape[1]))
    steepness = np.log(10.0) / lethality.z
    for k, (leg, (time, piece)) in enumerate(zip(history.legs, history.sparse_pieces, strict=True)):
        shapes = leg.modes.shapes[:, columns]
        if weights is not None:
            shapes = shapes @ weights
        some = shapes[:, sample(shapes.shape[1])]
        coordinates, change, course = leg.at(time, piece, settled=True)
        step, x, weight = _quadrature(
            time, coordinates @ some + course[:, :1], change @ some + course[:, 1:], lethality
        )
        when, piece = time[step] + x * (time[step + 1] - time[step]), piece[step]
        coordinates, _, course = leg.at(when, piece, settled=True)
        # all in powers of e; what lies too low by the maximum principle counts for nothing
        offset, high = (
            steepness * (course[:, :1] - lethality.reference),
            steepness * (history.bounds(k, piece, course[:, 0])[1][:, None] - lethality.reference),
        )
        coordinates *= steepness
        counted = np.stack([weight, weight * (when < heated_until)])
        for first in range(0, shapes.shape[1], AT_ONCE):
            part = slice(first, first + AT_ONCE)
            power = coordinates @ shapes[:, part]
            power += offset
            np.minimum(power, high, out=power)
            found[:, part] += counted @ np.exp(power, out=power)
    return found


def _quadrature(
    time: Array, temperature: Array, rate: Array, lethality: Lethality
) -> tuple[NDArray[np.intp], Array, Array]:
    """Places of Gauss-Legendre, on a panel between two entries or on more: entry before, part of the way, weight [s].

    ``temperature`` [degC] and ``rate`` [K/s] (n_t, n) of what is gathered, or of some of it.
    """
    h = np.diff(time)
    swings = np.abs(np.diff(temperature, axis=0)), h[:, None] * np.abs(rate[:-1]), h[:, None] * np.abs(rate[1:])
    counts = np.maximum(temperature[1:], temperature[:-1]) > temperature.max(axis=0) - COLDER * lethality.z
    most = np.where(counts, np.max(swings, axis=0), 0.0).max(axis=1, initial=0.0)
    # where the rate would span more than a factor of three the step is cut
    panels = np.where(h > 0.0, 1 + np.minimum(2.0 * most / lethality.z, 200.0).astype(np.int64), 0)
    step = np.repeat(np.arange(h.size), panels)
    begun = np.arange(step.size) - np.repeat(np.cumsum(panels) - panels, panels)
    x = ((begun[:, None] + PLACES) / panels[step, None]).ravel()
    weights = (WEIGHTS * (h / np.maximum(panels, 1))[step, None]).ravel()
    return np.repeat(step, PLACES.size), x, weights


def gathered_by_cubics(time: Array, temperature: Array, rate: Array, lethality: Lethality) -> Array:
    """Lethality gathered up to each entry, the temperature being cubic between the entries.

    Parameters
    ----------
    time : ndarray, shape (n_t,)
        Of the entries [s]; a time that stands twice is a break.
    temperature, rate : ndarray, shape (n_t, n)
        At the entries [degC] and [K/s].
    lethality : Lethality
        Reference temperature and z.

    Returns
    -------
    ndarray, shape (n_t, n)
        Lethality [s], 0 at the first entry.
    """
    h = np.diff(time)
    step, x, weights = _quadrature(time, temperature, rate, lethality)
    y, length = 1.0 - x, h[step]
    # rows: places in time; columns: entries
    ends, two_each = np.column_stack([step, step + 1]).ravel(), 2 * np.arange(step.size + 1)
    of_values, of_rates, sums = (
        csr_array((np.ravel(values), columns, rows), shape=shape)
        for values, columns, rows, shape in (
            (
                np.column_stack([y * y * (1.0 + 2.0 * x), x * x * (1.0 + 2.0 * y)]),
                ends,
                two_each,
                (x.size, time.size),
            ),
            (np.column_stack([length * x * y * y, -length * x * x * y]), ends, two_each, (x.size, time.size)),
            (weights, np.arange(x.size), np.searchsorted(step, np.arange(h.size + 1)), (h.size, x.size)),
        )
    )
    gathered = np.zeros_like(temperature)
    for first in range(0, temperature.shape[1], AT_ONCE):
        some = slice(first, first + AT_ONCE)
        at = of_values @ temperature[:, some] + of_rates @ rate[:, some]
        gathered[1:, some] = np.cumsum(sums @ lethal_rate(at, lethality), axis=0)
    return gathered


def gathered_lethality(time: Array, temperature: Array, lethality: Lethality) -> Array:
    """Lethality gathered up to each time of a sampled curve, the temperature being linear between the samples.

    On a straight piece F = z dt/(ln10 dT) (L2 - L1) exactly (trapezoids on L over-read there).

    Parameters
    ----------
    time, temperature : ndarray, shape (n,)
        Times [s], not falling, and temperatures [degC].
    lethality : Lethality
        Reference temperature and z.

    Returns
    -------
    ndarray, shape (n,)
        Lethality [s], 0 at the first time.
    """
    rate = lethal_rate(temperature, lethality)
    rise = np.log(10.0) / lethality.z * np.diff(temperature)
    # mean rate of a straight piece: L1 (e^x - 1)/x
    mean = rate[:-1] * np.where(rise == 0.0, 1.0, np.expm1(rise) / np.where(rise == 0.0, 1.0, rise))
    return np.concatenate([[0.0], np.cumsum(mean * np.diff(time))])


def gathered_course(curve: Curve, case: Case) -> Array:
    """Lethality gathered at a place up to each of its output times [s], ending at what was computed for it.

    Straight lines between output times fall short where the temperature bends, the more the farther apart they are.
    What was computed while heating and in cooling is known better: each part of the course is stretched to it.
    """
    course = gathered_lethality(curve.time, curve.temperature, case.lethality)
    end = int(np.searchsorted(curve.time, case.process.heated_until * (1 - 1e-12)))
    heating, cooling = course[: end + 1], course[end:] - course[end]
    parts = []
    for part, known in ((heating, curve.heating_lethality), (cooling, curve.lethality - curve.heating_lethality)):
        parts.append(part * (known / part[-1]) if part[-1] > 0.0 else part)
    return np.concatenate([parts[0], parts[0][-1] + parts[1][1:]])
