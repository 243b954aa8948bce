"""Mismatch: how far the history of a reading is from that of the place it is to show. The rule for every depth.

With L the lethal rate 10^((T - reference)/z) [min of F per min],

    mismatch = integral of |L(reading) - L(place)| dt / integral of L(place) dt,

a fraction of the place's lethality, shown in per cent. No errors can cancel in it: what a stem adds while heating and
takes away in cooling adds up, so the error of the whole lethality is never larger than the mismatch, nor is that of
either phase as a part of the whole; and a reading that follows the place keeps following it when the hold is made
longer. A depth whose total is right only because two large errors cancel is wrong for every other process.

Against the place of least lethality the whole process counts; against the slowest-heating place the time until
heating ends. Recommended is the depth of least mismatch; among depths within :data:`POINT` of it, the one that
over-reads least until heating ends, which is the unsafe side. The window is where the mismatch is at most its least
plus a margin; good is a mismatch and an over-reading until heating ends of at most :data:`GOOD`.

One depth for many runs goes by the same rule: its mismatch and its over-reading until heating ends are the largest in
all runs and at all places of the tip within its tolerance.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.fields.curve import Curve
from thermsim.assess.fields.lethality import lethal_rate
from thermsim.case.case import Lethality
from thermsim.case.study import Criterion

Array = NDArray[np.float64]

#: Mismatches that differ by less than this are alike: among them the over-reading until heating ends decides.
POINT = 0.01
#: Above this mismatch, or above this over-reading until heating ends, no depth is called good.
GOOD = 0.05
#: The integrals take at least so many times, between output times by cubics.
TIMES = 480


@dataclass(frozen=True)
class Truth:
    """Reference of a reading by one criterion: an undisturbed cold spot and what happens there.

    Parameters
    ----------
    criterion : {"least lethality", "slowest heating"}
    curve : Curve
        At that place; its time [s] is that of the readings.
    credit : Lethality
        Reference temperature and z.
    heated_until : float
        When heating ends [s], one of the curve's times.
    uncertainty : float
        Of the lethality that the criterion compares, a fraction.
    others : tuple of Truth, optional
        The same place by a coarser and by a looser computation.
    """

    criterion: Criterion
    curve: Curve
    credit: Lethality
    heated_until: float
    uncertainty: float = 0.0
    others: tuple[Truth, ...] = ()

    @property
    def aim(self) -> float:
        """The lethality that the criterion compares [s]."""
        return self.curve.lethality if self.criterion == "least lethality" else self.curve.heating_lethality

    @cached_property
    def counted(self) -> NDArray[np.bool_]:
        """Times of the curve that count."""
        everywhere = np.ones(self.curve.time.size, dtype=bool)
        return everywhere if self.criterion == "least lethality" else self.curve.time <= self.heated_until

    @cached_property
    def fine(self) -> Array:
        """Times of the integrals [s], those of the curve among them."""
        time = self.curve.time[self.counted]
        pieces = max(1, -(-TIMES // max(1, time.size - 1)))
        parts = np.arange(pieces) / pieces
        return np.append((time[:-1, None] + np.diff(time)[:, None] * parts).ravel(), time[-1])

    def between(self, temperature: Array) -> Array:
        """Temperatures (..., n_t) at the curve's times, at the fine ones."""
        from scipy.interpolate import CubicSpline  # only here: an answer without a probe is to be quick

        curve = CubicSpline(self.curve.time[self.counted], temperature[..., self.counted], axis=-1)
        return np.asarray(curve(self.fine))

    @cached_property
    def rate(self) -> Array:
        """Lethal rate at the place."""
        return lethal_rate(self.between(self.curve.temperature), self.credit)

    def mismatch(self, temperature: Array) -> Array:
        """Mismatch of readings, a fraction.

        Parameters
        ----------
        temperature : ndarray, shape (..., n_t)
            What is read at the curve's times [degC].

        Returns
        -------
        ndarray, shape (...)
        """
        return self.mismatch_between(self.between(temperature))

    def mismatch_between(self, temperature: Array) -> Array:
        """Mismatch of readings at the fine times, which are :meth:`between` the curve's."""
        apart = np.abs(lethal_rate(temperature, self.credit) - self.rate)
        return np.asarray(np.trapezoid(apart, self.fine, axis=-1) / np.trapezoid(self.rate, self.fine))


@dataclass(frozen=True)
class Choice:
    """A depth chosen from many [m], the window round it [m], and whether a better one may lie beyond the ends."""

    depth: float
    window: tuple[float, float]
    at_limit: bool


def choose(depths: Array, mismatch: Array, over_reading: Array, margin: float) -> Choice:
    """Choose the depth by the rule above.

    Parameters
    ----------
    depths : ndarray, shape (n,)
        Growing [m].
    mismatch, over_reading : ndarray, shape (n,)
        At each of them; the over-reading until heating ends. Fractions.
    margin : float
        Of the window, a fraction.

    Returns
    -------
    Choice
        The window is the connected one round the depth.
    """
    least = float(mismatch.min())
    alike = np.flatnonzero(mismatch <= least + min(POINT, margin))
    # depths that do not over-read at all are alike: the smaller mismatch decides
    best = int(min(alike, key=lambda k: (max(0.0, float(over_reading[k])), float(mismatch[k]))))
    ends = {0, depths.size - 1}
    return Choice(
        depth=float(depths[best]),
        window=window_round(depths, mismatch, margin, float(depths[best])),
        at_limit=depths.size > 1 and bool(ends & {best, int(mismatch.argmin())}),
    )


def window_round(depths: Array, mismatch: Array, margin: float, depth: float) -> tuple[float, float]:
    """Depths [m] connected with the one given whose mismatch is at most the least plus the margin, and that one."""
    outside = depths[mismatch > float(mismatch.min()) + margin]
    within = depths[mismatch <= float(mismatch.min()) + margin]
    low = outside[outside < depth].max(initial=-np.inf)
    high = outside[outside > depth].min(initial=np.inf)
    round_it = np.append(within[(within > low) & (within < high)], depth)
    return float(round_it.min()), float(round_it.max())
