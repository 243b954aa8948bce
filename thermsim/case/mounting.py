"""Whether a probe fits its container: where its tip may be, how wide it may be, what its fitting leaves free."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from thermsim.case.checks import Table, in_mm, printed
from thermsim.case.container import Container
from thermsim.case.probe import Entry, Fitting, Probe, Segment

_ROUNDING = 1e-9  # m; what turning millimetres into metres and back may leave over


@dataclass(frozen=True)
class Reach:
    """Depths below the outer face of the entered wall [m]; NaN where container or fill are at fault.

    ``wall`` is where that wall ends, ``product`` the range that the product takes, ``opposite`` the inner face of
    the wall on the other side.
    """

    wall: float
    product: tuple[float, float]
    opposite: float


@dataclass(frozen=True)
class Written:
    """The tables of the case file that a probe was read from: its own, its segments', its fitting's, its gap's."""

    probe: Table
    segments: Sequence[Table]
    fitting: Table
    gap: Table


def reach_of(container: Container, filled: float, entry: Entry) -> Reach:
    """Where a probe that enters by a wall meets what; ``filled`` is the product's depth [m]."""
    surface = container.floor + filled
    if entry == "lid":
        top = container.outer_height
        return Reach(top - container.ceiling, (top - surface, top - container.floor), top - container.floor)
    return Reach(container.floor, (container.floor, surface), container.ceiling)


def check_mounting(written: Written, probe: Probe, container: Container, filled: float) -> None:
    """Report where a probe with at least one segment does not fit the container.

    Parameters
    ----------
    written : Written
        The tables that the faults belong to.
    probe : Probe
    container : Container
    filled : float
        Depth of the product [m].
    """
    reach = reach_of(container, filled, probe.entry)
    if probe.mount == "inside":
        _check_stack(written.probe, probe, reach)
    else:
        _check_through(written.probe, probe, reach)
    _check_widths(written, probe, container)
    if probe.fitting:
        _check_fitting(written.fitting, probe, probe.fitting, container, reach)
    last = probe.segments[-1].length
    if probe.sensing > last + _ROUNDING:
        written.probe.fault(
            f"{_shown(written.probe, 'sensing_mm')} is more than the length of the last segment, {in_mm(last)} mm"
        )


def _shown(table: Table, name: str) -> str:
    return f"{name} = {printed(table.entries.get(name))}"


def _check_through(table: Table, probe: Probe, reach: Reach) -> None:
    """A probe through a wall is long enough to come into the product, and its insertion puts the tip there."""
    first, last = reach.product
    if probe.length <= first + _ROUNDING:
        table.fault(
            f"segments are {in_mm(probe.length)} mm long together and do not come into the product, which begins "
            f"{in_mm(first)} mm from the outer face of the {probe.entry}; give longer ones"
        )
    elif probe.insertion is not None:
        _check_insertion(table, probe, probe.insertion, reach)


def _check_insertion(table: Table, probe: Probe, insertion: float, reach: Reach) -> None:
    """The tip lies in the product and the outer end not in the container."""
    shown = _shown(table, "insertion_mm")
    first, last = reach.product
    most = min(depth for depth in (last, reach.opposite, probe.length, math.inf) if not math.isnan(depth))
    allowed = f"it must be above {in_mm(first)} and at most {in_mm(most)} mm"
    if insertion > reach.opposite + _ROUNDING:
        opposite = "base" if probe.entry == "lid" else "lid"
        table.fault(
            f"{shown} puts the tip beyond the inside of the {opposite}; at most {in_mm(most)} mm are possible"
        )
    elif insertion > last + _ROUNDING:
        table.fault(f"{shown} puts the tip into the headspace, where it measures no product; {allowed}")
    elif insertion <= first + _ROUNDING:
        place = f"the {probe.entry}" if insertion <= reach.wall + _ROUNDING else "the headspace"
        table.fault(f"{shown} leaves the tip in {place}, where it measures no product; {allowed}")
    elif insertion > probe.length + _ROUNDING:
        table.fault(
            f"{shown} is more than the length of all segments, {in_mm(probe.length)} mm: the probe would not reach "
            "out of the container; give longer segments or less insertion"
        )


def _check_stack(table: Table, probe: Probe, reach: Reach) -> None:
    """The tip of a stack that stands or hangs inside lies in the product."""
    first, last = (depth - reach.wall for depth in reach.product)
    room = reach.opposite - reach.wall
    shown = f"segments are {in_mm(probe.length)} mm long together"
    if probe.length > room + _ROUNDING:
        table.fault(f"{shown}, more than the {in_mm(room)} mm between base and lid; give shorter ones")
    elif not first + _ROUNDING < probe.length <= last + _ROUNDING and not math.isnan(first + last + probe.length):
        table.fault(
            f"{shown}, which puts the tip into the headspace, where it measures no product; it must be above "
            f"{in_mm(first)} and at most {in_mm(last)} mm"
        )


def _check_widths(written: Written, probe: Probe, container: Container) -> None:
    """There is product beside every segment, its gap included."""
    inner = container.inner_diameter
    gap = probe.gap.thickness if probe.gap else 0.0
    for row, segment in zip(written.segments, probe.segments, strict=True):
        if segment.diameter >= inner - _ROUNDING:
            row.fault(
                f"{_shown(row, 'diameter_mm')} must be less than the container's inner diameter, {in_mm(inner)} mm"
            )
        elif segment.diameter + 2 * gap >= inner - _ROUNDING:
            written.gap.fault(
                f"{_shown(written.gap, 'thickness_mm')} round a segment of {in_mm(segment.diameter)} mm fills the "
                f"container's inner diameter, {in_mm(inner)} mm; it must be less than "
                f"{in_mm((inner - segment.diameter) / 2)} mm"
            )


def _check_fitting(table: Table, probe: Probe, fitting: Fitting, container: Container, reach: Reach) -> None:
    """The fitting fits the container, lets the stem through and leaves the tip free."""
    if fitting.diameter >= container.inner_diameter - _ROUNDING:
        table.fault(
            f"{_shown(table, 'diameter_mm')} must be less than the container's inner diameter, "
            f"{in_mm(container.inner_diameter)} mm"
        )
    stem = _widest_in(probe, fitting, container, reach)
    if stem is not None and stem.diameter >= fitting.diameter - _ROUNDING:
        table.fault(
            f"{_shown(table, 'diameter_mm')} must be more than that of the stem in it, {in_mm(stem.diameter)} mm"
        )
    room = reach.opposite - reach.wall
    depth = probe.depth(container)
    shown = _shown(table, "inside_mm")
    if fitting.inside >= room - _ROUNDING:
        table.fault(f"{shown} must be less than the {in_mm(room)} mm between base and lid")
    elif depth is not None and fitting.inside >= depth - reach.wall - _ROUNDING:
        if depth > reach.wall + _ROUNDING:
            table.fault(
                f"{shown} reaches to the tip or beyond it; it must be less than {in_mm(depth - reach.wall)} mm, the "
                f"distance from the inside of the {probe.entry} to the tip"
            )
    elif depth is None:
        for deepest in (probe.length - reach.wall, reach.product[1] - reach.wall):
            if deepest > 0.0 and fitting.inside >= deepest - _ROUNDING:
                table.fault(
                    f"{shown} leaves no place for the tip, which can be {in_mm(deepest)} mm from the inside of the "
                    f"{probe.entry} at most"
                )
                break


def _widest_in(probe: Probe, fitting: Fitting, container: Container, reach: Reach) -> Segment | None:
    """The widest segment that stands in the fitting; with the insertion unknown the narrowest of all."""
    depth = probe.depth(container)
    if depth is None:
        return min(probe.segments, key=lambda segment: segment.diameter)
    inside = []
    end = depth
    for segment in reversed(probe.segments):
        start, tipward = end - segment.length, end
        if start < reach.wall + fitting.inside - _ROUNDING and tipward > -fitting.outside + _ROUNDING:
            inside.append(segment)
        end = start
    return max(inside, key=lambda segment: segment.diameter, default=None)
