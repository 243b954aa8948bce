"""The figures of a result as plain numbers in mm, min and degC: what ``--json`` prints, and results files hold."""

from __future__ import annotations

from collections.abc import Iterable

from thermsim.assess.simulate.result import ColdSpot, Result, Target
from thermsim.assess.spots.cold_spot import Spot
from thermsim.assess.spots.input_range import InputRange
from thermsim.assess.spots.zone import Zone
from thermsim.notice import Notice
from thermsim.quantities import ENERGY, LENGTH, LETHALITY, PART, TEMPERATURE, TIME
from thermsim.records.numbers.geometry import container_record, fill_record
from thermsim.records.numbers.keys import AT_A_PLACE, SPOT, course, figures, json_ready, uncertain
from thermsim.records.numbers.probe import advice_record, probe_record, probe_uncertainty
from thermsim.records.numbers.substances import flow_record, headspace_record, product_record
from thermsim.version import __version__

#: Figures of a place in a brick.
IN_BRICK = ("x", "y", "z", "lethality", "heating_lethality", "end_of_heating")
#: Format of the summary.
FORMAT = 1
PROGRAM = "thermsim"


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

    Examples
    --------
    >>> import thermsim
    >>> case = thermsim.read_case("cases/jar.toml").replace(accuracy=thermsim.Accuracy(1.0, 0.2, 5e-3))
    >>> figures = thermsim.summary(thermsim.simulate(case))
    >>> round(figures["cold_spot"]["least_lethality"]["z_mm"])
    106
    """
    case, effort = result.case, result.effort
    found: dict[str, object] = {
        "format": FORMAT,
        "program": {"name": PROGRAM, "version": __version__},
        "title": case.title,
        # whether the map holds is said before any number
        "product_flow": flow_record(case),
        "container": container_record(case.container),
        "fill": fill_record(case),
        "product": product_record(case),
        "headspace": headspace_record(case),
        "lethality": {"reference_C": case.lethality.reference, "z_C": case.lethality.z},
        "cold_spot": _cold_spot(result.cold_spot),
        # of a brick itself; what else stands here is of the cylinder round it, but for the target
        "brick": None
        if result.brick is None
        else {
            name: figures(getattr(result.brick, name), IN_BRICK) for name in ("least_lethality", "slowest_heating")
        },
        "points": [{"name": curve.name, **figures(curve, SPOT), **course(curve)} for curve in result.points],
        "probe": None if result.probe is None else probe_record(result.probe),
        **advice_record(result),
        "input_range": None if result.input_range is None else _input_range(result.input_range),
        "target": None if result.target is None else _target(result.target),
        "energy_balance": {
            **ENERGY.inside().record(heat_in=result.energy.heat_in, stored=result.energy.stored),
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
        "notices": notices_record(result.notices),
    }
    return {key: json_ready(value) for key, value in found.items()}


def notices_record(notices: Iterable[Notice]) -> list[dict[str, object]]:
    """Notices as records."""
    return [
        {"code": notice.code, "severity": notice.severity, "topic": notice.topic, "text": notice.text}
        for notice in notices
    ]


def _input_range(found: InputRange) -> dict[str, object]:
    """Both cold spots at the ends of the films' ranges."""
    return {
        end: {name: _spot(spot) for name, spot in zip(("least_lethality", "slowest_heating"), spots, strict=True)}
        for end, spots in (("films_low", found.low), ("films_high", found.high))
    }


def _cold_spot(cold_spot: ColdSpot) -> dict[str, object]:
    track = cold_spot.track
    return {
        "least_lethality": _spot(cold_spot.least_lethality),
        "slowest_heating": _spot(cold_spot.slowest_heating),
        **figures(cold_spot, ("distance",)),
        "minima": [_spot(spot) for spot in cold_spot.minima],
        "track": [
            {**TIME.record(time=time), **LENGTH.record(r=r, z=z), **TEMPERATURE.record(temperature=temperature)}
            for time, r, z, temperature in zip(track.time, track.r, track.z, track.temperature, strict=True)
        ],
        "zone": _zone(cold_spot.zone),
        "alike": None if cold_spot.alike is None else _zone(cold_spot.alike),
        "arrivals": [
            {**TEMPERATURE.record(temperature=temperature), **TIME.record(time=time)}
            for temperature, time in cold_spot.arrivals
        ],
    }


def _spot(spot: Spot) -> dict[str, object]:
    return {**figures(spot, SPOT), "inside": spot.inside}


def _zone(zone: Zone) -> dict[str, object]:
    return {
        **PART.record(margin=zone.margin),
        **LENGTH.record(
            r=[zone.r_low, zone.r_high],
            z=[zone.z_low, zone.z_high],
            height=zone.z_high - zone.z_low,
            radius=zone.r_high,
        ),
        **figures(zone, ("part",)),
    }


def _target(target: Target) -> dict[str, object]:
    return {
        **LETHALITY.record(lethality=target.lethality, least_lethality=target.least),
        "reached": target.reached,
        **TIME.record(hold=target.hold, required_hold=target.required_hold),
        "remark": target.remark,
    }


def _uncertainty(result: Result) -> dict[str, object]:
    """The uncertainties under the keys of the figures they belong to."""
    known = result.uncertainty

    def of(where: str, names: tuple[str, ...]) -> dict[str, object]:
        return uncertain(known, where, names)

    bounds = ("r_low", "r_high", "z_low", "z_high")
    low_r, high_r, low_z, high_z = (known[f"cold_spot.zone.{bound}"] for bound in bounds)
    arrivals = [known.get(f"cold_spot.arrivals.{k}") for k in range(len(result.cold_spot.arrivals))]
    found: dict[str, object] = {
        "cold_spot": {
            "least_lethality": of("cold_spot.least_lethality", (*SPOT, "temperature")),
            "slowest_heating": of("cold_spot.slowest_heating", (*SPOT, "temperature")),
            **of("cold_spot", ("distance",)),
            "minima": [of(f"cold_spot.minima.{k}", SPOT) for k in range(len(result.cold_spot.minima))],
            "track": of("cold_spot.track", ("temperature",)),
            "zone": {
                **LENGTH.record(r=[low_r, high_r], z=[low_z, high_z], height=low_z + high_z, radius=high_r),
                **of("cold_spot.zone", ("part",)),
            },
            "arrivals": [TIME.record(time=time) for time in arrivals],
        },
        "points": [
            {"name": curve.name, **of(f"points.{k}", (*AT_A_PLACE, "temperature"))}
            for k, curve in enumerate(result.points)
        ],
    }
    if result.brick is not None:
        found["brick"] = {name: of(f"brick.{name}", IN_BRICK) for name in ("least_lethality", "slowest_heating")}
    if result.target is not None:
        found["target"] = of("target", ("least", "required_hold"))
    if result.probe is not None:
        found["probe"] = probe_uncertainty(result)
    return found
