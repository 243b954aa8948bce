"""The study that a case asks for: which of its numbers are varied, how, and what is wanted of each run."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from thermsim.case.keys.study_keys import MOST_RUNS
from thermsim.errors import InputError
from thermsim.text import plain

Kind = Literal["scan", "tornado", "spread"]
Sampler = Literal["sobol", "latin hypercube"]
Criterion = Literal["least lethality", "slowest heating"]
CRITERIA: tuple[Criterion, Criterion] = ("least lethality", "slowest heating")


class Distribution(Protocol):
    """A distribution as scipy.stats freezes it: ``ppf`` gives the values below which parts of it lie."""

    def ppf(self, part: NDArray[np.float64]) -> NDArray[np.float64]:
        """Values below which the given parts of the distribution lie."""


@dataclass(frozen=True)
class Vary:
    """One quantity that is varied; numbers are in the unit of its key, in SI units where it is a path of nouns.

    ``key`` is the path of the number in the case file, or among the case's nouns; ``values`` those of a scan or of a
    discrete distribution, ``low`` and ``high`` ends of a tornado's bar or of a distribution. ``distribution`` is
    "uniform", "normal", "triangular" or "discrete", or what ``law`` is, a distribution of scipy.stats in place of the
    rest; "" where it is no spread. ``weights`` are those of the values of a discrete one; empty: all alike.
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
    law: Distribution | None = None


@dataclass(frozen=True)
class Study:
    """Variation of a case, and the figures wanted of every run.

    ``samples`` is the size of the base sample of a spread; with ``indices`` it is drawn twice, and once more for each
    quantity. ``tip_tolerance`` is how far a tip may lie off the depth that is set [m]. ``of_nouns``: what is varied
    are numbers of the case's nouns, in SI units (see :mod:`thermsim.case.variation`), not of its file.

    Examples
    --------
    >>> from scipy import stats
    >>> from thermsim import Study
    >>> vary = {"fill.headspace": stats.norm(0.008, 0.001), "product.material.conductivity": stats.uniform(0.5, 0.1)}
    >>> Study.of(vary, samples=16, indices=True).runs
    64
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
    of_nouns: bool = False

    @classmethod
    def of(
        cls, vary: Mapping[str, ArrayLike | Distribution], *, samples: int = 64, indices: bool = False, seed: int = 1
    ) -> Study:
        """A scan over arrays, or a spread of distributions.

        Parameters
        ----------
        vary : mapping of str to array-like or distribution
            By the path of a number of the case (see :func:`thermsim.run_study`): values that are laid on a grid with
            those of the others, or a distribution as scipy.stats freezes it; in SI units and degC.
        samples : int, optional
            Of distributions: size of the base sample, a power of 2.
        indices : bool, optional
            Of distributions: draw what Sobol indices take, too.
        seed : int, optional
            Number from which the sample is drawn.

        Raises
        ------
        InputError
            If arrays and distributions are mixed, a list is empty or no list of numbers, or there are too many runs.
        """
        if not vary:
            raise InputError("vary names no quantity; give at least one, with its values or its distribution")
        drawn = {path: one for path, one in vary.items() if hasattr(one, "ppf")}
        if drawn and len(drawn) < len(vary):
            raise InputError("vary mixes values and distributions; give all quantities values, or all distributions")
        if drawn:
            if samples < 4 or samples & (samples - 1):
                raise InputError(f"samples = {samples} must be a power of 2, 4 or more")
            quantities = tuple(Vary(path, distribution=_described(law), law=law) for path, law in drawn.items())  # type: ignore[arg-type]
            study = cls("spread", quantities, samples=samples, indices=indices, seed=seed, of_nouns=True)
        else:
            study = cls("scan", tuple(Vary(path, _values(path, one)) for path, one in vary.items()), of_nouns=True)
        if study.runs > MOST_RUNS:
            raise InputError(f"it would take {study.runs} runs; at most {MOST_RUNS} are made")
        return study

    @property
    def runs(self) -> int:
        """Number of runs that it takes."""
        if self.kind == "scan":
            return math.prod(len(one.values) for one in self.vary)
        if self.kind == "tornado":
            return 1 + 2 * len(self.vary)
        return self.samples * (len(self.vary) + 2 if self.indices else 1)


def _values(path: str, given: object) -> tuple[float, ...]:
    """Values of a scan as they are given."""
    try:
        values = np.array(given, dtype=float)
    except (TypeError, ValueError):
        values = np.empty((0, 0))
    if values.ndim != 1 or values.size == 0 or not np.isfinite(values).all():
        raise InputError(f'"{plain(path)}" must be varied over a list of finite numbers, or by a distribution')
    return tuple(values.tolist())


def _described(law: object) -> str:
    """A distribution of scipy.stats as one writes it: "norm(0.008, scale=0.002)"."""
    kind = getattr(getattr(law, "dist", None), "name", type(law).__name__)
    given = [f"{value:g}" for value in getattr(law, "args", ())]
    given += [f"{name}={value:g}" for name, value in getattr(law, "kwds", {}).items()]
    return plain(f"{kind}({', '.join(given)})")
