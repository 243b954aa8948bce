"""Content of a bench sheet: the depth to be set with the hardware at hand, and the readings to expect there."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

from thermsim.assess.probe.advice import Advice, Recommendation, Rung
from thermsim.assess.probe.hardware import Setting
from thermsim.assess.probe.ladder import interpolated
from thermsim.assess.simulate.result import Result
from thermsim.case.container import Container
from thermsim.case.outline import outer_radius_at
from thermsim.case.probe import Probe
from thermsim.figures.probe.ladder import advice_of

#: Depths nearer to each other than this are one [m].
SAME = 1e-6


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
    mismatch : float
        How far the reading's history there is from that of the place it is to show, a fraction.
    over_reading, heating_over_reading : float
        What is read too high there, by what the criterion compares and until heating ends, as fractions.
    """

    recommended: Recommendation
    setting: Setting | None
    probe: Probe
    depth: float
    reading: Rung
    confirmation: tuple[Rung, ...]
    mismatch: float
    over_reading: float
    heating_over_reading: float

    @property
    def tolerance(self) -> tuple[float, float] | None:
        """Distances to the window's ends, less deep and deeper [m], both >= 0; None where the depth is outside it."""
        low, high = self.recommended.window
        if not low - SAME <= self.depth <= high + SAME:
            return None
        return max(self.depth - low, 0.0), max(high - self.depth, 0.0)

    @property
    def factor(self) -> float:
        """Factor that turns the reading into what it should be."""
        return 1.0 / (1.0 + self.over_reading)

    @property
    def factor_uncertainty(self) -> float:
        """Numerical uncertainty of the factor."""
        return self.recommended.uncertainty * self.factor**2

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
    reading = _reading(advice, recommended, depth)
    return Bench(
        recommended=recommended,
        setting=setting,
        probe=_as_set(advice.own.probe, depth, setting, container),
        depth=depth,
        reading=reading,
        # the stock may set the sheet's own depth to one of them
        confirmation=tuple(
            interpolated(advice.own.ladder, one) for one in advice.confirmation if abs(one - depth) > SAME
        ),
        mismatch=recommended.mismatch
        if abs(depth - recommended.depth) <= SAME
        else advice.own.profile.at(depth, advice.criterion),
        over_reading=reading.measure(advice.criterion) / recommended.truth - 1.0,
        heating_over_reading=(1.0 + recommended.heating_over_reading)
        * reading.heating_lethality
        / recommended.heating_lethality
        - 1.0,
    )


def _reading(advice: Advice, recommended: Recommendation, depth: float) -> Rung:
    """Reading at a depth: at the recommended one as it was solved there, else between the rungs."""
    rung = interpolated(advice.own.ladder, depth)
    if abs(depth - recommended.depth) > SAME:
        return rung
    return dataclasses.replace(
        rung,
        lethality=recommended.lethality,
        heating_lethality=recommended.heating_lethality,
        end_of_heating=recommended.end_of_heating,
    )


def _as_set(probe: Probe, depth: float, setting: Setting | None, container: Container) -> Probe:
    """The probe at a depth, a stem from the stock longer or shorter at its outer end."""
    if setting is not None and setting.length is not None:
        first = probe.segments[0]
        longer = first.length + setting.length - probe.length
        if longer > 0.0:
            segments = (dataclasses.replace(first, length=longer), *probe.segments[1:])
            probe = dataclasses.replace(probe, segments=segments)
    if probe.mount == "inside" and not any(segment.spacer for segment in probe.segments):
        return probe
    return probe.at_depth(depth, container)


def edge_radius(probe: Probe, container: Container) -> float:
    """Outer radius of the container where the wall that is entered ends [m]: from that edge the axis is found."""
    return outer_radius_at(container, container.outer_height if probe.entry == "lid" else 0.0)


def standing(probe: Probe) -> str:
    """Place where a probe inside stands or hangs, in words."""
    how = {"base": "stands on", "lid": "hangs from", "side": "is fixed to"}[probe.entry]
    return f"{how} the inside of the {probe.wall}"
