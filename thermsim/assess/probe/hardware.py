"""Reach of the hardware at hand: probes of stock lengths in a fitting that can be set, or stacks of spacers."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations_with_replacement

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.probe.advice import Setting
from thermsim.case.container import Container
from thermsim.case.probe import Probe, Stock
from thermsim.solve.grid.body import SAME

#: Depths that are tried between the ends of a probe's travel.
STEPS = 401


def settings(
    stock: Stock,
    probe: Probe,
    container: Container,
    *,
    depth: float,
    window: tuple[float, float],
    limits: tuple[float, float],
) -> tuple[Setting, ...]:
    """All that the stock allows, the nearest to the recommended depth first.

    Parameters
    ----------
    stock : Stock
        What is at hand.
    probe : Probe
        The probe; a stack inside must have a spacer.
    container : Container
        For the wall's thickness.
    depth : float
        Recommended depth [m].
    window, limits : (float, float)
        Depths whose reading is as good, and depths that are possible at all [m].

    Returns
    -------
    tuple of Setting
    """
    found = _through(stock, probe, depth) if probe.mount == "through" else _inside(stock, probe, container)
    made = [
        Setting(
            depth=reached,
            misfit=reached - depth,
            in_window=window[0] - SAME <= reached <= window[1] + SAME,
            length=length,
            stick_out=stick_out,
            spacers=spacers,
            travel=travel,
        )
        for reached, length, stick_out, spacers, travel in found
        if limits[0] - SAME <= reached <= limits[1] + SAME
    ]
    # the nearest first; of alike ones the shorter probe, the fewer spacers
    return tuple(sorted(made, key=lambda one: (round(abs(one.misfit), 7), one.length or 0.0, len(one.spacers))))


def settable(found: Sequence[Setting], ends: tuple[float, float]) -> NDArray[np.float64] | None:
    """Depths [m] between two ends that the hardware which comes nearest can be set to; None where there is none.

    A fitting that can be set reaches all between, stacks reach their own.
    """
    if not found:
        return None
    travel = found[0].travel
    if travel is None:
        return np.unique([one.depth for one in found])
    return np.linspace(max(travel[0], ends[0]), min(travel[1], ends[1]), STEPS)


_Found = tuple[float, float | None, float | None, tuple[float, ...], tuple[float, float] | None]


def _through(stock: Stock, probe: Probe, depth: float) -> Iterator[_Found]:
    """For each probe at hand the setting of the fitting that brings its tip nearest."""
    for length in stock.lengths:
        least, most = stock.stick_out(probe, length)
        deepest, shallowest = length - least, length - most
        if shallowest <= deepest:
            reached = min(max(depth, shallowest), deepest)
            yield reached, length, length - reached, (), (shallowest, deepest)


def _inside(stock: Stock, probe: Probe, container: Container) -> Iterator[_Found]:
    """All stacks of the spacers at hand, and none."""
    rest = probe.fixed_length + probe.wall_thickness(container)
    for count in range(stock.most_spacers + 1):
        for stack in combinations_with_replacement(sorted(stock.spacers, reverse=True), count):
            yield rest + sum(stack), None, None, stack, None


def made_up(probe: Probe, setting: Setting, container: Container) -> Probe:
    """The probe as a setting has it: of its length, or with its spacers, at its depth."""
    if setting.length is not None:
        probe = probe.of_length(setting.length)
    if probe.mount == "inside" and not any(segment.spacer for segment in probe.segments):
        return probe
    return probe.at_depth(setting.depth, container)
