"""The solver held against exact solutions: what `thermsim verify` prints, and how fast its errors fall."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import optimize

from thermsim.assess.fields.refinement import refine
from thermsim.assess.simulate.fineness import output_times, time_tolerance
from thermsim.assess.simulate.simulation import simulate
from thermsim.assess.spots.cold_spot import ProductFields, Spot
from thermsim.assess.verify.bare_cylinder import (
    FOOD,
    STERILISATION,
    BareCylinder,
    bare_cylinders,
    golden_can,
    unequal_ends,
)
from thermsim.case.process import Film, Process, Stage
from thermsim.exact import coldest_height, observed_order
from thermsim.solve.grid.body import body_of
from thermsim.solve.grid.grid import grid_family
from thermsim.solve.grid.operator import operator_of
from thermsim.solve.march.march import march

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Row:
    """One line of the verification table: a computed figure, the exact one, the error and what it may be."""

    case: str
    quantity: str
    exact: float
    computed: float
    error: float
    bound: float
    unit: str

    @property
    def passed(self) -> bool:
        """True if the error is within its bound (a NaN is not)."""
        return bool(abs(self.error) <= self.bound)


@dataclass(frozen=True)
class Convergence:
    """Errors at a series of sizes (spacing as a part of the coarsest, or step [s]) and the order they show."""

    label: str
    size: Array
    error: Array
    low: float
    high: float

    @property
    def order(self) -> float:
        """Observed order: slope of log(error) over log(size)."""
        return observed_order(self.size, self.error)

    @property
    def passed(self) -> bool:
        """True if the order lies within [low, high]."""
        return bool(self.low <= self.order <= self.high)


@dataclass(frozen=True)
class Verification:
    """All rows and both convergence studies."""

    rows: tuple[Row, ...]
    space: Convergence
    time: Convergence

    @property
    def passed(self) -> bool:
        """True if everything is within its bounds."""
        return all(row.passed for row in self.rows) and self.space.passed and self.time.passed


def verify(*, progress: Callable[[float], None] | None = None) -> Verification:
    """Hold the solver against exact solutions, at default settings.

    Parameters
    ----------
    progress : callable, optional
        Called with the part of the work that is done (0 to 1).

    Returns
    -------
    Verification

    Examples
    --------
    >>> import thermsim
    >>> thermsim.verify().passed  # doctest: +SKIP
    True
    """
    rows: list[Row] = []
    parts = [*(lambda step=step: _bare_rows(step) for step in bare_cylinders()), _golden_rows, _unequal_rows]
    for k, part in enumerate(parts):
        rows.extend(part())
        if progress is not None:
            progress((k + 1) / (len(parts) + 1))
    space, time = order_in_space(), order_in_time()
    if progress is not None:
        progress(1.0)
    return Verification(tuple(rows), space, time)


def _bare_rows(step: BareCylinder) -> Iterator[Row]:
    """Temperatures everywhere, and both cold spots with their lethality."""
    case = step.case(STERILISATION)
    result = simulate(case)
    grid = result.grid
    exact = step.temperature(grid.columns, grid.levels, result.time)
    # at a jump of the medium the output holds the instant after it, and so does the series
    error = np.abs(result.temperature - exact)
    deep = (grid.r <= step.radius - 5e-3) & (grid.z >= 5e-3) & (grid.z <= step.height - 5e-3)
    settled = _since_jump(step, result.time)
    for label, chosen, bound in (
        ("worst T deeper than 5 mm, from minute 2", error[settled >= 120.0][:, deep], 0.05),
        ("worst T at any node, from minute 5", error[settled >= 300.0], 0.2),
    ):
        yield Row(step.name, label, 0.0, float(chosen.max()), float(chosen.max()), bound, "K")

    least = result.cold_spot.least_lethality
    r, z, lethality = step.least_lethality((least.r, least.z), case.lethality)
    yield _row(step, "least lethality", lethality / 60, least.lethality / 60, "min", relative=0.003)
    yield _row(step, "its place, r", r * 1e3, least.r * 1e3, "mm", 0.5)
    yield _row(step, "its place, z", z * 1e3, least.z * 1e3, "mm", 0.2)
    slow_z = float(coldest_height(step.exact().ends, step.heating)) * 1e3
    slowest = result.cold_spot.slowest_heating
    yield _row(step, "slowest heating, r", 0.0, slowest.r * 1e3, "mm", 0.5)
    yield _row(step, "slowest heating, z", slow_z, slowest.z * 1e3, "mm", 0.2)
    for name, curve in zip(("least-lethality place", "slowest-heating place"), result.spots, strict=True):
        known = step.temperature(np.array([curve.r]), np.array([curve.z]), result.time)[:, 0, 0]
        worst = float(np.abs(curve.temperature - known).max())
        yield Row(step.name, f"worst T at the {name}", 0.0, worst, worst, 0.02, "K")


def _golden_rows() -> Iterator[Row]:
    """Centre temperatures, lethality in heating and cooling, and the hold for 6 min.

    Exact figures of the centre: series with 40 digits and quadrature, computed; 60 min of cooling are counted.
    """
    can = golden_can()
    for time, exact in ((1800.0, 52.92101562007), (3600.0, 94.55454990676), (5400.0, 111.3924771239)):
        yield _row(
            can, f"centre after {time:.0f} s", exact, _centre(can.heated_for(time)).end_of_heating, "degC", 0.02
        )
    centre = _centre(can)
    heating, cooling = centre.heating_lethality / 60, (centre.lethality - centre.heating_lethality) / 60
    yield _row(can, "centre F while heating", 0.3294446700, heating, "min", relative=0.003)
    yield _row(can, "centre F while cooling", 1.1560237435, cooling, "min", relative=0.003)

    def excess(time: float) -> float:
        return math.log(_centre(can.heated_for(time)).lethality / 360.0)

    found = optimize.root_scalar(excess, x0=5900.0, x1=6000.0, xtol=0.05).root
    yield _row(can, "heating for centre F = 6 min", 99.09281820, found / 60, "min", 5.0 / 60)
    target = simulate(can.case(dataclasses.replace(STERILISATION, target=360.0))).target
    hold = math.nan if target is None or target.required_hold is None else target.required_hold
    held = can.heated_for(hold)
    _, _, least = held.least_lethality((0.006, can.height / 2), STERILISATION)
    yield _row(can, "exact least F after the hold found for 6 min", 6.0, least / 60, "min", relative=0.003)


def _unequal_rows() -> Iterator[Row]:
    """Height of the coldest point between unequal ends, when heating ends and at Fo = 0.1."""
    step = unequal_ends()
    ends = step.exact().ends
    early = 0.1 * step.height**2 / step.food.diffusivity
    for name, time in (("Fo = 0.1", early), (f"{step.heating:.0f} s", step.heating)):
        result = simulate(step.heated_for(time).case(STERILISATION))
        exact = float(coldest_height(ends, time)) * 1e3
        yield _row(step, f"coldest height at {name}", exact, result.cold_spot.slowest_heating.z * 1e3, "mm", 0.2)


def order_in_space() -> Convergence:
    """Error of one grid (not extrapolated) against the exact solution as its spacings are halved."""
    step = bare_cylinders()[1]
    case = step.case(STERILISATION)
    grids = grid_family(body_of(case))
    time = np.array([1200.0, 2400.0, 3600.0, 5000.0])
    coarse = grids[0]
    exact = step.temperature(coarse.columns, coarse.levels, time)
    errors = []
    for grid in grids:
        rows, columns = np.searchsorted(grid.columns, coarse.columns), np.searchsorted(grid.levels, coarse.levels)
        temperature = march(operator_of(grid), case.process, tolerance=1e-5).at(time)[:, rows[:, None], columns]
        # the surface is left out: 3600 s is the instant of the jump
        errors.append(float(np.sqrt(np.mean((temperature - exact)[:, :-1, 1:-1] ** 2))))
    return Convergence("space", np.array([4.0, 2.0, 1.0]), np.array(errors), 1.9, 2.2)


def order_in_time() -> Convergence:
    """Error of fixed steps against much smaller ones, the medium rising linearly, on one grid."""
    film = Film(side=300.0, base=80.0, lid=600.0)
    step = BareCylinder("ramp", FOOD, film, 0.0365, 0.110, 30.0, 121.1, 25.0, 1800.0, 600.0)
    operator = operator_of(grid_family(body_of(step.case(STERILISATION)))[0])
    ramp = Process((Stage("come-up", np.array([0.0, 1800.0]), np.array([30.0, 120.0]), film),))
    best = march(operator, ramp, tolerance=math.inf, fixed_step=1800.0 / 1024).temperature[-1]
    sizes = np.array([300.0, 150.0, 75.0])
    errors = [
        float(np.abs(march(operator, ramp, tolerance=math.inf, fixed_step=size).temperature[-1] - best).max())
        for size in sizes
    ]
    return Convergence("time", sizes, np.array(errors), 1.9, 4.6)


def _row(
    step: BareCylinder,
    quantity: str,
    exact: float,
    computed: float,
    unit: str,
    bound: float = 0.0,
    *,
    relative: float = 0.0,
) -> Row:
    """A row whose bound is absolute or relative to the exact figure."""
    return Row(step.name, quantity, exact, computed, computed - exact, bound or relative * abs(exact), unit)


def _centre(cylinder: BareCylinder) -> Spot:
    """Temperature curve that the solver finds at the centre."""
    case = cylinder.case(STERILISATION)
    refined = refine(case, time=output_times(case), tolerance=time_tolerance(case))
    return ProductFields.of(refined.grid, refined.best).spot_at(0.0, cylinder.height / 2)


def _since_jump(step: BareCylinder, time: Array) -> Array:
    """Time since the medium last jumped [s]."""
    return np.where(time >= step.heating, time - step.heating, time)
