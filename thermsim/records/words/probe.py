"""Reading of a probe and its effect in plain text for the terminal."""

from __future__ import annotations

from thermsim.assess.probe.effect import ProbeEffect
from thermsim.assess.probe.mismatch import GOOD, Truth
from thermsim.assess.simulate.result import Result
from thermsim.case.probe import Probe
from thermsim.quantities import DIFFERENCE, minutes, percent
from thermsim.records.numbers.probe import offset, shown_spot
from thermsim.records.words.figure_text import bias, figure, millimetres
from thermsim.records.words.geometry import seam_sentence
from thermsim.records.words.parts import Entry
from thermsim.text import plain


def reading_sentences(result: Result, effect: ProbeEffect) -> list[Entry]:
    """Reading of a probe, and how far it is off, as labels and texts."""
    symbol = result.case.lethality.symbol
    tip = f"z = {millimetres(effect.reading.z)} mm, {millimetres(effect.depth)} mm"
    if effect.probe.entry == "side":
        tip = f"r = {millimetres(effect.reading.r)} mm, {tip}"
    # beside an advice it is said there
    seam = "" if result.advice else seam_sentence(result.case.container, effect.probe, effect.depth)
    return [
        ("Probe", f"{named(effect.probe)}, tip at {tip} from the outer face of the {effect.probe.wall}"),
        *([("", seam)] if seam else []),
        (
            "",
            f"reads {symbol} = {figure(result, 'probe.reading.lethality')}, "
            f"{figure(result, 'probe.reading.heating_lethality')} before heating ends, "
            f"{figure(result, 'probe.reading.end_of_heating')} when it ends",
        ),
        ("Probe's bias", f"against its place without it: {phases(result, 'probe.at_place')}"),
        *_mismatch(result, effect),
    ]


def _mismatch(result: Result, effect: ProbeEffect) -> list[Entry]:
    """Mismatch at a depth that was given, and where to look for a better one."""
    if result.advice is not None:
        return []
    case = result.case
    truth = Truth("least lethality", result.spots[0], case.lethality, case.process.heated_until)
    mismatch = float(truth.mismatch(effect.reading.temperature))
    over = effect.reading.heating_lethality / truth.curve.heating_lethality - 1.0
    verdict = "good" if mismatch <= GOOD and over <= GOOD else "NOT GOOD"
    return [
        (
            "",
            f"at this depth: mismatch {percent(mismatch):.1f} % of lethality with the least-lethality place "
            f"({verdict}: reads {percent(over):+z.1f} % until heating ends); "
            "a recommendation (thermsim depth) finds the best",
        )
    ]


def effect_sentences(result: Result, effect: ProbeEffect) -> list[Entry]:
    """Further effects of a probe, as labels and texts."""
    least, symbol = "probe.least_lethality", result.case.lethality.symbol
    beside = "on the probe's surface" if effect.beside_stem else "not at the probe"
    entries = [
        ("Largest bias", largest(result, effect)),
        ("Offset", offset_text(result)),
        ("", f"against the undisturbed least lethality: {phases(result, 'probe.at_cold_spot')}"),
    ]
    if effect.factors is not None or effect.factors_without is not None:
        entries.append(
            ("Heating curve", f"{factors(result, 'factors')}; without the probe {factors(result, 'factors_without')}")
        )
    entries.append(
        (
            "Its cold spot",
            f"with the probe in it the product has its least lethality, {symbol} = "
            f"{figure(result, f'{least}.lethality')}, "
            f"at r = {figure(result, f'{least}.r')}, z = {figure(result, f'{least}.z')}, {beside}, "
            f"{figure(result, 'probe.moved')} from the undisturbed one",
        )
    )
    return entries


def phases(result: Result, name: str) -> str:
    """A bias of lethality in both phases and in all; ``name`` is the dotted name of the bias."""
    heating = f"{bias(result, f'{name}.heating_lethality')} of lethality while heating"
    if not cooled(result):
        return f"{heating}, which is all"
    return (
        f"{heating}, {bias(result, f'{name}.cooling_lethality')} in cooling, "
        f"{bias(result, f'{name}.lethality')} in all"
    )


def largest(result: Result, effect: ProbeEffect) -> str:
    """The largest differences of temperature from the probe's place without it, and when."""
    one, name = effect.at_place, "probe.at_place"
    cooling = (
        f"{bias(result, f'{name}.cooling_temperature')} in cooling (after "
        f"{minutes(one.cooling_temperature_time):.0f} min), "
        if cooled(result)
        else ""
    )
    return (
        f"up to {bias(result, f'{name}.temperature')} while heating (after {minutes(one.temperature_time):.0f} min), "
        f"{cooling}{bias(result, f'{name}.end_of_heating')} when heating ends"
    )


def offset_text(result: Result) -> str:
    """The reading's largest offsets [K] from the cold spot that it is to show, in both phases."""
    found, spot = offset(result), shown_spot(result)
    cooling = ""
    if cooled(result):
        cooling = (
            f", up to {DIFFERENCE.text(found.cooling_temperature, signed=True)} in cooling (after "
            f"{minutes(found.cooling_temperature_time):.0f} min)"
        )
    return (
        f"the reading less the place of {spot.name}: up to {DIFFERENCE.text(found.temperature, signed=True)} while "
        f"heating (after {minutes(found.temperature_time):.0f} min), "
        f"{DIFFERENCE.text(found.end_of_heating, signed=True)} when heating ends{cooling}"
    )


def cooled(result: Result) -> bool:
    """Tell whether the process goes on after heating ends."""
    return result.case.process.heated_until < result.case.process.end


def factors(result: Result, name: str) -> str:
    """Heat-penetration factors by the name of the attribute of the probe's effect."""
    if getattr(result.probe, name) is None:
        return "no straight part to take fh and jh from"
    return f"fh = {figure(result, f'probe.{name}.f')}, jh = {figure(result, f'probe.{name}.j')}"


def named(probe: Probe) -> str:
    """A probe by its name and the wall it enters."""
    way = f"through the {probe.wall}" if probe.mount == "through" else f"inside, on the {probe.wall}"
    return f'"{plain(probe.name)}" {way}'
