"""Findings that must not be overlooked in the figures of a study."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.probe.unsafe import NOTABLE, UNSAFE, above
from thermsim.assess.simulate.cautions import notices_of_case
from thermsim.assess.study.plan import StudyResult
from thermsim.notice import Notice
from thermsim.text import plain

#: Failures whose reason is told.
TOLD = 3


def notices_of_study(result: StudyResult) -> tuple[Notice, ...]:
    """Notices of a study: a product that convects, a target that is missed, a probe that reads high, failed runs."""
    found = [notice for notice in notices_of_case(result.case) if notice.topic == "convection"]
    if result.good.any():
        found += [*_missed(result), *_unsafe(result)]
    return (*found, *_failed(result))


def _missed(result: StudyResult) -> Iterator[Notice]:
    """Say in how many runs the target is missed."""
    target, runs = result.case.lethality.target, int(result.good.sum())
    if target is None or any(place.trail[0] == "lethality" for place in result.plan.places):
        return
    missed = int((result.figures["least_lethality"][result.good] < target).sum())
    if missed:
        asked = f"{result.case.lethality.symbol} = {target / 60:g} min"
        text = f"The target, {asked}, is NOT reached in {missed} of {runs} runs."
        yield Notice("target-missed", "danger", "target", text, {"target": target, "missed": missed, "runs": runs})


def _unsafe(result: StudyResult) -> Iterator[Notice]:
    """Say where the probe reads on the unsafe side."""
    for whole, heating, where in (
        ("bias", "bias_until_heating_ends", "at its depth"),
        ("over_reading", "heating_over_reading", "at each run's own recommended depth"),
    ):
        if not result.shown(whole):
            continue
        there = np.isfinite(result.figures[whole])
        over, until = result.figures[whole][there], result.figures[heating][there]
        unsafe = int((above(over) | above(until)).sum())
        if unsafe:
            brief = (
                f"UNSAFE SIDE: {where} the probe reads {_ends(until)} of lethality until heating ends, {_ends(over)} "
                f"in all, against the run's cold spot without it: in {unsafe} of {over.size} runs more than "
                f"{100 * NOTABLE:.0f} % too much."
            )
            text = (
                f"{brief} A small over-reading in all proves nothing: the errors of heating and of cooling partly "
                "cancel."
            )
            figures = {
                "least_bias": float(until.min()),
                "largest_bias": float(until.max()),
                "unsafe": unsafe,
            }
            yield Notice(UNSAFE, "danger", "probe", text, figures, brief)


def _ends(values: NDArray[np.float64]) -> str:
    """Lowest and highest of fractions, as "-0.3 to +6.2 %"."""
    return f"{100 * values.min():+z.1f} to {100 * values.max():+z.1f} %"


def _failed(result: StudyResult) -> Iterator[Notice]:
    """Say how many runs failed, and why the first of them did."""
    runs = list(result.failures)
    if runs:
        reasons = "; ".join(f"run {run}: {plain(result.failures[run], 300)}" for run in runs[:TOLD])
        text = f"{len(runs)} of {result.plan.runs} runs failed and are left out of all figures; {reasons}"
        yield Notice("runs-failed", "warning", "input", text, {"failed": len(runs)})
