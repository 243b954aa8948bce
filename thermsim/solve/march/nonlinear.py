"""The march where properties change with temperature: the same time scheme on the heat content of every node.

Each stage is solved by corrections with a matrix that is kept as long as they shrink fast; the flows are those of the
temperatures that the stage has settled to, so the heat taken in is the heat stored.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.case.process import Film, Process, Stage
from thermsim.errors import NumericalError
from thermsim.physics.materials import Material
from thermsim.solve.grid.operator import CORNERS, Operator, Varying, exchange_of
from thermsim.solve.march import tableau
from thermsim.solve.march.history import History
from thermsim.solve.matrix.numbering import Numbering

Array = NDArray[np.float64]
Whole = NDArray[np.int64]

#: First step after a jump of the medium or a change of the films [s].
FIRST_STEP = 0.02
#: Spacing of the temperatures at which the loops look properties up [K].
SPACING = 0.5
#: How far beyond the temperatures met a table reaches [K]: skewed grids may overshoot a little.
MARGIN = 1.0


@dataclass(frozen=True)
class Tables:
    """Properties at evenly spaced temperatures, for the compiled loops.

    ``first`` and ``spacing`` of the temperatures [degC]; ``upwards`` and ``downwards`` conductivity [W/mK] where heat
    flows up or down, ``capacity`` rho c [J/m3K] and ``content`` its integral from the first temperature [J/m3], each
    of shape (materials, temperatures).
    """

    first: float
    spacing: float
    upwards: Array
    downwards: Array
    capacity: Array
    content: Array

    @classmethod
    def of(cls, materials: tuple[Material, ...], low: float, high: float) -> Tables:
        """Tabulate materials between two temperatures [degC]; beyond its courses a property stays as at their end."""
        count = int(np.ceil((high - low + 2 * MARGIN) / SPACING)) + 1
        temperature = low - MARGIN + SPACING * np.arange(count)
        upwards, downwards, capacity = (np.empty((len(materials), count)) for _ in range(3))
        for k, material in enumerate(materials):
            courses = material.courses
            if courses is None:
                upwards[k] = downwards[k] = material.conductivity
                capacity[k] = material.capacity
                continue
            upwards[k] = np.interp(temperature, courses.temperature, courses.conductivity)
            down = courses.downwards or courses.conductivity
            downwards[k] = np.interp(temperature, courses.temperature, down)
            capacity[k] = np.interp(temperature, courses.temperature, courses.capacity)
        steps = SPACING * (capacity[:, 1:] + capacity[:, :-1]) / 2
        content = np.concatenate([np.zeros((len(materials), 1)), np.cumsum(steps, axis=1)], axis=1)
        return cls(float(temperature[0]), SPACING, upwards, downwards, capacity, content)


@dataclass(frozen=True)
class _Mesh:
    """A grid for the compiled loops: see the functions of the kernels for its arrays."""

    corner: Whole
    material: Whole
    pairs: Whole
    share: Array
    volume: Array
    across: Array
    reach: Whole
    width: int


def march_varying(
    operator: Operator,
    varying: Varying,
    process: Process,
    *,
    tolerance: float,
    on_stage: Callable[[float], None] | None = None,
    known: tuple[Process, History] | None = None,
) -> History:
    """March from the start of the process to its end with properties that change with temperature.

    Parameters, errors and the result are those of :func:`thermsim.solve.march.march.march`.
    """
    from thermsim.solve import compiled
    from thermsim.solve.march import exchange_kernels, nonlinear_kernels

    numbering = Numbering(operator.capacity > 0.0)
    mesh = _mesh(varying, numbering)
    temperature = numbering.vector(operator.initial)
    met = np.concatenate([temperature, *(stage.medium for stage in process.stages)])
    tables = Tables.of(varying.materials, float(met.min()), float(met.max()))
    looked_up = (tables.first, tables.spacing, tables.upwards, tables.downwards, tables.capacity, tables.content)

    def content(of: Array) -> Array:
        """Heat content of each node [J]."""
        heat, slope = np.empty_like(of), np.empty_like(of)
        exchange_kernels.contents(
            of,
            np.arange(of.size),
            mesh.volume,
            tables.first,
            tables.spacing,
            tables.capacity,
            tables.content,
            heat,
            slope,
        )
        return heat

    began = content(temperature)
    step, heat, rejected = FIRST_STEP, 0.0, 0
    film: Film | None = None
    medium, climbing = np.nan, np.nan
    parts: list[tuple[Array, ...]] = []
    stages = process.stages
    if known is not None and (last := _last_in_common(process, *known)) > 0:
        before = known[1]
        now = float(before.time[last])
        sliver = _sliver(now)
        reached = next(stage for stage in stages if stage.end > now - sliver)
        film, medium = reached.film, float(np.interp(now, reached.time, reached.medium))
        climbing = _slope_before(reached, now)
        exchange, fixed = (numbering.vector(field) for field in exchange_of(operator, film))
        stages = tuple(
            stage if stage.start > now - sliver else stage.since(now) for stage in stages if stage.end > now + sliver
        )
        kept = last if reached.end > now + sliver else last + 1  # a stage begins with an entry of its own
        parts.append(
            (before.time[:kept], *(numbering.vectors(field[:kept]) for field in (before.temperature, before.rate)))
        )
        temperature = numbering.vector(before.temperature[last])
        heat = float((content(temperature) - began).sum())  # the march's balance is closed
        step = max(FIRST_STEP, now - float(before.time[last - 1]))
    state = content(temperature)
    for stage in stages:
        if stage.film != film:
            exchange, fixed = (numbering.vector(field) for field in exchange_of(operator, stage.film))
        if stage.film != film or stage.medium[0] != medium:
            step = FIRST_STEP
            # nodes held at the medium's temperature take up their heat at once
            temperature = np.where(fixed, stage.medium[0], temperature)
            taken_up = np.where(fixed, content(temperature) - state, 0.0)
            heat += float(taken_up.sum())
            state = state + taken_up
        free = (~fixed).astype(float)
        status, count, times, temperatures, rates, state, heat_free, step, again, _ = (
            nonlinear_kernels.march_nonlinear(
                (
                    mesh.corner,
                    mesh.material,
                    mesh.pairs,
                    mesh.share,
                    mesh.volume,
                    mesh.across,
                    mesh.reach,
                    mesh.width,
                ),
                looked_up,
                (exchange * free, free),
                stage.time,
                stage.medium,
                temperature,
                state,
                step,
                climbing,
                tolerance,
                tableau.A,
                tableau.B_EMBEDDED,
                tableau.AHEAD,
            )
        )
        if status != compiled.DONE:
            what = "steps became too small" if status == compiled.STEP_TOO_SMALL else "a temperature is not a number"
            raise NumericalError(
                f"the march stopped at {times[count - 1] / 60:.3f} min: {what}",
                time_s=float(times[count - 1]),
                step_s=float(step),
                tolerance_K=tolerance,
            )
        heat += float(heat_free)
        taken_up = np.where(fixed, content(temperatures[count - 1]) - state, 0.0)
        heat += float(taken_up.sum())
        state = state + taken_up
        rejected += int(again)
        parts.append((times[:count], temperatures[:count], rates[:count]))
        temperature = temperatures[count - 1].copy()
        film, medium, climbing = stage.film, stage.medium[-1], _slope_before(stage, stage.end)
        if on_stage is not None:
            on_stage(stage.end)

    time = np.concatenate([part[0] for part in parts])
    return History(
        time=time,
        temperature=numbering.fields([part[1] for part in parts], operator.initial),
        rate=numbering.fields([part[2] for part in parts], np.zeros_like(operator.initial)),
        heat_in=heat,
        stored=float((content(temperature) - began).sum()),
        capacity=float(operator.capacity.sum()),
        steps=int((np.diff(time) > 0).sum()),
        rejected=rejected,
    )


def _last_in_common(process: Process, other: Process, history: History) -> int:
    """The last entry of another process's history, as that was reached, up to which a process is the same."""
    common = 0.0
    for one, two in zip(process.stages, other.stages, strict=False):
        if one.film != two.film or one.medium[0] != two.medium[0]:
            break
        shorter = min(one.end, two.end)
        time = np.union1d(one.time[one.time <= shorter], two.time[two.time <= shorter])
        differs = np.interp(time, one.time, one.medium) != np.interp(time, two.time, two.medium)
        common = float(time[max(int(differs.argmax()) - 1, 0)] if differs.any() else shorter)
        if differs.any() or one.end != two.end:
            break
    last = int(np.searchsorted(history.time, common + _sliver(common), side="right")) - 1
    while last > 0 and history.time[last] - history.time[last - 1] <= _sliver(common):
        last -= 1  # what comes after is of the stage that follows
    return last


def _slope_before(stage: Stage, time: float) -> float:
    """Slope of the medium [K/s] as a time within a stage [s] is reached."""
    k = max(1, int(np.searchsorted(stage.time, time - _sliver(time))))
    return float((stage.medium[k] - stage.medium[k - 1]) / (stage.time[k] - stage.time[k - 1]))


def _sliver(time: float) -> float:
    """The distance of two times [s] that are one but for rounding, as those at the end of a stretched hold."""
    return 1e-9 * max(1.0, time)


def _mesh(varying: Varying, numbering: Numbering) -> _Mesh:
    """Quadrilaterals, the pairs of nodes that they join, and the volumes round the nodes."""
    shares, conducts = varying.shares, varying.material >= 0
    number = numbering.turn(numbering.number)
    corner = np.stack([number[nodes][conducts] for nodes in CORNERS], axis=1)
    material = varying.material[conducts]
    joined = (
        (0, 1, shares.along_r[0]),
        (2, 3, shares.along_r[1]),
        (0, 2, shares.along_z[0]),
        (1, 3, shares.along_z[1]),
        (0, 3, shares.rising),
        (1, 2, shares.falling),
    )
    quadrilateral = np.arange(len(corner))
    pairs = np.concatenate([np.stack([corner[:, a], corner[:, b], quadrilateral], axis=1) for a, b, _ in joined])
    share = np.concatenate([part[conducts] for _, _, part in joined])
    kept = share != 0.0
    pairs, share = pairs[kept], share[kept]
    order = np.lexsort((pairs[:, 2], pairs[:, :2].min(axis=1)))
    pairs, share = np.ascontiguousarray(pairs[order]), share[order]
    volume = np.zeros((numbering.count, len(varying.materials)))
    for k in range(len(CORNERS)):
        np.add.at(volume, (corner[:, k], material), shares.volume[k][conducts])
    reach = np.zeros(numbering.count, dtype=np.int64)
    low, high = pairs[:, :2].min(axis=1), pairs[:, :2].max(axis=1)
    np.maximum.at(reach, high, high - low)
    one_way = np.array([bool(m.courses and m.courses.downwards) for m in varying.materials])[material]
    across = _across(corner[one_way], shares.volume[:, conducts][:, one_way], numbering.count)
    return _Mesh(corner, material, pairs, share, volume, across, reach, max(1, int(reach.max(initial=0))))


def _across(corner: Whole, volume: Array, count: int) -> Array:
    """Weights (count,) of the mean temperature of a gap's lower face less that of its upper one; 0 without a gap."""
    weights = np.zeros(count)
    upper_ends = set(corner[:, 2:].ravel().tolist())
    lower_ends = set(corner[:, :2].ravel().tolist())
    for k, sign, others in ((0, 1.0, upper_ends), (1, 1.0, upper_ends), (2, -1.0, lower_ends), (3, -1.0, lower_ends)):
        at_face = np.array([node not in others for node in corner[:, k].tolist()], dtype=bool)
        face = np.zeros(count)
        np.add.at(face, corner[at_face, k], volume[k][at_face])
        weights += sign * face
    for sign in (1.0, -1.0):
        side = sign * weights > 0.0
        if side.any():
            weights[side] *= sign / weights[side].sum()
    return weights
