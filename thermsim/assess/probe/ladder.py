"""A ladder of depths and what it says between its rungs: the best depth, its window, depths that confirm it.

Readings are smooth in depth, so between the rungs a cubic spline serves.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.probe.advice import Profile, Rung
from thermsim.assess.probe.mismatch import Choice, Truth, choose, window_round
from thermsim.case.study import CRITERIA, Criterion

Array = NDArray[np.float64]

#: Depths that are looked at between the ends of a ladder.
FINE = 401
#: Readings that are nowhere further apart than this [K] are taken to change alike with finer grids.
ALIKE = 1.5
_LETHALITIES = ("lethality", "heating_lethality", "without_lethality", "without_heating")
_ENDS = ("end_of_heating", "without_end")


@dataclass(frozen=True)
class Step:
    """One depth of a ladder and what is read there at the output times [degC], shape (n_t,).

    ``change``, where it is known, is that of the reading's stack by a coarser grid.
    """

    rung: Rung
    temperature: Array
    change: Array | None = None

    def reads_as(self, other: Step) -> bool:
        """Tell whether another reading is much the same all the time."""
        return float(np.abs(self.temperature - other.temperature).max()) <= ALIKE


@dataclass(frozen=True)
class Correction:
    """Change from a rough solution to a better one of the same depth, which is much the same at other depths.

    Parameters
    ----------
    temperature : ndarray, shape (n_t,)
        Of what is read [K].
    lethality, heating : float
        Factors, of the whole lethality and until heating ends.
    end : float
        When heating ends [K].
    """

    temperature: Array
    lethality: float
    heating: float
    end: float

    @classmethod
    def between(cls, rough: Step, better: Step) -> Correction:
        """The change from one solution to another."""
        was, now = rough.rung, better.rung
        return cls(
            better.temperature - rough.temperature,
            now.lethality / was.lethality,
            now.heating_lethality / was.heating_lethality,
            now.end_of_heating - was.end_of_heating,
        )

    def of(self, step: Step) -> Step:
        """A rough solution so changed."""
        rung = replace(
            step.rung,
            lethality=step.rung.lethality * self.lethality,
            heating_lethality=step.rung.heating_lethality * self.heating,
            end_of_heating=step.rung.end_of_heating + self.end,
        )
        return Step(rung, step.temperature + self.temperature)


@dataclass(frozen=True)
class Ladder:
    """Steps from shallow to deep, and what their readings are held against, in the order of ``CRITERIA``."""

    steps: tuple[Step, ...]
    truths: tuple[Truth, Truth]

    @property
    def rungs(self) -> tuple[Rung, ...]:
        """The steps without their curves."""
        return tuple(step.rung for step in self.steps)

    @cached_property
    def depths(self) -> Array:
        """Depths that are looked at between the rungs, and the rungs' own [m]."""
        own = [step.rung.depth for step in self.steps]
        return np.unique([*own, *np.linspace(own[0], own[-1], FINE)]) if len(own) > 1 else np.array(own)

    @cached_property
    def _mismatch(self) -> tuple[Array, Array]:
        least, slowest = (self._mismatch_with(truth) for truth in self.truths)
        return least, slowest

    def _mismatch_with(self, truth: Truth) -> Array:
        """Mismatch at the depths; the rungs' curves are made fine before there are many of them."""
        own = truth.between(np.stack([step.temperature for step in self.steps]))
        if len(own) > 1:
            own = np.asarray(_through([step.rung.depth for step in self.steps], own)(self.depths))
        return truth.mismatch_between(own)

    @cached_property
    def change(self) -> Callable[[float], Array] | None:
        """Change by a coarser grid at any depth; None where too few of the steps know theirs."""
        known = [(step.rung.depth, step.change) for step in self.steps if step.change is not None]
        if len(known) < 3:
            return None
        depths, changes = zip(*known, strict=True)
        curve = _through(depths, np.stack(changes))
        return lambda depth: np.asarray(curve(depth))

    def mismatch(self, criterion: Criterion) -> Array:
        """Mismatch at the depths by a criterion, a fraction."""
        return self._mismatch[CRITERIA.index(criterion)]

    def heating_over_reading(self, criterion: Criterion) -> Array:
        """Lethality until heating ends beyond that of the criterion's place, at the depths, a fraction of that."""
        truth = self.truths[CRITERIA.index(criterion)].curve.heating_lethality
        logs = np.log([step.rung.heating_lethality / truth for step in self.steps])
        return np.expm1(logs if len(logs) == 1 else _through([one.depth for one in self.rungs], logs)(self.depths))

    def choice(self, criterion: Criterion, margin: float) -> Choice:
        """The depth that the criterion recommends."""
        return choose(self.depths, self.mismatch(criterion), self.heating_over_reading(criterion), margin)

    def window(self, criterion: Criterion, margin: float, depth: float) -> tuple[float, float]:
        """The window round a depth [m] that was chosen before."""
        return window_round(self.depths, self.mismatch(criterion), margin, depth)

    def at(self, depth: float) -> Step:
        """Values of the ladder at a depth between its rungs [m]."""
        if len(self.steps) == 1:
            return self.steps[0]
        own = np.stack([step.temperature for step in self.steps])
        curve = _through([step.rung.depth for step in self.steps], own)
        return Step(interpolated(self.rungs, depth), np.asarray(curve(depth)))

    def corrected(self, correction: Correction) -> Ladder:
        """The ladder changed everywhere alike."""
        return replace(self, steps=tuple(correction.of(step) for step in self.steps))

    @property
    def profile(self) -> Profile:
        """Mismatch over depth, to be kept and drawn."""
        return Profile(self.depths, *self._mismatch)


def confirmation_depths(
    ladder: Sequence[Rung], depth: float, accuracy: float, possible: Array | None = None
) -> tuple[float, ...]:
    """Depths round the recommended one at which a sensor of this accuracy [K] would tell the difference.

    On each side the nearest depth at which the temperature when heating ends differs by twice the accuracy, and the
    nearest at which it differs by four times; fewer where the container ends before, or where none of the depths that
    are ``possible`` [m], if these are given, differs so much.
    """
    if len(ladder) < 2:
        return ()
    curve = _through([rung.depth for rung in ladder], [rung.end_of_heating for rung in ladder])
    fine = np.linspace(ladder[0].depth, ladder[-1].depth, 2001) if possible is None else possible
    differs = np.abs(curve(fine) - float(curve(depth)))
    found = []
    for side in (fine < depth, fine > depth):
        for times in (2.0, 4.0):
            far = fine[side & (differs >= times * accuracy)]
            if far.size:
                found.append(float(far[np.abs(far - depth).argmin()]))
    return tuple(sorted(set(found)))


def interpolated(ladder: Sequence[Rung], depth: float) -> Rung:
    """Values of the ladder at a depth between its rungs."""
    return between(ladder, [depth])[0]


def between(ladder: Sequence[Rung], depths: Sequence[float] | Array) -> list[Rung]:
    """Values of the ladder at each of some depths between its rungs; lethalities go by their logarithms."""
    if len(ladder) == 1:
        return [ladder[0] for _ in depths]
    values = np.array([[getattr(rung, name) for name in (*_LETHALITIES, *_ENDS)] for rung in ladder])
    growing = len(_LETHALITIES)
    values[:, :growing] = np.log(values[:, :growing])
    found = np.asarray(_through([rung.depth for rung in ladder], values)(np.asarray(depths)))
    found[:, :growing] = np.exp(found[:, :growing])
    rows = zip(depths, found.tolist(), strict=True)
    return [Rung(float(depth), **dict(zip((*_LETHALITIES, *_ENDS), row, strict=True))) for depth, row in rows]


def _through(depths: Sequence[float], values: Sequence[float] | Array) -> Callable[[Array | float], Array]:
    """A smooth curve through the rungs, whose turns may lie between them."""
    from scipy.interpolate import CubicSpline  # only here: an answer without a probe is to be quick

    return CubicSpline(np.array(depths), np.array(values))  # type: ignore[no-any-return]
