"""The figures of a probe, and of the advice about its depth, as plain numbers in mm, min and degC."""

from __future__ import annotations

from thermsim.assess.curves.heat_penetration import Factors
from thermsim.assess.fields.curve import Curve
from thermsim.assess.probe.advice import Advice, Candidate, Recommendation, Setting, Stem
from thermsim.assess.probe.effect import Bias, ProbeEffect, bias_of
from thermsim.assess.simulate.result import Result
from thermsim.case.container import Container
from thermsim.case.probe import Probe
from thermsim.case.study import CRITERIA
from thermsim.quantities import BIAS, CONDUCTIVITY, DIFFERENCE, LENGTH, LETHALITY, PART, TEMPERATURE, TIME
from thermsim.records.numbers.keys import AT_A_PLACE, SPOT, course, figures, uncertain

#: Parts of the advice in the summary; null where no advice was asked for.
_ADVICE = (
    "recommended",
    "recommended_by_criterion",
    "ladder",
    "candidates",
    "hardware",
    "confirmation_mm",
    "stems",
    "given",
    "offset",
)
_FACTORS = ("f", "j")
#: Of the reading's offset from the cold spot over time.
OFFSET = ("temperature", "temperature_time", "cooling_temperature", "cooling_temperature_time", "end_of_heating")


def correction_factor(recommendation: Recommendation) -> float | None:
    """Factor for the figure that the criterion compares: what it should be over what it is.

    None where the two phases' errors differ by more than the window: one factor would hold for no other process.
    Nothing is gathered in cooling where there is none.
    """
    one = recommendation
    apart = 0.0 if one.cooling_over_reading == 0.0 else abs(one.heating_over_reading - one.cooling_over_reading)
    if one.criterion == "least lethality" and apart > one.margin:
        return None
    return 1.0 / (1.0 + one.over_reading)


def phase_factors(recommendation: Recommendation) -> dict[str, float]:
    """The same for what is gathered until heating ends, and in cooling."""
    one = recommendation
    return {
        "heating": 1.0 / (1.0 + one.heating_over_reading),
        "cooling": 1.0 / (1.0 + one.cooling_over_reading),
    }


def shown_spot(result: Result) -> Curve:
    """Course at the undisturbed cold spot that the reading is to show, that of least lethality by default."""
    return result.spots[0 if result.advice is None else CRITERIA.index(result.advice.criterion)]


def offset(result: Result) -> Bias:
    """The reading held against that cold spot.

    Raises
    ------
    ValueError
        If the result holds no probe.
    """
    if result.probe is None:
        raise ValueError("the result holds no probe")
    return bias_of(result.probe.reading, shown_spot(result), result.case.process.heated_until)


def histories_csv(result: Result) -> str:
    """Reading of the probe over time as CSV, beside its place without it and the cold spot it is to show.

    The last column is the offset to correct the curve by: the reading less the cold spot.
    """
    effect, spot = result.probe, shown_spot(result)
    if effect is None:
        raise ValueError("the result holds no probe")
    columns = {
        TIME.key(): TIME.edge(spot.time),
        TEMPERATURE.key("reading"): effect.reading.temperature,
        TEMPERATURE.key("without_probe"): effect.without_probe.temperature,
        TEMPERATURE.key(spot.name.replace(" ", "_")): spot.temperature,
        DIFFERENCE.key("offset"): effect.reading.temperature - spot.temperature,
    }
    rows = zip(*columns.values(), strict=True)
    return "\n".join([",".join(columns), *(",".join(f"{value:.4f}" for value in row) for row in rows), ""])


def tip_at(depth: float, probe: Probe, container: Container) -> float:
    """Height z of a probe's tip [m] that is at a depth below the outer face of the wall it enters [m].

    Of one from the side its distance from the container's axis towards the entry, below 0 beyond it.
    """
    tip = probe.at_depth(depth, container).tip(container)
    if tip is None:
        raise ValueError("a probe at a depth has a tip")
    return tip


def probe_record(effect: ProbeEffect) -> dict[str, object]:
    """Reading and effect of a probe.

    Parameters
    ----------
    effect : ProbeEffect

    Returns
    -------
    dict
        ``bias`` holds the reading against the same place without the probe, ``bias_to_cold_spot`` against the
        undisturbed least-lethality place.
    """
    probe, least = effect.probe, effect.least_lethality
    return {
        "name": probe.name,
        "entry": probe.entry,
        **_edge(probe),
        **LENGTH.record(z=probe.z),
        "mount": probe.mount,
        **LENGTH.record(insertion=effect.depth),
        "tip": figures(effect.reading, ("r", "z")),
        "reading": _curve(effect.reading),
        "without_probe": _curve(effect.without_probe),
        "bias": figures(effect.at_place, tuple(BIAS), BIAS),
        "bias_to_cold_spot": figures(effect.at_cold_spot, tuple(BIAS), BIAS),
        "heat_penetration": {
            "reading": _factors(effect.factors),
            "without_probe": _factors(effect.factors_without),
        },
        "least_lethality": {
            **figures(least, SPOT),
            "inside": least.inside,
            "beside_stem": effect.beside_stem,
            **figures(effect, ("moved",)),
        },
    }


def _curve(curve: Curve) -> dict[str, object]:
    return {**figures(curve, AT_A_PLACE), **course(curve)}


def _factors(factors: Factors | None) -> dict[str, object] | None:
    return None if factors is None else figures(factors, _FACTORS)


def probe_uncertainty(result: Result) -> dict[str, object]:
    """The uncertainties of :func:`probe_record`'s figures, under the same keys."""
    known = result.uncertainty
    return {
        "reading": uncertain(known, "probe.reading", (*AT_A_PLACE, "temperature")),
        "without_probe": uncertain(known, "probe.without_probe", (*AT_A_PLACE, "temperature")),
        "bias": uncertain(known, "probe.at_place", tuple(BIAS), BIAS),
        "bias_to_cold_spot": uncertain(known, "probe.at_cold_spot", tuple(BIAS), BIAS),
        "heat_penetration": {
            # a coarser computation may not have found them
            "reading": uncertain(known, "probe.factors", _FACTORS) or None,
            "without_probe": uncertain(known, "probe.factors_without", _FACTORS) or None,
        },
        "least_lethality": {
            **uncertain(known, "probe.least_lethality", SPOT),
            **uncertain(known, "probe", ("moved",)),
        },
    }


def advice_record(result: Result) -> dict[str, object]:
    """The advice about a probe's depth, as entries of the summary; each None where none was asked for.

    Parameters
    ----------
    result : Result

    Returns
    -------
    dict
        ``recommended`` and ``ladder`` are of the case's own probe; ``ladder`` and ``candidates`` go by the chosen
        criterion. In a recommendation ``least_lethality_min`` is what the figure named by ``compared`` should be.
    """
    advice, container = result.advice, result.case.container
    if advice is None:
        return dict.fromkeys(_ADVICE)
    return {
        "recommended": _recommendation(advice.own.recommended(advice.criterion)),
        "recommended_by_criterion": {
            criterion.replace(" ", "_"): _recommendation(advice.own.recommended(criterion)) for criterion in CRITERIA
        },
        "ladder": _ladder(advice, container),
        "candidates": [_candidate(advice, one) for one in advice.candidates],
        "hardware": [_setting(one) for one in advice.settings],
        **LENGTH.record(confirmation=advice.confirmation),
        "stems": [_stem(one) for one in advice.stems],
        "given": None if advice.given is None else _depth_and_worth(advice.given),
        # of the reading at the recommended depth from the cold spot that it is to show
        "offset": None if result.probe is None else figures(offset(result), OFFSET, BIAS),
    }


def _recommendation(one: Recommendation) -> dict[str, object]:
    whole = one.criterion == "least lethality"
    return {
        **_depth_and_worth(one),
        **PART.record(margin=one.margin),
        **LETHALITY.record(reading_lethality=one.lethality, reading_heating_lethality=one.heating_lethality),
        **TEMPERATURE.record(reading_end_of_heating=one.end_of_heating),
        "compared": "reading_lethality_min" if whole else "reading_heating_lethality_min",
        **LETHALITY.record(least_lethality=one.truth),
        "criterion": one.criterion,
        "correction_factor": correction_factor(one),
        "correction_factors": phase_factors(one),
    }


def _depth_and_worth(one: Recommendation) -> dict[str, object]:
    return {
        **LENGTH.record(insertion=one.depth, window=one.window),
        **PART.record(
            mismatch=one.mismatch,
            over_reading=one.over_reading,
            heating_over_reading=one.heating_over_reading,
            cooling_over_reading=one.cooling_over_reading,
            heating_bias=one.heating_bias,
            uncertainty=one.uncertainty,
            mismatch_uncertainty=one.mismatch_uncertainty,
        ),
        "good": one.good,
        "at_limit": one.at_limit,
        **LENGTH.record(needed_length=one.needed_length),
    }


def _edge(probe: Probe) -> dict[str, object]:
    """The edge of a brick that a probe enters, if it does."""
    return {"edge": probe.edge} if probe.edge else {}


def _candidate(advice: Advice, candidate: Candidate) -> dict[str, object]:
    return {
        "name": candidate.probe.name,
        "entry": candidate.probe.entry,
        **_edge(candidate.probe),
        **LENGTH.record(z=candidate.probe.z),
        "own": candidate is advice.own,
        **_depth_and_worth(candidate.recommended(advice.criterion)),
    }


def _ladder(advice: Advice, container: Container) -> list[dict[str, object]]:
    own, criterion = advice.own, advice.criterion
    truth = own.recommended(criterion).truth
    return [
        {
            **LENGTH.record(insertion=rung.depth, **_tip(rung.depth, own.probe, container)),
            **LETHALITY.record(reading_lethality=rung.lethality, heating_lethality=rung.heating_lethality),
            **TEMPERATURE.record(end_of_heating=rung.end_of_heating),
            **PART.record(
                mismatch=own.profile.at(rung.depth, criterion),
                over_reading=rung.measure(criterion) / truth - 1.0,
            ),
            **LETHALITY.record(
                without_probe_lethality=rung.without_lethality,
                without_probe_heating_lethality=rung.without_heating,
            ),
            **TEMPERATURE.record(without_probe_end_of_heating=rung.without_end),
        }
        for rung in own.ladder
    ]


def _tip(depth: float, probe: Probe, container: Container) -> dict[str, float | None]:
    """Place of the tip [m]: its height, and its distance from the axis towards the side that is entered."""
    place = tip_at(depth, probe, container)
    if probe.entry == "side":
        return {"tip_z": probe.z, "tip_from_axis": place}
    return {"tip_z": place, "tip_from_axis": 0.0}


def _setting(setting: Setting) -> dict[str, object]:
    one = setting.worth
    return {
        **LENGTH.record(insertion=setting.depth, misfit=setting.misfit),
        "in_window": setting.in_window,
        **LENGTH.record(probe_length=setting.length, stick_out=setting.stick_out, spacers=setting.spacers),
        **LETHALITY.record(reading_lethality=None if one is None else one.lethality),
        **PART.record(
            mismatch=None if one is None else one.mismatch,
            heating_over_reading=None if one is None else one.heating_over_reading,
        ),
    }


def _stem(stem: Stem) -> dict[str, object]:
    return {
        **LENGTH.record(diameter=stem.diameter),
        **CONDUCTIVITY.record(conductivity=stem.conductivity),
        **PART.record(heating_bias=stem.heating_bias),
        **DIFFERENCE.record(end_of_heating=stem.temperature),
    }
