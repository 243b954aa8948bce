"""Depth of a probe: a ladder of insertion depths, and the depth whose reading follows the cold spot best.

Each rung is solved with its probe on the two coarser grids, which give the ladder's shape; the recommended depth is
solved on the whole family, and the ladder is moved by the difference there. Readings are smooth in depth, so between
the rungs a cubic spline serves.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.depth.limits import allowed_depths, least_outside, reachable_depths, set_to
from thermsim.assess.depth.worth import recommendation
from thermsim.assess.fields.family import Family, extrapolated
from thermsim.assess.fields.reading import Reading, Sensor, reading_of
from thermsim.assess.fields.refinement import Refined, readings_of, refine
from thermsim.assess.probe.advice import Candidate, Recommendation, Rung
from thermsim.assess.probe.hardware import settable, settings
from thermsim.assess.probe.ladder import Correction, Ladder, Step, confirmation_depths
from thermsim.assess.probe.mismatch import Truth
from thermsim.assess.side.background import Background
from thermsim.assess.side.field import LEVELS, MIDDLE
from thermsim.assess.side.reading import (
    Disturbed,
    changes_in,
    stem_disturbances,
    three_ways,
    undisturbed_reading,
)
from thermsim.assess.simulate.fineness import first_refinement
from thermsim.assess.spots.cold_spot import ProductFields
from thermsim.case.case import Case
from thermsim.case.probe import Probe
from thermsim.case.study import CRITERIA, Criterion
from thermsim.solve.basis.reduced import Solver
from thermsim.solve.grid.body import SAME, body_of
from thermsim.solve.grid.grid import grid_family
from thermsim.solve.grid.operator import operator_of

Array = NDArray[np.float64]
#: Rungs over the whole of what is allowed, and rungs added where it matters.
COARSE, ADDED = 9, 4
#: How much looser the time tolerance of rungs is than that of the recommended depth, which corrects them.
ROUGH = 4.0
#: How much looser once more where properties change or a stem is from the side, as every step then is a march's: what
#: steps leave is alike at all depths, and is corrected.
ROUGHER = 4.0
#: Rounds in which the own probe's ladder is made denser where figures are read off it.
SETTLED = 3
#: Rungs are not put closer together than this [m].
CLOSE = 0.5e-3
#: Where there are more rungs than a few the coarsest grid serves at every other: what it changes is smooth in depth,
#: but for bodies within, as wide as they are far from the container's end.
FEW, EVERY = 5, 2
#: Rungs beyond the end of a ladder whose best depth may lie there.
BEYOND = 4


class _Better(NamedTuple):
    """A depth solved in several ways, the best first, and the rough solution that they are corrections of, if any."""

    ways: list[Step]
    corrected: Step | None = None


@dataclass(frozen=True)
class Climb:
    """Common ground of the ladders of all candidates.

    Parameters
    ----------
    case : Case
        The container, product and process.
    undisturbed : ProductFields
        The container without a probe.
    background : Background or None
        The same, or the brick itself, as probes from the side disturb it; None without such a probe.
    truths : pair of Truth
        The undisturbed cold spots, in the order of :data:`CRITERIA`.
    criterion : Criterion
        The one that is chosen.
    margin : float
        Of the window: mismatch beyond the least, a fraction.
    sensor_accuracy : float
        [K], for the confirmation depths.
    tolerance : float
        Of the time steps [K].
    advance : callable
        Called after each solution.
    kept : dict of float to Refined, or to Disturbed from the side
        Whole solutions of the case's own probe that the result can take over, by depth.
    corrections : list of (Step, tuple of Correction)
        Rough solutions of probes through lid or base, and what whole ones change of them, the best first.
    """

    case: Case
    undisturbed: ProductFields
    background: Background | None
    truths: tuple[Truth, Truth]
    criterion: Criterion
    margin: float
    sensor_accuracy: float
    tolerance: float
    advance: Callable[[], None]
    kept: dict[float, Refined | Disturbed] = field(default_factory=dict)
    corrections: list[tuple[Step, tuple[Correction, ...]]] = field(default_factory=list)

    def candidate(self, probe: Probe, *, own: bool) -> Candidate | None:
        """Climb the ladder of one probe at its entry, whose insertion is varied; None where no depth is possible.

        The best depths are solved on the whole family of grids, or corrected as one that reads much the same. What is
        changed by that where the chosen criterion is best is changed at all.
        """
        limits = reachable_depths(self.case, probe)
        if limits is None:
            return None
        if limits[0] == limits[1]:
            ladder = self.ladder(probe, [limits[0]])
        else:
            ladder = self.ladder(probe, self._first_rungs(probe, limits))
            for _ in range(ADDED // 2):
                ladder = self._extended(probe, ladder, {ladder.choice(aim, self.margin).depth for aim in CRITERIA})
            if own:
                ladder = self._settled(probe, ladder)
        choices = {criterion: ladder.choice(criterion, self.margin) for criterion in CRITERIA}
        depths = {criterion: choice.depth for criterion, choice in choices.items()}
        rough = {criterion: ladder.at(depth) for criterion, depth in depths.items()}
        solved = {self.criterion: self._better(probe, rough[self.criterion], keep=own)}
        for criterion, depth in depths.items():
            same = abs(depth - depths[self.criterion]) < SAME
            solved[criterion] = solved[self.criterion] if same else self._better(probe, rough[criterion])
        moved = ladder.corrected(Correction.between(rough[self.criterion], solved[self.criterion].ways[0]))
        beyond = self._beyond(probe, ladder) if any(choice.at_limit for choice in choices.values()) else ladder

        def recommended(truth: Truth) -> Recommendation:
            criterion = truth.criterion
            window = moved.window(criterion, self.margin, depths[criterion])
            better = beyond.choice(criterion, self.margin)
            longer = better.depth > limits[1] + SAME
            return recommendation(
                truth,
                solved[criterion].ways,
                corrected=solved[criterion].corrected,
                window=window,
                margin=self.margin,
                tolerance=self.tolerance,
                probe=probe,
                # where longer probes were looked at and none is better, the end of the ladder is no limit
                at_limit=choices[criterion].at_limit and (longer or beyond is ladder or better.at_limit),
                needed=better.depth + least_outside(self.case, probe) if longer else None,
            )

        least, slowest = self.truths
        return Candidate(probe, (recommended(least), recommended(slowest)), moved.rungs, moved.profile)

    def _first_rungs(self, probe: Probe, limits: tuple[float, float]) -> list[float]:
        """Depths of the first rungs: evenly over the probe's own length, on at the same steps where others reach."""
        own = allowed_depths(self.case, probe)
        if own is None or own[1] >= limits[1] - CLOSE:
            return [*np.linspace(*limits, COARSE).tolist()]
        rungs = np.linspace(*own, COARSE)
        more = math.ceil((limits[1] - own[1]) / (rungs[1] - rungs[0]))
        return [*rungs.tolist(), *np.linspace(own[1], limits[1], more + 1)[1:].tolist()]

    def at_setting(self, probe: Probe, depth: float, window: tuple[float, float]) -> Recommendation:
        """Reading of a probe of a given make-up at a depth [m], by the chosen criterion."""
        truth = self.truths[CRITERIA.index(self.criterion)]
        solved = self._solved(probe, depth)
        return recommendation(truth, solved, window=window, margin=self.margin, tolerance=self.tolerance, probe=probe)

    def confirmation(self, probe: Probe, rungs: Sequence[Rung], depth: float) -> tuple[float, ...]:
        """Depths round the recommended one that tell the cold spot's place.

        With hardware at hand, of those that the probe which comes nearest can be set to.
        """
        ends, stock, possible = (rungs[0].depth, rungs[-1].depth), self.case.stock, None
        if stock is not None:
            at_hand = settings(stock, probe, self.case.container, depth=depth, window=ends, limits=ends)
            # where the stock can set nothing at all, depths are free as without one
            possible = settable(at_hand, ends)
        return confirmation_depths(rungs, depth, self.sensor_accuracy, possible)

    def _beyond(self, probe: Probe, ladder: Ladder) -> Ladder:
        """The ladder continued with longer probes to the end of the product; as it is where they change nothing."""
        deepest = allowed_depths(self.case, probe, math.inf)
        last = ladder.steps[-1].rung.depth
        if probe.mount == "inside" or deepest is None or deepest[1] <= last + CLOSE:
            return ladder
        more = self.steps(probe, np.linspace(last, deepest[1], BEYOND + 1)[1:].tolist())
        return Ladder((*ladder.steps, *more), self.truths)

    def _settled(self, probe: Probe, ladder: Ladder) -> Ladder:
        """Add rungs where the record will be read off the ladder: at the windows' edges and where it is confirmed."""
        for _ in range(SETTLED):
            wanted: set[float] = set()
            for criterion in CRITERIA:
                choice = ladder.choice(criterion, self.margin)
                wanted |= {choice.depth, *choice.window}
                if criterion == self.criterion:
                    wanted |= set(self.confirmation(probe, ladder.rungs, choice.depth))
            longer = self._extended(probe, ladder, wanted)
            if len(longer.steps) == len(ladder.steps):
                break
            ladder = longer
        return ladder

    def _extended(self, probe: Probe, ladder: Ladder, wanted: set[float]) -> Ladder:
        """The ladder with rungs at the depths wanted, where it has none close by."""
        new: list[float] = []
        for depth in sorted(wanted):
            if min(abs(depth - other) for other in [*new, *(rung.depth for rung in ladder.rungs)]) > CLOSE:
                new.append(depth)
        if not new:
            return ladder
        steps = sorted([*ladder.steps, *self.steps(probe, new)], key=lambda step: step.rung.depth)
        return Ladder(tuple(steps), self.truths)

    def ladder(self, probe: Probe, depths: Sequence[float]) -> Ladder:
        """Solve some depths, shallow to deep, on the two coarser grids, of many every other on the coarsest."""
        every = EVERY if len(depths) > FEW and probe.mount == "through" else 1
        firm = self.steps(probe, sorted({*depths[::every], depths[-1]}))
        change, known = Ladder(tuple(firm), self.truths).change, {step.rung.depth: step for step in firm}
        return Ladder(tuple(known.get(depth) or self._step(probe, depth, change) for depth in depths), self.truths)

    def steps(self, probe: Probe, depths: Sequence[float]) -> list[Step]:
        """Solve some depths on the two coarser grids."""
        return [self._step(probe, depth) for depth in depths]

    @property
    def _time(self) -> Array:
        """Times at which readings are kept [s]."""
        return self.truths[0].curve.time

    def _at(self, probe: Probe, depth: float) -> tuple[Case, Sensor]:
        """The case with a probe at a depth, and where that senses."""
        placed = set_to(self.case, probe, depth)
        return self.case.replace(probe=placed), Sensor(placed.tip_radius, *placed.sensed(self.case.container))

    def _beside(self, depth: float, reading: Reading, stack: Array) -> Step:
        """A reading beside what its place has without the probe, as its stack."""
        without = Reading.unstack(stack)
        rung = Rung(
            depth,
            math.exp(reading.log_lethality),
            math.exp(reading.log_heating),
            reading.end_of_heating,
            math.exp(without.log_lethality),
            math.exp(without.log_heating),
            without.end_of_heating,
        )
        return Step(rung, reading.temperature)

    def _from_side(
        self, probe: Probe, depth: float, *, tolerance: float, levels: Sequence[int] = LEVELS, keep: bool = False
    ) -> list[Array]:
        """Addition of a probe from the side to its reading at a depth, on grids about it."""
        background, placed = self._behind, set_to(self.case, probe, depth)
        disturbed = stem_disturbances(background, placed, tolerance=tolerance, levels=levels)
        if keep:
            self.kept[depth] = disturbed
        return changes_in(background, placed, disturbed, time=self._time)

    def _with_changes(self, probe: Probe, depth: float, changes: Sequence[Array]) -> list[Step]:
        """The steps of a probe from the side whose stem changes the reading so much."""
        without = undisturbed_reading(self._behind, set_to(self.case, probe, depth))
        return [self._beside(depth, Reading.unstack(without + change), without) for change in changes]

    @property
    def _behind(self) -> Background:
        if self.background is None:
            raise ValueError("what a probe from the side disturbs is not known")
        return self.background

    def _step(self, probe: Probe, depth: float, change: Callable[[float], Array] | None = None) -> Step:
        """Solve one depth on the two coarser grids, or on the second alone if what the first changes is known."""
        if probe.entry == "side":
            changes = self._from_side(probe, depth, tolerance=ROUGHER * ROUGH * self.tolerance, levels=MIDDLE)
            self.advance()
            return self._with_changes(probe, depth, changes)[0]
        there, sensor = self._at(probe, depth)
        process = self.case.process.facing(probe.entry, probe.film)
        stacks = []
        for grid in grid_family(body_of(there))[0 if change is None else 1 : 2]:
            operator = operator_of(grid)
            slack = ROUGH if operator.varying is None else ROUGHER * ROUGH
            history = Solver(operator, tolerance=slack * self.tolerance, once=True).follow(process)
            reading = reading_of(
                history,
                sensor.weights(grid),
                self.case.lethality,
                heated_until=process.heated_until,
                time=self._time,
            )
            stacks.append(reading.stack())
        self.advance()
        without = self.undisturbed.stack_at(*sensor.places())
        changed = extrapolated(*stacks) - stacks[1] if change is None else change(depth)
        step = self._beside(depth, Reading.unstack(stacks[-1] + changed), without)
        return step if change else dataclasses.replace(step, change=changed)

    def _better(self, probe: Probe, rough: Step, *, keep: bool = False) -> _Better:
        """Better a rough solution: as one that reads much the same, or anew."""
        known = next((better for like, better in self.corrections if like.reads_as(rough)), None)
        if known is not None and probe.entry != "side":
            return _Better([correction.of(rough) for correction in known], rough)
        solved = self._solved(probe, rough.rung.depth, keep=keep)
        if probe.entry != "side":
            self.corrections.append((rough, tuple(Correction.between(rough, step) for step in solved)))
        return _Better(solved)

    def _solved(self, probe: Probe, depth: float, *, keep: bool = False) -> list[Step]:
        """Solve one depth on the whole family of grids: the best, one refinement earlier, with looser steps.

        What is to be kept for the result is solved with its fields.
        """
        if probe.entry == "side":
            changes = self._from_side(probe, depth, tolerance=self.tolerance, keep=keep)
            placed = set_to(self.case, probe, depth)
            ways = three_ways(self._behind, placed, changes, time=self._time, tolerance=self.tolerance)
            self.advance()
            return self._with_changes(probe, depth, ways)
        there, sensor = self._at(probe, depth)
        if keep:
            self.kept[depth] = refined = refine(
                there,
                time=self._time,
                field_time=self._time[-1:],
                refinement=first_refinement(self.case.accuracy),
                tolerance=self.tolerance,
                once=True,
            )
            readings = refined.readings
        else:
            family = Family(there, tolerance=self.tolerance, once=True)
            both = readings_of(there, family.grids, family.followed(there), time=self._time)
            readings = both[0] if both else None
        self.advance()
        without = self.undisturbed.stack_at(*sensor.places())
        return [self._beside(depth, reading, without) for reading in readings or ()]
