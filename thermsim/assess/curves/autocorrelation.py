"""Number of samples that count as one where neighbouring residuals resemble each other."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def correlation_time(residuals: Array) -> float:
    """Integrated autocorrelation time of residuals, in samples: so many of them say as much as one independent one.

    1 + 2 (rho_1 + rho_2 + ...), the sum stopped before the first pair of neighbouring lags whose sum is not above
    zero; from there on only noise is added up. At least 1. Variances of what is fitted to the samples grow by it, as
    long as the curves fitted are smooth beside it, which heating curves are; drift that is as slow as the curves
    themselves cannot be told from them and is not counted.

    Source: after the initial positive sequence of C. J. Geyer, Practical Markov chain Monte Carlo, Statistical
    Science 7, 1992 (from memory), whose first pair is of the lags 0 and 1; here it is of 1 and 2.

    Parameters
    ----------
    residuals : ndarray, shape (n,)
        In the order of time.

    Returns
    -------
    float
    """
    n = residuals.size
    if n < 4:
        return 1.0
    centred = residuals - residuals.mean()
    size = 1 << (2 * n - 1).bit_length()
    spectrum = np.fft.rfft(centred, size)
    course = np.fft.irfft(spectrum * np.conj(spectrum), size)[:n]
    if not course[0] > 0.0:
        return 1.0
    rho = course / course[0]
    total = 0.0
    for lag in range(1, n - 1, 2):
        pair = rho[lag] + rho[lag + 1]
        if not pair > 0.0:
            # a lone first neighbour still counts
            total += max(0.0, float(rho[1])) if lag == 1 else 0.0
            break
        total += float(pair)
    return float(min(max(1.0, 1.0 + 2.0 * total), n / 4.0))
