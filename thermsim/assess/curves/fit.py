"""Least squares on a measured curve: parameters within bounds, their intervals, and which cannot be told apart."""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.curves.autocorrelation import correlation_time

Array = NDArray[np.float64]

#: Part of repeated measurements whose interval holds the true value.
CONFIDENCE = 0.95
#: Two parameters whose estimates are correlated more than this cannot be told apart.
TOGETHER = 0.95
#: A parameter nearer to its bound than this many steps of its own has been stopped by it.
AT_BOUND = 0.01
_SMALL = 1e-12


@dataclass(frozen=True)
class Parameter:
    """Parameter that may be varied: from ``start`` between ``low`` and ``high``, in SI units.

    ``step`` is a change that is small but shows in the curve: for derivatives, and as the parameter's scale; a part
    of the value where ``relative`` (the logarithm is fitted then), else in its own unit.
    """

    name: str
    start: float
    low: float
    high: float
    step: float
    relative: bool = False

    def inner(self, value: float) -> float:
        """The parameter in steps from its start."""
        return math.log(value / self.start) / self.step if self.relative else (value - self.start) / self.step

    def outer(self, inner: float) -> float:
        """Inverse of :meth:`inner`."""
        if self.relative:
            return self.start * math.exp(inner * self.step)
        return self.start + inner * self.step


@dataclass(frozen=True)
class Estimate:
    """A fitted parameter: ``value`` with its interval from ``low`` to ``high``, and where it ``start``ed.

    ``at_bound``: the fit was stopped by what is allowed; the interval means nothing then.
    """

    name: str
    value: float
    low: float
    high: float
    start: float
    at_bound: bool


@dataclass(frozen=True)
class Fit:
    """A fit.

    Parameters
    ----------
    estimates : tuple of Estimate
    covariance, correlation : ndarray, shape (p, p)
        Of the parameters in steps of their own, correlated residuals allowed for; and scaled to a diagonal of 1.
    residuals : ndarray, shape (n,)
        Measured less fitted [K].
    rms : float
        Root mean square of the residuals [K].
    correlation_time : float
        In samples; see :func:`thermsim.assess.curves.autocorrelation.correlation_time`.
    freedom : float
        Independent samples less parameters.
    quantile : float
        Half width of the intervals, in standard errors.
    indistinct : tuple of (str, str, float)
        Pairs that the data cannot tell apart, with their correlation.
    converged : bool
    """

    estimates: tuple[Estimate, ...]
    covariance: Array
    correlation: Array
    residuals: Array
    rms: float
    correlation_time: float
    freedom: float
    quantile: float
    indistinct: tuple[tuple[str, str, float], ...]
    converged: bool

    def value(self, name: str) -> float | None:
        """The fitted value of a parameter; None where it was not varied."""
        return next((estimate.value for estimate in self.estimates if estimate.name == name), None)


def fit_curve(
    model: Callable[[Array], Array],
    parameters: Sequence[Parameter],
    measured: Array,
    *,
    start: Sequence[float] | None = None,
) -> Fit:
    """Fit parameters of a model to a measured curve.

    Trust-region least squares within bounds (``scipy.optimize.least_squares``) with derivatives from differences of
    one step of each parameter to either side. Intervals are those of the linearised model: s^2 (J^T J)^-1 times the
    residuals' correlation time, with Student's t for n over that time less p degrees of freedom.

    Parameters
    ----------
    model : callable
        From the parameters' values, shape (p,), to the curve [degC], shape (n,).
    parameters : sequence of Parameter
    measured : ndarray, shape (n,)
        [degC].
    start : sequence of float, optional
        Where to begin, in place of the parameters' own starts.

    Returns
    -------
    Fit
    """
    inner_low = np.array([one.inner(one.low) for one in parameters])
    inner_high = np.array([one.inner(one.high) for one in parameters])
    begin = np.array(
        [one.inner(value) for one, value in zip(parameters, start or [p.start for p in parameters], strict=True)]
    )
    begin = np.clip(begin, inner_low + AT_BOUND, inner_high - AT_BOUND)

    def curve(inner: Array) -> Array:
        return model(np.array([one.outer(float(x)) for one, x in zip(parameters, inner, strict=True)]))

    def residuals(inner: Array) -> Array:
        return curve(inner) - measured

    with ThreadPoolExecutor(os.cpu_count()) as pool:

        def jacobian(inner: Array) -> Array:
            # no further than the bounds, beyond which there may be no model
            up, down = (
                [np.clip(inner + sign * unit, inner_low, inner_high) for unit in np.eye(inner.size)]
                for sign in (1, -1)
            )
            curves = list(pool.map(curve, [*up, *down]))
            widths = [(a - b).sum() for a, b in zip(up, down, strict=True)]
            pairs = zip(curves[: inner.size], curves[inner.size :], widths, strict=True)
            return np.stack([(a - b) / width for a, b, width in pairs], axis=1)

        from scipy import optimize  # only here: most answers fit nothing

        found = optimize.least_squares(
            residuals,
            begin,
            jac=jacobian,
            bounds=(inner_low, inner_high),
            x_scale=1.0,
            xtol=1e-6,
            ftol=1e-6,
            max_nfev=60,
        )
    return _summed_up(parameters, found.x, -found.fun, found.jac, bool(found.success))


def _summed_up(
    parameters: Sequence[Parameter], inner: Array, residuals: Array, jacobian: Array, converged: bool
) -> Fit:
    """Summarise a solution: values, errors, correlations and intervals."""
    n, p = jacobian.shape
    together = correlation_time(residuals)
    freedom = max(n / together - p, 1.0)
    variance = float(residuals @ residuals) / max(n - p, 1) * together
    # a parameter without influence has no finite interval
    _, values, directions = np.linalg.svd(jacobian, full_matrices=False)
    values = np.maximum(values, _SMALL * max(float(values[0]), 1.0))
    covariance = variance * (directions.T / values**2) @ directions
    errors = np.sqrt(np.diag(covariance))
    scale = np.where(errors > 0.0, errors, 1.0)
    correlation = covariance / np.outer(scale, scale)
    from scipy.special import stdtrit  # only here: most answers fit nothing

    quantile = float(stdtrit(freedom, 0.5 + CONFIDENCE / 2))
    estimates = []
    for one, x, error in zip(parameters, inner, errors, strict=True):
        low, high = (
            one.outer(float(np.clip(x + sign * quantile * error, -700 / one.step, 700 / one.step)))
            for sign in (-1, 1)
        )
        near = min(x - one.inner(one.low), one.inner(one.high) - x)
        estimates.append(Estimate(one.name, one.outer(float(x)), low, high, one.start, bool(near < AT_BOUND)))
    indistinct = tuple(
        (parameters[i].name, parameters[k].name, float(correlation[i, k]))
        for i in range(p)
        for k in range(i + 1, p)
        if abs(correlation[i, k]) > TOGETHER
    )
    return Fit(
        tuple(estimates),
        covariance,
        correlation,
        residuals,
        float(np.sqrt(np.mean(residuals**2))),
        together,
        freedom,
        quantile,
        indistinct,
        converged,
    )
