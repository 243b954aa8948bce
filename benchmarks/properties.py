"""What constant properties would have said: a ready case with its properties over temperature, and with fixed ones.

``python benchmarks/properties.py``: the case's own k(T) and rho c(T), and both taken at 25 and at 100 degC.
"""

from __future__ import annotations

import dataclasses
from pathlib import Path

from thermsim.assess.simulate.simulation import simulate
from thermsim.case.case import Case
from thermsim.case.file.reader import read_case

READY = Path(__file__).parent.parent / "cases" / "jar_composition.toml"


def at_one_temperature(case: Case, temperature: float) -> Case:
    """The case with its product's properties fixed at a temperature [degC]."""
    return case.replace(product=dataclasses.replace(case.product, material=case.product.material.at(temperature)))


def main() -> None:
    """Print the table."""
    case = read_case(READY)
    case = case.replace(lethality=dataclasses.replace(case.lethality, target=None))
    cases = {
        "k(T), c(T)": case,
        "at 25 degC": at_one_temperature(case, 25.0),
        "at 100 degC": at_one_temperature(case, 100.0),
    }
    print(
        f"{READY.name}\n{'properties':14s}{'F, min':>8s}{'of it':>9s}{'z, mm':>8s}{'slowest, degC':>15s}{'z, mm':>8s}"
    )
    first = None
    for name, one in cases.items():
        spot = simulate(one).cold_spot
        least, slowest = spot.least_lethality, spot.slowest_heating
        first = first or least.lethality
        print(
            f"{name:14s}{least.lethality / 60:8.3f}{100 * (least.lethality / first - 1):+8.1f}%{least.z * 1e3:8.1f}"
            f"{slowest.end_of_heating:15.2f}{slowest.z * 1e3:8.1f}"
        )


if __name__ == "__main__":
    main()
