"""Rows of ``benchmarks/honesty.py`` for probes from the side, recommended depths and bricks."""

from __future__ import annotations

import contextlib
import dataclasses
import math
from collections.abc import Iterator

import numpy as np

import thermsim.assess.side.field as side_field
import thermsim.solve.stem.stem_grid as stem_grid
from thermsim.assess.depth.recommendation import recommend
from thermsim.assess.fields.curve import Curve
from thermsim.assess.fields.reading import Reading
from thermsim.assess.fields.refinement import Refined
from thermsim.assess.probe.effect import ProbeEffect, curve_of
from thermsim.assess.probe.mismatch import Truth
from thermsim.assess.probe.uncertainty import figures_of
from thermsim.assess.side.background import RoundBackground
from thermsim.assess.side.effect import side_effects
from thermsim.assess.simulate.result import Result
from thermsim.assess.spots.brick import BrickSpot, BrickSpots, _Fields
from thermsim.assess.spots.brick_field import course_of
from thermsim.assess.spots.cold_spot import ProductFields, least_lethality
from thermsim.case.case import Case

#: A stem's grids are so much finer, with so many sectors on the coarsest, and every layer is divided.
FINER_STEM, SECTORS = 1.4, 4
#: Degrees of a brick's elements and panels in time of the better solution.
BRICK = ((14, 9), 6)
#: What happens at a place.
GATHERED = ("lethality", "heating_lethality", "end_of_heating")
#: A figure's kind, its name among the uncertainties, its error, and what is stated of it.
Row = tuple[str, str, float, float]


def known_at(result: Result, better: Refined) -> Curve:
    """What the better solution says at the cold spot that was found."""
    place, there = (result.spots[0].r, result.spots[0].z), ProductFields.of(better.grid, better.best)
    spot = there.spot_at(*place)
    gathered = {name: getattr(spot, name) for name in GATHERED}
    return dataclasses.replace(result.spots[0], temperature=there.courses_at([place])[:, 0], **gathered)


def moved_from(better: Refined, effect: ProbeEffect) -> float:
    """How far a probe's own cold spot lies from where the better solution has the undisturbed one [m]."""
    spot, place = least_lethality(ProductFields.of(better.grid, better.best))[0], effect.least_lethality
    return math.hypot(place.r - spot.r, place.z - spot.z)


@contextlib.contextmanager
def _finer_stem() -> Iterator[None]:
    names = ("ALONG", "ROUND", "GROWTH_ALONG", "GROWTH_ROUND", "SECTORS", "grid_lines")
    kept, wanted = {name: getattr(stem_grid, name) for name in names}, side_field.ROUND_STEM
    for name in ("ALONG", "ROUND"):
        setattr(stem_grid, name, kept[name] * FINER_STEM)
    for name in ("GROWTH_ALONG", "GROWTH_ROUND"):
        setattr(stem_grid, name, kept[name] / FINER_STEM)
    stem_grid.SECTORS, side_field.ROUND_STEM = SECTORS, wanted / FINER_STEM
    stem_grid.grid_lines = lambda *given, **more: kept["grid_lines"](*given, **{**more, "whole": False})
    try:
        yield
    finally:
        for name, value in kept.items():
            setattr(stem_grid, name, value)
        side_field.ROUND_STEM = wanted


def side_rows(case: Case, result: Result, better: Refined, tolerance: float) -> Iterator[Row]:
    """Figures of a probe from the side, held against finer grids about it and of the container."""
    if result.probe is None:
        return
    background = RoundBackground.of(case.replace(probe=None), better)
    with _finer_stem():
        true = side_effects(case, background, known_at(result, better), time=result.time, tolerance=tolerance)[0][0]
    figures = figures_of(true) | {"moved": moved_from(better, true)}
    for name, value in figures_of(result.probe).items():
        if name in figures and f"probe.{name}" in result.uncertainty:
            error = float(np.abs(value - figures[name]).max())
            yield f"side {name}", f"probe.{name}", error, result.uncertainty[f"probe.{name}"]


def advised(case: Case) -> Result:
    """The case's probe at its recommended depth."""
    return recommend(case)


def depth_rows(result: Result, better: Refined, probed: Refined) -> Iterator[Row]:
    """What is said of a recommended depth, against the better solution of the probe there."""
    if result.advice is None or probed.readings is None:
        return
    for found in result.advice.own.recommendations:
        if found.depth != result.probe.depth:  # the better solution is of the depth for the chosen criterion
            continue
        place = known_at(result, better) if found.criterion == "least lethality" else None
        if place is None:
            continue
        read = curve_of("reading", (0.0, 0.0), Reading.unstack(probed.readings[0].stack()), result.time)
        truth = Truth(found.criterion, place, result.case.lethality, result.case.process.heated_until)
        aim = truth.aim
        error = abs(found.over_reading - (read.lethality / aim - 1.0))
        yield "depth: over-reading", "", error, found.uncertainty
        error = abs(found.lethality - read.lethality)
        yield "depth: reading", "", error, found.reading_uncertainty * found.lethality
        error = abs(found.mismatch - float(truth.mismatch(read.temperature)))
        yield "depth: mismatch", "", error, found.mismatch_uncertainty


def brick_rows(case: Case, result: Result) -> Iterator[Row]:
    """Cold spots of a brick against higher degrees and more times."""
    if result.brick is None:
        return
    true = BrickSpots(*_Fields(course_of(case, *BRICK), case).spots())
    for kind in ("least_lethality", "slowest_heating"):
        for part in dataclasses.fields(BrickSpot):
            one, other = (getattr(getattr(spots, kind), part.name) for spots in (result.brick, true))
            error = abs(one - other)
            if part.name == "z":  # both faces are alike in what is drawn: of two equal places either is right
                error = min(error, abs(2.0 * case.bottom + case.fill_height - one - other))
            name = f"brick.{kind}.{part.name}"
            yield f"brick {part.name}", name, error, result.uncertainty[name]
