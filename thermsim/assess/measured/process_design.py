"""The hold that reaches a target at the cold spot of the fitted product, also where the process deviates."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable

from thermsim.assess.measured.correction import bare, log_least
from thermsim.assess.measured.result import DesignRow, Deviations
from thermsim.assess.measured.stem import TOLERANCE
from thermsim.assess.spots.brick import brick_hold, brick_spots
from thermsim.assess.spots.brick_field import unsolved
from thermsim.assess.spots.hold import RequiredHold, required_hold
from thermsim.case.case import Case
from thermsim.case.process import Process, Stage

#: A process, and the product's temperature at the start [degC].
Conditions = tuple[Process, float]


def design(
    case: Case,
    slower: Case | None,
    target: float,
    deviations: Deviations,
    *,
    progress: Callable[[float], None] | None = None,
) -> tuple[DesignRow, ...]:
    """Find the holds.

    Parameters
    ----------
    case : Case
        With the fitted product, and the process as planned.
    slower : Case or None
        The same with the product's diffusivity at the low end of its interval.
    target : float
        Lethality wanted at the place of least lethality, wherever that then is [s].
    deviations : Deviations
    progress : callable, optional
        Called with the part of the work that is done (0 to 1).

    Returns
    -------
    tuple of DesignRow
        As planned, each deviation alone, all of them together.
    """
    rows: list[tuple[str, Case]] = [("as planned", case)]
    planned = case.process, case.product.initial
    colder = _colder(planned, deviations.medium_K)
    rows.append((f"medium {deviations.medium_K:g} K lower while heating", _under(case, colder)))
    rows.append(
        (
            f"product {deviations.initial_K:g} K colder at the start",
            _under(case, (case.process, case.product.initial - deviations.initial_K)),
        )
    )
    together: Conditions = (colder[0], case.product.initial - deviations.initial_K)
    if any(stage.name == "come-up" for stage in case.process.stages):
        slow = f"come-up {deviations.come_up_percent:g} % longer"
        rows.append((slow, _under(case, _slow_come_up(planned, deviations.come_up_percent))))
        together = _slow_come_up(together, deviations.come_up_percent)
    if slower is not None:
        rows.append(("diffusivity at the low end of its interval", slower))
    rows.append(("all of these together", _under(slower or case, together)))
    found = []
    for place, (name, one) in enumerate(rows):
        found.append(_row(name, bare(one), target, case.process.heated_until))
        if progress is not None:
            progress((place + 1) / len(rows))
    return tuple(found)


def _row(name: str, case: Case, target: float, planned: float) -> DesignRow:
    """One row; ``planned`` is the planned time from the start to cooling [s]."""
    found = _hold(case, target)
    process, index = case.process, case.process.hold
    heating = None
    if index is not None:
        held = process.stages[index]
        before = process.heated_until - (held.end - held.start)
        heating = None if found.hold is None else before + found.hold
        # a slow come-up takes its time off the hold
        process = process.with_hold(max(planned - before, 1.0))
    lethality = math.exp(log_least(case.replace(process=process)))
    return DesignRow(name, lethality, found.hold, heating, found.uncertainty, found.remark)


def _hold(case: Case, target: float) -> RequiredHold:
    """The hold that reaches a target [s] at the cold spot, of a brick at its own."""
    if unsolved(case):
        return required_hold(case, target, tolerance=TOLERANCE)
    spots, unsure = brick_spots(case)
    share = unsure["least_lethality.lethality"] / spots.least_lethality.lethality
    return brick_hold(case, target, unsure=share)


def _under(case: Case, conditions: Conditions) -> Case:
    process, initial = conditions
    return case.replace(process=process, product=dataclasses.replace(case.product, initial=initial))


def _colder(conditions: Conditions, less: float) -> Conditions:
    """The medium lower by so much [K] until heating ends; what it starts from may be the room and is lowered too."""
    process, initial = conditions
    stages = tuple(
        stage if stage.name == "cool" else dataclasses.replace(stage, medium=stage.medium - less)
        for stage in process.stages
    )
    return Process(stages, process.source), initial


def _slow_come_up(conditions: Conditions, percent: float) -> Conditions:
    """Every come-up stage longer by a part of it, the rest moved."""
    process, initial = conditions
    stages: list[Stage] = []
    delay = 0.0
    for stage in process.stages:
        moved = stage.shifted(delay)
        if stage.name == "come-up":
            length = stage.end - stage.start
            moved = moved.stretched(length * (1.0 + percent / 100.0))
            delay += length * percent / 100.0
        stages.append(moved)
    return Process(tuple(stages), process.source), initial
