"""A result computed again from its file alone, and how well the two agree."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from thermsim.assess.curves.heat_penetration import Penetration
from thermsim.assess.depth.recommendation import recommend
from thermsim.assess.measured.comparison import compare
from thermsim.assess.measured.result import Comparison, Measured
from thermsim.assess.simulate.result import Result
from thermsim.assess.simulate.simulation import simulate
from thermsim.case.case import Case
from thermsim.case.file.reader import case_from_text
from thermsim.loggers.run import run_from_bytes
from thermsim.records.files.results import holds, load_result
from thermsim.records.measured.file import HOLDS, load_comparison

Progress = Callable[[float], None] | None

#: What is not known to be uncertain agrees within this part of it: rounding, on other machines too.
ROUNDING = 1e-6
#: Fitted parameters agree within this part of their interval's half width.
PART_OF_INTERVAL = 0.05


@dataclass(frozen=True)
class Agreement:
    """A figure as stored and as computed again, and by how much they may differ; all in SI units."""

    name: str
    stored: float
    again: float
    tolerance: float

    @property
    def part(self) -> float:
        """Difference over tolerance; inf where one of the two is no number."""
        off = abs(self.again - self.stored)
        if np.isnan(self.stored) and np.isnan(self.again):
            return 0.0
        return float(off / self.tolerance) if np.isfinite(off) else np.inf


def rerun(path: str | Path, *, progress: Progress = None) -> list[Agreement]:
    """Compute what a results file holds again, from the texts and the logger's bytes in it.

    Parameters
    ----------
    path : str or Path
        Of a simulation, a recommendation or a comparison.
    progress : callable, optional
        Called with the part of the work that is done (0 to 1).

    Returns
    -------
    list of Agreement
        Of every figure that has a tolerance: its numerical uncertainty where it has one.

    Raises
    ------
    InputError
        As :func:`thermsim.records.files.results.load_result`, or if the texts in the file are no case any more.
    """
    if holds(path) == HOLDS:
        comparison = load_comparison(path)
        return list(_agreements(comparison, _compared(comparison, progress)))
    result = load_result(path)
    return list(_figures(result, _simulated(result, progress)))


def _case_of(case: Case) -> Case:
    """The case from its own text, so that what was read is read again; as stored where it has none."""
    if not case.text:
        return case
    return case_from_text(case.text, name=case.file or "case.toml", attachments=case.attachments)


def _compared(stored: Comparison, progress: Progress) -> Comparison:
    run = run_from_bytes(stored.run.data.tobytes(), stored.plan.columns, name=stored.run.file)
    return compare(_case_of(stored.case), run, stored.plan, progress=progress)


def _simulated(stored: Result, progress: Progress) -> Result:
    case = _case_of(stored.case)
    if stored.advice is None:
        return simulate(case, progress=progress)
    advice = stored.advice
    margin = advice.own.recommended(advice.criterion).margin
    return recommend(
        case,
        criterion=advice.criterion,
        margin=margin,
        sensor_accuracy=advice.sensor_accuracy,
        progress=progress,
    )


def _figures(stored: Result, again: Result) -> Iterator[Agreement]:
    """Every figure of a result that has an uncertainty."""
    for name, uncertainty in stored.uncertainty.items():
        pair = _at(stored, name), _at(again, name)
        if any(value is None for value in pair):
            if pair != (None, None):
                # one of the two is missing: no agreement
                stored_at, again_at = (np.nan if value is None else 0.0 for value in pair)
                yield Agreement(name, stored_at, again_at, 1.0)
            continue
        one, other = (np.atleast_1d(np.asarray(value, dtype=float)) for value in pair)
        if one.shape != other.shape:
            yield Agreement(name, float(one.size), float(other.size), 0.5)
            continue
        worst = int(np.abs(one - other).argmax())
        tolerance = max(uncertainty, ROUNDING * float(np.abs(one).max()), ROUNDING)
        yield Agreement(name, float(one[worst]), float(other[worst]), tolerance)


#: Figures that are kept elsewhere than their names say.
_ELSEWHERE = {
    "cold_spot.least_lethality.temperature": "spots.0.temperature",
    "cold_spot.slowest_heating.temperature": "spots.1.temperature",
}


def _at(result: Result, name: str) -> Any:
    """The figure of a dotted name; of a pair its second, of what is not there None."""
    value: Any = result
    for step in _ELSEWHERE.get(name, name).split("."):
        if value is None:
            return None
        if isinstance(value, tuple):
            value = value[int(step)] if int(step) < len(value) else None
        else:
            value = getattr(value, step)
    return value[-1] if isinstance(value, tuple) else value


def _agreements(stored: Comparison, again: Comparison) -> Iterator[Agreement]:
    """Every figure of a comparison that a record would cite."""
    yield Agreement("containers", len(stored.containers), len(again.containers), 0.5)
    yield Agreement("slowest", stored.slowest, again.slowest, 0.5)
    for one, other in zip(stored.containers, again.containers, strict=False):
        yield from _container(one, other)
    for row, new in zip(stored.design, again.design, strict=False):
        yield from _pair(f"hold, {row.name}", row.hold, new.hold, row.uncertainty)


def _container(one: Measured, other: Measured) -> Iterator[Agreement]:
    name = one.name
    yield from _pair(f"{name}: samples", one.time.size, other.time.size)
    yield from _pair(f"{name}: lethality read", one.general.lethality, other.general.lethality)
    for phase, pair in (("h", (one.heating, other.heating)), ("c", (one.cooling, other.cooling))):
        for factor in ("f", "j"):
            yield from _pair(f"{name}: {factor}{phase}", _factor(pair[0], factor), _factor(pair[1], factor))
    if one.fit is not None and other.fit is not None:
        for old in one.fit.estimates:
            part = PART_OF_INTERVAL * (old.high - old.low) / 2.0
            yield from _pair(f"{name}: {old.name}", old.value, other.fit.value(old.name), part)
    if one.corrected is not None and other.corrected is not None:
        spot, new = one.corrected, other.corrected
        yield from _pair(f"{name}: corrected lethality", spot.lethality, new.lethality, spot.numerical)


def _factor(found: Penetration | None, factor: str) -> float | None:
    return None if found is None or found.line is None else float(getattr(found.line, factor))


def _pair(name: str, stored: float | None, again: float | None, tolerance: float = 0.0) -> Iterator[Agreement]:
    if stored is None and again is None:
        return
    one, other = (np.nan if value is None else float(value) for value in (stored, again))
    if stored is None or again is None:
        # one of the two is missing: no agreement
        yield Agreement(name, one, other, 1.0)
        return
    yield Agreement(name, one, other, max(tolerance, ROUNDING * abs(one), 1e-30))
