"""One depth for all that may be: over the runs of a spread, the depth whose worst mismatch is least.

The rule is that of a single case (:mod:`thermsim.assess.probe.mismatch`), applied to the worst of all runs.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from thermsim.assess.depth.recommendation import MARGIN
from thermsim.assess.probe.mismatch import GOOD, Choice, choose
from thermsim.assess.study.plan import StudyResult
from thermsim.assess.study.sensitivity import Indices, sobol_indices

Array = NDArray[np.float64]
#: Depths looked at, and places of the tip within its tolerance.
FINE, TIPS = 601, 9


@dataclass(frozen=True)
class RobustDepth:
    """Outcome of one depth for all runs of a spread; fractions, over the runs and the tip's tolerance.

    Parameters
    ----------
    depth : ndarray, shape (n,)
        Depths that are possible in every run [m].
    worst, mean : ndarray, shape (n,)
        The largest mismatch at each depth, and its mean.
    heating, in_all : ndarray, shape (3, n)
        Over-reading until heating ends, and of what the criterion compares: lowest, mean, highest.
    good : ndarray of int, shape (n,)
        In how many runs the reading is good, wherever the tip is.
    within : ndarray, shape (n,)
        Probability that the tip lies in the window of depths that are as good as the run's own best.
    choice : Choice
        By the rule.
    chosen, least_mean : int
        Places of the depth that the rule chooses, and of the least mean mismatch.
    runs : int
        How many runs count.
    depth_indices, mismatch_indices : Indices or None
        Sobol indices of the recommended depth, and of the mismatch at the depth that is chosen.
    """

    depth: Array
    worst: Array
    mean: Array
    heating: Array
    in_all: Array
    good: NDArray[np.int64]
    within: Array
    choice: Choice
    chosen: int
    least_mean: int
    runs: int
    depth_indices: Indices | None
    mismatch_indices: Indices | None

    @property
    def best(self) -> float:
        """The depth that the rule chooses [m]."""
        return self.choice.depth

    def to_measure(self) -> int | None:
        """Number of the quantity to know better, to narrow the mismatch most; None where it is not known."""
        indices = self.mismatch_indices or self.depth_indices
        return None if indices is None else int(indices.total.argmax())


def robust_depth(result: StudyResult) -> RobustDepth | None:
    """The depth that serves all runs of a spread best.

    Parameters
    ----------
    result : StudyResult

    Returns
    -------
    RobustDepth or None
        None where no depths were asked for, no depth is possible in all runs, or all failed.
    """
    plan = result.plan
    if plan.study.kind != "spread" or plan.depths.size < 2:
        return None
    counted = plan.independent & result.good
    if not counted.any():
        return None
    possible = np.isfinite(result.along["mismatch"][counted]).all(axis=0)
    depths = plan.depths[possible]
    # what is possible in every run lies between the deepest of the shallow ends and the shallowest of the deep ends
    if depths.size < 4:
        return None
    tolerance = plan.study.tip_tolerance
    low, high = depths[0] + tolerance, depths[-1] - tolerance
    if low >= high:
        return None
    depth = np.linspace(low, high, FINE)
    offsets = np.linspace(-tolerance, tolerance, TIPS) if tolerance > 0 else np.zeros(1)
    tips = depth + offsets[:, None]

    def at_tips(name: str) -> Array:
        """A figure at the tips: tip, run, depth."""
        curves = CubicSpline(depths, result.along[name][counted][:, possible], axis=1)
        return np.moveaxis(curves(tips), 0, 1)

    mismatch, heating, in_all = at_tips("mismatch"), at_tips("heating_over_reading"), at_tips("over_reading")
    good = (mismatch <= GOOD) & (heating <= GOOD)
    window = result.figures["window_low"][counted], result.figures["window_high"][counted]
    inside = (tips[:, None] >= window[0][:, None]) & (tips[:, None] <= window[1][:, None])
    worst, mean = mismatch.max(axis=(0, 1)), mismatch.mean(axis=(0, 1))
    choice = choose(depth, worst, heating.max(axis=(0, 1)), MARGIN)
    all_runs = result.along["mismatch"][:, possible]
    there = CubicSpline(depths, np.nan_to_num(all_runs), axis=1)(choice.depth)
    there[~np.isfinite(all_runs).all(axis=1)] = np.nan
    return RobustDepth(
        depth=depth,
        worst=worst,
        mean=mean,
        heating=_range(heating),
        in_all=_range(in_all),
        good=good.all(axis=0).sum(axis=0),
        within=inside.mean(axis=(0, 1)),
        choice=choice,
        chosen=int(np.searchsorted(depth, choice.depth)),
        least_mean=int(mean.argmin()),
        runs=int(counted.sum()),
        depth_indices=sobol_indices(result, result.figures["recommended_depth"]),
        mismatch_indices=sobol_indices(result, there),
    )


def _range(values: Array) -> Array:
    """Lowest, mean and highest over tips and runs."""
    return np.stack([values.min(axis=(0, 1)), values.mean(axis=(0, 1)), values.max(axis=(0, 1))])
