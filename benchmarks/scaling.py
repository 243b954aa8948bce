"""How the cost grows with nodes, with the time simulated, with the number of cases and with workers.

``python benchmarks/scaling.py`` (some minutes), ``--limit 600`` to let single marches take longer, ``--smoke`` to see
whether it runs. Exponents are slopes in logarithms. Every march and every set of bases runs in a process of its own,
after a small one that loads the compiled loops, so that its peak memory is known.
"""

from __future__ import annotations

import argparse
import functools
import json
import os
import statistics
import subprocess
import sys
import time
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import asdict, dataclass
from multiprocessing import get_context
from pathlib import Path

from machine import facts, fitted_exponent, peak_memory, seconds_of

import thermsim
from thermsim.assess.simulate.simulation import simulate
from thermsim.case.case import Case
from thermsim.case.file.reader import read_case
from thermsim.case.process import Process
from thermsim.solve.basis.reduced import Solver
from thermsim.solve.grid.body import body_of
from thermsim.solve.grid.grid import Grid, grid_family
from thermsim.solve.grid.operator import Operator, operator_of
from thermsim.solve.march.march import march

ROOT = Path(__file__).parent.parent
JAR = ROOT / "cases" / "jar.toml"
TOLERANCE = 2e-3
#: The middle grid of a family, refined so many times: about 1e3 to 1e6 nodes.
REFINEMENTS = (1.0, 1.6, 2.5, 4.0, 6.3, 10.0, 16.0, 25.0, 40.0, 49.0)
#: The loops of large grids are loaded by one of these.
LOADING = 5.0
#: No more runs of what takes longer than this [s].
LONG = 3.0
#: Least that counts of what is measured: a few megabytes are the interpreter's own.
LEAST = {"seconds": 0.0, "memory": 5.0, "assembling": 0.0}
HOLDS = (1, 2, 4, 8, 16, 32)
CASES = (1, 2, 4, 8, 16, 32)


@dataclass(frozen=True)
class Measured:
    """A grid: nodes, shorter side, seconds of grid and of march or bases, steps or vectors, memory [MB]."""

    nodes: int
    width: int
    assembling: float
    seconds: float
    size: int
    memory: float


def grid_of(refinement: float) -> Grid:
    """The jar's middle grid."""
    return grid_family(body_of(jar()), refinement=refinement)[1]


def jar() -> Case:
    """The ready jar without a target lethality: one march a grid."""
    case = read_case(JAR)
    return case.replace(lethality=type(case.lethality)(case.lethality.reference, case.lethality.z), probe=None)


def steps_marched(operator: Operator, process: Process) -> int:
    """March; the number of steps."""
    return march(operator, process, tolerance=TOLERANCE).steps


def vectors_grown(operator: Operator, process: Process) -> int:
    """Follow the process on reduced bases; the number of their vectors."""
    solver = Solver(operator, tolerance=TOLERANCE)
    solver.follow(process)
    if solver.reduced is None:
        raise ValueError("no basis is good enough")
    return sum(basis.count for basis in solver.reduced.bases.values())


WORKS = {"march": steps_marched, "bases": vectors_grown}


def measured_here(what: str, refinement: float, runs: int) -> Measured:
    """March, or grow bases, in this process; the median of the runs."""
    process, work = jar().process, WORKS[what]
    for loading in (1.0, min(refinement, LOADING)):
        work(operator_of(grid_of(loading)), process)
    before = peak_memory()
    assembling, seconds = [], []
    for _ in range(runs):
        began = time.perf_counter()
        grid = grid_of(refinement)
        operator = operator_of(grid)
        ready = time.perf_counter()
        size = work(operator, process)
        assembling.append(ready - began)
        seconds.append(time.perf_counter() - ready)
        if seconds[-1] > LONG:
            break
    return Measured(
        nodes=int(grid.active.sum()),
        width=min(grid.shape),
        assembling=statistics.median(assembling),
        seconds=statistics.median(seconds),
        size=size,
        memory=peak_memory() - before,
    )


def against_nodes(what: str, limit: float, refinements: tuple[float, ...], runs: int) -> list[Measured]:
    """Finer and finer grids, until the next is expected to take longer than the limit [s]."""
    found: list[Measured] = []
    for refinement in refinements:
        if len(found) > 1:
            slope = slope_of(found[-2:], "seconds")
            growth = (refinement / refinements[len(found) - 1]) ** (2 * max(slope, 1.0))
            if found[-1].seconds * growth > limit:
                print(f"  stopped: the next would take some {found[-1].seconds * growth:.0f} s (--limit)")
                break
        words = [sys.executable, __file__, "--one", what, str(refinement), str(runs)]
        done = subprocess.run(words, capture_output=True, text=True, check=False)
        if done.returncode:
            print(f"  stopped at refinement {refinement:g}: {done.stderr.strip().splitlines()[-1:]}")
            break
        found.append(Measured(**json.loads(done.stdout)))
        one = found[-1]
        many = "steps" if what == "march" else "vectors"
        print(
            f"  {one.nodes:8d} nodes  grid {one.assembling:7.3f} s  {what} {one.seconds:9.4f} s "
            f" {one.size:4d} {many}  {1e6 * one.seconds / one.nodes:7.2f} us a node"
            f"  {one.memory:7.0f} MB",
            flush=True,
        )
    for name in ("seconds", "memory", "assembling"):
        upper = [one for one in found if one.nodes >= 1e4]
        print(f"  {what}, {name}: nodes^{slope_of(found, name):.2f}, above 10,000 nodes ^{slope_of(upper, name):.2f}")
    return found


def against_time(holds: tuple[int, ...], runs: int) -> list[tuple[float, int, float]]:
    """Simulated seconds, steps and median seconds of a march, the hold stretched; on the grid of refinement 1."""
    case, operator = jar(), operator_of(grid_of(1.0))
    index = case.process.hold
    if index is None:
        raise ValueError("the jar has no hold to stretch")
    march(operator, case.process, tolerance=TOLERANCE)  # loads the loops
    found = []
    for times in holds:
        process = case.process.with_hold(times * _hold(case))
        steps = march(operator, process, tolerance=TOLERANCE).steps
        seconds = seconds_of(functools.partial(march, operator, process, tolerance=TOLERANCE), runs)
        found.append((process.end, steps, statistics.median(seconds)))
        print(f"  {process.end / 60:8.0f} min  {steps:4d} steps  {found[-1][2]:.4f} s", flush=True)
    return found


def _hold(case: Case) -> float:
    stage = case.process.stages[case.process.hold or 0]
    return stage.end - stage.start


def variants(count: int) -> list[Case]:
    """As many jars, each filled a little differently, so that no two are the same."""
    case = jar()
    return [case.replace(fill_height=case.fill_height * (1.0 - 0.1 * k / max(count, 1))) for k in range(count)]


def simulated(case: Case) -> float:
    """Least lethality of a case [s]."""
    return simulate(case).cold_spot.least_lethality.lethality


def against_cases(counts: tuple[int, ...]) -> list[tuple[int, float]]:
    """Numbers of cases and seconds of ``simulate`` one after another."""
    simulated(jar())
    found = []
    for count in counts:
        cases = variants(count)
        began = time.perf_counter()
        for case in cases:
            simulated(case)
        found.append((count, time.perf_counter() - began))
        print(f"  {count:4d} cases  {found[-1][1]:8.3f} s", flush=True)
    return found


def against_workers(count: int, runs: int, most: int) -> dict[str, list[tuple[int, float]]]:
    """Seconds of a number of cases by threads and by processes, up to so many; the pool started and warm."""
    cases = variants(count)
    numbers = [number for number in (1, 2, 4, 8, 16, 32, 64) if number <= most]
    found: dict[str, list[tuple[int, float]]] = {"threads": [], "processes": []}
    for kind in found:
        for workers in numbers:
            pool: Executor = (
                ThreadPoolExecutor(workers)
                if kind == "threads"
                else ProcessPoolExecutor(workers, mp_context=get_context("spawn"))
            )
            with pool:
                list(pool.map(simulated, cases[:workers] * 2))  # starts every worker
                seconds = statistics.median(seconds_of(lambda p=pool: list(p.map(simulated, cases)), runs))
            found[kind].append((workers, seconds))
            print(f"  {kind:10s} {workers}  {seconds:8.3f} s", flush=True)
    return found


def figure(
    nodes: dict[str, list[Measured]],
    times: list[tuple[float, int, float]],
    cases: list[tuple[int, float]],
    workers: dict[str, list[tuple[int, float]]],
    file: Path,
) -> None:
    """Draw all four."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt
    from matplotlib.ticker import NullFormatter

    fig, panels = plt.subplots(2, 2, figsize=(10, 7.5))
    axes = panels[0, 0]
    for what, found in nodes.items():
        n = [m.nodes for m in found]
        for name, unit, mark in (("seconds", "s", "o-"), ("memory", "MB", "^--")):
            label = f"{what}, {name} [{unit}]: nodes^{slope_of(found, name):.2f}"
            shown = [value if value > LEAST[name] else float("nan") for value in (getattr(m, name) for m in found)]
            axes.loglog(n, shown, mark, label=label)
    found = nodes["bases"]
    n = [m.nodes for m in found]
    slope = slope_of(found, "assembling")
    axes.loglog(n, [m.assembling for m in found], "s-", label=f"grid [s]: nodes^{slope:.2f}")
    axes.loglog(n, [found[0].seconds * (m / n[0]) ** 1.5 for m in n], "k:", label="nodes^1.5")
    axes.set_xlabel("nodes")
    axes.legend(fontsize=8)
    axes = panels[0, 1]
    end = [t for t, _, _ in times]
    axes.loglog([t / 60 for t in end], [s for _, _, s in times], "o-", label="march [s]")
    axes.loglog([t / 60 for t in end], [times[0][2] * t / end[0] for t in end], "k:", label="proportional")
    axes.set_xlabel("process [min]")
    axes.xaxis.set_minor_formatter(NullFormatter())  # within little more than a decade they overlap
    axes.legend(fontsize=8)
    axes = panels[1, 0]
    count = [c for c, _ in cases]
    axes.loglog(count, [s for _, s in cases], "o-", label="simulate [s]")
    axes.loglog(count, [cases[0][1] * c / count[0] for c in count], "k:", label="proportional")
    axes.set_xlabel("cases, one after another")
    axes.legend(fontsize=8)
    axes = panels[1, 1]
    for kind, found in workers.items():
        axes.plot([w for w, _ in found], [found[0][1] / s for _, s in found], "o-", label=kind)
    ideal = [w for w, _ in workers["threads"]]
    axes.plot(ideal, [min(w, os.cpu_count() or 1) for w in ideal], "k:", label="one a core")
    axes.set(xlabel="workers", ylabel="times as fast as one worker of its kind")
    axes.legend(fontsize=8)
    for axes in panels.flat:
        axes.grid(alpha=0.3, which="both", linewidth=0.4)
    fig.tight_layout()
    fig.savefig(file, dpi=130)
    plt.close(fig)


def slope_of(found: list[Measured], what: str) -> float:
    """Exponent of what was measured against nodes; what is no more than the least that counts is left out."""
    kept = [m for m in found if getattr(m, what) > LEAST[what]]
    return (
        fitted_exponent([m.nodes for m in kept], [getattr(m, what) for m in kept]) if len(kept) > 1 else float("nan")
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument(
        "--limit", type=float, default=120.0, help="longest march, or set of bases, that is begun [s]"
    )
    parser.add_argument("--smoke", action="store_true", help="only see whether it runs")
    parser.add_argument("--out", type=Path, default=ROOT / "out" / "benchmarks")
    parser.add_argument("--one", nargs=3, help=argparse.SUPPRESS)
    words = parser.parse_args()
    if words.one:
        what, refinement, runs = words.one
        print(json.dumps(asdict(measured_here(what, float(refinement), int(runs)))))
        return
    smoke = words.smoke
    machine = facts(Path(thermsim.__file__).parent.parent)
    print(", ".join(f"{name} {value}" for name, value in machine.items()))
    print(f"against nodes (jar, tolerance {TOLERANCE:g} K)")
    refinements, runs = (REFINEMENTS[:2], 1) if smoke else (REFINEMENTS, 5)
    nodes = {what: against_nodes(what, words.limit, refinements, runs) for what in ("bases", "march")}
    print("against the time simulated (hold stretched)")
    times = against_time(HOLDS[:2] if smoke else HOLDS, 1 if smoke else 7)
    ends, steps, seconds = ([float(row[k]) for row in times] for k in range(3))
    print(f"  seconds: time^{fitted_exponent(ends, seconds):.2f}; steps: time^{fitted_exponent(ends, steps):.2f}")
    print("against the number of cases, one after another")
    cases = against_cases(CASES[:2] if smoke else CASES)
    print(f"  seconds: cases^{fitted_exponent([c for c, _ in cases], [s for _, s in cases]):.2f}")
    print(f"against workers ({os.cpu_count()} cores)")
    workers = against_workers(2, 1, 1) if smoke else against_workers(32, 3, 2 * (os.cpu_count() or 1))
    words.out.mkdir(parents=True, exist_ok=True)
    record = {
        "machine": machine,
        "nodes": {what: [asdict(m) for m in found] for what, found in nodes.items()},
        "time": times,
        "cases": cases,
    }
    (words.out / "scaling.json").write_text(json.dumps({**record, "workers": workers}, indent=1), "utf-8")
    figure(nodes, times, cases, workers, words.out / "scaling.png")
    print(f"written: {words.out}/scaling.json, scaling.png")


if __name__ == "__main__":
    main()
