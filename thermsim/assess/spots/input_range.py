"""Range of the answer where a film coefficient is known by its medium's name alone.

All films that stand for a medium at the low end of their ranges, and all at the high end: what comes out bounds the
answer as far as these films decide it. It stands apart from the numerical uncertainty.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

from thermsim.assess.spots.cold_spot import Spot
from thermsim.case.case import Accuracy, Case
from thermsim.case.process import Film

#: The ends are worked out to so many times the accuracy asked for, or the usual one: what they are for is known far
#: less well.
ROUGHER = 3.0


@dataclass(frozen=True)
class InputRange:
    """Both cold spots (least lethality first) with the films at the low and at the high ends of their ranges."""

    low: tuple[Spot, Spot]
    high: tuple[Spot, Spot]


def cases_at_the_ends(case: Case) -> tuple[Case, Case] | None:
    """The case with all films of named media at their low and at their high ends; None where all films are given.

    Both ask for less accuracy, :data:`ROUGHER`.
    """
    films = [stage.film for stage in case.process.stages]
    if all(film.low is None for film in films):
        return None
    ends = []
    for end in ("low", "high"):
        films = [_at_end(stage.film, getattr(stage.film, end)) for stage in case.process.stages]
        stages = tuple(
            dataclasses.replace(stage, film=film) for stage, film in zip(case.process.stages, films, strict=True)
        )
        lethality = dataclasses.replace(case.lethality, target=None)
        process = dataclasses.replace(case.process, stages=stages)
        accuracy = Accuracy(*map(_rougher, _parts(case.accuracy), _parts(Accuracy())))
        ends.append(
            case.replace(process=process, lethality=lethality, accuracy=accuracy, probe=None, probes=(), points=())
        )
    return ends[0], ends[1]


def _parts(accuracy: Accuracy) -> tuple[float, float, float]:
    return accuracy.temperature, accuracy.lethality, accuracy.place


def _rougher(asked: float, usual: float) -> float:
    return max(asked, ROUGHER * min(asked, usual))


def _at_end(film: Film, end: tuple[float, float, float] | None) -> Film:
    return film if end is None else Film(*end, probe=film.probe)
