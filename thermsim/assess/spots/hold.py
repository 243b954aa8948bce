"""The hold that would just reach the target lethality at the cold spot, cooling included."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from thermsim.assess.fields.family import Family
from thermsim.assess.fields.lethality import LEAST, lethality_map
from thermsim.assess.fields.nesting import AGAIN
from thermsim.assess.fields.refinement import COUNTED
from thermsim.assess.spots.cold_spot import least_value
from thermsim.case.case import Case
from thermsim.case.process import Process

#: Holds that are looked at: from one that is as good as none to two days [s].
SHORTEST, LONGEST = 1.0, 172800.0
#: How closely the hold is found [s]: far closer than it is known.
CLOSE = 0.01
#: Logarithms of holds: how far the roots on two grids are apart as a rule, how closely one is guessed, and how far to
#: look for a slope.
NEAR, NEAREST, ASIDE = 0.01, 1e-5, 0.01
#: Lethality goes about with this power of the hold, where nothing better is known yet, and guesses until bracketing.
USUAL_POWER, GUESSES = 1.3, 6
NO_HOLD = "the process has no hold stage before cooling whose length could be found"
NO_NEED = "the target lethality is reached without any hold"
TOO_LONG = f"no hold up to {LONGEST / 3600:.0f} h reaches the target lethality"
Excess = Callable[[float], float]


@dataclass(frozen=True)
class RequiredHold:
    """A hold [s] found by root finding, its numerical uncertainty [s], or why there is none."""

    hold: float | None
    uncertainty: float = 0.0
    remark: str = ""


def required_hold(
    case: Case, target: float, *, tolerance: float, family: Family | None = None, unsure: float = 0.0
) -> RequiredHold:
    """Find the length of the hold stage with which the least lethality in the product just reaches a target.

    The root is first bracketed on the two coarser grids of the family, then refined on the two finer ones; both give
    a better one, as they do of every figure. Uncertain is what counts of their difference, or what the uncertainty of
    the lethality is worth where that is more.

    Parameters
    ----------
    case : Case
        Its process must have a hold stage before cooling, or there is no answer.
    target : float
        Lethality wanted [s], > 0.
    tolerance : float
        As for :func:`thermsim.assess.fields.refinement.refine`.
    family : Family, optional
        The case's grids, if they are there already; what they know of its films saves most of the work.
    unsure : float, optional
        What the least lethality of the process as it is is uncertain by, a fraction.

    Returns
    -------
    RequiredHold
    """
    if case.process.hold is None:
        return RequiredHold(None, remark=NO_HOLD)
    if family is None:
        family = Family(case, tolerance=tolerance)
    rough, exact = _Excess(case, target, family, 0), _Excess(case, target, family, 1)
    return hold_by(case.process, rough, exact, again=AGAIN, counted=COUNTED[0], unsure=unsure)


def hold_by(
    process: Process,
    rough: Excess,
    exact: Excess,
    *,
    again: float = 0.0,
    counted: float = 1.0,
    unsure: float = 0.0,
) -> RequiredHold:
    """Find the hold of a process at which an excess over the target vanishes.

    Parameters
    ----------
    process : Process
        As it is; its hold is where the search begins.
    rough, exact : callable
        ln(least lethality / target) as a function of ln(hold): cheap, for bracketing; and as good as there is.
    again, counted : float, optional
        Parts of the difference of their roots: by which the better root is moved on, and that counts as uncertain.
    unsure : float, optional
        What the better one is known to be uncertain by.
    """
    index = process.hold
    if index is None:
        return RequiredHold(None, remark=NO_HOLD)
    stage = process.stages[index]
    now = max(stage.end - stage.start, SHORTEST)
    guessed = _guessed(rough, math.log(now))
    if guessed is not None:
        first, slope = guessed
    else:
        low = high = now
        if rough(math.log(high)) < 0:
            while rough(math.log(high)) < 0:
                if high >= LONGEST:
                    return RequiredHold(None, remark=TOO_LONG)
                low, high = high, min(2.0 * high, LONGEST)
        else:
            while rough(math.log(low)) > 0:
                if low <= SHORTEST:
                    return RequiredHold(0.0, remark=NO_NEED)
                low, high = max(low / 2.0, SHORTEST), low
        from scipy import optimize  # only here, and below: next to always secants lead to it

        ends = math.log(low), math.log(high)
        first = optimize.brentq(rough, *ends, xtol=CLOSE / high)
        slope = (rough(first + ASIDE) - rough(first)) / ASIDE
        overall = (rough(ends[1]) - rough(ends[0])) / max(ends[1] - ends[0], CLOSE)
        if not overall / 2.0 < slope < overall * 2.0:  # so near to each other, two marches differ by their steps
            slope = overall

    def within(log_hold: float) -> float:
        """The excess there, or at the nearest hold that is looked at: a flat one throws the search far off."""
        return exact(min(max(log_hold, shortest), longest))

    shortest, longest = math.log(SHORTEST), math.log(LONGEST)
    # the slope hardly differs from grid to grid: a small step with the rough one's reaches the root of the fine one
    # but for a small part of what the grids differ by
    found = first - within(first) / slope
    if abs(found - first) > NEAR or not shortest <= found <= longest:
        from scipy import optimize

        close = CLOSE / math.exp(first)
        root = optimize.root_scalar(within, method="newton", fprime=lambda _: slope, x0=first, xtol=close, maxiter=20)
        if not root.converged or not shortest <= root.root <= longest:
            if exact(shortest) >= 0.0:
                return RequiredHold(0.0, remark=NO_NEED)
            if exact(longest) <= 0.0:
                return RequiredHold(None, remark=TOO_LONG)
            root = optimize.root_scalar(exact, bracket=(shortest, longest), xtol=close)
        found = root.root
    best = min(max(found + again * (found - first), shortest), longest)
    return RequiredHold(math.exp(best), float(math.exp(best) * max(counted * abs(best - first), unsure / slope)))


def _guessed(excess: Excess, start: float) -> tuple[float, float] | None:
    """The root of an excess and its slope there by secants from a start; None where they do not soon lead to it."""
    here, slope = start, USUAL_POWER
    value = excess(here)
    for _ in range(GUESSES):
        step = -value / slope
        if abs(step) < ASIDE and here == start:
            step = math.copysign(ASIDE, step)  # far enough to see a slope
        if not math.log(SHORTEST) < here + step < math.log(LONGEST):
            return None
        rise = excess(here + step) - value
        if abs(step) >= ASIDE:  # nearer to each other, two marches differ by their steps as well
            slope = rise / step
        here, value = here + step, value + rise
        if not slope > 0.0:
            return None
        # a secant errs as the excess bends between its ends
        if abs(value / slope) * (abs(value / slope) + max(abs(step), ASIDE)) < NEAREST:
            return here - value / slope, slope
    return None


class _Excess:
    """ln(least lethality / target) as a function of ln(hold), from two nested grids: those from the first on."""

    def __init__(self, case: Case, target: float, family: Family, first: int) -> None:
        self.case = case
        self.solvers = family.solvers[first : first + 2]
        self.grids = family.grids[first : first + 2]
        self.nesting = family.nestings[first]
        self.aim = math.log(target)
        # while the root is only being bracketed the bases need not be judged anew for every hold
        self.trusted = first == 0
        self.known: dict[float, float] = {}

    def __call__(self, log_hold: float) -> float:
        if log_hold not in self.known:
            self.known[log_hold] = self._least(math.exp(log_hold)) - self.aim
        return self.known[log_hold]

    def _least(self, hold: float) -> float:
        process = self.case.process.with_hold(hold)
        logs = []
        for solver, grid in zip(self.solvers, self.grids, strict=True):
            total, _ = lethality_map(
                solver.follow(process, trusted=self.trusted),
                self.case.lethality,
                process.heated_until,
                grid.product_nodes,
            )
            logs.append(np.log(np.maximum(total, LEAST))[None])
        field = logs[1][0] + self.nesting.correction(*logs)[0]
        return least_value(self.grids[1], field)
