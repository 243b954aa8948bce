"""Nouns of what explains a curve: an explanation, a depth, a column by itself, another end of heating."""

from __future__ import annotations

from dataclasses import dataclass

from thermsim.assess.measured.shared import Known

#: Of two explanations one is clearly the better where it leaves so many times less over, and no more than this [K].
CLEARLY, EXPLAINED = 1.5, 0.3


#: An interval narrower than this [m] is no curve's.
NOWHERE = 1e-4


@dataclass(frozen=True)
class Explanation:
    """A way to explain a curve.

    ``values``: logarithm of the diffusivity over the case's, start [degC], offset [s], depth [m], size of the fault
    (of a slide in :data:`SLID`);
    ``error``: standard error of what was freed beyond the usual; ``gain``: twice the logarithm of the likelihood
    ratio against nothing being otherwise than said.
    """

    name: str
    values: tuple[float, float, float, float, float]
    error: float
    gain: float


@dataclass(frozen=True)
class Alone:
    """The least sum of squares of a column whose clock is its own, that clock, and the values of an explanation."""

    badness: float
    clock: Known
    values: tuple[float, float, float, float, float]


@dataclass(frozen=True)
class Depth:
    """The depth that a curve shows [m], with its interval; ``others`` explain it nearly as well.

    ``gain`` is twice the logarithm of the likelihood ratio of the best against the stated one.
    """

    best: float
    low: float
    high: float
    gain: float
    others: tuple[float, ...] = ()

    @property
    def nowhere(self) -> bool:
        """True if it is at an end of where a tip can be: the curve is that of none."""
        return self.high - self.low < NOWHERE

    def holds(self, depth: float, tolerance: float) -> bool:
        """True if a depth is in the interval or beside it by no more than a tolerance [m]."""
        return self.low - tolerance <= depth <= self.high + tolerance


@dataclass(frozen=True)
class Held:
    """A container if heating really ended so much ``later`` [s] than by the process, its clock being right.

    ``lethality`` is the corrected one then [s]; ``rms`` is what the fit leaves over [K], ``against`` what the one
    leaves by which the clocks differ instead.
    """

    later: float
    lethality: float
    rms: float
    against: float

    @property
    def likelier(self) -> bool | None:
        """True if the curve tells for it, False if for clocks that differ, None where it does not tell."""
        less, more = sorted((self.rms, self.against))
        if less > EXPLAINED or more < CLEARLY * less:
            return None
        return self.rms < self.against

    @property
    def words(self) -> str:
        """Condition in words, as "if heated 5.0 min longer"."""
        return f"if heated {abs(self.later) / 60:.1f} min {'longer' if self.later > 0 else 'less'}"
