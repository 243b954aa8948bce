"""The corrected record: the cold spot of the fitted container without its probe, and how sure its lethality is."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.curves.fit import Fit
from thermsim.assess.curves.general_method import GeneralMethod
from thermsim.assess.fields.curve import Curve
from thermsim.assess.fields.lethality import LEAST, gathered_lethality, lethal_rate, lethality_map
from thermsim.assess.fields.nesting import Nesting
from thermsim.assess.measured.model import ProbeModel
from thermsim.assess.measured.result import Corrected
from thermsim.assess.measured.stem import TOLERANCE
from thermsim.assess.simulate.simulation import from_side, simulate_container
from thermsim.assess.spots.brick import brick_log_least
from thermsim.assess.spots.brick_field import unsolved
from thermsim.assess.spots.cold_spot import least_value
from thermsim.case.case import Case, Lethality
from thermsim.solve.basis.reduced import Solver
from thermsim.solve.grid.body import body_of
from thermsim.solve.grid.grid import grid_family
from thermsim.solve.grid.operator import operator_of

Array = NDArray[np.float64]
#: A record is whole if this part of the lethality at most comes after it, counted with what the temperature at the
#: end would bring for so long [s] if it stayed.
LEFT_OUT, STILL = 0.01, 300.0
#: What does not matter to the product without the probe.
_PROBE_ONLY = ("offset", "tip")


def corrected(model: ProbeModel, fit: Fit, read: GeneralMethod, last: float) -> tuple[Corrected | None, float | None]:
    """The cold spot of the fitted container without its probe.

    The interval follows from the fitted parameters' covariance and the slopes of the logarithm of the lethality
    (the delta method). It holds what the fit leaves open, not whether the model is right.

    Parameters
    ----------
    model : ProbeModel
        What was fitted.
    fit : Fit
    read : GeneralMethod
        The lethality of the reading itself.
    last : float
        The record's last sample [s].

    Returns
    -------
    Corrected or None
        None where the record ends while lethality is still gathered.
    float or None
        Then: what the cold spot gathers up to the last sample [s].
    """
    values = [estimate.value for estimate in fit.estimates]
    case = bare(model.case_with(values)[0])
    result, refined = simulate_container(case, once=True)
    spot, curve = result.both_spots[0], result.spots[0]
    if result.brick is not None:
        _, (curve, _) = from_side(result, refined)
    seen = _seen(curve, spot.lethality, case.lethality, last)
    if seen is not None:
        return None, seen
    half = fit.quantile * math.sqrt(max(0.0, _variance(model, fit, values)))
    found = Corrected(
        r=spot.r,
        z=spot.z,
        lethality=spot.lethality,
        heating_lethality=spot.heating_lethality,
        numerical=result.uncertainty[f"{result.body}.least_lethality.lethality"],
        low=spot.lethality * math.exp(-half),
        high=spot.lethality * math.exp(min(half, 700.0)),
        end_of_heating=spot.end_of_heating,
        time=result.time,
        temperature=curve.temperature,
        over_reading=read.lethality / spot.lethality - 1.0,
        heating_over_reading=read.heating / spot.heating_lethality - 1.0,
    )
    return found, None


def _seen(curve: Curve, whole: float, lethality: Lethality, last: float) -> float | None:
    """Lethality of the cold spot up to a record's end [s], if more of the whole comes later than may be left out."""
    time, temperature = curve.time, curve.temperature
    course = gathered_lethality(time, temperature, lethality)
    total, part = float(course[-1]), float(np.interp(last, time, course))
    after = total - part
    # what the process itself would still gather if it went on a little
    after += STILL * float(lethal_rate(temperature[-1:], lethality)[0])
    if after <= LEFT_OUT * total:
        return None
    return part * whole / max(total, LEAST)


def bare(case: Case) -> Case:
    """The case without probes, further places and target."""
    plain = Lethality(case.lethality.reference, case.lethality.z)
    return case.replace(probe=None, probes=(), stock=None, points=(), lethality=plain)


def log_least(case: Case) -> float:
    """Natural logarithm of the least lethality in a container without a probe, from coarser grids."""
    if not unsolved(case):
        return brick_log_least(case)
    coarse, middle, _ = grid_family(body_of(case))
    logs = []
    for grid in (coarse, middle):
        history = Solver(operator_of(grid), tolerance=TOLERANCE, once=True).follow(case.process)
        total, _ = lethality_map(history, case.lethality, case.process.heated_until)
        logs.append(np.log(np.maximum(total, LEAST))[None])
    return least_value(middle, logs[1][0] + Nesting(coarse, middle).correction(*logs)[0])


def _variance(model: ProbeModel, fit: Fit, values: Sequence[float]) -> float:
    """Variance of the logarithm of the least lethality."""
    slopes = np.zeros(len(values))
    for place, parameter in enumerate(model.parameters):
        if parameter.name in _PROBE_ONLY:
            continue
        ends = []
        for sign in (1.0, -1.0):
            other = list(values)
            other[place] = parameter.outer(parameter.inner(values[place]) + sign)
            ends.append(log_least(bare(model.case_with(other)[0])))
        slopes[place] = (ends[0] - ends[1]) / 2.0
    return float(slopes @ fit.covariance @ slopes)
