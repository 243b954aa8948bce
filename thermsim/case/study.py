"""The study that a case asks for: which of its numbers are varied, how, and what is wanted of each run."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

Kind = Literal["scan", "tornado", "spread"]
Sampler = Literal["sobol", "latin hypercube"]
Criterion = Literal["least lethality", "slowest heating"]
CRITERIA: tuple[Criterion, Criterion] = ("least lethality", "slowest heating")


@dataclass(frozen=True)
class Vary:
    """One quantity that is varied; numbers are in the unit of its key.

    Parameters
    ----------
    key : str
        Path of the number in the case file.
    values : tuple of float
        Of a scan, or of a discrete distribution.
    low, high : float or None
        Ends of a tornado's bar or of a distribution.
    distribution : str
        "uniform", "normal", "triangular" or "discrete"; "" where it is no spread.
    mean, deviation, mode : float or None
        Of the normal distribution, and of the triangular one.
    weights : tuple of float
        Of the values of a discrete distribution; empty: all alike.
    """

    key: str
    values: tuple[float, ...] = ()
    low: float | None = None
    high: float | None = None
    distribution: str = ""
    mean: float | None = None
    deviation: float | None = None
    mode: float | None = None
    weights: tuple[float, ...] = ()


@dataclass(frozen=True)
class Study:
    """What is varied and what is wanted of every run.

    ``samples`` is the size of the base sample of a spread; with ``indices`` it is drawn twice, and once more for each
    quantity. ``tip_tolerance`` is how far a tip may lie off the depth that is set [m].
    """

    kind: Kind
    vary: tuple[Vary, ...]
    sampler: Sampler = "sobol"
    samples: int = 64
    indices: bool = True
    seed: int = 1
    required_hold: bool = False
    recommend_depth: bool = False
    criterion: Criterion = "least lethality"
    tip_tolerance: float = 0.0

    @property
    def runs(self) -> int:
        """How many runs it takes."""
        if self.kind == "scan":
            return math.prod(len(one.values) for one in self.vary)
        if self.kind == "tornado":
            return 1 + 2 * len(self.vary)
        return self.samples * (len(self.vary) + 2 if self.indices else 1)
