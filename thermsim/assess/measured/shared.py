"""Shared numbers of the columns of one file, fitted together: the offset of their clock, and what else is said.

Least squares over all columns at once fall apart into each column's own and a mean of what they share, weighted by
each one's covariance. A column that does not share it, as its probe is elsewhere, would draw that mean away: columns
far from the median do not count in it.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.curves.autocorrelation import correlation_time
from thermsim.assess.curves.fit import Fit, Parameter
from thermsim.notice import Notice

Array = NDArray[np.float64]

#: A value further from the median than so many of its errors does not count.
OUTLYING = 4.0
#: The median of the sizes of a standard normal variable.
USUAL_SIZE = 0.6745
#: Of two, one is likelier to be off where it is so many times as far from what was said.
TWICE = 2.0
#: Clocks of two loggers differ by so many times as much as those of one.
APART = 3.0
#: The flag of columns that are on another clock than the rest.
SECOND_CLOCK = "second-clock"


@dataclasses.dataclass(frozen=True)
class Known:
    """A number that several columns tell: its value and standard error; ``inf`` where none does."""

    value: float = 0.0
    error: float = math.inf


def robust_mean(values: Sequence[float], errors: Sequence[float]) -> Known:
    """The mean of those that agree, each by its error, and the mean's own error.

    Parameters
    ----------
    values, errors : sequence of float, length n
        Standard errors.

    Returns
    -------
    Known
        Its error is at least what the values that count differ by.
    """
    if not values:
        return Known()
    found, error = np.array(values), np.maximum(np.array(errors), 1e-12)
    middle = float(np.median(found))
    spread = median_spread(found) if found.size > 2 else float(np.ptp(found))
    counts = np.abs(found - middle) <= OUTLYING * np.hypot(spread, error)
    weight = np.where(counts, 1.0 / (error**2 + spread**2), 0.0)
    mean = float(weight @ found / weight.sum())
    return Known(mean, max(math.sqrt(1.0 / weight.sum()), float(error[counts].min()) / math.sqrt(counts.sum())))


def median_spread(values: Array) -> float:
    """The standard deviation that the median of the distances from the median tells, shape (n,)."""
    return float(np.median(np.abs(values - np.median(values)))) / USUAL_SIZE


def told_by(fits: Sequence[Fit | None], parameters: Sequence[Parameter], name: str) -> Known:
    """A parameter as some fits tell it together."""
    place, pairs = [one.name for one in parameters].index(name), []
    for fit in fits:
        if fit is not None and math.isfinite(error := math.sqrt(fit.covariance[place, place])):
            value = fit.value(name)
            pairs.append((parameters[place].inner(0.0 if value is None else value), error))
    return robust_mean([one for one, _ in pairs], [one for _, one in pairs])


def sharing(
    fit: Fit,
    parameters: Sequence[Parameter],
    shared: dict[str, Known],
    curve: Callable[[Array], Array],
    measured: Array,
) -> Fit:
    """A fit with some of its parameters held at what all columns say.

    Parameters
    ----------
    fit : Fit
        Of the column by itself.
    parameters : sequence of Parameter
    shared : dict of str to Known
        In steps of the parameter from its start.
    curve : callable
        From the parameters' values to the curve.
    measured : ndarray, shape (n,)
        [degC].

    Returns
    -------
    Fit
        The others follow by their covariance; its intervals hold what is not known of what is shared.
    """
    names = [one.name for one in parameters]
    which = [names.index(name) for name in shared]
    own = np.array([one.inner(estimate.value) for one, estimate in zip(parameters, fit.estimates, strict=True)])
    among = fit.covariance[np.ix_(which, which)]
    gain = fit.covariance[:, which] @ np.linalg.pinv(among)
    values = own + gain @ (np.array([known.value for known in shared.values()]) - own[which])
    values[which] = [known.value for known in shared.values()]
    errors = np.diag([known.error**2 for known in shared.values()])
    covariance = fit.covariance - gain @ among @ gain.T + gain @ errors @ gain.T
    covariance[np.ix_(which, which)] = errors
    half = fit.quantile * np.sqrt(np.maximum(np.diag(covariance), 0.0))
    low, high = ([one.inner(end) for one in parameters for end in (getattr(one, side),)] for side in ("low", "high"))
    values = np.clip(values, low, high)
    estimates = tuple(
        dataclasses.replace(
            estimate,
            value=one.outer(float(value)),
            low=one.outer(float(value - width)),
            high=one.outer(float(value + width)),
        )
        for estimate, one, value, width in zip(fit.estimates, parameters, values, half, strict=True)
    )
    residuals = measured - curve(np.array([estimate.value for estimate in estimates]))
    scale = np.sqrt(np.maximum(np.diag(covariance), 1e-300))
    kept = [pair for pair in fit.indistinct if pair[0] not in shared and pair[1] not in shared]
    return dataclasses.replace(
        fit,
        estimates=estimates,
        covariance=covariance,
        correlation=covariance / np.outer(scale, scale),
        residuals=residuals,
        rms=float(np.sqrt(np.mean(residuals**2))),
        correlation_time=correlation_time(residuals),
        indistinct=tuple(kept),
    )


def on_second_clock(offsets: Sequence[float], apart: float) -> list[int]:
    """Places of columns whose clocks agree with each other and not with the rest, which agree too; two on each side.

    ``offsets`` are clocks [s], ``apart`` what they differ by at least; those farther from the medium's are named.
    """
    order = np.argsort(offsets)
    found = np.array(offsets)[order]
    steps = np.diff(found)
    if found.size < 4 or not 2 <= (cut := int(steps.argmax()) + 1) <= found.size - 2:
        return []
    low, high = found[:cut], found[cut:]
    if steps[cut - 1] < max(apart, APART * max(float(np.ptp(low)), float(np.ptp(high)))):
        return []
    far = order[:cut] if abs(low.mean()) > abs(high.mean()) else order[cut:]
    return sorted(far.tolist())


def flag_of_second_clock(names: Sequence[str], ahead: float) -> Notice:
    """The flag of columns that are on another clock than the rest [s]."""
    which = ", ".join(f'"{name}"' for name in names)
    text = (
        f"{which} ARE ON ANOTHER CLOCK than the other probes, {abs(ahead):.0f} s "
        f"{'ahead' if ahead > 0.0 else 'behind'}: two loggers? Each of them is fitted with a clock of its own here. "
        "Compare the loggers' clocks, then say --own-clock for each."
    )
    return Notice(SECOND_CLOCK, "danger", "logger", text, {"ahead": ahead}, "second clock?")


def flag_of_two_clocks(clocks: Sequence[tuple[str, float]]) -> Notice:
    """The flag of two containers each as said but for its clock: their names, and how far those are ahead [s]."""
    (one, first), (other, second) = clocks
    off, near = sorted(clocks, key=lambda clock: -abs(clock[1]))
    likelier = (
        f'likelier that of "{off[0]}", {off[1]:+z.0f} s ahead of the medium\'s (the other {near[1]:+z.0f} s)'
        if abs(off[1]) > TWICE * abs(near[1])
        else "neither is likelier"
    )
    text = (
        f'ONE OF TWO CLOCKS IS OFF: those of "{one}" and "{other}" differ by {abs(first - second):.0f} s; '
        f"{likelier}. Two columns cannot tell: compare both loggers with one clock."
    )
    return Notice("clocks-differ", "danger", "probe", text, {"apart": first - second}, "clock off, of one?")
