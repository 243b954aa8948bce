"""Superposition: a body under a medium whose temperature is linear piece by piece, jumps included (Duhamel).

``T(t) = f(t) - sum_jumps J_k theta(t - t_k) - integral f'(tau) theta(t - tau) dtau``

The jumps use the step response itself. The integral is split at a fixed age: what happened longer ago is carried by
modes, advanced exactly from knot to knot (only decaying exponentials, so nothing can overflow); what happened since
is integrated against theta on fixed nodes, evenly spread over the logarithm of the age.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.polynomial import legendre
from numpy.typing import ArrayLike
from scipy import special

from thermsim.exact.checks import FloatArray, as_floats, as_times
from thermsim.exact.modes import Direction

#: age, in units of L^2/alpha (R H/alpha for a finite cylinder), from which modes take over
SPLIT = 5e-3

_PANELS = 20  # each spans a factor 4 of the age, so the youngest ages left out are 4^-20 = 1e-12 of the split
_NODES, _WEIGHTS = legendre.leggauss(20)
_DEGREES = np.arange(20)
#: nodal values -> Legendre coefficients of their integral from -1
_INTEGRAL = legendre.legint(
    (_DEGREES[:, None] + 0.5) * _WEIGHTS * legendre.legvander(_NODES, 19).T, lbnd=-1.0, axis=0
)


@dataclass(frozen=True)
class Medium:
    """Temperature of the medium [degC], shape (n,), linear between knots [s]; constant after the last.

    Knots do not decrease; a repeated one is a jump. The process begins at the first.
    """

    time: FloatArray
    temperature: FloatArray

    def __post_init__(self) -> None:
        time = as_times("medium_time", self.time).copy()
        temperature = np.atleast_1d(np.array(self.temperature, dtype=np.float64))
        if time.size == 0 or time.shape != temperature.shape:
            raise ValueError(
                f"medium_time and medium must be of one length >= 1, got {time.size} and {temperature.size}"
            )
        if np.any(np.diff(time) < 0.0):
            raise ValueError(f"medium_time decreases at entry {int(np.argmax(np.diff(time) < 0.0)) + 1}")
        if not np.isfinite(temperature).all():
            raise ValueError("medium holds a temperature that is not finite")
        time.flags.writeable = temperature.flags.writeable = False
        object.__setattr__(self, "time", time)
        object.__setattr__(self, "temperature", temperature)

    @property
    def slopes(self) -> FloatArray:
        """Slope after each knot [K/s], shape (n,); 0 after the last and inside a jump."""
        span = np.diff(self.time)
        rise = np.diff(self.temperature)
        return np.append(np.divide(rise, span, out=np.zeros_like(rise), where=span > 0.0), 0.0)

    def at(self, time: FloatArray) -> FloatArray:
        """Return the temperature [degC] at times [s], at a jump just after it."""
        last = np.maximum(np.searchsorted(self.time, time, side="right") - 1, 0)
        return as_floats(self.temperature[last] + self.slopes[last] * (time - self.time[last]))

    def jumps(self, initial: float) -> list[tuple[float, float]]:
        """Return (time [s], height [K]) of every jump, the first one away from the initial temperature."""
        heights = np.where(np.diff(self.time) == 0.0, np.diff(self.temperature), 0.0)
        steps = np.concatenate([[self.temperature[0] - initial], heights])
        return [(float(t), float(step)) for t, step in zip(self.time, steps, strict=True) if step != 0.0]


def superpose(
    directions: tuple[Direction, Direction], time: ArrayLike, *, split: float, initial: float, medium: Medium
) -> FloatArray:
    """Temperature [degC], shape (n_t, n_1, n_2), of a body whose step response is the product of two directions.

    Of these one may be ``UNIFORM``, in which nothing changes. Times are in any order; at a jump the value is that
    just after it, before the first knot `initial`. `split` is the age [s] from which modes take over; the result does
    not depend on it. Error below 1e-9 K for heating by 100 K, at every time.
    """
    times = as_times("time", time)
    started = times >= medium.time[0]
    first, second = directions
    product = "tr,tz->trz"
    field = np.empty((times.size, first.step(times[:1]).shape[1], second.step(times[:1]).shape[1]))
    field[~started] = initial
    now = times[started]
    result = np.broadcast_to(medium.at(now)[:, None, None], field[started].shape).copy()
    with np.errstate(under="ignore"):
        for instant, height in medium.jumps(initial):
            past = now >= instant
            age = now[past] - instant
            result[past] -= height * np.einsum(product, first.step(age), second.step(age))
        if np.any(medium.slopes):
            _subtract_recent_ramps(result, directions, time=now, split=split, medium=medium)
            _subtract_old_ramps(result, directions, time=now, split=split, medium=medium)
    field[started] = result
    return field


def _subtract_recent_ramps(
    result: FloatArray, directions: tuple[Direction, Direction], *, time: FloatArray, split: float, medium: Medium
) -> None:
    ages = _panel_centres(split)[:, None] + 0.5 * np.log(4.0) * _NODES
    nodes = np.exp(ages.ravel())
    weights = np.zeros((time.size, nodes.size))
    for (start, stop), slope in zip(pairwise(medium.time), medium.slopes[:-1], strict=True):
        oldest = np.clip(time - start, 0.0, split)
        youngest = np.clip(time - stop, 0.0, split)
        touched = np.flatnonzero(oldest > youngest) if slope != 0.0 else np.empty(0, dtype=int)
        if touched.size:
            weights[touched] += slope * (
                _cumulative_weights(oldest[touched], split, nodes)
                - _cumulative_weights(youngest[touched], split, nodes)
            )
    theta_first, theta_second = (direction.step(nodes) for direction in directions)
    for k in np.flatnonzero(weights.any(axis=1)):
        result[k] -= (weights[k, :, None] * theta_first).T @ theta_second


def _panel_centres(split: float) -> FloatArray:
    return as_floats(np.log(split) - np.log(4.0) * (np.arange(_PANELS)[::-1] + 0.5))


def _cumulative_weights(age: FloatArray, split: float, nodes: FloatArray) -> FloatArray:
    """Return weights, shape (n_age, n_nodes), that integrate theta from age 0 to each age from its nodal values."""
    # age * theta is interpolated as a polynomial in log(age) on each panel
    youngest = split * 4.0**-_PANELS
    half = 0.5 * np.log(4.0)
    where = (np.log(np.maximum(age, youngest))[:, None] - _panel_centres(split)) / half
    basis = legendre.legvander(np.clip(where, -1.0, 1.0), 20) @ _INTEGRAL
    weights: FloatArray = half * basis.reshape(age.size, -1) * nodes
    weights[:, 0] += np.minimum(age, youngest)
    return weights


def _subtract_old_ramps(
    result: FloatArray, directions: tuple[Direction, Direction], *, time: FloatArray, split: float, medium: Medium
) -> None:
    (rates_first, amplitudes_first), (rates_second, amplitudes_second) = (
        direction.modes_from(split) for direction in directions
    )
    rates = rates_first[:, None] + rates_second
    carried = np.exp(-rates * split)
    reached = time - split
    old = reached > medium.time[0]
    marks = np.unique(np.concatenate([medium.time, reached[old]]))
    slopes = medium.slopes[np.searchsorted(medium.time, marks[:-1], side="right") - 1]
    wanted = {mark: np.flatnonzero(reached == mark) for mark in np.unique(reached[old])}
    memory = np.zeros_like(rates)
    for start, stop, slope in zip(marks[:-1], marks[1:], slopes, strict=True):
        fall = -rates * (stop - start)
        memory = memory * np.exp(fall) + slope * (stop - start) * as_floats(special.exprel(fall))
        for k in wanted.get(stop, ()):
            result[k] -= amplitudes_first.T @ (carried * memory) @ amplitudes_second
