"""Findings that must not be overlooked in the figures of a study."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from thermsim.assess.probe.mismatch import GOOD
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
        text = f"The target, F = {target / 60:g} min, is NOT reached in {missed} of {runs} runs."
        yield Notice("target-missed", "danger", "target", text, {"target": target, "missed": missed, "runs": runs})


def _unsafe(result: StudyResult) -> Iterator[Notice]:
    """Say where the probe reads on the unsafe side."""
    for name, where in (
        ("own_heating_bias", "at its depth"),
        ("heating_bias", "at each run's own recommended depth"),
    ):
        if not result.shown(name):
            continue
        values = result.figures[name][np.isfinite(result.figures[name])]
        unsafe = int((values > GOOD).sum())
        if unsafe:
            brief = (
                f"UNSAFE SIDE: until heating ends the probe itself adds {100 * values.min():+z.0f} to "
                f"{100 * values.max():+z.0f} % of lethality {where}, in {unsafe} of {values.size} runs more than the "
                f"{100 * GOOD:.0f} % that a good depth may have."
            )
            text = (
                f"{brief} A small over-reading in all proves nothing: the errors of heating and of cooling partly "
                "cancel."
            )
            figures = {"least_bias": float(values.min()), "largest_bias": float(values.max()), "unsafe": unsafe}
            yield Notice("probe-unsafe-side", "danger", "probe", text, figures, brief)


def _failed(result: StudyResult) -> Iterator[Notice]:
    """Say how many runs failed, and why the first of them did."""
    runs = list(result.failures)
    if runs:
        reasons = "; ".join(f"run {run}: {plain(result.failures[run], 300)}" for run in runs[:TOLD])
        text = f"{len(runs)} of {result.plan.runs} runs failed and are left out of all figures; {reasons}"
        yield Notice("runs-failed", "warning", "input", text, {"failed": len(runs)})
