"""Fineness in space and time that a case is solved with, and the times at which its temperatures are kept."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from thermsim.case.case import Accuracy, Case
from thermsim.case.process import Process

Array = NDArray[np.float64]

#: Time tolerance as a part of the temperature accuracy: errors of some tens of steps add up, most of them die away.
TOLERANCE = 1 / 25
#: The grids are made finer, at most this much, until the uncertainty is within the accuracy asked for.
FINEST_REFINEMENT = 4.0
#: Uncertainty of temperatures and of lethality as a rule with a refinement of 1, as parts of the default accuracies.
FOUND = (0.12, 0.04)
#: No grid is coarser than this: a fit between nodes wants some of them in every layer of product.
COARSEST_REFINEMENT = 0.6
#: About so many output times.
OUTPUTS = 240
#: Output steps that read well [s].
ROUND_STEPS = (1, 2, 5, 10, 15, 20, 30, 60, 120, 300, 600, 900, 1800, 3600)


def time_tolerance(case: Case) -> float:
    """Largest estimated error of a time step [K] that keeps within the accuracy asked for."""
    return case.accuracy.temperature * TOLERANCE


def first_refinement(accuracy: Accuracy) -> float:
    """The refinement to begin with: 1 for the default accuracy, less where less is asked for, more for much more.

    Errors go with the square of the spacing.
    """
    usual = Accuracy()
    slack = (accuracy.temperature / usual.temperature, accuracy.lethality / usual.lethality)
    missed = max(found / part for found, part in zip(FOUND, slack, strict=True))
    if missed > 1.0:
        return min(FINEST_REFINEMENT, math.sqrt(missed))
    return min(1.0, max(COARSEST_REFINEMENT, 1.0 / math.sqrt(min(slack))))


def finer(refinement: float, excess: float) -> float:
    """The next refinement to try, where uncertainty exceeds the accuracy asked for by a factor.

    Errors go with the square of the spacing; a tenth more, so that it need not be tried again.
    """
    return min(FINEST_REFINEMENT, refinement * min(2.0, max(1.2, 1.1 * math.sqrt(excess))))


def output_times(case: Case, process: Process | None = None) -> Array:
    """Times at which temperatures are kept [s]: round steps, the stages' ends, and the process's end.

    Of the case's process, or of another one.
    """
    process = case.process if process is None else process
    every = case.output_every or next(
        (step for step in ROUND_STEPS if step * OUTPUTS >= process.end), ROUND_STEPS[-1]
    )
    regular = np.arange(0.0, process.end, every)
    ends = [stage.end for stage in process.stages]
    return np.unique(np.concatenate([regular, ends]))
