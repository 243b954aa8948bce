"""Verdict on the model and on the run itself, each line against a limit that is shown and can be set.

Nothing here passes or fails a process: that is the process authority's decision.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from thermsim.assess.curves.heat_penetration import Penetration
from thermsim.assess.measured.fitting import reads_more
from thermsim.assess.measured.result import BEGINS_HOT, ENDED_OTHERWISE, EXCHANGED, Check, Limits, Measured, Plan
from thermsim.case.case import Case


def verdict(
    case: Case, containers: Sequence[Measured], plan: Plan, slowest: int, target: float | None
) -> tuple[Check, ...]:
    """Hold a run against its limits.

    Parameters
    ----------
    case : Case
        Under the process of the run.
    containers : sequence of Measured
    plan : Plan
        With the limits.
    slowest : int
        Index of the container with the least lethality.
    target : float or None
        Lethality wanted [s].

    Returns
    -------
    tuple of Check
        Whether it heats as conduction does, whether containers alike agree, whether the readings at several depths
        are those predicted, and how the slowest stands to the target.
    """
    return (
        *_clocks(containers, plan),
        *(check for one in containers for check in _conduction(case, one, plan.limits)),
        *_replicates(containers, plan.limits, slowest),
        *_depths(containers, plan.limits),
        *_target(containers[slowest], target),
    )


def _per_cent(value: float, of: float) -> float:
    return 100.0 * (value / of - 1.0)


def _conduction(case: Case, one: Measured, limits: Limits) -> Iterator[Check]:
    """Verdict on whether the container heats as the fitted model does."""
    if one.fit is None or one.fitted is None or one.failure is not None:
        return
    if one.held is not None and one.held.likelier:
        return  # it heats as another process has it
    name, off = f'"{one.name}"', one.fitted.misfit
    yield Check(
        f"{name}: residuals",
        f"root mean square {one.fit.rms:.2f} K, largest {off.largest:+z.2f} K at {off.time / 60:.1f} min",
        f"{limits.rms_K:g} K and {limits.largest_K:g} K",
        one.fit.rms <= limits.rms_K and abs(off.largest) <= limits.largest_K,
    )
    more = reads_more(one, case.lethality)
    if more is not None:
        yield Check(
            f"{name}: lethality by the fit",
            f"the fitted model reads {100 * abs(more):.1f} % {'more' if more > 0 else 'less'} than the logger",
            f"{limits.read_percent:g} % either way",
            100.0 * abs(more) <= limits.read_percent,
        )
    diffusivity = one.fit.value("diffusivity")
    if diffusivity is not None:
        change = _per_cent(diffusivity, case.product.material.diffusivity)
        yield Check(
            f"{name}: diffusivity against the case's",
            f"{change:+z.1f} %",
            f"{limits.diffusivity_percent:g} % either way",
            abs(change) <= limits.diffusivity_percent,
        )
    if one.depth is not None:
        best, low, high = (1e3 * depth for depth in (one.depth.best, one.depth.low, one.depth.high))
        doubted = one.flagged("depth-in-doubt", "slide-in-doubt", "columns-swapped")
        # another explanation may be likelier than the depth that the curve would have without it
        unsure = one.flagged("depth-not-confirmed", ENDED_OTHERWISE, BEGINS_HOT, EXCHANGED)
        unsure = unsure or not one.at_its_depth(limits)
        yield Check(
            f"{name}: depth of the tip",
            f"its curve is that of {best:.1f} ({low:.1f} to {high:.1f}) mm",
            f"{1e3 * one.insertion:.4g} mm, as said",
            False if doubted else None if unsure else True,
        )
    yield from _factors(name, one.heating, one.fitted.heating, limits)
    yield _break(name, one.heating, one.fitted.heating, limits)


def _clocks(containers: Sequence[Measured], plan: Plan) -> Iterator[Check]:
    """Verdict on the offset of the clocks: one line for those that have one clock."""
    limit = f"{plan.limits.offset_s:g} s either way"
    fits = [(one, one.fit.value("offset")) for one in containers if one.fit is not None and one.failure is None]
    said = set()
    for one, offset in fits:
        together = "offset" in plan.together and not one.own_clock and len(containers) > 1
        if offset is None or (together and "clocks" in said):
            continue
        name = "clocks" if together else f'"{one.name}": clocks'
        said.add(name)
        whose = "the probes' clock" if together else "the probe's"
        within: bool | None = abs(offset) <= plan.limits.offset_s
        said_of = f"{whose} is ahead of the medium's by {offset:+z.1f} s"
        if one.flagged(ENDED_OTHERWISE):
            # a hold that was not the record's looks the same
            within = None if within or one.otherwise is not None else within
            said_of = f"{said_of}, or heating ended otherwise"
        yield Check(name, said_of, limit, within)


def _factors(name: str, read: Penetration, model: Penetration, limits: Limits) -> Iterator[Check]:
    for factor, most in (("f", limits.f_percent), ("j", limits.j_percent)):
        limit = f"{most:g} % either way"
        if read.line is None or model.line is None:
            yield Check(f"{name}: {factor}h against conduction", "no straight part", limit, None)
            continue
        change = _per_cent(getattr(read.line, factor), getattr(model.line, factor))
        yield Check(
            f"{name}: {factor}h against conduction",
            f"{change:+z.1f} % of the fitted model's reading",
            limit,
            abs(change) <= most,
        )


def _break(name: str, read: Penetration, model: Penetration, limits: Limits) -> Check:
    """A break counts only as far as conduction with this probe does not show it too."""
    limit = f"slopes change by less than {limits.break_ratio:g} times as much as the model's"
    if read.broken is None:
        return Check(f"{name}: broken heating", "too little of the curve to judge", limit, None)
    expected = model.broken.ratio if model.broken is not None else 1.0
    beyond = read.broken.ratio / expected
    broken = read.broken.clear and max(beyond, 1.0 / beyond) > limits.break_ratio
    how, times = "slower" if beyond > 1.0 else "faster", max(beyond, 1.0 / beyond)
    said = (
        f"heating gets {how} at {read.broken.time / 60:.1f} min: f changes {times:.2f} times as much as by conduction"
        if broken
        else f"no break beyond that of conduction ({beyond:.2f} times)"
    )
    return Check(f"{name}: broken heating", said, limit, not broken)


def _replicates(containers: Sequence[Measured], limits: Limits, slowest: int) -> Iterator[Check]:
    """Verdict on whether containers that should be alike agree. The slowest is named in any case."""
    alike = [one for one in containers if not one.own_depth and one.sound]
    if len(alike) < 2:
        return
    slow = f'slowest: "{containers[slowest].name}"{"" if containers[slowest].sound else ", IN DOUBT"}'
    lines = [one.heating.line for one in alike]
    slopes = [line.f for line in lines if line is not None]
    for what, values, most in (
        ("fh", slopes if len(slopes) == len(alike) else [], limits.spread_percent),
        ("lethality", [one.lethality for one in alike], limits.lethality_spread_percent),
    ):
        limit = f"{most:g} % of the mean"
        if not values:
            yield Check(f"containers alike: {what}", "not all of them have a straight part", limit, None)
            continue
        spread = 100.0 * float(np.ptp(values)) / float(np.mean(values))
        yield Check(
            f"containers alike: {what}",
            f"{len(values)} containers differ by up to {spread:.1f} %; {slow}",
            limit,
            spread <= most,
        )


def _depths(containers: Sequence[Measured], limits: Limits) -> Iterator[Check]:
    """Verdict on the cold spot's place: readings at other depths against the model fitted at the case's."""
    base = next((one for one in containers if not one.own_depth and one.fit is not None and one.sound), None)
    others = [one for one in containers if one.own_depth and one.sound]
    if not others:
        return
    limit = f"{limits.depth_percent:g} % either way"
    if base is None or any(one.predicted is None for one in others):
        yield Check("cold spot", "no container with the case's own depth was fitted", limit, None)
        return
    readings = [base, *others]
    ratios = [one.general.lethality / (one.predicted or one.general.lethality) for one in readings]
    for one, ratio in zip(readings[1:], ratios[1:], strict=True):
        yield Check(
            f'"{one.name}", {1e3 * one.insertion:.1f} mm deep',
            f"reads {100 * (ratio - 1):+z.1f} % against the model fitted at {1e3 * base.insertion:.1f} mm",
            limit,
            bool(abs(100.0 * (ratio - 1.0)) <= limits.depth_percent),
        )
    lowest = min(readings, key=lambda one: one.general.lethality)
    expected = min(readings, key=lambda one: one.predicted or one.general.lethality)
    there, predicted = 1e3 * lowest.insertion, 1e3 * expected.insertion
    yield Check(
        "cold spot",
        f"the least lethality was read {there:.1f} mm deep; predicted at {predicted:.1f} mm",
        "the same depth",
        lowest is expected,
    )


def _target(slow: Measured, target: float | None) -> Iterator[Check]:
    if target is None:
        return
    name, limit = "target in the slowest container", f"{target / 60:g} min"
    found = slow.corrected
    if found is None:
        read = f'"{slow.name}" reads {slow.general.lethality / 60:.2f} min, not corrected for its probe'
        yield Check(name, read, limit, None, target=True)
        return
    least = min(found.low, found.lethality - found.numerical)
    if not slow.sound:
        least = min(least, slow.lethality)
        said = f'{least / 60:.2f} min in "{slow.name}", whose figures are in doubt'
        yield Check(name, said, limit, None if least >= target else False, target=True)
        return
    said = (
        f'{found.lethality / 60:.2f} min at the cold spot of "{slow.name}", at least {least / 60:.2f} min by its '
        "interval and the numerical uncertainty"
    )
    yield Check(name, said, limit, least >= target, target=True)
