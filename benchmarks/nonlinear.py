"""What properties that change with temperature cost: the same jar with constant ones, and with those that jars have.

``python benchmarks/nonlinear.py [RUNS]`` solves, in turns in one run, the jar of the demo, the same under a moist
headspace, and one of a product by composition under it, each with target, hold and input range as ``solve`` has them,
and prints medians of processor time, their ratios to the first, and the same of the marches alone. With ``--depth``
it does so with the depths of the ready can with a probe, its headspace and its product changed likewise.
"""

from __future__ import annotations

import argparse
import dataclasses
import statistics
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from thermsim import Case, Headspace
from thermsim.assess.depth.recommendation import recommend
from thermsim.assess.simulate.simulation import simulate
from thermsim.case.file.reader import read_case
from thermsim.physics.materials import Tabulated
from thermsim.solve.grid.body import body_of
from thermsim.solve.grid.grid import grid_family
from thermsim.solve.grid.operator import operator_of
from thermsim.solve.march.march import march

CASES = Path(__file__).parent.parent / "cases"
RUNS = 7
#: Costs of whole answers in terms of the jar's that are wanted, and that of a march.
WANTED = {"moist headspace": 3.0, "by composition under it": 8.0, "march": 4.0}
#: Depths take seconds: so many runs of each do.
DEPTHS = 3


def main() -> None:
    """Print times and ratios."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("runs", type=int, nargs="?", help=f"of each (default: {RUNS}, of depths {DEPTHS})")
    words.add_argument("--depth", action="store_true", help="depths in place of answers and marches")
    given = words.parse_args()
    if given.depth:
        depths: dict[str, Callable[[], Any]] = {
            name: lambda case=case: recommend(case) for name, case in cans_with_a_probe().items()
        }
        print_ratios(depths, given.runs or DEPTHS)
        return
    runs = given.runs or RUNS
    jar = read_case(CASES / "jar.toml")
    by_composition = read_case(CASES / "jar_composition.toml")
    answers: dict[str, Callable[[], Any]] = {
        name: lambda case=case: simulate(case)
        for name, case in {
            "jar": jar,
            "moist headspace": jar.replace(headspace=by_composition.headspace),
            "by composition under it": by_composition,
        }.items()
    }
    print_ratios(answers, runs)
    operators = {
        name: operator_of(grid_family(body_of(case))[-1]) for name, case in constant_and_changing(jar).items()
    }
    marches: dict[str, Callable[[], Any]] = {
        name: lambda operator=operator: march(operator, jar.process, tolerance=0.002)
        for name, operator in operators.items()
    }
    print_ratios(marches, runs)


def cans_with_a_probe() -> dict[str, Case]:
    """The ready can with a probe, under the moist headspace of the jar by composition, and with its product too."""
    can, by_composition = read_case(CASES / "can_probe.toml"), read_case(CASES / "jar_composition.toml")
    gap = by_composition.headspace.gap
    if gap is None:
        raise ValueError("the jar's headspace is of humid gas")
    product = dataclasses.replace(by_composition.product, initial=can.product.initial)
    headspace = Headspace.of_gas(dataclasses.replace(gap, thickness=can.headspace_height), can.met)
    return {
        "can with a probe": can,
        "moist headspace": can.replace(headspace=headspace),
        "by composition under it": can.replace(headspace=headspace, product=product),
    }


def constant_and_changing(jar: Case) -> dict[str, Case]:
    """The jar with the properties that it has, and with mildly changing ones."""
    material = jar.product.material
    k, c = material.conductivity, material.capacity
    tabulated = Tabulated((0.0, 60.0, 150.0), (0.85 * k, k, 1.1 * k), (0.95 * c, c, 1.1 * c))
    changing = dataclasses.replace(jar.product, material=dataclasses.replace(material, tabulated=tabulated))
    return {"march, constant": jar, "march": jar.replace(product=changing)}


def print_ratios(jobs: dict[str, Callable[[], Any]], runs: int) -> None:
    """Run jobs in turns after one of each that does not count; the first is what the others are compared with."""
    seconds: dict[str, list[float]] = {name: [] for name in jobs}
    for run in range(runs + 1):
        for name, job in jobs.items():
            began = time.process_time()
            job()
            if run:
                seconds[name].append(time.process_time() - began)
    medians = {name: statistics.median(times) for name, times in seconds.items()}
    first = next(iter(medians.values()))
    for name, median in medians.items():
        wanted = f" (at most {WANTED[name]:g} wanted)" if name in WANTED else ""
        print(f"{name:26s}{1e3 * median:8.0f} ms{median / first:8.2f}{wanted}")


if __name__ == "__main__":
    main()
