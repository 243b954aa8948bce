"""Content of a bench sheet: the depth to be set with the hardware at hand, and the readings to expect there."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass

from thermsim.assess.depth.limits import held_outside, set_to
from thermsim.assess.probe.advice import Advice, Recommendation, Rung, Setting
from thermsim.assess.probe.hardware import made_up, settable
from thermsim.assess.probe.ladder import confirmation_depths, interpolated
from thermsim.assess.simulate.result import Result
from thermsim.case.container import Container
from thermsim.case.outline import outer_radius_at
from thermsim.case.probe import Probe
from thermsim.figures.probe.ladder import advice_of

#: Depths nearer to each other than this are one [m].
SAME = 1e-6


@dataclass(frozen=True)
class Row:
    """A label and what it says; ``big`` for the figure the page is about, ``strong`` for those that are set."""

    label: str
    value: str
    strong: bool = False
    big: bool = False


@dataclass(frozen=True)
class Bench:
    """The depth that is set, and what belongs to it.

    Parameters
    ----------
    recommended : Recommendation
        For the criterion that was chosen.
    setting : Setting or None
        The hardware that comes nearest; None where no stock is given.
    probe : Probe
        As it is to be set: its length or its spacers those of the setting.
    depth : float
        Outer face of the wall to the tip [m].
    reading, confirmation : Rung, tuple of Rung
        What is read there, and at the depths round it.
    worth : Recommendation
        What the reading there is worth: of the setting's own hardware, where there is one.
    travel : (float, float)
        Shallowest and deepest that this probe and its fitting can be set to [m].
    at_hand : bool
        Whether the depth can be set: False where nothing in stock reaches a depth that is possible.
    """

    recommended: Recommendation
    setting: Setting | None
    probe: Probe
    depth: float
    reading: Rung
    confirmation: tuple[Rung, ...]
    worth: Recommendation
    travel: tuple[float, float]
    at_hand: bool = True

    @property
    def off(self) -> bool:
        """True where the depth that is set is another one than is recommended."""
        return abs(self.depth - self.recommended.depth) > SAME

    @property
    def tolerance(self) -> tuple[float, float] | None:
        """Distances to the window's ends, less deep and deeper [m], both >= 0, as far as the fitting travels.

        None where the depth is outside the window.
        """
        low, high = self.recommended.window
        if not low - SAME <= self.depth <= high + SAME:
            return None
        low, high = max(low, self.travel[0]), min(high, self.travel[1])
        return max(self.depth - low, 0.0), max(high - self.depth, 0.0)

    @property
    def stick_out(self) -> float:
        """Outer face of the wall to the outer end of the probe [m]."""
        return self.probe.length - self.depth


def bench_of(result: Result) -> Bench:
    """Gather what a bench sheet says.

    Raises
    ------
    ValueError
        If the result holds no advice.
    """
    advice, container = advice_of(result), result.case.container
    recommended = advice.own.recommended(advice.criterion)
    setting = advice.settings[0] if advice.settings else None
    depth = setting.depth if setting else recommended.depth
    worth = _worth(advice, recommended, setting)
    probe = made_up(advice.own.probe, setting, container) if setting else set_to(result.case, advice.own.probe, depth)
    reading = dataclasses.replace(
        interpolated(advice.own.ladder, depth),
        lethality=worth.lethality,
        heating_lethality=worth.heating_lethality,
        end_of_heating=worth.end_of_heating,
    )
    return Bench(
        recommended=recommended,
        setting=setting,
        probe=probe,
        depth=depth,
        reading=reading,
        confirmation=tuple(interpolated(advice.own.ladder, one) for one in _confirmation(advice, setting, depth)),
        worth=worth,
        travel=_travel(probe, setting),
        at_hand=setting is not None or result.case.stock is None,
    )


def _worth(advice: Advice, recommended: Recommendation, setting: Setting | None) -> Recommendation:
    """Worth of the reading with a setting, as it was solved; where it was not, as the ladder says."""
    if setting is None:
        return recommended
    if setting.worth is not None:
        return setting.worth
    rung = interpolated(advice.own.ladder, setting.depth)
    heating = (1.0 + recommended.heating_over_reading) * rung.heating_lethality / recommended.heating_lethality
    gained, known = (one.lethality - one.heating_lethality for one in (rung, recommended))
    cooling = (1.0 + recommended.cooling_over_reading) * gained / known if known > 0.0 else 1.0
    return dataclasses.replace(
        recommended,
        depth=setting.depth,
        lethality=rung.lethality,
        heating_lethality=rung.heating_lethality,
        end_of_heating=rung.end_of_heating,
        mismatch=advice.own.profile.at(setting.depth, advice.criterion),
        over_reading=rung.measure(advice.criterion) / recommended.truth - 1.0,
        heating_bias=rung.heating_lethality / rung.without_heating - 1.0,
        heating_over_reading=heating - 1.0,
        cooling_over_reading=cooling - 1.0,
    )


def _confirmation(advice: Advice, setting: Setting | None, depth: float) -> tuple[float, ...]:
    """Depths round the one that is set [m], of those that the hardware at hand can be set to, which tell it apart."""
    if setting is None or abs(setting.misfit) <= SAME:
        return advice.confirmation
    ladder = advice.own.ladder
    possible = settable(advice.settings, (ladder[0].depth, ladder[-1].depth))
    return confirmation_depths(ladder, depth, advice.sensor_accuracy, possible)


def _travel(probe: Probe, setting: Setting | None) -> tuple[float, float]:
    """Depths [m] that a probe as it is can be set to."""
    if setting is not None and setting.travel is not None:
        return setting.travel
    return (0.0, probe.length - held_outside(probe) if probe.mount == "through" else math.inf)


def edge_radius(probe: Probe, container: Container) -> float:
    """Outer radius of the container where the wall that is entered ends [m]: from that edge the axis is found."""
    top = probe.entry == "lid"
    outer = outer_radius_at(container, container.outer_height if top else 0.0)
    return container.measured(outer, container.profile.corners[-1 if top else 0][1])


def hole_height(probe: Probe, container: Container) -> float:
    """Height of a probe from the side above what the container stands on [m]: a can on its seam, not on its panel."""
    return (probe.z or 0.0) + container.seam_above("base")


def standing(probe: Probe) -> str:
    """Place where a probe inside stands or hangs, in words."""
    how = {"base": "stands on", "lid": "hangs from", "side": "is fixed to"}[probe.entry]
    return f"{how} the inside of the {probe.wall}"
