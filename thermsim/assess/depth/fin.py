"""A first look at what probes do: the stem as a fin in the container's undisturbed field.

The stem's temperature is one number at each place along it. It conducts along the stem, is stored in it, and is
exchanged with the undisturbed temperature T0 of the same place through the product round it,

    c A dT/dt = d/ds (k A dT/ds) + g (T0 - T) + c0 A dT0/dt - d/ds (k0 A dT0/ds).

The last two terms, with the properties of what is there without the stem, are the heat that flows to the place from
the sides anyway: a stem of product changes nothing.

Quasi-steady assumption: the product answers at once with the exchange g = 2 pi k / ln(1 + 1.123 sqrt(alpha t) / a)
that a cylinder of radius a has at a time t after a step (the long-time solution for a cylinder in an endless body,
Carslaw and Jaeger, Conduction of Heat in Solids, section 13.5; from memory), counted anew when heating ends; at the
tip with that of a disc, 4 k a. What is left out: the product's own memory of the stem, the field's bending round the
tip, what the fitting does to the wall beside it, ends of the container near by.
"""

from __future__ import annotations

import math
import time as clock
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_banded

from thermsim.assess.depth.limits import other_entries, reachable_depths, set_to
from thermsim.assess.depth.undisturbed import AlongAxes, AlongEdges, Undisturbed, truth_at
from thermsim.assess.fields.courses import Courses
from thermsim.assess.fields.family import Fields
from thermsim.assess.fields.lethality import LEAST, lethality_map
from thermsim.assess.probe.advice import Rung
from thermsim.assess.probe.ladder import Ladder, Step
from thermsim.assess.probe.mismatch import POINT
from thermsim.assess.side.field import interpolation
from thermsim.assess.simulate.fineness import output_times, time_tolerance
from thermsim.assess.spots.cold_spot import ProductFields, Spot, least_lethality
from thermsim.case.case import Case
from thermsim.case.mounting import reach_of
from thermsim.case.probe import Probe
from thermsim.errors import InputError
from thermsim.solve.basis.reduced import Solver
from thermsim.solve.grid.body import body_of
from thermsim.solve.grid.grid import grid_family
from thermsim.solve.grid.operator import operator_of

Array = NDArray[np.float64]

#: Depths that are looked at, and nodes along the stem.
DEPTHS, NODES = 9, 100
#: A cylinder's disturbance reaches so many times sqrt(alpha t): 2 exp(-Euler's constant).
REACHES = 2.0 * math.exp(-0.5772156649)
#: How it differs, as the ready cases show (tests/assess/depth/test_fin.py).
DIFFERS = (
    "This is the fin equation on the undisturbed field of one grid, quasi-steady in the product: no uncertainty is "
    "known. It reads LOW: that the product warms along with the stem is left out. In the ready cases the full answer "
    "has up to 20 % of lethality more bias until heating ends, often twice as much, and its best depth can lie "
    "centimetres away. A body wider than a stem is no fin. Drill by the full answer: leave out --quick."
)


@dataclass(frozen=True)
class FinLook:
    """Answer of the fin equation for one probe at its best depth.

    ``depth`` outer face of the entered wall to the tip [m]; ``mismatch`` with the place of least lethality (see
    :mod:`thermsim.assess.probe.mismatch`); ``over_reading`` of the whole process's lethality and
    ``heating_over_reading`` until heating ends against that place, ``heating_bias`` until heating ends against its
    own place without the probe (fractions), ``end_of_heating`` likewise [K].
    """

    probe: Probe
    depth: float
    mismatch: float
    over_reading: float
    heating_over_reading: float
    heating_bias: float
    end_of_heating: float


@dataclass(frozen=True)
class QuickLook:
    """The looks, the case's own probe first, the cold spot on one grid, and the seconds that all took."""

    case: Case
    looks: tuple[FinLook, ...]
    cold_spot: Spot
    seconds: float


def quick_look(case: Case, *, side: bool = False) -> QuickLook:
    """Estimate what the case's probes do at every wall that they can enter, without solving for them.

    Parameters
    ----------
    case : Case
        With a probe; where its insertion is known that depth is looked at, else the best one.
    side : bool, optional
        Whether probes through lid or base are looked at from the side too.

    Returns
    -------
    QuickLook

    Raises
    ------
    InputError
        If the case has no probe, or no depth is possible for it.
    """
    began = clock.perf_counter()
    if case.probe is None:
        raise InputError("the case has no [probe]: add one to ask what it would do")
    bare = case.replace(probe=None, probes=())
    grid = grid_family(body_of(bare))[1]
    history = Solver(operator_of(grid), tolerance=4.0 * time_tolerance(case), once=True).follow(case.process)
    time = output_times(case)
    total, heating = lethality_map(history, case.lethality, case.process.heated_until)
    end = history.reached(case.process.heated_until)
    courses = Courses.known(history.at(time))
    fields = Fields(courses, end, *(np.log(np.maximum(part, LEAST)) for part in (total, heating)))
    spot = least_lethality(ProductFields.of(grid, fields))[0]
    at_spot = (
        interpolation(grid, np.array([spot.r]), np.array([spot.z])) @ fields.temperature.reshape(time.size, -1).T
    )
    truth = truth_at(bare, time, at_spot[0], spot.r, spot.z)
    upright, edgewise = AlongAxes(bare, time, truth, grid, fields.temperature), None
    looks = []
    for probe in (case.probe, *case.probes):
        field: Undisturbed = upright
        if case.container.brick is not None and probe.entry == "side":
            field = edgewise = edgewise or AlongEdges.of(bare, time)
        place = field.truth.curve
        if probe is case.probe and edgewise is not None:
            own = place.r, place.z, place.lethality, place.heating_lethality, place.end_of_heating
            spot = Spot(*own, inside=True)
        there = case.at_height(probe, place.z)
        for one in (there, *other_entries(case, there, place.z, side=side)):
            if faults := case.side_faults(one):
                raise InputError(f"from the side: {faults[0]}")
            found = _looked(field, one)
            if found is not None:
                looks.append(found)
            elif one is there and probe is case.probe:
                raise InputError(
                    f'probe "{probe.name}": no depth is possible; its sensing length does not fit into the product '
                    "beyond its fitting (see fitting, sensing_mm, segments, headspace)"
                )
    return QuickLook(case, tuple(looks), spot, clock.perf_counter() - began)


def _looked(field: Undisturbed, probe: Probe) -> FinLook | None:
    """The look at a probe's own depth, or at the one that is best by the fin equation."""
    container, limits = field.case.container, reachable_depths(field.case, probe)
    if limits is None:
        return None
    depth = probe.depth(container)
    if depth is None:
        steps = [_step(set_to(field.case, probe, float(one)), field) for one in np.linspace(*limits, DEPTHS)]
        ladder = Ladder(tuple(steps), (field.truth, field.truth))
        probe = set_to(field.case, probe, ladder.choice("least lethality", POINT).depth)
    step = _step(probe, field)
    rung, place = step.rung, field.truth.curve
    return FinLook(
        probe=probe,
        depth=rung.depth,
        mismatch=float(field.truth.mismatch(step.temperature)),
        over_reading=rung.lethality / place.lethality - 1.0,
        heating_over_reading=rung.heating_lethality / place.heating_lethality - 1.0,
        heating_bias=rung.heating_lethality / rung.without_heating - 1.0,
        end_of_heating=rung.end_of_heating - rung.without_end,
    )


def _step(probe: Probe, field: Undisturbed) -> Step:
    """Solve the fin equation for a probe at its depth.

    Parameters
    ----------
    probe : Probe
        Its insertion (and height, from the side) known.
    field : object
        The undisturbed field, as :func:`quick_look` makes it.

    Returns
    -------
    Step
    """
    case = field.case
    container, depth = case.container, probe.depth(case.container)
    if depth is None:
        raise ValueError("the probe's insertion is not known yet")
    outer = depth - probe.length
    faces = np.linspace(outer, depth, NODES + 1)
    ends = np.unique(np.concatenate([faces, [0.0] if outer < 0.0 else [], [depth - probe.sensing]]))
    middle, length = (ends[1:] + ends[:-1]) / 2, np.diff(ends)
    wall = reach_of(container, case.fill_height, probe).wall
    along, stored, radius, hindered = _stem(probe, middle, depth, wall)
    undisturbed, conductivity, capacity = field.along(probe, middle)
    temperature = _marched(
        case, field, probe, undisturbed, (along, stored * length, length), (radius, conductivity, capacity, hindered)
    )
    sensed = middle > depth - max(probe.sensing, 1.5 * length[-1])
    share = length[sensed] / length[sensed].sum()
    read, without = temperature[:, sensed] @ share, undisturbed[:, sensed] @ share
    last = int(np.flatnonzero(field.time <= case.process.heated_until)[-1])
    (total, heating), (without_total, without_heating) = field.gained(read), field.gained(without)
    rung = Rung(depth, total, heating, float(read[last]), without_total, without_heating, float(without[last]))
    return Step(rung, read)


def _stem(probe: Probe, middle: Array, depth: float, wall: float) -> tuple[Array, Array, Array, Array]:
    """K A [W m/K], c A [J/mK], outer radius [m] and resistance of the gap [mK/W] at places along the stem."""
    along, stored, radius, hindered = (np.zeros(middle.size) for _ in range(4))
    end = depth
    for segment in reversed(probe.segments):
        start = end - segment.length
        here = (middle >= start) & (middle <= end)
        whole = math.pi * segment.radius**2
        core = math.pi * (segment.radius - segment.wall) ** 2 if segment.wall is not None and segment.core else 0.0
        parts = [(whole - core, segment.material)] + ([(core, segment.core)] if segment.core else [])
        along[here] = sum(area * material.conductivity for area, material in parts)
        stored[here] = sum(area * material.capacity for area, material in parts)
        radius[here] = segment.radius
        if probe.gap is not None:
            ratio = 1.0 + probe.gap.thickness / segment.radius
            hindered[here & (middle > wall)] = math.log(ratio) / (2 * math.pi * probe.gap.material.conductivity)
        end = start
    if probe.fitting is not None:
        fitting = probe.fitting
        here = (middle > -fitting.outside) & (middle < wall + fitting.inside)
        ring = math.pi * ((fitting.diameter / 2) ** 2 - radius[here] ** 2)
        along[here] += ring * fitting.material.conductivity
        stored[here] += ring * fitting.material.capacity
        radius[here] = fitting.diameter / 2
    return along, stored, radius, hindered


def _marched(
    case: Case,
    field: Undisturbed,
    probe: Probe,
    undisturbed: Array,
    stem: tuple[Array, Array, Array],
    round_it: tuple[Array, Array, Array, Array],
) -> Array:
    """The stem's temperature at the output times (n_t, n), by implicit Euler steps between them."""
    along, stored, length = stem
    radius, conductivity, capacity, hindered = round_it
    half = length / 2 / np.maximum(along, 1e-30)
    between = 1.0 / (half[1:] + half[:-1])
    outside = conductivity == 0.0
    films = np.array([
        stage.film.probe for stage in case.process.facing(probe.entry, probe.film).stages
    ], dtype=float)  # fmt: skip
    ends = np.array([stage.end for stage in case.process.stages])
    beyond = probe.sticks_out  # else what does not conduct round the stem is an insulated headspace
    start = case.product.initial if probe.initial is None else probe.initial
    area = math.pi * radius**2
    own = 1.0 / np.where(outside, np.inf, length / 2 / np.maximum(conductivity * area, 1e-30))
    through = own[1:] * own[:-1] / np.maximum(own[1:] + own[:-1], 1e-30)
    own_stored = capacity * area * length
    found = np.empty_like(undisturbed)
    now = np.full(along.size, start)
    found[0] = now
    heated_until = case.process.heated_until
    for k in range(1, field.time.size):
        step, time = field.time[k] - field.time[k - 1], field.time[k]  # at a jump the medium before it counts
        since = time - (heated_until if time > heated_until else 0.0)
        film = min(float(films[min(int(np.searchsorted(ends, time)), films.size - 1)]), 1e6)
        alpha = conductivity / np.maximum(capacity, 1e-30)
        reached = np.log1p(REACHES * np.sqrt(alpha * since) / radius)
        round_stem = np.where(
            outside,
            np.where(beyond, film * 2 * math.pi * radius, 0.0),
            1.0 / (reached / (2 * math.pi * np.maximum(conductivity, 1e-30)) + hindered + outside),
        )
        exchange = round_stem * length
        # the tip's face sees the product ahead of it like a disc, its outer end the medium
        exchange[-1] += 4.0 * conductivity[-1] * radius[-1]
        diagonal = stored / step + exchange
        diagonal[:-1] += between
        diagonal[1:] += between
        bands = np.zeros((3, along.size))
        bands[0, 1:], bands[1], bands[2, :-1] = -between, diagonal, -between
        anyway = own_stored / step * (undisturbed[k] - undisturbed[k - 1])
        flow = through * np.diff(undisturbed[k])
        anyway[:-1] -= flow
        anyway[1:] += flow
        # what flows through the tip's place flows on into the stem: it need not be counted
        now = solve_banded((1, 1), bands, stored / step * now + exchange * undisturbed[k] + anyway)
        found[k] = now
    return found
