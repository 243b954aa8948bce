"""Lethality of a sampled curve by the general method, and what summing trapezoids of the lethal rate does to it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from thermsim.assess.fields.lethality import gathered_lethality, lethal_rate
from thermsim.case.case import Lethality
from thermsim.case.rules import samples_of

Array = NDArray[np.float64]


def lethality(time: ArrayLike, temperature: ArrayLike, reference: float, z: float) -> float:
    """Lethality F = integral of 10^((T - reference)/z) dt of a sampled curve.

    Parameters
    ----------
    time, temperature : array-like, shape (n,)
        Times [s], growing, and temperatures [degC], straight between them; n >= 2.
    reference, z : float
        Reference temperature [degC], and rise in temperature that makes the lethal rate tenfold [K].

    Returns
    -------
    float
        Lethality [s].

    Raises
    ------
    InputError
        If time and temperature are none of a curve, or reference or z is no such quantity.

    Examples
    --------
    >>> import thermsim
    >>> round(thermsim.lethality([0.0, 600.0], [121.1, 121.1], 121.1, 10.0) / 60, 3)  # ten minutes at the reference
    10.0
    >>> round(thermsim.lethality([0.0, 600.0], [111.1, 121.1], 121.1, 10.0) / 60, 3)  # 0.9/ln 10 of ten minutes
    3.909
    """
    terms = Lethality(reference, z)
    times, values = samples_of(time, temperature=temperature)
    return float(gathered_lethality(times, values, terms)[-1])


@dataclass(frozen=True)
class GeneralMethod:
    """Lethality of a reading [s].

    Parameters
    ----------
    lethality : float
        The temperature straight between samples.
    heating : float
        Of that, until heating ends; of what was fitted, by the probe's clock as the fit has it.
    trapezoids : float
        The lethal rate straight between samples: the usual sum.
    trapezoidal_error : float
        What that sum has too much, estimated: a third of what it grows by if every second sample is left out (the
        error goes by the square of the interval).
    course : ndarray, shape (n,)
        Lethality gathered up to each sample.
    """

    lethality: float
    heating: float
    trapezoids: float
    trapezoidal_error: float
    course: Array


def general_method(time: Array, temperature: Array, lethality: Lethality, *, heated_until: float) -> GeneralMethod:
    """Lethality of a reading by the general method.

    Parameters
    ----------
    time, temperature : ndarray, shape (n,)
        Times [s] and readings [degC].
    lethality : Lethality
        Reference temperature and z.
    heated_until : float
        [s].

    Returns
    -------
    GeneralMethod
    """
    rate = lethal_rate(temperature, lethality)
    every_second = np.unique(np.append(np.arange(0, time.size, 2), time.size - 1))
    total = float(np.trapezoid(rate, time))
    wider = float(np.trapezoid(rate[every_second], time[every_second]))
    course = gathered_lethality(time, temperature, lethality)
    return GeneralMethod(
        lethality=float(course[-1]),
        heating=float(np.interp(heated_until, time, course)),
        trapezoids=total,
        trapezoidal_error=(wider - total) / 3.0,
        course=course,
    )
