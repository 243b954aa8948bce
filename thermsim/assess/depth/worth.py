"""Worth of a depth: what is said of a reading there against an undisturbed cold spot, and how sure that is."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from thermsim.assess.fields.error_estimate import COMMON, LEFT, QUARTER, cubics_of, gathering, spread
from thermsim.assess.fields.refinement import ABOUT_A_STEM
from thermsim.assess.probe.advice import Recommendation
from thermsim.assess.probe.ladder import Step
from thermsim.assess.probe.mismatch import Truth
from thermsim.case.probe import Probe

#: Part of a correction by what was found at another probe that counts as uncertain: its grids are others. A choice.
CORRECTED = 2.0 / 3.0
#: What counts of the difference to the coarser value of a reading, or of half its root mean square over time: more
#: than of one reading alone, of which it is looked at how fast its errors fall. A choice, made on drawn cases.
BY_COURSE = 1.0 / 5.0


def recommendation(
    truth: Truth,
    solved: Sequence[Step],
    *,
    window: tuple[float, float],
    margin: float,
    tolerance: float,
    probe: Probe | None = None,
    corrected: Step | None = None,
    at_limit: bool = False,
    needed: float | None = None,
) -> Recommendation:
    """Put together what is said of a depth, solved there in several ways, the best first, to a time tolerance [K].

    ``corrected`` is the rough solution that these are corrections of by what was found at another probe, if they are.
    """
    best, *others = solved
    rung, place, aim = best.rung, truth.curve, truth.aim
    mismatch = float(truth.mismatch(best.temperature))
    until = np.inf if truth.criterion == "least lethality" else truth.heated_until
    part = gathering(place.time, best.temperature, truth.credit, place.time[0], until)
    read, worth = rung.measure(truth.criterion), math.log(10.0) / truth.credit.z

    def apart_from(other: Step) -> float:
        return max(
            abs(other.rung.measure(truth.criterion) - read),
            read * worth * spread(part, other.temperature - best.temperature),
        )

    def unlike_by(other: Step, place: Truth = truth) -> float:
        return abs(float(place.mismatch(other.temperature)) - mismatch)

    # what a probe through lid or base reads is known by three grids of its own
    from_side = probe is not None and probe.entry == "side"
    known, shares = len(others) > 1 and not from_side, ABOUT_A_STEM if from_side else (1.0 / 3.0, 1.0 / 3.0)
    counted = (BY_COURSE, 1.0 / 3.0) if known else shares
    off = read * worth * cubics_of(probe) * tolerance + sum(
        share * apart_from(other) for share, other in zip(counted, others, strict=False)
    )
    over = read / aim
    if known and truth.others:  # of reading and place together, in which much cancels
        apart = best.temperature - place.temperature
        unlike = over_unsure = over * worth * LEFT * tolerance
        for share, other, there in zip(QUARTER, others, truth.others, strict=True):
            moved = spread(part, apart - (other.temperature - there.curve.temperature))
            one = other.rung.measure(truth.criterion) / there.aim
            over_unsure += share * max(abs(one - over), over * worth * moved)
            # a mismatch may happen to change by nothing while both curves do
            unlike += max(unlike_by(other, there) / 3.0, share * over * worth * moved)
    else:
        unlike = sum(share * unlike_by(other) for share, other in zip(shares, others, strict=False))
        unlike = COMMON[0] * math.hypot(unlike, truth.uncertainty)
        over_unsure = COMMON[0] * math.hypot(off, truth.uncertainty * read) / aim
    if corrected is not None:
        by = apart_from(corrected)
        off += CORRECTED * by
        over_unsure += CORRECTED * by / aim
        unlike += CORRECTED * unlike_by(corrected)
    gained, due = rung.lethality - rung.heating_lethality, place.lethality - place.heating_lethality
    return Recommendation(
        criterion=truth.criterion,
        depth=rung.depth,
        window=window,
        margin=margin,
        mismatch=mismatch,
        lethality=rung.lethality,
        heating_lethality=rung.heating_lethality,
        end_of_heating=rung.end_of_heating,
        truth=aim,
        over_reading=over - 1.0,
        heating_over_reading=rung.heating_lethality / place.heating_lethality - 1.0,
        cooling_over_reading=gained / due - 1.0 if due > 0.0 else 0.0,
        heating_bias=rung.heating_lethality / rung.without_heating - 1.0,
        uncertainty=over_unsure,
        reading_uncertainty=off / read,
        mismatch_uncertainty=unlike,
        at_limit=at_limit,
        needed_length=needed,
    )
