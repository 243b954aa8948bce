"""One depth for all that may be: over the runs of a spread, the depth with the smallest error of the reading.

A reading below the truth is no better measure than one above it: errors count on both sides, as they do where a depth
is recommended for one case.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from thermsim.assess.study.plan import StudyResult
from thermsim.assess.study.sensitivity import Indices, sobol_indices

Array = NDArray[np.float64]
#: Depths looked at, and places of the tip within its tolerance.
FINE, TIPS = 601, 9


@dataclass(frozen=True)
class RobustDepth:
    """Outcome of one depth for all runs of a spread.

    Parameters
    ----------
    depth : ndarray, shape (n,)
        Depths that are possible in every run [m].
    lowest, highest, expected : ndarray, shape (n,)
        Over-reading at each depth: the lowest and the highest over the runs and the tip's tolerance, and its mean.
    worst, mean_error : ndarray, shape (n,)
        The largest error in size, and the mean of its size.
    within : ndarray, shape (n,)
        Probability that the tip lies in the window of depths that are as good as the run's own best.
    minimax, least_mean : int
        Where ``worst`` and ``mean_error`` are smallest.
    runs : int
        How many runs count.
    depth_indices, error_indices : Indices or None
        Sobol indices of the recommended depth, and of the over-reading at the depth ``minimax``.
    """

    depth: Array
    lowest: Array
    highest: Array
    expected: Array
    worst: Array
    mean_error: Array
    within: Array
    minimax: int
    least_mean: int
    runs: int
    depth_indices: Indices | None
    error_indices: Indices | None

    @property
    def best(self) -> float:
        """The depth with the smallest worst case [m]."""
        return float(self.depth[self.minimax])

    def to_measure(self) -> int | None:
        """Number of the quantity whose better knowledge would narrow the error most; None where it is not known."""
        indices = self.error_indices or self.depth_indices
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
    possible = np.isfinite(result.over_reading[counted]).all(axis=0)
    depths = plan.depths[possible]
    # what is possible in every run lies between the deepest of the shallow ends and the shallowest of the deep ends
    if depths.size < 4:
        return None
    curves = CubicSpline(depths, result.over_reading[counted][:, possible], axis=1)
    tolerance = plan.study.tip_tolerance
    low, high = depths[0] + tolerance, depths[-1] - tolerance
    if low >= high:
        return None
    depth = np.linspace(low, high, FINE)
    offsets = np.linspace(-tolerance, tolerance, TIPS) if tolerance > 0 else np.zeros(1)
    errors = np.stack([curves(depth + offset) for offset in offsets])  # tip, run, depth
    window = result.figures["window_low"][counted], result.figures["window_high"][counted]
    tips = depth + offsets[:, None, None]
    inside = (tips >= window[0][:, None]) & (tips <= window[1][:, None])
    worst, mean_error = np.abs(errors).max(axis=(0, 1)), np.abs(errors).mean(axis=(0, 1))
    minimax = int(worst.argmin())
    everywhere = CubicSpline(depths, _finite(result.over_reading[:, possible]), axis=1)(depth[minimax])
    everywhere[~np.isfinite(result.over_reading[:, possible]).all(axis=1)] = np.nan
    return RobustDepth(
        depth=depth,
        lowest=errors.min(axis=(0, 1)),
        highest=errors.max(axis=(0, 1)),
        expected=errors.mean(axis=(0, 1)),
        worst=worst,
        mean_error=mean_error,
        within=inside.mean(axis=(0, 1)),
        minimax=minimax,
        least_mean=int(mean_error.argmin()),
        runs=int(counted.sum()),
        depth_indices=sobol_indices(result, result.figures["recommended_depth"]),
        error_indices=sobol_indices(result, everywhere),
    )


def _finite(values: Array) -> Array:
    """The values with zeros for those that are none; what comes of these rows is not used."""
    return np.where(np.isfinite(values), values, 0.0)
