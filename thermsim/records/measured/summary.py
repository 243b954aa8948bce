"""The figures of a comparison for machines, in mm, min and degC."""

from __future__ import annotations

import dataclasses
import hashlib
import math

import numpy as np

from thermsim.assess.curves.heat_penetration import Penetration
from thermsim.assess.measured.cautions import AUTHORITY, INTERVALS
from thermsim.assess.measured.model import FITTED
from thermsim.assess.measured.result import Check, Comparison, DesignRow, Measured, Misfit
from thermsim.records.numbers.summary import PROGRAM, notices_record
from thermsim.version import __version__

MIN, MM = 1 / 60.0, 1e3

Tree = dict[str, object]


def measured_summary(found: Comparison) -> Tree:
    """All figures of a comparison as a JSON tree, units in the names.

    Parameters
    ----------
    found : Comparison

    Returns
    -------
    dict
        Numbers that JSON has no word for are None.
    """
    case, run = found.case, found.run
    target = found.plan.target if found.plan.target is not None else case.lethality.target
    tree: Tree = {
        "program": f"{PROGRAM} {__version__}",
        "title": case.title,
        "files": {
            "logger": {"name": run.file, "sha256": run.sha256},
            "case": {"name": case.file, "sha256": hashlib.sha256(case.text.encode("utf-8")).hexdigest()},
        },
        "lethality": {
            "reference_C": case.lethality.reference,
            "z_K": case.lethality.z,
            "target_min": None if target is None else target * MIN,
        },
        "come_up_credit": found.plan.credit,
        "containers": [_container(one) for one in found.containers],
        "slowest": found.containers[found.slowest].name,
        "limits": dataclasses.asdict(found.plan.limits),
        "checks": [_check(check) for check in found.checks],
        "decision": AUTHORITY,
        "process_design": [_row(row) for row in found.design],
        "notes": list(found.notes),
        "notices": notices_record(found.notices),
        "intervals": INTERVALS,
    }
    return {key: _plain(value) for key, value in tree.items()}


def _container(one: Measured) -> Tree:
    tree: Tree = {
        "name": one.name,
        "insertion_mm": one.insertion * MM,
        "samples": int(one.time.size),
        "logger": {
            "lethality_min": one.general.lethality * MIN,
            "heating_lethality_min": one.general.heating * MIN,
            "trapezoids_min": one.general.trapezoids * MIN,
            "trapezoidal_error_min": one.general.trapezoidal_error * MIN,
        },
        "heating": _factors(one.heating),
        "cooling": _factors(one.cooling),
        "against_case": {
            **_misfit(one.as_case.misfit),
            "heating": _factors(one.as_case.heating),
            "cooling": _factors(one.as_case.cooling),
        },
    }
    if one.fit is not None:
        tree["fit"] = {
            "parameters": [
                {
                    "name": estimate.name,
                    "unit": FITTED[estimate.name][0],
                    "value": estimate.value,
                    "low": estimate.low,
                    "high": estimate.high,
                    "start": estimate.start,
                    "at_bound": estimate.at_bound,
                }
                for estimate in one.fit.estimates
            ],
            "correlation": one.fit.correlation.tolist(),
            "correlation_time_samples": one.fit.correlation_time,
            "cannot_be_told_apart": [list(pair) for pair in one.fit.indistinct],
            "converged": one.fit.converged,
        }
    if one.fitted is not None:
        tree["against_fit"] = {
            **_misfit(one.fitted.misfit),
            "heating": _factors(one.fitted.heating),
            "cooling": _factors(one.fitted.cooling),
        }
    if one.corrected is not None:
        spot = one.corrected
        tree["corrected"] = {
            "r_mm": spot.r * MM,
            "z_mm": spot.z * MM,
            "lethality_min": spot.lethality * MIN,
            "low_min": spot.low * MIN,
            "high_min": spot.high * MIN,
            "numerical_uncertainty_min": spot.numerical * MIN,
            "heating_lethality_min": spot.heating_lethality * MIN,
            "end_of_heating_C": spot.end_of_heating,
            "logger_over_reads_percent": 100.0 * spot.over_reading,
            "logger_over_reads_until_heating_ends_percent": 100.0 * spot.heating_over_reading,
        }
    if one.predicted is not None:
        tree["predicted_lethality_min"] = one.predicted * MIN
    return tree


def _misfit(misfit: Misfit) -> Tree:
    return {
        "bias_K": misfit.bias,
        "rms_K": misfit.rms,
        "largest_K": misfit.largest,
        "largest_at_min": misfit.time * MIN,
    }


def _factors(found: Penetration | None) -> Tree | None:
    if found is None:
        return None
    tree: Tree = {
        "medium_C": found.medium,
        "start_C": found.start,
        "zero_min": found.zero * MIN,
        "remark": found.remark,
    }
    if found.line is not None:
        line = found.line
        tree |= {
            "f_min": line.f * MIN,
            "f_interval_min": [line.f_low * MIN, line.f_high * MIN],
            "j": line.j,
            "j_interval": [line.j_low, line.j_high],
            "straight_min": [line.start * MIN, line.end * MIN],
            "straight_found": line.automatic,
            "samples": line.samples,
        }
    if found.broken is not None:
        tree["break"] = {
            "at_min": found.broken.time * MIN,
            "f_before_min": found.broken.before * MIN,
            "f_after_min": found.broken.after * MIN,
            "clear": found.broken.clear,
        }
    return tree


def _check(check: Check) -> Tree:
    return {"name": check.name, "found": check.statement, "limit": check.limit, "within": check.within}


def _row(row: DesignRow) -> Tree:
    return {
        "deviation": row.name,
        "lethality_of_planned_time_min": row.lethality * MIN,
        "hold_min": None if row.hold is None else row.hold * MIN,
        "hold_uncertainty_min": row.uncertainty * MIN,
        "steam_on_to_cooling_min": None if row.heating is None else row.heating * MIN,
        "remark": row.remark,
    }


def _plain(value: object) -> object:
    """The same with None in place of numbers that JSON has no word for."""
    if isinstance(value, np.bool_):
        return bool(value)
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_plain(item) for item in value]
    if isinstance(value, float | np.floating):
        return float(value) if math.isfinite(value) else None
    return value
