"""Reading of a probe from the side, and its effect on the product round it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.fields.curve import Curve
from thermsim.assess.fields.family import errors_lost
from thermsim.assess.fields.lethality import LEAST
from thermsim.assess.fields.reading import Course, Reading, lethality_along, summed
from thermsim.assess.probe.effect import ProbeEffect, StemSection, bias_of, curve_of, factors_of
from thermsim.assess.side.background import Background
from thermsim.assess.side.field import FINER, About
from thermsim.assess.side.reading import (
    Disturbed,
    about_of,
    changes_in,
    stem_disturbances,
    three_ways,
    undisturbed_ways,
)
from thermsim.assess.spots.cold_spot import Spot
from thermsim.case.case import Case
from thermsim.case.probe import Probe
from thermsim.solve.stem.disturbance import Disturbance
from thermsim.solve.stem.stem_operator import StemOperator

Array = NDArray[np.float64]


@dataclass(frozen=True)
class _Around:
    """The fields about the stem on one grid, at its nodes (n,), and where among them the product gets least.

    ``between``: by what the figures of that place are uncertain as it lies between nodes, half of what lies between
    it and those next to it.
    """

    operator: StemOperator
    end_of_heating: Array
    without_end: Array
    log_lethality: Array
    log_heating: Array
    least: Spot
    beside_stem: bool
    between: dict[str, float]

    @property
    def figures(self) -> dict[str, float]:
        """Figures of that place by name."""
        return {name: float(getattr(self.least, name)) for name in self.between}


def side_effects(
    case: Case,
    background: Background,
    cold_spot: Curve,
    *,
    time: Array,
    tolerance: float,
    disturbed: Disturbed | None = None,
) -> tuple[list[ProbeEffect], dict[str, float]]:
    """Hold the reading of a probe from the side against the container without it.

    Parameters
    ----------
    case : Case
        With its probe, whose insertion and height are known.
    background : Background
        The container without it.
    cold_spot : Curve
        What happens at the undisturbed least-lethality place.
    time : ndarray, shape (n_t,)
        Output times [s].
    tolerance : float
        Largest estimated error of a time step [K].
    disturbed : list, optional
        Of :func:`stem_disturbances` with that tolerance, where it is there already.

    Returns
    -------
    effects : list of ProbeEffect
        The best, with the coarser grids about the stem and of the container, and with looser time steps and what
        properties that change leave open.
    between : dict of str to float
        What the figures of the product's least-lethality place are uncertain by as it lies between nodes of one grid,
        from which nothing is extrapolated, by name.
    """
    probe = case.probe
    if probe is None:
        raise ValueError("the case has no probe")
    disturbed = disturbed or stem_disturbances(background, probe, tolerance=tolerance)
    changes = changes_in(background, probe, disturbed, time=time)
    best, coarser, looser = three_ways(background, probe, changes, time=time, tolerance=tolerance)
    about = about_of(background.case, probe)
    middle, fine = (_fields(background, about, *one) for one in disturbed[1:])
    found = [
        _effect(case, probe, without, change, around, cold_spot, time)
        for without, change, around in zip(
            undisturbed_ways(background, probe), (best, coarser, looser), (fine, middle, fine), strict=True
        )
    ]
    left = {name: abs(value - middle.figures[name]) / errors_lost(FINER) for name, value in fine.figures.items()}
    return found, {name: max(half, left[name]) for name, half in fine.between.items()}


def _effect(
    case: Case, probe: Probe, stack: Array, change: Array, around: _Around, cold_spot: Curve, time: Array
) -> ProbeEffect:
    """The effect from one undisturbed reading, as its stack, and one change of it."""
    depth, tip, height = probe.depth(case.container), probe.tip(case.container), probe.z
    if depth is None or tip is None or height is None:
        raise ValueError("the probe's insertion and height are not known yet")
    place = (abs(tip), height)
    read = curve_of("reading", place, Reading.unstack(stack + change), time)
    without = curve_of("without", place, Reading.unstack(stack), time)
    least, heated_until = around.least, case.process.heated_until
    return ProbeEffect(
        probe=probe,
        depth=depth,
        reading=read,
        without_probe=without,
        at_place=bias_of(read, without, heated_until),
        at_cold_spot=bias_of(read, cold_spot, heated_until),
        factors=factors_of(case, read),
        factors_without=factors_of(case, without),
        least_lethality=least,
        moved=math.hypot(least.r - cold_spot.r, least.z - cold_spot.z),
        beside_stem=around.beside_stem,
        grid=None,
        end_of_heating=None,
        lethality=None,
        section=_section(around, height),
    )


def _fields(background: Background, about: About, operator: StemOperator, disturbance: Disturbance) -> _Around:
    """Fields with the probe at the nodes of one grid: the container's own, and what the stem changes."""
    case = background.case
    there = np.flatnonzero(operator.capacity_without > 0.0)
    places = operator.of_nodes_many(operator.grid.places())
    without_end = np.full(operator.count, case.product.initial)
    without_end[there] = background.end_at(about, places[there], 0)
    change = Course(disturbance.time, disturbance.difference, disturbance.rate)
    ended = change.entry_before(case.process.heated_until)
    end = without_end + disturbance.difference[ended]
    without_end[np.setdiff1d(np.arange(operator.count), there)] = np.nan

    product = np.flatnonzero(operator.product_nodes)
    alone = background.course_at(about, places[product])
    with_probe = summed(alone, Course(change.time, change.temperature[:, product], change.rate[:, product]))
    logs = []
    for own, whole in zip(background.logs_at(about, places[product], 0), (True, False), strict=True):
        gained = [
            np.log(
                np.maximum(
                    lethality_along(course, case.lethality)[
                        -1 if whole else course.entry_before(case.process.heated_until)
                    ],
                    LEAST,
                )
            )
            for course in (with_probe, alone)
        ]
        log = np.full(operator.count, np.nan)
        log[product] = own + gained[0] - gained[1]
        logs.append(log)
    r, z = about.section(places)
    least = int(np.nanargmin(logs[0]))
    near = _beside(operator, least, product)
    spot = Spot(
        float(r[least]),
        float(z[least]),
        float(np.exp(logs[0][least])),
        float(np.exp(logs[1][least])),
        float(end[least]),
        bool(operator.inner_nodes[least]),
    )
    figures = {
        "r": r,
        "z": z,
        "lethality": np.exp(logs[0]),
        "heating_lethality": np.exp(logs[1]),
        "end_of_heating": end,
    }
    between = {name: float(np.abs(values[near] - values[least]).max()) / 2.0 for name, values in figures.items()}
    between["lethality"] /= 4.0  # a parabola is least half-way at most, by an eighth of the larger difference
    beside = bool(operator.probe_nodes[least])
    return _Around(operator, end, without_end, logs[0], logs[1], spot, beside, between)


def _beside(operator: StemOperator, node: int, among: NDArray[np.int64]) -> NDArray[np.int64]:
    """The nodes next to one along the stem, outwards and round it, of those given."""
    at = np.argwhere(operator.number == node)
    steps = np.concatenate([np.eye(3, dtype=np.int64), -np.eye(3, dtype=np.int64)])
    next_to = (at[:, None] + steps).reshape(-1, 3)
    there = ((next_to >= 0) & (next_to < operator.number.shape)).all(axis=1)
    found = np.unique(operator.number[tuple(next_to[there].T)])
    return np.asarray(found[np.isin(found, among) & (found != node)])


def _section(around: _Around, height: float) -> StemSection:
    """The plane of mirror symmetry: angles upright and downright."""
    grid, number = around.operator.grid, around.operator.number
    numbers = np.concatenate([number[:, :0:-1, -1], number[:, :, 0]], axis=1)
    places = grid.places()
    above = np.concatenate([places[0, :0:-1, -1, 2], places[0, :, 0, 2]])

    def plane(values: Array) -> Array:
        return np.where(numbers >= 0, values[np.maximum(numbers, 0)], np.nan)

    return StemSection(
        x=grid.along,
        z=height + above,
        end_of_heating=plane(around.end_of_heating),
        without_probe=plane(around.without_end),
        lethality=np.exp(plane(around.log_lethality)),
        nodes=around.operator.count,
    )
