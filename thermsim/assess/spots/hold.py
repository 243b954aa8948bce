"""The hold that would just reach the target lethality at the cold spot, cooling included."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.fields.curve import Curve
from thermsim.assess.fields.error_estimate import SLOWLY, corner_of, left_by
from thermsim.assess.fields.family import Family
from thermsim.assess.fields.lethality import LEAST, lethal_rate, lethality_map
from thermsim.assess.fields.nesting import AGAIN
from thermsim.assess.fields.refinement import COUNTED, Refined
from thermsim.assess.spots.cold_spot import least_value
from thermsim.case.case import Case
from thermsim.case.process import Process

#: Holds that are looked at: from one that is as good as none to two days [s].
SHORTEST, LONGEST = 1.0, 172800.0
#: How closely the hold is found [s]: far closer than it is known.
CLOSE = 0.01
#: Logarithms of holds: how far the roots on two grids are apart as a rule, how closely one is guessed, and how far to
#: look for a slope; by which part a slope that nothing shows may be off, and the rise that shows one, far above what
#: the steps of two marches differ by.
NEAR, NEAREST, ASIDE = 0.01, 1e-5, 0.01
ROUGHLY, SHOWN = 0.5, 5e-3
#: Logarithm of a hold over the one that is solved up to which both differ by as much: a tenth of what is stated.
BESIDE = 0.05
#: What counts, for a hold, of what the lethality is uncertain by, and of what usually counts of the difference of two
#: grids. A choice, made on drawn cases: of seeds 37 and 89 of the benchmark ``honesty``.
WORTH = 0.65
#: Lethality goes about with this power of the hold, where nothing better is known yet, and guesses until bracketing.
USUAL_POWER, GUESSES = 1.3, 6
NO_HOLD = "the process has no hold stage before cooling whose length could be found"
NO_NEED = "the target lethality is reached without any hold"
TOO_LONG = f"no hold up to {LONGEST / 3600:.0f} h reaches the target lethality"
Array = NDArray[np.float64]
Excess = Callable[[float], float]


@dataclass(frozen=True)
class RequiredHold:
    """A hold [s] found by root finding, its numerical uncertainty [s], or why there is none."""

    hold: float | None
    uncertainty: float = 0.0
    remark: str = ""


def required_hold(
    case: Case,
    target: float,
    *,
    tolerance: float,
    solved: tuple[Refined, Curve] | None = None,
    unsure: float = 0.0,
) -> RequiredHold:
    """Find the length of the hold stage with which the least lethality in the product just reaches a target.

    The root is first bracketed on the two coarser grids of the family, then refined on the two finer ones; both give
    a better one, as they do of every figure. Where the case is solved already and the root is near, they are taken to
    differ there by as much. Uncertain is what counts of their difference, or what the uncertainty of the lethality is
    worth where that is more, and how closely roots are guessed.

    Parameters
    ----------
    case : Case
        Its process must have a hold stage before cooling, or there is no answer.
    target : float
        Lethality wanted [s], > 0.
    tolerance : float
        As for :func:`thermsim.assess.fields.refinement.refine`.
    solved : (Refined, Curve), optional
        The case as it is, if it is solved already, and the curve where its lethality is least: what is known of it
        saves most of the work.
    unsure : float, optional
        What the least lethality of the process as it is is uncertain by, a fraction.

    Returns
    -------
    RequiredHold
    """
    if case.process.hold is None:
        return RequiredHold(None, remark=NO_HOLD)
    family = Family(case, tolerance=tolerance) if solved is None else solved[0].family
    rough, exact = _Excess(case, target, family, 0), _Excess(case, target, family, 1)
    power = None
    if solved is not None:
        refined, curve = solved
        exact.know(refined)  # the rough one looks at other times, and is to be held against itself
        power = power_of_hold(case, curve)
    # beside a corner with plastic what grids differ by is all of one sign and shrinks slowly, of a hold too
    slow = left_by(corner_of(case))
    counted = WORTH * COUNTED[0] * (slow if slow > SLOWLY else 1.0)
    return hold_by(case.process, rough, exact, again=AGAIN, counted=counted, unsure=WORTH * unsure, power=power)


def power_of_hold(case: Case, curve: Curve) -> float:
    """With which power of the hold lethality goes at a place, for holds next to the case's.

    While it lasts longer lethality is gathered as when heating ends, and in cooling more by what the place is warmer.
    """
    stage = case.process.stages[case.process.hold or 0]
    k = max(1, int(np.searchsorted(curve.time, stage.end)))
    climb = (curve.end_of_heating - curve.temperature[k - 1]) / (stage.end - curve.time[k - 1])
    later = (curve.lethality - curve.heating_lethality) * math.log(10.0) / case.lethality.z * climb
    rate = lethal_rate(np.array(curve.end_of_heating), case.lethality)
    return float((stage.end - stage.start) * (rate + later) / curve.lethality)


def hold_by(
    process: Process,
    rough: Excess,
    exact: Excess,
    *,
    again: float = 0.0,
    counted: float = 1.0,
    unsure: float = 0.0,
    power: float | None = None,
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
    power : float, optional
        With which power of the hold lethality goes about, where the better one is known at the hold as it is: nearby
        both are taken to differ by as much.
    """
    if process.hold is None:
        return RequiredHold(None, remark=NO_HOLD)
    now = _as_it_is(process)
    start = math.log(now)
    apart = 0.0 if power is None else exact(start) - rough(start)
    # one that is no power says nothing, as where hardly any lethality is told apart from none
    usable = power if power is not None and power > 0.0 else None
    guessed = _guessed(lambda log_hold: rough(log_hold) + apart, start, usable)
    nearby = None
    if guessed is not None:
        root, slope = guessed
        first = root + apart / slope
        if power is not None and abs(root - start) < BESIDE:
            nearby = root
    else:
        bracketed = _bracketed(rough, now)
        if isinstance(bracketed, RequiredHold):
            return bracketed
        first, slope = bracketed
    found = _exact_root(exact, first, slope, nearby)
    if isinstance(found, RequiredHold):
        return found
    best = min(max(found + again * (found - first), math.log(SHORTEST)), math.log(LONGEST))
    off = NEAREST + max(counted * abs(best - first), unsure / slope)
    return RequiredHold(math.exp(best), float(math.exp(best) * off))


def _bracketed(rough: Excess, now: float) -> tuple[float, float] | RequiredHold:
    """The root of the cheap excess and its slope there, bracketed from a hold [s] on; or why there is none."""
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
    root = optimize.brentq(rough, *ends, xtol=CLOSE / high)
    slope = (rough(root + ASIDE) - rough(root)) / ASIDE
    overall = (rough(ends[1]) - rough(ends[0])) / max(ends[1] - ends[0], CLOSE)
    # so near to each other, two marches differ by their steps
    return root, slope if overall / 2.0 < slope < overall * 2.0 else overall


def _exact_root(exact: Excess, first: float, slope: float, nearby: float | None) -> float | RequiredHold:
    """The root of the better excess, from that of the cheap one and its slope there; or why there is none.

    The slope hardly differs from grid to grid: a small step with the cheap one's reaches the root but for a small
    part of what the grids differ by. ``nearby`` is the root where it is known already.
    """

    def within(log_hold: float) -> float:
        """The excess there, or at the nearest hold that is looked at: a flat one throws the search far off."""
        return exact(min(max(log_hold, shortest), longest))

    shortest, longest = math.log(SHORTEST), math.log(LONGEST)
    found = first - within(first) / slope if nearby is None else nearby
    if abs(found - first) <= NEAR and shortest <= found <= longest:
        return found
    from scipy import optimize

    close = CLOSE / math.exp(first)
    root = optimize.root_scalar(within, method="newton", fprime=lambda _: slope, x0=first, xtol=close, maxiter=20)
    if not root.converged or not shortest <= root.root <= longest:
        if exact(shortest) >= 0.0:
            return RequiredHold(0.0, remark=NO_NEED)
        if exact(longest) <= 0.0:
            return RequiredHold(None, remark=TOO_LONG)
        root = optimize.root_scalar(exact, bracket=(shortest, longest), xtol=close)
    return float(root.root)


def _as_it_is(process: Process) -> float:
    """The hold of a process that has one [s], from which a search begins."""
    stage = process.stages[process.hold or 0]
    return max(stage.end - stage.start, SHORTEST)


def _guessed(excess: Excess, start: float, power: float | None) -> tuple[float, float] | None:
    """The root of an excess and its slope there by secants from a start, where its slope may be known.

    None where they do not soon lead to it.
    """
    here, slope, shown = start, USUAL_POWER if power is None else power, False
    value = excess(here)
    for _ in range(GUESSES):
        step = -value / slope
        if abs(step) < ASIDE and here == start and power is None:
            step = math.copysign(ASIDE, step)  # far enough to see a slope
        if not math.log(SHORTEST) < here + step < math.log(LONGEST):
            return None
        rise = excess(here + step) - value
        if abs(step) >= ASIDE or abs(rise) >= SHOWN:
            slope, shown = rise / step, True
        here, value = here + step, value + rise
        if not slope > 0.0:
            return None
        # a secant errs as the excess bends between its ends
        if abs(value / slope) * (abs(value / slope) + max(abs(step), ASIDE) if shown else ROUGHLY) < NEAREST:
            return here - value / slope, slope
    return None


class _Excess:
    """ln(least lethality / target) as a function of ln(hold), from two nested grids: those from the first on."""

    def __init__(self, case: Case, target: float, family: Family, first: int) -> None:
        self.case = case
        self.first = first
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

    def know(self, solved: Refined) -> None:
        """Take over what is known of the hold as it is."""
        logs = [ends[1] for ends in solved.ends[self.first : self.first + 2]]
        self.known[math.log(_as_it_is(self.case.process))] = self._least_of(*logs) - self.aim

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
            logs.append(np.log(np.maximum(total, LEAST)))
        return self._least_of(*logs)

    def _least_of(self, coarse: Array, fine: Array) -> float:
        """Logarithm of the least lethality by both grids' fields of it."""
        return least_value(self.grids[1], fine + self.nesting.correction(coarse[None], fine[None])[0])
