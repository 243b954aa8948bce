"""One number of the case varied between two ends: what lethality and height the cold spot then has."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from thermsim.assess.simulate.simulation import simulate
from thermsim.case.file.reader import case_from_tables
from thermsim.case.keys.paths import Place, changed, every_place, place_of
from thermsim.errors import InputError
from thermsim.page.draft import Draft

#: How far to either side of the present value unless it is said [a part of it], and at how many values.
REACH, STEPS = 0.3, 7
#: Tables that change nothing of a container without its probe.
_ELSEWHERE = ("probe", "probes", "stock", "points", "accuracy", "output")


@dataclass(frozen=True)
class Scan:
    """A number of the case, the values it was given, and for each the lethality [s] and the cold spot's height [m].

    ``refused`` says of values that no case could have why.
    """

    place: Place
    values: tuple[float, ...]
    lethality: tuple[float, ...]
    height: tuple[float, ...]
    refused: tuple[str, ...] = ()


def scannable(draft: Draft) -> list[Place]:
    """The numbers of the case that can be varied: those that are given, finite and not 0."""
    return [
        place
        for place in every_place(draft.tables)
        if place.value and math.isfinite(place.value) and place.unit and place.trail[0] not in _ELSEWHERE
    ]


def ends_about(value: float) -> tuple[float, float]:
    """The ends between which a number is varied unless others are asked for, to four digits, the lower first."""
    low, high = sorted(float(f"{value * (1.0 + part):.4g}") for part in (-REACH, REACH))
    return low, high


def scanned(draft: Draft, path: str, ends: tuple[float, float], progress: Callable[[float], None]) -> Scan:
    """Solve a case for some values of one of its numbers, its present one among them if it lies between the ends.

    Without its probe.

    Raises ``InputError`` if the path leads to no number that is given.
    """
    place = place_of(draft.tables, path)
    if place.value is None:
        raise InputError(f"{path} is not given")
    values = {float(f"{value:.4g}") for value in np.linspace(*ends, STEPS)}
    if min(ends) <= place.value <= max(ends):
        # in place of one that differs in its digits alone
        values = {value for value in values if not math.isclose(value, place.value, rel_tol=1e-3)} | {place.value}
    found, refused = [], []
    for k, value in enumerate(sorted(values)):
        tables = changed(draft.tables, {place.trail: value})
        try:
            case = case_from_tables(tables, text="", name=draft.name, attachments=draft.attachments)
        except InputError as failure:
            refused.append(str(failure))
            continue
        bare = case.replace(probe=None, probes=())

        def advance(part: float, done: int = k) -> None:
            progress((done + part) / len(values))

        spot = simulate(bare, progress=advance).cold_spot.least_lethality
        found.append((value, spot.lethality, spot.z))
    if not found:
        raise InputError(refused[0])
    given, lethality, height = zip(*found, strict=True)
    return Scan(place, given, lethality, height, tuple(refused))
