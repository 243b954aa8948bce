"""The moment from which a column is no record of food: it ends, drops out, freezes, jumps or reads the medium.

What conduction can do is taken from the case's own reading at the same samples, with room for another product.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from thermsim.case.process import Process
from thermsim.loggers.cleaning import noise_of
from thermsim.quantities import minutes

Array = NDArray[np.float64]
Kind = Literal["ends", "drops out", "freezes", "jumps", "reads the medium"]

#: A column that stops so much before the others has ended, and one without samples for so long has dropped out [s].
GAP = 180.0
#: A step is a jump if it is beyond this [K], beyond so many times the noise, and so many times what conduction does.
STEP, TIMES_NOISE, TIMES_MODEL = 1.5, 8.0, 3.0
#: Samples on either side among which conduction may take its largest step.
BESIDE = 8
#: A reading is frozen where it stays the same for so many samples while conduction moves it by more than this [K].
SAME, MOVED = 6, 1.0
#: A reading as near to the medium as this [K, root mean square], lagging by as little as this [s], is the medium's.
NEAR, LAGS = 2.0, (0.0, 15.0, 30.0, 60.0)
#: ... if food would be as far from the medium as this [K].
FAR = 8.0


@dataclass(frozen=True)
class Failure:
    """Failure of a column, from when on [s], and whether readings come back later."""

    kind: Kind
    time: float
    returns: bool = False

    @property
    def words(self) -> str:
        """The same in words."""
        if self.kind == "reads the medium":
            return "follows the medium, not food: the probe is not in the product, or its column is another's"
        how = {"ends": "ends", "drops out": "drops out", "freezes": "freezes", "jumps": "jumps"}[self.kind]
        return f"{how} at {minutes(self.time):.1f} min" + (" and returns" if self.returns else "")


def failure_of(time: Array, temperature: Array, expected: Array, others: Array, process: Process) -> Failure | None:
    """The first failure of a column; None where there is none.

    Parameters
    ----------
    time, temperature : ndarray, shape (n,)
        Samples of the column, cleaned [s], [degC].
    expected : ndarray, shape (n,)
        The case's own reading at the same times [degC].
    others : ndarray, shape (m,)
        Times at which any column of the file has a sample [s].
    process : Process
        What the medium did.

    Returns
    -------
    Failure or None
    """
    medium = process.medium_at(np.clip(time, 0.0, process.end))
    found = [
        failure
        for failure in (
            _ends(time, others),
            _drops_out(time, others),
            _freezes(time, temperature, expected),
            _jumps(time, temperature, expected),
        )
        if failure is not None
    ]
    if _of_medium(time, temperature, expected, medium):
        return Failure("reads the medium", float(time[0]))
    return min(found, key=lambda failure: failure.time) if found else None


def _ends(time: Array, others: Array) -> Failure | None:
    return Failure("ends", float(time[-1])) if others[-1] - time[-1] > GAP else None


def _drops_out(time: Array, others: Array) -> Failure | None:
    """A gap in which the file has samples of other columns."""
    for place in np.flatnonzero(np.diff(time) > GAP):
        inside = (others > time[place]) & (others < time[place + 1])
        if inside.sum() > 1:
            return Failure("drops out", float(time[place]), returns=True)
    return None


def _freezes(time: Array, temperature: Array, expected: Array) -> Failure | None:
    """A stretch of equal readings in which conduction moves; a product that has not begun to heat yet is none."""
    edges = np.flatnonzero(np.diff(temperature) != 0.0) + 1
    for first, last in zip([0, *edges], [*edges, temperature.size], strict=True):
        course = expected[first:last]
        if last - first >= SAME and float(np.ptp(course)) > MOVED:
            if first == 0 and last < temperature.size and temperature[last:].max() > temperature[0] + MOVED:
                continue
            return Failure("freezes", float(time[first]), returns=bool(last < temperature.size))
    return None


def _jumps(time: Array, temperature: Array, expected: Array) -> Failure | None:
    """A step that conduction does not take; whether another one leads back."""
    steps, course = np.diff(temperature), np.abs(np.diff(expected))
    width = 2 * BESIDE + 1
    padded = np.pad(course, BESIDE, mode="edge")
    largest = np.lib.stride_tricks.sliding_window_view(padded, width).max(axis=1)
    allowed = np.maximum(STEP, TIMES_NOISE * noise_of(temperature)) + TIMES_MODEL * largest
    # over a pause of the record nobody has seen what conduction did
    beyond = np.flatnonzero((np.abs(steps) > allowed) & (np.diff(time) <= GAP))
    if not beyond.size:
        return None
    back = any(steps[later] * steps[beyond[0]] < 0.0 for later in beyond[1:])
    return Failure("jumps", float(time[beyond[0]]), returns=back)


def _of_medium(time: Array, temperature: Array, expected: Array, medium: Array) -> bool:
    """True if the column follows the medium, or lags it a little, where food would be far from it."""
    if np.sqrt(np.mean((expected - medium) ** 2)) < FAR:
        return False
    off = []
    for lag in LAGS:
        follows = medium.copy()
        for place in range(1, time.size) if lag else ():
            keep = np.exp(-(time[place] - time[place - 1]) / lag)
            follows[place] = keep * follows[place - 1] + (1.0 - keep) * medium[place]
        # a fall between two samples may have come at any time between them
        off.append(float(np.sqrt(np.mean(np.sort((temperature - follows) ** 2)[: max(1, int(0.95 * time.size))]))))
    return min(off) < NEAR
