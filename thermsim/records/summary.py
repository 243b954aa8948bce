"""The figures of a result as plain numbers in mm, min and degC: what ``--json`` prints, and results files hold."""

from __future__ import annotations

import math
from collections.abc import Mapping

import thermsim
from thermsim.assess.cold_spot import Spot, Zone
from thermsim.assess.curve import Curve
from thermsim.assess.result import ColdSpot, Result, Target

#: Format of the summary.
FORMAT = 1
PROGRAM = "thermsim"

_MM, _MIN, _PERCENT = 1e3, 1.0 / 60.0, 100.0
#: A figure's key in the file and the factor from its SI unit.
KEYS: Mapping[str, tuple[str, float]] = {
    "r": ("r_mm", _MM),
    "z": ("z_mm", _MM),
    "distance": ("distance_mm", _MM),
    "lethality": ("lethality_min", _MIN),
    "heating_lethality": ("heating_lethality_min", _MIN),
    "end_of_heating": ("end_of_heating_C", 1.0),
    "temperature": ("temperature_C", 1.0),
    "part": ("product_percent", _PERCENT),
    "least": ("least_lethality_min", _MIN),
    "required_hold": ("required_hold_min", _MIN),
}
_AT_A_PLACE = ("lethality", "heating_lethality", "end_of_heating")
_SPOT = ("r", "z", *_AT_A_PLACE)


def summary(result: Result) -> dict[str, object]:
    """The figures of a result, ready for JSON.

    Parameters
    ----------
    result : Result

    Returns
    -------
    dict
        Nested dictionaries and lists of plain numbers at full precision; each key carries its unit. A number that
        does not exist (a track's place before the core has begun to warm) is None. ``numerical_uncertainty`` has
        the keys of the figures it belongs to and their units (K for a temperature).
    """
    case, effort = result.case, result.effort
    found: dict[str, object] = {
        "format": FORMAT,
        "program": {"name": PROGRAM, "version": thermsim.__version__},
        "title": case.title,
        "lethality": {"reference_C": case.lethality.reference, "z_C": case.lethality.z},
        "cold_spot": _cold_spot(result.cold_spot),
        "points": [{"name": curve.name, **_figures(curve, _SPOT), **_course(curve)} for curve in result.points],
        "target": None if result.target is None else _target(result.target),
        "energy_balance": {
            "heat_in_J": result.energy.heat_in,
            "stored_J": result.energy.stored,
            "relative_defect": result.energy.relative_defect,
        },
        "numerical_uncertainty": _uncertainty(result),
        "effort": {
            "nodes": effort.nodes,
            "steps": effort.steps,
            "rejected_steps": effort.rejected,
            "refinement": effort.refinement,
            "tolerance_K": effort.tolerance,
            "seconds": effort.seconds,
        },
        "warnings": list(result.warnings),
    }
    return {key: _plain(value) for key, value in found.items()}


def _cold_spot(cold_spot: ColdSpot) -> dict[str, object]:
    track = cold_spot.track
    return {
        "least_lethality": _spot(cold_spot.least_lethality),
        "slowest_heating": _spot(cold_spot.slowest_heating),
        **_figures(cold_spot, ("distance",)),
        "minima": [_spot(spot) for spot in cold_spot.minima],
        "track": [
            {"time_min": time * _MIN, "r_mm": r * _MM, "z_mm": z * _MM, "temperature_C": temperature}
            for time, r, z, temperature in zip(track.time, track.r, track.z, track.temperature, strict=True)
        ],
        "zone": _zone(cold_spot.zone),
        "arrivals": [
            {"temperature_C": temperature, "time_min": None if time is None else time * _MIN}
            for temperature, time in cold_spot.arrivals
        ],
    }


def _spot(spot: Spot) -> dict[str, object]:
    return {**_figures(spot, _SPOT), "inside": spot.inside}


def _figures(whole: object, names: tuple[str, ...]) -> dict[str, object]:
    """Attributes of a part of the result under their keys, in their units."""
    return {KEYS[name][0]: getattr(whole, name) * KEYS[name][1] for name in names}


def _course(curve: Curve) -> dict[str, object]:
    return {"time_min": (curve.time * _MIN).tolist(), "temperature_C": curve.temperature.tolist()}


def _zone(zone: Zone) -> dict[str, object]:
    return {
        "margin_percent": zone.margin * _PERCENT,
        "r_mm": [zone.r_low * _MM, zone.r_high * _MM],
        "z_mm": [zone.z_low * _MM, zone.z_high * _MM],
        "height_mm": (zone.z_high - zone.z_low) * _MM,
        "radius_mm": zone.r_high * _MM,
        **_figures(zone, ("part",)),
    }


def _target(target: Target) -> dict[str, object]:
    return {
        "lethality_min": target.lethality * _MIN,
        "least_lethality_min": target.least * _MIN,
        "reached": target.reached,
        "hold_min": None if target.hold is None else target.hold * _MIN,
        "required_hold_min": None if target.required_hold is None else target.required_hold * _MIN,
        "remark": target.remark,
    }


def _uncertainty(result: Result) -> dict[str, object]:
    """The uncertainties under the keys of the figures they belong to."""
    known = result.uncertainty

    def of(where: str, names: tuple[str, ...]) -> dict[str, object]:
        return {KEYS[name][0]: known[f"{where}.{name}"] * KEYS[name][1] for name in names}

    bounds = ("r_low", "r_high", "z_low", "z_high")
    low_r, high_r, low_z, high_z = (known[f"cold_spot.zone.{bound}"] * _MM for bound in bounds)
    arrivals = [known.get(f"cold_spot.arrivals.{k}") for k in range(len(result.cold_spot.arrivals))]
    found: dict[str, object] = {
        "cold_spot": {
            "least_lethality": of("cold_spot.least_lethality", (*_SPOT, "temperature")),
            "slowest_heating": of("cold_spot.slowest_heating", (*_SPOT, "temperature")),
            **of("cold_spot", ("distance",)),
            "minima": [of(f"cold_spot.minima.{k}", _SPOT) for k in range(len(result.cold_spot.minima))],
            "track": of("cold_spot.track", ("temperature",)),
            "zone": {
                "r_mm": [low_r, high_r],
                "z_mm": [low_z, high_z],
                "height_mm": low_z + high_z,
                "radius_mm": high_r,
                **of("cold_spot.zone", ("part",)),
            },
            "arrivals": [{"time_min": None if time is None else time * _MIN} for time in arrivals],
        },
        "points": [
            {"name": curve.name, **of(f"points.{k}", (*_AT_A_PLACE, "temperature"))}
            for k, curve in enumerate(result.points)
        ],
    }
    if result.target is not None:
        names = ("least", "required_hold") if "target.required_hold" in known else ("least",)
        found["target"] = of("target", names)
    return found


def _plain(value: object) -> object:
    """The same with Python's own numbers, and None in place of those that JSON has no word for."""
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_plain(item) for item in value]
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    return value
