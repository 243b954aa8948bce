"""The figures of a comparison for machines, in mm, min and degC."""

from __future__ import annotations

import dataclasses
import hashlib

from thermsim.assess.curves.heat_penetration import Penetration
from thermsim.assess.measured.cautions import AUTHORITY, INTERVALS
from thermsim.assess.measured.model import FITTED
from thermsim.assess.measured.result import Check, Comparison, DesignRow, Measured, Misfit
from thermsim.quantities import DIFFERENCE, LENGTH, LETHALITY, PART, TEMPERATURE, TIME
from thermsim.records.numbers.keys import json_ready
from thermsim.records.numbers.summary import PROGRAM, notices_record
from thermsim.version import __version__

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
            **TEMPERATURE.record(reference=case.lethality.reference),
            **DIFFERENCE.record(z=case.lethality.z),
            **LETHALITY.record(target=target),
        },
        "come_up_credit": found.plan.credit,
        "containers": [_container(one) for one in found.containers],
        "slowest": found.containers[found.slowest].name,
        "limits": dataclasses.asdict(found.plan.limits),
        "checks": [_check(check) for check in found.checks],
        "decision": AUTHORITY,
        "process_design_of": None if found.designed is None else found.containers[found.designed].name,
        "process_design": [_row(row) for row in found.design],
        "process_design_in_doubt": bool(found.design) and not found.design_stands,
        "notes": list(found.notes),
        "notices": notices_record(found.notices),
        "intervals": INTERVALS,
    }
    return {key: json_ready(value) for key, value in tree.items()}


def _container(one: Measured) -> Tree:
    tree: Tree = {
        "name": one.name,
        "channel": one.channel,
        **LENGTH.record(insertion=one.insertion),
        "samples": int(one.time.size),
        "logger": LETHALITY.record(
            lethality=one.general.lethality,
            heating_lethality=one.general.heating,
            trapezoids=one.general.trapezoids,
            trapezoidal_error=one.general.trapezoidal_error,
        ),
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
                    "unit": FITTED[estimate.name][0].si,
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
            **LENGTH.record(r=spot.r, z=spot.z),
            **LETHALITY.record(
                lethality=spot.lethality,
                low=spot.low,
                high=spot.high,
                numerical_uncertainty=spot.numerical,
                heating_lethality=spot.heating_lethality,
            ),
            **TEMPERATURE.record(end_of_heating=spot.end_of_heating),
            **PART.record(
                logger_over_reads=spot.over_reading,
                logger_over_reads_until_heating_ends=spot.heating_over_reading,
            ),
        }
    if one.depth is not None:
        depth = one.depth
        tree["depth_found"] = {
            **LENGTH.record(best=depth.best, low=depth.low, high=depth.high, others=list(depth.others)),
            "gain": depth.gain,
        }
    if one.there is not None:
        tree |= LETHALITY.record(corrected_as_found=one.there)
    if one.held is not None:
        tree["if_heated_until_it_turned"] = {
            **TIME.record(later=one.held.later),
            **LETHALITY.record(corrected=one.held.lethality),
            **DIFFERENCE.record(left_over=one.held.rms, left_over_if_clocks_differ=one.held.against),
        }
    if one.seen is not None:
        tree |= LETHALITY.record(cold_spot_up_to_the_last_sample=one.seen)
    if one.failure is not None:
        tree["failure"] = {"kind": one.failure.kind, **TIME.record(time=one.failure.time)}
    tree["in_doubt"] = not one.sound
    tree["factors_in_doubt"] = not one.factors_stand
    tree["flags"] = notices_record(one.flags)
    if one.predicted is not None:
        tree |= LETHALITY.record(predicted_lethality=one.predicted)
    return tree


def _misfit(misfit: Misfit) -> Tree:
    return {
        **DIFFERENCE.record(bias=misfit.bias, rms=misfit.rms, largest=misfit.largest),
        **TIME.record(largest_at=misfit.time),
    }


def _factors(found: Penetration | None) -> Tree | None:
    if found is None:
        return None
    tree: Tree = {
        **TEMPERATURE.record(medium=found.medium, start=found.start),
        **TIME.record(zero=found.zero),
        "remark": found.remark,
    }
    if found.line is not None:
        line = found.line
        tree |= {
            **TIME.record(f=line.f, f_interval=[line.f_low, line.f_high]),
            "j": line.j,
            "j_interval": [line.j_low, line.j_high],
            **TIME.record(straight=[line.start, line.end]),
            "straight_found": line.automatic,
            "samples": line.samples,
        }
    if found.broken is not None:
        tree["break"] = {
            **TIME.record(at=found.broken.time, f_before=found.broken.before, f_after=found.broken.after),
            "clear": found.broken.clear,
        }
    return tree


def _check(check: Check) -> Tree:
    return {"name": check.name, "found": check.statement, "limit": check.limit, "within": check.within}


def _row(row: DesignRow) -> Tree:
    return {
        "deviation": row.name,
        **LETHALITY.record(lethality_of_planned_time=row.lethality),
        **TIME.record(hold=row.hold, hold_uncertainty=row.uncertainty, steam_on_to_cooling=row.heating),
        "remark": row.remark,
    }
