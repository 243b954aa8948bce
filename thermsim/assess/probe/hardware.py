"""What the hardware at hand can do: probes of stock lengths in a fitting that can be set, or stacks of spacers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations_with_replacement

from thermsim.case.container import Container
from thermsim.case.probe import Probe, Stock
from thermsim.solve.grid.body import SAME


@dataclass(frozen=True)
class Setting:
    """A combination of hardware and where it puts the tip.

    ``depth`` outer face of the entered wall to the tip, ``misfit`` how much deeper that is than recommended [m];
    ``in_window`` whether the reading stays within the window. ``length`` of the probe and ``stick_out``, what remains
    outside of the wall's outer face and can be measured there [m], for a probe through the wall; ``spacers`` from the
    wall up, their heights [m], for one inside.
    """

    depth: float
    misfit: float
    in_window: bool
    length: float | None = None
    stick_out: float | None = None
    spacers: tuple[float, ...] = ()


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
    found = _through(stock, depth) if probe.mount == "through" else _inside(stock, probe, container)
    made = [
        Setting(
            depth=reached,
            misfit=reached - depth,
            in_window=window[0] <= reached <= window[1],
            length=length,
            stick_out=stick_out,
            spacers=spacers,
        )
        for reached, length, stick_out, spacers in found
        if limits[0] - SAME <= reached <= limits[1] + SAME
    ]
    # the nearest first; of alike ones the shorter probe, the fewer spacers
    return tuple(sorted(made, key=lambda one: (round(abs(one.misfit), 7), one.length or 0.0, len(one.spacers))))


_Found = tuple[float, float | None, float | None, tuple[float, ...]]


def _through(stock: Stock, depth: float) -> Iterator[_Found]:
    """For each probe at hand the setting of the fitting that brings its tip nearest."""
    for length in stock.lengths:
        least, most = stock.travel if stock.travel else (0.0, length)
        deepest, shallowest = length - least, length - most
        reached = min(max(depth, shallowest), deepest)
        yield reached, length, length - reached, ()


def _inside(stock: Stock, probe: Probe, container: Container) -> Iterator[_Found]:
    """All stacks of the spacers at hand, and none."""
    rest = probe.fixed_length + probe.wall_thickness(container)
    for count in range(stock.most_spacers + 1):
        for stack in combinations_with_replacement(sorted(stock.spacers, reverse=True), count):
            yield rest + sum(stack), None, None, stack
