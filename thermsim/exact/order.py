"""Observed order: the rate at which an error falls as grid or step are refined."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike


def observed_order(sizes: ArrayLike, errors: ArrayLike) -> float:
    """Order p of ``error ~ size^p``: the least-squares slope of log(error) over log(size).

    Parameters
    ----------
    sizes : array_like, shape (n,)
        Mesh widths or time steps, > 0, n >= 2, not all alike. Widths, not numbers of cells.
    errors : array_like, shape (n,)
        Errors at these sizes; their sign is ignored.

    Raises
    ------
    ValueError
        If the lengths differ, there are fewer than two different sizes, a size is not positive or an error is zero
        or not finite (a zero error says that the test solves something too simple).
    """
    widths = np.asarray(sizes, dtype=np.float64)
    misses = np.abs(np.asarray(errors, dtype=np.float64))
    if widths.ndim != 1 or widths.shape != misses.shape:
        raise ValueError(f"sizes and errors must be of one length, got {widths.shape} and {misses.shape}")
    if not (np.isfinite(widths).all() and (widths > 0.0).all() and np.unique(widths).size >= 2):
        raise ValueError(f"sizes must be positive and hold at least two different values, got {widths.tolist()}")
    if not (np.isfinite(misses).all() and (misses > 0.0).all()):
        raise ValueError(f"errors must be finite and not zero, got {misses.tolist()}")
    return float(np.polyfit(np.log(widths), np.log(misses), 1)[0])
