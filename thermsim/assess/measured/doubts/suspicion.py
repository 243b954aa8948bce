"""Other explanations of a curve: one thing about the container, its probe or its clock otherwise than said.

Each explanation frees one number more in the model. What that gains is judged by the likelihood ratio, the residuals'
autocorrelation allowed for: squares count in units of their variance times the correlation time.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.curves.autocorrelation import correlation_time
from thermsim.assess.measured.doubts.explanation import Alone, Depth, Explanation
from thermsim.assess.measured.lattice import Lattice
from thermsim.assess.measured.shared import Known
from thermsim.case.process import Process
from thermsim.loggers.logger import long_pauses

Array = NDArray[np.float64]

#: Steps in which each number is varied: logarithm of the diffusivity, start [K], clock [s], depth [m], and the extra.
STEPS = (0.01, 0.5, 5.0, 1e-3, 0.1)
#: Depths tried first are this far apart [m], and this far from the one stated at most.
TRIED, REACH = 3e-3, 25e-3
#: No explanation may need a diffusivity further from the one fitted with the tip as said (a logarithm).
UNLIKE = 0.3
#: One sound run in a hundred is accused wrongly at most of a depth, and one of anything else: the level is shared
#: among its columns, and among the other explanations.
ACCUSED = 0.01

#: A record of the medium that falls this fast [K/s] says when within the interval in which it does; so many times
#: between are tried where samples are rarer than the last [s].
FALLS_AT_ONCE, LAGS, RARE = 0.2, 9, 45.0
#: A tip that slides ends so much deeper for a size of 1 [m]; its readings are interpolated between so many depths.
SLID, ALONG = 10e-3, 5
#: What is added to a reading by a fault of size 1: from the time [s], the reading and the medium [degC].
Fault = Callable[[Array, Array, Array], Array]
FAULTS: Mapping[str, Fault] = {
    # reads 1 K too much throughout
    "calibration": lambda time, reading, medium: np.ones(time.size),
    # reads 1 K too much in the end
    "drift": lambda time, reading, medium: time / time[-1],
    "late drift": lambda time, reading, medium: np.maximum(0.0, 2.0 * time / time[-1] - 1.0),
    # reads the wall, in part
    "contact": lambda time, reading, medium: medium - reading,
}
#: All that one number more may explain: a fault of the reading, a tip that slides evenly from start to end, or heat
#: that the surface took up and the record does not have: before it begins, or in its longest gap.
SLIDE, UNEVEN, GAP = "slide", "uneven start", "gap"
NAMES = (*FAULTS, SLIDE, UNEVEN)
#: Heat taken up unseen, for a size of 1: of a medium hotter by 1 K for so long [s]; and the step that tells slopes.
UNSEEN, SLOPE = 600.0, 15.0
#: Residuals whose correlation time is below this [samples] leave a filling nothing to explain.
RESTLESS = 2.0


def fall_within(process: Process) -> float:
    """Time [s] between two samples of a record within which the medium falls as heating ends; 0 if it does not.

    The samples are not kept: a fall within one straight piece may be one between two of them.
    """
    falling = next((stage for stage in process.stages if stage.name == "cool"), None)
    if not process.recorded or falling is None:
        return 0.0
    wide = float(falling.time[1] - falling.time[0])
    return wide if falling.medium[0] - falling.medium[1] > FALLS_AT_ONCE * wide else 0.0


class Column:
    """A container's curve and the model as explanations of it.

    Parameters
    ----------
    lattice : Lattice
    time, temperature : ndarray, shape (n,)
        [s] by the probe's clock, [degC].
    start : tuple of float
        Logarithm of the diffusivity over the case's, and the start [degC], to begin with.
    stated : float
        Insertion [m].
    clock : Known
        What the other columns tell of the offset of the clocks [s].
    correction : ndarray, shape (n,)
        What finer grids change in the reading [K].
    lag : float, optional
        What all columns of a run tell together of :meth:`_lag`; its own where left out.
    """

    def __init__(
        self,
        lattice: Lattice,
        time: Array,
        temperature: Array,
        start: tuple[float, float],
        *,
        stated: float,
        clock: Known,
        correction: Array,
        lag: float | None = None,
    ) -> None:
        self.lattice, self.time, self.stated, self.clock = lattice, time, stated, clock
        self.measured = temperature - correction
        self.weight = 1.0
        self.moves = lattice.rungs is not None
        gaps = np.flatnonzero(long_pauses(time))
        longest = gaps[np.diff(time)[gaps].argmax()] if gaps.size else None
        self.gap = None if longest is None else float(time[longest] + time[longest + 1]) / 2.0
        self._likely = start[0] - UNLIKE, start[0] + UNLIKE
        low, high = lattice.depths
        self._range = max(low, stated - REACH), min(high, stated + REACH)
        free = (0, 1, 2)
        self.plain, _ = self._least((*start, clock.value, stated, 0.0), free)
        self.lag = self._lag(time, free) if lag is None else lag
        self.time = time - self.lag * self._cooling(time)
        # the noise is what is left by the most flexible of the explanations
        loosest, _ = self._least(self.plain, (*free, 3, 4) if self.moves else (*free, 4), "calibration")
        left = self._off(loosest, "calibration")
        self.fillings = lattice.fillings if correlation_time(self._off(self.plain)) > RESTLESS else ()
        self.names = (*NAMES, *((GAP,) if gaps.size else ()), *self.fillings)
        for name in self.names[len(FAULTS) :]:
            if name == SLIDE and not self.moves:
                continue
            freed, _ = self._least(self.plain, (*free, 3, 4) if self.moves and name == SLIDE else (*free, 4), name)
            left = min(left, self._off(freed, name), key=lambda off: float(off @ off))
        together = correlation_time(left)
        variance = float(left @ left) / max(left.size - 5, 1)
        self.noise = math.sqrt(variance)
        self.weight = 1.0 / math.sqrt(max(variance, 1e-6) * together)
        self.plain, self.covariance = self._least(self.plain, free)
        self.badness = self._badness(self.plain)

    def _cooling(self, time: Array) -> Array:
        """1 where the container is cooled, 0 before."""
        return np.where(time - self.plain[2] > self.lattice.process.heated_until, 1.0, 0.0)

    def _lag(self, time: Array, free: Sequence[int]) -> float:
        """Time [s] by which cooling began later than the medium's record has it, as the curve has it best.

        Of a record that falls between two samples it is not known when: that is no fault of a probe. 0 where samples
        follow each other closely enough to tell.
        """
        within, interval = fall_within(self.lattice.process), float(np.median(np.diff(time)))
        if not RARE < within < 1.5 * interval:
            return 0.0
        lags, badness = np.linspace(-within / 2.0, within / 2.0, LAGS), []
        for lag in lags:
            self.time = time - lag * self._cooling(time)
            badness.append(self._badness(self._least(self.plain, free)[0]))
        place = min(max(int(np.argmin(badness)), 1), LAGS - 2)
        bent, slope, _ = np.polyfit(lags[place - 1 : place + 2], badness[place - 1 : place + 2], 2)
        least = -slope / (2.0 * bent) if bent > 0.0 else lags[int(np.argmin(badness))]
        return float(np.clip(least, lags[0], lags[-1]))

    def _model(self, values: Sequence[float] | Array, fault: str) -> Array:
        log_factor, initial, offset, depth, size = values
        if fault == SLIDE and size != 0.0:
            return self._sliding(values)
        reading = self.lattice(log_factor, initial, depth, offset, self.time)
        if not fault or size == 0.0:
            return reading
        if fault in self.lattice.fillings:
            changed = self.lattice.change(fault, size, (log_factor, initial, depth, offset), self.time)
            return reading + changed
        if fault in (UNEVEN, GAP):
            return reading + size * self._unseen(
                (log_factor, initial, depth, offset), 0.0 if fault == UNEVEN else self.gap or 0.0
            )
        medium = self.lattice.process.medium_at(self._elapsed(offset))
        return reading + size * FAULTS[fault](self.time, reading, medium)

    def _unseen(self, values: tuple[float, float, float, float], when: float) -> Array:
        """Change of the reading by heat taken up unseen at a time, for a size of 1 [K].

        Readings answer a medium that steps as they forget a start: both are known to the lattice.
        """
        log_factor, initial, depth, offset = values

        def kept(shift: float) -> Array:
            warm, cold = (
                self.lattice(log_factor, initial + more, depth, offset + when + shift, self.time)
                for more in (1.0, 0.0)
            )
            return warm - cold

        slope = (kept(SLOPE) - kept(-SLOPE)) / (2.0 * SLOPE)
        return UNSEEN * np.where(self.time - offset > when, slope, 0.0)

    def _elapsed(self, offset: float) -> Array:
        """Times of the process [s] by the medium's clock."""
        return np.clip(self.time - offset, 0.0, self.lattice.process.end)

    def _sliding(self, values: Sequence[float] | Array) -> Array:
        """The reading of a tip that slides from its depth on: at each moment that of a tip which was always there."""
        log_factor, initial, offset, depth, size = values
        there = depth + SLID * size * self._elapsed(offset) / self.lattice.process.end
        there = np.clip(there, *self._range)
        ends = np.linspace(float(there.min()), float(there.max()), ALONG)
        if ends[-1] - ends[0] < 1e-6:
            return self.lattice(log_factor, initial, float(ends[0]), offset, self.time)
        readings = np.stack([self.lattice(log_factor, initial, one, offset, self.time) for one in ends.tolist()])
        shares = [
            np.prod([(there - other) / (one - other) for other in ends if other != one], axis=0) for one in ends
        ]
        return np.asarray(np.sum(np.stack(shares) * readings, axis=0))

    def _off(self, values: Sequence[float] | Array, fault: str = "") -> Array:
        return self.measured - self._model(values, fault)

    def _weighted(self, values: Sequence[float] | Array, fault: str) -> Array:
        known = (values[2] - self.clock.value) / self.clock.error
        return np.append(self.weight * self._off(values, fault), known)

    def _badness(self, values: Sequence[float] | Array, fault: str = "") -> float:
        off = self._weighted(values, fault)
        return float(off @ off)

    def _least(self, start: Sequence[float], free: Sequence[int], fault: str = "") -> tuple[tuple[float, ...], Array]:
        """Least squares by damped Newton steps: the values, and the covariance of those that are free."""
        values = np.array(start, dtype=float)
        low, high = self._range
        off = self._weighted(values, fault)
        damping = 1e-6
        normal = np.eye(len(free))
        for _ in range(40):
            slopes = []
            for place in free:
                other = values.copy()
                # towards the inside of the range of depths
                step = STEPS[place] * (-1.0 if place == 3 and values[3] > (low + high) / 2 else 1.0)
                other[place] += step
                slopes.append((self._weighted(other, fault) - off) / step)
            jacobian = np.stack(slopes, axis=1)
            normal = jacobian.T @ jacobian
            scale = np.diag(normal) + 1e-12
            moved = values.copy()
            moved[list(free)] -= np.linalg.solve(normal + damping * np.diag(scale), jacobian.T @ off)
            moved[0], moved[3] = np.clip(moved[0], *self._likely), np.clip(moved[3], low, high)
            after = self._weighted(moved, fault)
            better = float(off @ off - after @ after)
            if better < 0.0:
                damping = max(10.0 * damping, 1e-3)
                if damping > 1e6:
                    break
                continue
            values, off, damping = moved, after, damping / 10.0
            if better < 1e-3:
                break
        return tuple(values.tolist()), np.asarray(np.linalg.pinv(normal))

    def explained(self, name: str) -> Explanation:
        """The best that one of :data:`NAMES`, or "clock" alone, can do."""
        if name == "clock":
            known, self.clock = self.clock, Known()
            values, covariance = self._least(self.plain, (0, 1, 2))
            gain, place = self.badness - self._badness(values), 2
            self.clock = known
        else:
            values, covariance = self._least(self.plain, (0, 1, 2, 4), name)
            gain, place = self.badness - self._badness(values, name), 3
        return Explanation(name, _five(values), float(math.sqrt(max(0.0, covariance[place, place]))), gain)

    def depth(self, room: float) -> Depth | None:
        """The depth that explains the curve best; its interval is where the likelihood is at most so far below.

        ``room`` is twice the logarithm of the likelihood ratio. None where the probe has no other depth.
        """
        if not self.moves:
            return None
        tried = self.stated + TRIED * np.arange(-(REACH // TRIED), REACH // TRIED + 1)
        tried = np.unique(np.clip(tried, *self._range))
        here = int(np.searchsorted(tried, self.stated))
        known: dict[int, tuple[float, ...]] = {}
        for order in (range(here, tried.size), range(here - 1, -1, -1)):
            last = self.plain
            for place in order:
                last, _ = self._least((*last[:3], float(tried[place]), 0.0), (0, 1, 2))
                known[place] = last
        badness = np.array([self._badness(known[place]) for place in range(tried.size)])
        valleys = [
            place for place in range(tried.size) if badness[place] <= badness[max(0, place - 1) : place + 2].min()
        ]
        found = []
        for place in valleys:
            values, _ = self._least(known[place], (0, 1, 2, 3))
            found.append((min(self._badness(values), badness[place]), values))
        found.sort(key=lambda one: one[0])
        least, best = found[0]
        ends = [self._end(best, least + room, side, side * TRIED / 3) for side in (-1, 1)]
        others = tuple(
            one[3] for value, one in found[1:] if value < least + room and not ends[0] <= one[3] <= ends[1]
        )
        return Depth(best[3], ends[0], ends[1], self.badness - least, others)

    def _end(self, best: Sequence[float], most: float, side: int, step: float) -> float:
        """The depth at which the likelihood has fallen so far, from the best on to one side."""
        low, high = self._range
        last, values, before = best[3], best, self._badness(best)
        while low < last < high:
            there = min(max(last + step, low), high)
            values, _ = self._least((*values[:3], there, 0.0), (0, 1, 2))
            now = self._badness(values)
            if now > most:
                return last + (there - last) * math.sqrt(max(0.0, (most - before) / (now - before)))
            last, before = there, now
        return last

    def at(self, depth: float) -> tuple[float, ...]:
        """The best values with the tip at another depth [m]."""
        return self._least((*self.plain[:3], depth, 0.0), (0, 1, 2))[0]

    def filled(self, name: str, size: float) -> tuple[float, ...]:
        """The best values with a filling that is otherwise by a size, the clock its own."""
        known, self.clock = self.clock, Known()
        values, _ = self._least((*self.plain[:4], size), (0, 1, 2), name)
        self.clock = known
        return values

    def badness_at(self, depth: float) -> float:
        """Least sum of squares with the tip at another depth [m]."""
        return self._badness(self.at(depth))

    def by_itself(self, depth: float, fault: str = "", *, free_clock: bool = True) -> Alone:
        """The best with the tip at a depth [m] and a fault of any size, the clock its own or as is known of it."""
        known = self.clock
        self.clock = Known() if free_clock else known
        values, covariance = self._least((*self.plain[:3], depth, 0.0), (0, 1, 2, 4) if fault else (0, 1, 2), fault)
        clock = Known(values[2], math.sqrt(max(0.0, covariance[2, 2])))
        found = Alone(self._badness(values, fault), clock, _five(values))
        self.clock = known
        return found

    @property
    def shiftable(self) -> tuple[float, float]:
        """Lengths [m] by which the tip can be elsewhere: less deep, below 0, and deeper."""
        return self._range[0] - self.stated, self._range[1] - self.stated

    def elsewhere(self, values: Sequence[float], depth: float) -> Array:
        """Reading of a container of such values with a probe at another depth [degC]."""
        return self._model((*values[:3], depth, 0.0), "")


def _five(values: Sequence[float]) -> tuple[float, float, float, float, float]:
    a, b, c, d, e = map(float, values)
    return a, b, c, d, e
