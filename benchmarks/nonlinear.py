"""What properties that change with temperature cost: the same jar, marched with constant ones and with courses.

``python benchmarks/nonlinear.py``: medians of interleaved marches on the finest default grid, and their ratio.
"""

from __future__ import annotations

import dataclasses
import statistics
import time
from pathlib import Path

from thermsim.case.file.reader import read_case
from thermsim.physics.materials import Courses
from thermsim.solve.grid.body import body_of
from thermsim.solve.grid.grid import grid_family
from thermsim.solve.grid.operator import operator_of
from thermsim.solve.march.march import march

JAR = Path(__file__).parent.parent / "cases" / "jar.toml"
RUNS = 15


def main() -> None:
    """Print times, steps and the ratio."""
    case = read_case(JAR)
    material = case.product.material
    k, c = material.conductivity, material.capacity
    courses = Courses((0.0, 60.0, 150.0), (0.85 * k, k, 1.1 * k), (0.95 * c, c, 1.1 * c))
    changed = case.replace(
        product=dataclasses.replace(case.product, material=dataclasses.replace(material, courses=courses))
    )
    operators = {
        name: operator_of(grid_family(body_of(one))[-1]) for name, one in (("constant", case), ("courses", changed))
    }
    seconds: dict[str, list[float]] = {name: [] for name in operators}
    steps = {name: march(operator, case.process, tolerance=0.002).steps for name, operator in operators.items()}
    for _ in range(RUNS):
        for name, operator in operators.items():
            began = time.perf_counter()
            march(operator, case.process, tolerance=0.002)
            seconds[name].append(time.perf_counter() - began)
    medians = {name: statistics.median(values) for name, values in seconds.items()}
    for name, median in medians.items():
        print(f"{name:10s}{1e3 * median:8.1f} ms{steps[name]:6d} steps")
    print(f"ratio     {medians['courses'] / medians['constant']:8.2f} (at most 4 is wanted)")


if __name__ == "__main__":
    main()
