"""Content of a bench sheet for a product that convects: where the trade looks, and whether a probe reaches it."""

from __future__ import annotations

import dataclasses
import math

from thermsim.assess.depth.limits import allowed_depths, set_to
from thermsim.assess.probe.advice import Setting
from thermsim.assess.probe.hardware import made_up, settings
from thermsim.assess.simulate.result import Result
from thermsim.case.case import Case
from thermsim.case.probe import Probe
from thermsim.figures.bench.setting import Bench, Row
from thermsim.figures.container.probe_outline import datum
from thermsim.figures.probe.ladder import advice_of
from thermsim.physics.convection import LOWER_BAND, TRADE_BAND, lower_band
from thermsim.quantities import LENGTH, percent
from thermsim.systems import nominal

#: Heights to measure at, as parts of the product's depth: the band's ends, and two above it (own choice).
PARTS = (*LOWER_BAND, 0.25, 0.5)


def band(case: Case) -> tuple[float, float]:
    """Heights z between which the trade looks for the cold spot of a product that convects [m], on the axis."""
    low, high = lower_band(case.surface - case.bottom)
    return case.bottom + low, case.bottom + high


def insertion(probe: Probe, case: Case, z: float) -> float:
    """Depth from the datum that brings the tip to a height z on the axis [m]."""
    container = case.container
    if probe.entry == "side":
        return probe.side_face(container)
    return container.outer_height - z if probe.entry == "lid" else z - container.crown


def reaching(case: Case, probe: Probe, low: float, high: float) -> tuple[Setting | None, bool]:
    """The hardware that comes nearest to the middle of two heights z [m], and whether it gets between them."""
    depths = sorted(insertion(probe, case, z) for z in (low, high))
    middle = sum(depths) / 2
    if case.stock is None:
        limits = allowed_depths(case, probe)
        fits = limits is not None and limits[0] <= depths[1] and depths[0] <= limits[1]
        return None, fits
    stick = max((*case.stock.lengths, probe.length)) if probe.mount == "through" else None
    limits = allowed_depths(case, probe, stick)
    if limits is None:
        return None, False
    found = settings(case.stock, probe, case.container, depth=middle, window=(depths[0], depths[1]), limits=limits)
    return (found[0], found[0].in_window) if found else (None, False)


def of_the_trade(result: Result, bench: Bench) -> Bench:
    """The sheet's setting with the probe where the trade looks, or as near to it as the hardware gets."""
    case, probe = result.case, advice_of(result).own.probe
    low, high = band(case)
    setting, fits = reaching(case, probe, low, high)
    if probe.entry == "side":
        probe = probe.at_height((low + high) / 2)
    if setting is not None:
        probe, depth = made_up(probe, setting, case.container), setting.depth
    else:
        depth, limits = insertion(probe, case, (low + high) / 2), allowed_depths(case, probe, math.inf)
        if limits is not None:  # a fitting may reach as far as that
            depth = min(max(depth, limits[0]), limits[1])
        probe = set_to(case, probe, depth) if probe.mount == "through" else probe
        depth = probe.depth(case.container) or depth
    return dataclasses.replace(bench, probe=probe, depth=depth, setting=setting, confirmation=(), at_hand=fits)


def height_rows(result: Result, bench: Bench) -> list[Row]:
    """Rows that say at which height to measure, in place of a computed depth."""
    case, probe = result.case, bench.probe
    low, high = band(case)
    ends = sorted(insertion(probe, case, z) for z in (low, high))
    shares = " to ".join(f"{percent(part):g}" for part in LOWER_BAND)
    trade = f"{LENGTH.number(TRADE_BAND[0])} to {LENGTH.text(TRADE_BAND[1])}"
    above = f"{LENGTH.number(low - case.bottom)} to {LENGTH.text(high - case.bottom)}"
    rows = [
        Row("datum", datum(probe, case.container), strong=True),
        Row("tip above the inside of the base", above, big=True),
        Row("from", f"{shares} % of the product's depth (from memory); in cans {trade} (common practice, no source)"),
        Row("computed depth", "none given: it is conduction's, and the product flows"),
    ]
    if probe.entry == "side":
        return [*rows, Row("insertion", f"{LENGTH.text(ends[0])}: the tip on the axis")]
    reach = f"{LENGTH.number(ends[0])} to {LENGTH.text(ends[1])} from the datum"
    return [*rows, Row("insertion for it", reach), Row("at hand", _reach(bench, ends), strong=True)]


def _reach(bench: Bench, ends: list[float]) -> str:
    """Verdict on whether the hardware gets there, and by how much it does not."""
    setting, middle = bench.setting, sum(ends) / 2
    if setting is None:
        if bench.at_hand:
            return f"the probe, {LENGTH.text(bench.probe.length)} long, reaches it"
        return "nothing at hand reaches it"
    what = f"the {nominal(bench.probe.length)} {'probe' if setting.length else 'stack'}"
    if bench.at_hand:
        out = "" if setting.stick_out is None else f", {LENGTH.text(setting.stick_out)} out"
        return f"{what} reaches it: set to {LENGTH.text(bench.depth)}{out}"
    short = middle - bench.depth
    missing = f"{LENGTH.text(abs(short))} too {'short' if short > 0 else 'long'} for the middle of it"
    return f"NOT REACHED: {what} comes to {LENGTH.text(bench.depth)}, {missing}"


def heights(result: Result) -> list[tuple[str, ...]]:
    """Rows of heights to measure at: above the inside of the base, depth from the datum, the hardware for it."""
    case, probe = result.case, advice_of(result).own.probe
    found: list[tuple[str, ...]] = []
    for part in PARTS:
        above = part * (case.surface - case.bottom)
        z = case.bottom + above
        depth = insertion(probe, case, z)
        setting, fits = reaching(case, probe, z, z)
        if probe.entry == "side":
            hand = "a hole of its own"
        elif setting is not None and setting.length is not None and fits:
            hand = f"{nominal(setting.length)} probe, {LENGTH.text(setting.stick_out or 0.0)} out"
        elif setting is not None and not fits:
            hand = f"{LENGTH.text(abs(setting.misfit))} too {'short' if setting.misfit < 0 else 'long'}"
        else:
            hand = "yes" if fits else "not reached"
        found.append((LENGTH.text(above), LENGTH.text(depth), hand))
    return found
