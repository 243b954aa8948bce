"""Influence of the quantities on a figure: bars of a tornado, Sobol indices of a spread with their intervals."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.study.plan import StudyResult

Array = NDArray[np.float64]
#: Confidence of the intervals round Sobol indices.
CONFIDENCE = 0.95
#: Resamples of the bootstrap.
RESAMPLES = 999
#: Fewer points than this give no indices.
FEWEST = 8
#: A figure whose standard deviation is below this part of its size does not vary.
NO_VARIATION = 1e-9


@dataclass(frozen=True)
class Bar:
    """Effect of one quantity alone on a figure.

    ``quantity`` is its place in the plan; ``low`` and ``high`` the figure with it at its low and high end, ``base``
    that of the case as it is, in the figure's unit; NaN where a run failed.
    """

    quantity: int
    low: float
    high: float
    base: float

    @property
    def swing(self) -> float:
        """Distance by which the figure moves; 0 where nothing is known."""
        values = [value for value in (self.low, self.high, self.base) if np.isfinite(value)]
        return max(values) - min(values) if len(values) > 1 else 0.0


def tornado(result: StudyResult, name: str) -> list[Bar]:
    """Bars of a tornado study for one figure, the longest first."""
    values = result.figures[name]
    bars = [
        Bar(k, float(values[1 + 2 * k]), float(values[2 + 2 * k]), float(values[0]))
        for k in range(len(result.plan.places))
    ]
    return sorted(bars, key=lambda bar: -bar.swing)


@dataclass(frozen=True)
class Indices:
    """Sobol indices of one figure: arrays of shape (n_quantities,), intervals (n_quantities, 2).

    ``first`` is the part of the variance that a quantity explains alone, ``total`` the part that would be left if all
    others were known. ``points`` are the sampled points that count: those without a failed run.
    """

    first: Array
    total: Array
    first_interval: Array
    total_interval: Array
    points: int


def sobol_indices(result: StudyResult, values: Array) -> Indices | None:
    """Sobol indices of a figure of a spread, with bootstrap intervals.

    Parameters
    ----------
    result : StudyResult
        Of a spread with indices.
    values : ndarray, shape (n_runs,)
        The figure in every run; points with a value that is not finite are left out whole.

    Returns
    -------
    Indices or None
        None where the study was not made for them, too few points are left, or the figure does not vary.

    Notes
    -----
    Estimators: A. Saltelli et al., Computer Physics Communications 181 (2010), table 2 (b) and (f), those of
    scipy.stats.sobol_indices, which this repeats because points may be missing and the bootstrap must be seeded.
    """
    from scipy import stats

    plan = result.plan
    if plan.study.kind != "spread" or not plan.study.indices:
        return None
    table = values.reshape(-1, len(plan.places) + 2)
    table = table[np.isfinite(table).all(axis=1)]
    spread = table[:, :2].std() if table.size else 0.0
    if len(table) < FEWEST or spread <= NO_VARIATION * np.abs(table).max():
        return None
    # estimates are surest about values whose mean is 0
    table = table - table[:, :2].mean()
    first, total = saltelli(table)
    drawn = stats.bootstrap(
        [np.arange(len(table))],
        lambda rows: np.stack(saltelli(table[rows])),
        n_resamples=RESAMPLES,
        confidence_level=CONFIDENCE,
        method="percentile",
        vectorized=False,
        random_state=np.random.default_rng(plan.study.seed),
    ).confidence_interval
    return Indices(
        first,
        total,
        np.column_stack([drawn.low[0], drawn.high[0]]),
        np.column_stack([drawn.low[1], drawn.high[1]]),
        len(table),
    )


def saltelli(table: Array) -> tuple[Array, Array]:
    """First- and total-order indices.

    Parameters
    ----------
    table : ndarray, shape (n, 2 + n_quantities)
        The figure at the points of the first sample, of the second, and of the first with each quantity from the
        second; its mean near 0.
    """
    a, b, exchanged = table[:, :1], table[:, 1:2], table[:, 2:]
    variance = table[:, :2].var()
    first = (b * (exchanged - a)).mean(axis=0) / variance
    total = ((a - exchanged) ** 2).mean(axis=0) / (2.0 * variance)
    return np.asarray(first), np.asarray(total)
