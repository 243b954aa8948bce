"""Whether what is said of the figures' errors is true: random cases, each solved as a user does and much better.

``python -m benchmarks.honesty [--cases 200] [--seed 1] [--elements 20] [--only 7,12] [--worst]`` (also ``--side``,
``--depth``, ``--bricks``: so many cases with a probe from the side, with a depth asked for, of bricks) prints a
table: by kind of figure how many there were, the share whose error is within what is stated and within twice that,
the worst ratio of error to what is stated, and how cautious the statement is (median of stated over error).
``--rows FILE`` keeps each case as it is done: the next call goes on from there, and its table is of all in the file.
``--restate`` computes no error again but the statements of all bodies in that file, which is much faster and right
while the figures themselves are the same.

"Much better" is the march with steps a tenth as loose, or reduced bases a hundredth as loose (the tests hold those
against the march), on grids twice as fine as those that the user's run ended with (1.4 times where those are fine
already). Some cases that finite elements can show (walls and gas of constant properties, sharp corners, a level base)
are also held against those of the tests, in figures that those give: less their own error, which is what a coarser
mesh changes.
"""

from __future__ import annotations

import argparse
import dataclasses
import itertools
import json
import math
import multiprocessing
import sys
import time as clock
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
TESTS = HERE.parent / "tests"
sys.path[:0] = [str(HERE), str(TESTS / "scenes"), str(TESTS / "outside" / "probes")]

import drawn_more  # noqa: E402
from drawn_cases import drawn, kind_of  # noqa: E402
from honesty_more import Row, advised, brick_rows, depth_rows, known_at, moved_from, side_rows  # noqa: E402

from thermsim.assess.fields.error_estimate import USUAL, corner_of  # noqa: E402
from thermsim.assess.fields.family import Family  # noqa: E402
from thermsim.assess.fields.lethality import LEAST  # noqa: E402
from thermsim.assess.fields.refinement import Refined, readings_of  # noqa: E402
from thermsim.assess.probe.effect import by_all, probe_effects  # noqa: E402
from thermsim.assess.probe.uncertainty import figures_of  # noqa: E402
from thermsim.assess.simulate.findings import findings  # noqa: E402
from thermsim.assess.simulate.fineness import time_tolerance  # noqa: E402
from thermsim.assess.simulate.result import Result  # noqa: E402
from thermsim.assess.simulate.simulation import simulate  # noqa: E402
from thermsim.assess.spots.cold_spot import ProductFields, least_lethality  # noqa: E402
from thermsim.assess.study.workers import give_back  # noqa: E402
from thermsim.case.case import Case  # noqa: E402

#: How much finer the grids are (no finer than the last, or by the middle one), and how much smaller the tolerance.
FINER, AT_LEAST, FINEST, TIGHTER = 2.0, 1.4, 2.5, 10.0
#: So much finer still where errors fall slowly, beside a corner, and grids are not fine already.
BESIDE_CORNER = 1.5
#: So much smaller still of reduced bases, where the user's run takes them: a march with a tenth of the tolerance is
#: off by more than they are. In cases looked at, marches with a hundredth and a thousandth come ever nearer to these.
BEYOND = 10.0
#: How much coarser the mesh of finite elements is that shows their own error.
COARSER = 1.4
#: No error: rounding.
EXACT = 1e-12


def much_better(case: Case, time: np.ndarray, refinement: float) -> Refined:
    """A case's fields on fine grids: by the march, or by much better bases."""
    tolerance = time_tolerance(case) / TIGHTER
    family = Family(case, refinement=refinement, tolerance=tolerance)
    if family.solvers[0].reduced is not None:
        family = Family(case, refinement=refinement, tolerance=tolerance / BEYOND)
    found = family.followed(case)
    ways, ends = family.fields(case, found, time)
    readings, own = readings_of(case, family.grids, found, time=time) or (None, None)
    return Refined(family.grids[2], time, ends, *ways, found, readings, own, family)


def rows_of(case: Case) -> tuple[Result, list[Row]]:
    """The result of a case, and its figures held against the better solution."""
    result = simulate(case)
    bare = case.replace(probe=None)
    own = result.effort.refinement
    more = BESIDE_CORNER if corner_of(bare) < USUAL and FINER * own < FINEST else 1.0
    refinement = more * min(FINER * own, max(FINEST, AT_LEAST * own))
    better = much_better(bare, result.time, refinement)
    rows = list(_spot_rows(result, bare, better))
    rows += _hold_rows(result, bare, refinement)
    if case.probe is not None and result.probe is not None:
        probed = much_better(case, result.time, refinement)
        effect = probe_effects(case, better, probed, by_all(better, known_at(result, better)))[0]
        true = figures_of(effect) | {"moved": moved_from(better, effect)}
        for name, value in figures_of(result.probe).items():
            if name in true and f"probe.{name}" in result.uncertainty:
                error = float(np.abs(value - true[name]).max())
                rows.append((f"probe {name}", f"probe.{name}", error, result.uncertainty[f"probe.{name}"]))
    return result, rows


def _spot_rows(result: Result, case: Case, better: Refined) -> Iterator[Row]:
    """Cold spots, their curves, points, zone, track and arrivals."""

    def row(kind: str, name: str, error: float) -> Row:
        return kind, name, error, known.get(name, 0.0)

    product = ProductFields.of(better.grid, better.best)
    true = findings(case, better)[0]
    spot, known = result.cold_spot, result.uncertainty
    places = {
        "cold_spot.least_lethality": ("at the cold spots", result.spots[0]),
        "cold_spot.slowest_heating": ("at the cold spots", result.spots[1]),
    }
    places |= {f"points.{k}": (curve.name, curve) for k, curve in enumerate(result.points)}
    courses = product.courses_at([(curve.r, curve.z) for _, curve in places.values()])
    for k, (name, (where, curve)) in enumerate(places.items()):
        there = product.spot_at(curve.r, curve.z)
        error = float(np.abs(curve.temperature - courses[:, k]).max())
        yield row(f"temperature {where}", f"{name}.temperature", error)
        for figure, kind in (
            ("lethality", "F"),
            ("heating_lethality", "F while heating"),
            ("end_of_heating", "temperature when heating ends"),
        ):
            error = abs(getattr(curve, figure) - getattr(there, figure))
            yield row(f"{kind} {where}", f"{name}.{figure}", error)
    least = spot.least_lethality.lethality
    error = abs(least - true.cold_spot.least_lethality.lethality)
    yield row("least F", "cold_spot.least_lethality.lethality", error)
    for which in ("least_lethality", "slowest_heating"):
        one, other = getattr(spot, which), getattr(true.cold_spot, which)
        valley = spot.valley
        for axis in "rz":
            here, there = getattr(one, axis), getattr(other, axis)
            name = f"cold_spot.{which}.{axis}"
            stated = known[name]
            kind = f"place {axis} of {which.replace('_', ' ')}"
            if which == "least_lethality" and valley is not None:
                low, high = getattr(valley, f"{axis}_low"), getattr(valley, f"{axis}_high")
                stated = (
                    max(stated, there - low if there < here else high - there) if low <= there <= high else stated
                )
                kind = f"place {axis} in a valley"
                stated = max(stated, here - low if there < here else high - here)
                name = ""  # what is stated is the extent
            yield kind, name, abs(here - there), stated
    error = abs(spot.distance - true.cold_spot.distance)
    yield row("distance of the cold spots", "cold_spot.distance", error)
    for figure in ("r_low", "r_high", "z_low", "z_high", "part"):
        error = abs(getattr(spot.zone, figure) - getattr(true.cold_spot.zone, figure))
        kind = "zone's part" if figure == "part" else "zone's bounds"
        yield row(kind, f"cold_spot.zone.{figure}", error)
    heating = spot.track.time < case.process.heated_until
    error = float(np.abs(spot.track.temperature - true.cold_spot.track.temperature)[heating].max())
    yield row("temperature along the track", "cold_spot.track.temperature", error)
    for k, (aim, arrival) in enumerate(spot.arrivals):
        truth = _arrival(case, better, courses[:, 0], aim, (result.spots[0].r, result.spots[0].z))
        if arrival is not None and truth is not None:
            yield row("time of arrival", f"cold_spot.arrivals.{k}", abs(arrival - truth))
        elif (arrival is None) != (truth is None):
            yield row("whether it arrives", "", 1.0)


def _arrival(case: Case, better: Refined, curve: np.ndarray, aim: float, place: tuple[float, float]) -> float | None:
    """When the better solution reaches a temperature at a place [s]."""
    time = better.time
    for _ in range(4):
        above = np.flatnonzero(curve >= aim)
        if above.size == 0 or above[0] == 0:
            return None if above.size == 0 else float(time[0])
        k = int(above[0])
        low, high = time[k - 1], time[k]
        before, after = curve[k - 1], curve[k]
        time = np.linspace(low, high, 9)
        best = better.family.courses(case, better.found, time)[0]
        curve = ProductFields.of(better.grid, dataclasses.replace(better.best, courses=best)).courses_at([place])[
            :, 0
        ]
    return float(low + (aim - before) / (after - before) * (high - low))


def _hold_rows(result: Result, case: Case, refinement: float) -> Iterator[Row]:
    """The required hold, by what the better solution gathers with it: one step of Newton's method."""
    target = result.target
    if (
        target is None
        or target.required_hold is None
        or target.remark
        or "target.required_hold" not in result.uncertainty
    ):
        return
    hold, case = target.required_hold, case.replace(output_every=None)  # of longer holds those times may be too few
    logs = []
    for one in (hold, hold * 1.01):
        longer = case.replace(process=case.process.with_hold(one))
        family = Family(longer, refinement=result.effort.refinement, tolerance=result.effort.tolerance)
        best = family.fields(longer, family.followed(longer), np.array([0.0]))[0][0]
        logs.append(math.log(least_lethality(ProductFields.of(family.grids[2], best))[0].lethality))
    exact = much_better(case.replace(process=case.process.with_hold(hold)), np.array([0.0]), refinement)
    least = least_lethality(ProductFields.of(exact.grid, exact.best))[0].lethality
    slope = (logs[1] - logs[0]) / (0.01 * hold)
    error = abs(math.log(max(least, LEAST) / target.lethality)) / slope
    yield "required hold", "target.required_hold", error, result.uncertainty["target.required_hold"]


def element_rows(case: Case, result: Result) -> Iterator[Row]:
    """Figures of a case that finite elements can show, less the elements' own error."""
    import shaped_elements as elements

    container = case.container
    walls = {name: getattr(container, name) for name in ("side", "base", "lid")}
    named = {name: wall.material for name, wall in walls.items() if wall} | {"product": case.product.material}
    if case.headspace.material:
        named["gas"] = case.headspace.material
    shape = elements.Shape(
        corners=container.profile.corners,
        fill=case.fill_height,
        **{name: wall.thickness if wall else 0.0 for name, wall in walls.items()},
        materials={name: (one.conductivity, one.density, one.specific_heat) for name, one in named.items()},
    )
    fine = elements.Settings().finer(COARSER)
    curves = [*result.spots, *result.points]
    places = [(curve.r, curve.z) for curve in curves]
    found = []
    for settings in (fine, fine.finer(1.0 / COARSER)):
        solution = elements.solve_shape(shape, case.process, case.product.initial, settings)
        temperature = solution.curves(places)
        gathered = elements.lethality_of(solution.time, temperature, case.lethality.reference, case.lethality.z)
        end = int(np.searchsorted(solution.time, case.process.heated_until * (1 - 1e-9)))
        found.append((temperature[end], gathered))
    (ends, gathered), (coarse_ends, coarse_gathered) = found
    names = ["cold_spot.least_lethality", "cold_spot.slowest_heating"]
    names += [f"points.{k}" for k in range(len(result.points))]
    # theirs is what a coarser mesh changes where errors go with the spacing squared; more of it beside a corner. At
    # one place it may vanish by chance: what it is as a rule counts too
    left = 1.0 / (COARSER ** math.log2(corner_of(case)) - 1.0)
    typical = [
        left * math.sqrt(float(np.mean(one**2))) for one in (ends - coarse_ends, np.log(gathered / coarse_gathered))
    ]
    for k, (name, curve) in enumerate(zip(names, curves, strict=True)):
        own = left * abs(ends[k] - coarse_ends[k]), left * abs(gathered[k] - coarse_gathered[k])
        own = max(own[0], typical[0]), max(own[1], typical[1] * gathered[k])
        error = max(0.0, abs(curve.end_of_heating - ends[k]) - own[0])
        figure = f"{name}.end_of_heating"
        yield "elements: temperature when heating ends", figure, error, result.uncertainty[figure]
        error = max(0.0, abs(curve.lethality - gathered[k]) - own[1])
        yield "elements: F", f"{name}.lethality", error, result.uncertainty[f"{name}.lethality"]


def fit_for_elements(case: Case) -> bool:
    """Whether the tests' finite elements can show a case."""
    container = case.container
    walls = container.side and container.base and container.lid
    sharp = container.rise is None and container.profile.rounding == 0.0
    return bool(walls and sharp and case.probe is None and case.headspace.model in ("fixed", "insulated"))


def table_of(rows: dict[str, list[tuple[float, float]]]) -> str:
    """The table: a line for each kind of figure."""
    lines = [f"{'figure':52s}{'n':>5s}{'within':>9s}{'twice':>8s}{'worst':>9s}{'caution':>9s}"]
    for kind, pairs in sorted(rows.items()):
        error, stated = np.array(pairs).T
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = np.where(error <= EXACT, 0.0, error / stated)
            # what symmetry makes exact says nothing of caution
            caution = np.median((stated / error)[error > EXACT]) if (error > EXACT).any() else np.nan
        lines.append(
            f"{kind:52s}{ratio.size:5d}{100 * np.mean(ratio <= 1.0):8.1f}%{100 * np.mean(ratio <= 2.0):7.1f}%"
            f"{ratio.max():9.2f}{caution:9.1f}"
        )
    return "\n".join(lines)


def judged(work: Work) -> tuple[Work, str, float, list[Row]]:
    """The work, the kind of case, how long it took [s], and its rows, also those by elements."""
    sort, seed, number, by_elements = work
    began = clock.perf_counter()
    case = SORTS[sort](seed, number)
    if sort == "body":
        result, rows = rows_of(case)
        if by_elements:
            rows += element_rows(case, result)
    else:
        rows = list(_further_rows(sort, case))
    give_back()
    return work, f"{sort}, {kind_of(case)}", clock.perf_counter() - began, rows


def restated(line: tuple[Work, str, float, list[Row]]) -> tuple[Work, str, float, list[Row]]:
    """A body's rows with what is stated now."""
    work, kind, seconds, rows = line
    known = simulate(drawn(work[1], work[2])).uncertainty if work[0] == "body" else {}
    return work, kind, seconds, [(*row[:3], known.get(row[1], row[3])) for row in rows]


def _further_rows(sort: str, case: Case) -> Iterator[Row]:
    """Rows of a brick, a probe from the side, or a depth asked for."""
    result = advised(case) if sort == "depth" else simulate(case)
    if sort == "brick":
        yield from brick_rows(case, result)
        return
    refinement = min(FINER * result.effort.refinement, FINEST)
    better = much_better(case.replace(probe=None), result.time, refinement)
    if sort == "side":
        yield from side_rows(result.case, result, better, time_tolerance(case) / TIGHTER)
    else:
        yield from depth_rows(result, better, much_better(result.case, result.time, refinement))


#: A sort, seed and number, and whether finite elements are wanted too.
Work = tuple[str, int, int, bool]
#: What is drawn of each sort.
SORTS = {
    "body": drawn,
    "side": drawn_more.from_side,
    "depth": drawn_more.to_be_placed,
    "brick": drawn_more.brick,
}


def main() -> None:
    """Draw, solve, compare, print."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--cases", type=int, default=40)
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--elements", type=int, default=0, help="how many of them also by finite elements")
    words.add_argument("--side", type=int, default=0, help="how many further cases with a probe from the side")
    words.add_argument("--depth", type=int, default=0, help="how many with a probe whose depth is asked for")
    words.add_argument("--bricks", type=int, default=0, help="how many bricks")
    words.add_argument("--only", default="", help="numbers of single cases")
    words.add_argument(
        "--worst", type=float, default=2.0, help="name figures that are off by more than so many times"
    )
    words.add_argument("--minutes", type=float, default=np.inf, help="begin no further case after so many")
    words.add_argument("--jobs", type=int, default=1, help="how many cases side by side")
    words.add_argument("--rows", type=Path, help="file that keeps the rows of each case as it is done")
    words.add_argument("--restate", action="store_true", help="state anew what is kept there")
    given = words.parse_args()
    kept = [json.loads(line) for line in given.rows.open()] if given.rows and given.rows.exists() else []
    numbers = [int(one) for one in given.only.split(",")] if given.only else list(range(given.cases))
    shown = (number for number in numbers if fit_for_elements(drawn(given.seed, number)))
    fit = list(itertools.islice(shown, given.elements))
    work = [
        (sort, given.seed, number, False)
        for sort, count in (("side", given.side), ("depth", given.depth), ("brick", given.bricks))
        for number in range(count)
    ]
    work += [("body", given.seed, number, number in fit) for number in numbers]
    done = [tuple(work[:3]) for work, *_ in kept]
    work = [one for one in work if one[:3] not in done]
    rows: dict[str, list[tuple[float, float]]] = defaultdict(list)
    began = clock.perf_counter()
    with multiprocessing.get_context("spawn").Pool(given.jobs) as pool:
        lines = pool.imap(restated, kept) if given.restate else itertools.chain(kept, pool.imap(judged, work))
        for count, line in enumerate(lines, start=1):
            (_, seed, number, _), kind, seconds, found = line
            if given.rows and not given.restate and count > len(kept):
                with given.rows.open("a") as file:
                    print(json.dumps(line), file=file)
            print(f"{seed}, {number:4d} {kind}: {seconds:.0f} s", flush=True)
            for figure, _, error, stated in found:
                rows[figure].append((error, stated))
                if error > given.worst * stated:
                    print(f"       {figure}: off by {error:.3g} where {stated:.3g} is stated", flush=True)
            if clock.perf_counter() - began > 60.0 * given.minutes:
                break
    print(f"{count} cases")
    print(table_of(rows))


if __name__ == "__main__":
    main()
