"""The straight part of a heating or cooling curve: where it lies, its slope and lag factors, and whether it breaks.

log10(left/first left) over time, where ``left`` is the distance to the medium's temperature, is a straight line once
the slowest mode of conduction is alone. Noise on the temperature is the same everywhere, so on the logarithm it
grows as less is left: lines are fitted with weights proportional to what is left.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.curves.autocorrelation import correlation_time
from thermsim.assess.curves.fit import CONFIDENCE

Array = NDArray[np.float64]

#: What is left at the two ends of a straight part differs by this factor at least, and so many samples lie in it.
LEAST_FALL, FEWEST = 2.0, 10
#: Both halves of a straight part have slopes within this of each other, or within their own standard error.
ALIKE = 0.001
#: A straight part begins so many times its own slope factor after the zero, if it can: by then the faster modes of a
#: conduction pack bend it by less than one in a hundred (computed, finite cylinder), which noise may hide.
LATE = 1.0
#: Beginnings of the straight part that are tried.
TRIED = 60
_TINY = 1e-12  # 1/s
#: Breaks are looked for where less than this part is left: above, a conduction curve still bends.
UNBROKEN_ABOVE = 0.5
#: A break is one if two lines are better by this much (of the Bayesian information criterion) ...
BETTER = 10.0
#: ... and their slopes differ by this factor.
UNLIKE = 1.3


@dataclass(frozen=True)
class Line:
    """The line through a straight part.

    Parameters
    ----------
    f, f_low, f_high : float
        Slope factor with its interval [s].
    j, j_low, j_high : float
        Lag factor with its interval.
    zero : float
        The time from which j counts [s].
    start, end : float
        Where the straight part lies [s].
    samples : int
        How many samples it has.
    correlation_time : float
        Of the residuals, in samples.
    scatter : float
        Root mean square of the residuals [K].
    automatic : bool
        Whether the straight part was found, not given.
    bends : bool
        Whether what was found is not straight, only the straightest there is.
    """

    f: float
    f_low: float
    f_high: float
    j: float
    j_low: float
    j_high: float
    zero: float
    start: float
    end: float
    samples: int
    correlation_time: float
    scatter: float
    automatic: bool
    bends: bool

    @property
    def early(self) -> bool:
        """True if it begins so early that faster modes may still bend it unseen."""
        return self.start - self.zero < LATE * self.f


@dataclass(frozen=True)
class Break:
    """Two lines that meet: at ``time`` [s], slope factors before and after [s], and by how much they are better."""

    time: float
    before: float
    after: float
    better: float

    @property
    def ratio(self) -> float:
        """Slope factor after the break over that before it: above 1 heating gets slower."""
        return self.after / self.before

    @property
    def clear(self) -> bool:
        """True if two lines are needed, by the criterion of this module."""
        return self.better > BETTER and max(self.ratio, 1.0 / self.ratio) > UNLIKE


def straight_line(
    time: Array, left: Array, *, first: float, zero: float, part: tuple[float, float] | None
) -> Line | None:
    """Fit the straight part.

    Parameters
    ----------
    time, left : ndarray, shape (n,)
        Times [s] and what is left to the medium's temperature [K], > 0.
    first : float
        What was left at the start [K], > 0.
    zero : float
        The time from which the lag factor counts [s].
    part : pair of float or None
        Beginning and end of the straight part [s]; None: found. It is the longest stretch up to the last sample in
        both halves of which the slope is the same, within 0.1 % or the standard error of their ratio, and that begins
        one slope factor after the zero where there is one so late.

    Returns
    -------
    Line or None
        None where too few samples are left, or the curve does not fall.
    """
    if part is not None:
        inside = (time >= part[0]) & (time <= part[1])
        return (
            _line(time[inside], left[inside], first, zero, automatic=False, bends=False) if inside.sum() > 3 else None
        )
    latest = _latest_start(left)
    if latest is None:
        return None
    starts = np.unique(np.linspace(0, latest, min(TRIED, latest + 1)).astype(int))
    alike = np.array([_halves_alike(time[k:], left[k:]) for k in starts])
    # one that is alike by chance is followed by others that are not
    steady = alike & np.append(alike[1:], True)
    late = np.array([time[k] - zero >= -LATE / min(_slope(time[k:], left[k:])[0], -_TINY) for k in starts])
    chosen = steady & late if (steady & late).any() else steady
    begin, bends = (int(starts[chosen.argmax()]), False) if chosen.any() else (latest, True)
    return _line(time[begin:], left[begin:], first, zero, automatic=True, bends=bends)


def broken_line(time: Array, left: Array, *, first: float) -> Break | None:
    """The best two lines that meet, through what lies below half of the first distance to the medium.

    The break is searched over the middle of the time; two lines are better than one by ln(S1/S2) times the number of
    independent samples, less 2 ln of it for the two parameters more, S the weighted sums of squares (the Bayesian
    information criterion of G. Schwarz, 1978, from memory; more than 10 is usually called very strong).

    Returns
    -------
    Break or None
        None where too little of the curve is there, or a line does not fall.
    """
    low = left < UNBROKEN_ABOVE * first
    if low.sum() < 2 * FEWEST or left[low].max() < LEAST_FALL * left[low].min():
        return None
    begin = int(low.argmax())
    t, rest = time[begin:], left[begin:]
    span = t[-1] - t[0]
    x, y = (t - t[0]) / span, np.log10(rest)
    one = _weighted(np.stack([np.ones_like(x), x], axis=1), y, rest)
    best: tuple[float, float, Array, Array] | None = None
    for corner in np.linspace(0.15, 0.85, 57):
        design = np.stack([np.ones_like(x), x, np.maximum(x - corner, 0.0)], axis=1)
        slopes, residuals = _weighted(design, y, rest)
        squares = float(residuals @ residuals)
        if best is None or squares < best[0]:
            best = squares, float(corner), slopes, residuals
    if best is None:
        return None
    squares, corner, slopes, residuals = best
    before, after = float(slopes[1]), float(slopes[1] + slopes[2])
    if before >= 0.0 or after >= 0.0:
        return None
    independent = t.size / correlation_time(residuals)
    single = float(one[1] @ one[1])
    # exact curves leave nothing over: a thousandth of a kelvin is as good as nothing
    nothing = t.size * 1e-6
    better = independent * math.log((single + nothing) / (squares + nothing)) - 2.0 * math.log(max(independent, 2.0))
    return Break(float(t[0] + corner * span), float(-span / before), float(-span / after), float(better))


def _latest_start(left: Array) -> int | None:
    """The last sample at which a straight part may begin."""
    enough = np.flatnonzero(left >= LEAST_FALL * left[-max(1, left.size // 50) :].min())
    latest = min(int(enough[-1]) if enough.size else -1, left.size - FEWEST)
    return latest if latest >= 0 else None


def _weighted(design: Array, y: Array, left: Array) -> tuple[Array, Array]:
    """Weighted least squares; the coefficients, and the residuals as differences of temperature [K]."""
    weights = left * math.log(10.0)
    found, *_ = np.linalg.lstsq(design * weights[:, None], y * weights, rcond=None)
    return np.asarray(found), np.asarray((y - design @ found) * weights)


def _slope(time: Array, left: Array) -> tuple[float, float]:
    """Slope of log10(left) and its standard error [1/s], uncorrelated noise supposed."""
    x = time - time.mean()
    design = np.stack([np.ones_like(x), x], axis=1)
    found, residuals = _weighted(design, np.log10(left), left)
    inner = np.linalg.inv((design.T * (left * math.log(10.0)) ** 2) @ design)
    variance = float(residuals @ residuals) / max(time.size - 2, 1)
    return float(found[1]), math.sqrt(variance * float(inner[1, 1]))


def _halves_alike(time: Array, left: Array) -> bool:
    """True if both halves of a stretch fall equally fast; halves of the fall, not of the time."""
    middle = int(np.searchsorted(-left, -math.sqrt(float(left[0] * left[-1]))))
    middle = min(max(middle, FEWEST // 2), time.size - FEWEST // 2)
    (a, error_a), (b, error_b) = _slope(time[:middle], left[:middle]), _slope(time[middle:], left[middle:])
    if a >= 0.0 or b >= 0.0:
        return False
    return abs(math.log(a / b)) <= max(ALIKE, math.hypot(error_a / a, error_b / b))


def _line(time: Array, left: Array, first: float, zero: float, *, automatic: bool, bends: bool) -> Line | None:
    x = time - zero
    design = np.stack([np.ones_like(x), x], axis=1)
    found, residuals = _weighted(design, np.log10(left / first), left)
    if found[1] >= 0.0:
        return None
    together = correlation_time(residuals)
    variance = float(residuals @ residuals) / max(time.size - 2, 1) * together
    covariance = variance * np.linalg.inv((design.T * (left * math.log(10.0)) ** 2) @ design)
    from scipy.special import stdtrit  # only here: most answers fit no line

    half = float(stdtrit(max(time.size / together - 2, 1.0), 0.5 + CONFIDENCE / 2)) * np.sqrt(np.diag(covariance))
    steep, flat = found[1] - half[1], found[1] + half[1]
    return Line(
        f=float(-1.0 / found[1]),
        f_low=float(-1.0 / steep),
        f_high=float(-1.0 / flat) if flat < 0.0 else math.inf,
        j=float(10.0 ** found[0]),
        j_low=float(10.0 ** (found[0] - half[0])),
        j_high=float(10.0 ** (found[0] + half[0])),
        zero=zero,
        start=float(time[0]),
        end=float(time[-1]),
        samples=int(time.size),
        correlation_time=together,
        scatter=float(np.sqrt(np.mean(residuals**2))),
        automatic=automatic,
        bends=bends,
    )
