"""What a case file says wrongly of where a probe fits."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from thermsim.case.container import Container
from thermsim.case.keys.checks import Table
from thermsim.case.mounting import _ROUNDING, CLEAR_OF_RISE, Reach, _parts, reach_of, room_for
from thermsim.case.probe import Fitting, Probe, Segment
from thermsim.case.side_mounting import _misfits, unfit_container
from thermsim.text import in_mm, printed


@dataclass(frozen=True)
class Written:
    """The tables of the case file that a probe was read from: its own, its segments', its fitting's, its gap's."""

    probe: Table
    segments: Sequence[Table]
    fitting: Table
    gap: Table


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
    if probe.entry == "side" and not check_side(written.probe, probe, container, filled):
        return
    reach = reach_of(container, filled, probe.entry)
    if probe.mount == "inside":
        _check_stack(written.probe, probe, reach)
    else:
        _check_through(written.probe, probe, reach)
    if container.profile.narrowest == 0.0:
        written.probe.fault(
            "profile_mm ends in a point on the axis, where a probe cannot be computed; let it end at a radius above "
            "the probe's"
        )
        return
    _check_rise(written.probe, probe, container, reach)
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
        opposite = {"lid": "base", "base": "lid", "side": "side wall opposite"}[probe.entry]
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
        walls = "inside the side wall" if probe.entry == "side" else "between base and lid"
        table.fault(f"{shown}, more than the {in_mm(room)} mm {walls}; give shorter ones")
    elif not first + _ROUNDING < probe.length <= last + _ROUNDING and not math.isnan(first + last + probe.length):
        table.fault(
            f"{shown}, which puts the tip into the headspace, where it measures no product; it must be above "
            f"{in_mm(first)} and at most {in_mm(last)} mm"
        )


def _check_rise(table: Table, probe: Probe, container: Container, reach: Reach) -> None:
    """A base that rises carries the probe, or leaves the tip of one from the lid free."""
    if container.rise is None:
        return
    wide, depth = container.rise.diameter, probe.depth(container)
    if probe.entry == "base" and probe.widest >= wide - _ROUNDING:
        table.fault(
            f"the probe with its fitting and gap is {in_mm(probe.widest)} mm wide; it must be narrower than the rise "
            f"of the base that it stands on or passes, {in_mm(wide)} mm"
        )
    elif probe.entry == "lid" and depth is not None:
        last = reach.product[1] - CLEAR_OF_RISE
        if last + _ROUNDING < depth <= reach.product[1] + _ROUNDING:
            table.fault(
                f"the tip, {in_mm(depth)} mm from the outer face of the lid, is too near to the base, which rises "
                f"towards it; at most {in_mm(last)} mm are handled by this version"
            )


def _check_widths(written: Written, probe: Probe, container: Container) -> None:
    """There is product beside every segment, its gap included."""
    gap = probe.gap.thickness if probe.gap else 0.0
    parts = _parts(probe, container)
    for row, segment, part in zip(written.segments, probe.segments, parts, strict=True):
        room = room_for(segment.diameter, probe, container, part)
        if segment.diameter >= room.diameter - _ROUNDING:
            row.fault(f"{_shown(row, 'diameter_mm')} must be less than {room.where}")
            continue
        room = room_for(segment.diameter + 2 * gap, probe, container, part)
        if segment.diameter + 2 * gap >= room.diameter - _ROUNDING:
            written.gap.fault(
                f"{_shown(written.gap, 'thickness_mm')} round a segment of {in_mm(segment.diameter)} mm fills "
                f"{room.where}; it must be less than {in_mm((room.diameter - segment.diameter) / 2)} mm"
            )


def _check_fitting(table: Table, probe: Probe, fitting: Fitting, container: Container, reach: Reach) -> None:
    """The fitting fits the container, lets the stem through and leaves the tip free."""
    hole = room_for(fitting.diameter, probe, container, probe.fitted(container))
    if fitting.diameter >= hole.diameter - _ROUNDING:
        table.fault(f"{_shown(table, 'diameter_mm')} must be less than {hole.where}")
    stem = _widest_in(probe, fitting, container, reach)
    if stem is not None and stem.diameter >= fitting.diameter - _ROUNDING:
        table.fault(
            f"{_shown(table, 'diameter_mm')} must be more than that of the stem in it, {in_mm(stem.diameter)} mm"
        )
    room = reach.opposite - reach.wall
    depth = probe.depth(container)
    shown = _shown(table, "inside_mm")
    if fitting.inside >= room - _ROUNDING:
        walls = "inside the side wall" if probe.entry == "side" else "between base and lid"
        table.fault(f"{shown} must be less than the {in_mm(room)} mm {walls}")
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


def check_side(table: Table, probe: Probe, container: Container, filled: float) -> bool:
    """Report what is wrong with a probe from the side in a case file; whether the rest can be judged.

    Parameters
    ----------
    table : Table
        The probe's.
    probe : Probe
        With at least one segment.
    container : Container
    filled : float
        Depth of the product [m]; NaN where the fill is at fault.
    """
    if math.isnan(container.inner_height + container.profile.narrowest + filled):
        return False
    found = unfit_container(container)
    if found:
        table.fault(f'entry = "side": {found}; take the lid or the base')
        return False
    if probe.z is not None and math.isnan(probe.z):
        return False
    for fault in _misfits(probe, container, container.floor + filled):
        table.fault(fault)
        return False
    return True
