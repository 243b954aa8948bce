"""A jar of changing properties under a moist headspace, by thermsim and by finite elements as one would write them.

``python benchmarks/changing_peer.py [RUNS]`` (extra ``bench``, some minutes): scikit-fem, biquadratic elements on a
mesh graded towards every layer, a two-stage L-stable scheme of order 2 on the heat content, stages solved by
corrections whose factor is kept while they shrink; and the same by NGSolve, where it is installed, with elements of
higher order on fewer lines. Settings are tried from rough to fine against much finer elements; the first within
0.02 K at the places and 0.2 % of F is timed in turns with ``simulate``, which finds the cold spots and states its
uncertainty besides. The lid is wet, so that the gas conducts alike both ways.
"""

from __future__ import annotations

import argparse
import dataclasses
import functools
import importlib.util
import statistics
import sys
import time
from pathlib import Path

import numpy as np
from scipy.sparse import spmatrix
from skfem import Basis, ElementQuad2, FacetBasis, LinearForm, asm

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent / "tests" / "scenes")]

from contestants.by_scikit_fem import conduction, load, mass, surface  # noqa: E402
from contestants.changing_march import march  # noqa: E402
from finite_elements import exposed_facets, meshed  # noqa: E402

from thermsim import Case, Point  # noqa: E402
from thermsim.assess.fields.lethality import gathered_lethality  # noqa: E402
from thermsim.assess.simulate.simulation import simulate  # noqa: E402
from thermsim.case.file.reader import case_from_text  # noqa: E402
from thermsim.solve.grid.body import body_of  # noqa: E402

Array = np.ndarray
#: Widest and finest elements [m] and the longest step [s], from rough to fine; and those of the reference.
SETTINGS = ((8e-3, 1e-3, 60.0), (5e-3, 8e-4, 40.0), (5e-3, 5e-4, 20.0), (3.5e-3, 4e-4, 10.0))
REFERENCE = (2e-3, 2.5e-4, 4.0)
#: NGSolve's: order, finest and widest elements [m], growth, the longest step [s].
HIGH_ORDER = ((3, 4e-3, 18e-3, 1.0, 60.0), (3, 2e-3, 9e-3, 1.0, 60.0), (3, 2e-3, 9e-3, 1.0, 40.0))
#: Errors wanted: of temperatures [K], and of F.
WANTED = (0.02, 0.002)
#: Errors count from here on [s].
COUNTED_FROM = 120.0
PLACES = np.array([(r, z) for r in (0.0, 0.012, 0.024) for z in (0.02, 0.045, 0.07, 0.09, 0.1)])


def main() -> None:
    """Print what is found."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("runs", type=int, nargs="?", default=3, help="of each (default: 3)")
    runs = words.parse_args().runs
    case = the_jar()
    when, best, _ = by_elements(case, *REFERENCE)
    peers = [("scikit-fem", by_elements, SETTINGS)]
    if importlib.util.find_spec("ngsolve"):
        from contestants.changing_by_ngsolve import by_ngsolve

        peers.append(("NGSolve", functools.partial(by_ngsolve, places=PLACES), HIGH_ORDER))
    seconds: dict[str, list[float]] = {"thermsim": []}
    jobs = {"thermsim": lambda: simulate(case)}
    for name, solve, settings in peers:
        for setting in settings:
            began = time.process_time()
            found, values, count = solve(case, *setting)
            took = time.process_time() - began
            off = errors(case, found, values, when, best)
            print(f"{name} {setting}: {count} unknowns, {took:.1f} s, off {off[0]:.4f} K, {100 * off[1]:.3f} % of F")
            if off[0] <= WANTED[0] and off[1] <= WANTED[1]:
                break
        jobs[name] = functools.partial(solve, case, *setting)
        seconds[name] = []
    answer = simulate(case)
    own = np.array([point.temperature for point in answer.points]).T
    off = errors(case, answer.time, own, when, best, [point.lethality for point in answer.points])
    print(f"thermsim: {answer.effort.nodes} nodes on the finest grid, off {off[0]:.4f} K, {100 * off[1]:.3f} % of F")
    for _ in range(runs):
        for name, job in jobs.items():
            began = time.process_time()
            job()
            seconds[name].append(time.process_time() - began)
    medians = {name: statistics.median(each) for name, each in seconds.items()}
    for name, took in medians.items():
        times = took / medians["thermsim"]
        print(f"processor time: {name} {took:.2f} s, {times:.1f} times as long as thermsim (at least 4 wanted)")


def the_jar() -> Case:
    """The demo's jar by composition, its lid wet and no label on it, followed at some places."""
    text = (HERE.parent / "cases" / "jar_composition.toml").read_text("utf-8")
    text = text.replace("sealed_at_C", "lid_wet = true\nsealed_at_C").replace(", contact_m2K_W = 0.001", "")
    case = case_from_text(text, name="jar")
    points = tuple(Point(f"place {k}", r, z) for k, (r, z) in enumerate(PLACES))
    return case.replace(points=points, lethality=dataclasses.replace(case.lethality, target=None))


def errors(
    case: Case, time: Array, values: Array, when: Array, best: Array, gathered: Array | list[float] | None = None
) -> tuple[float, float]:
    """Largest differences of temperatures (n_t, places) at their times [K], and of F, from those of the reference."""
    counted = time >= COUNTED_FROM
    there = np.array([np.interp(time, when, column) for column in best.T]).T
    lethalities = [
        np.array([gathered_lethality(t, column, case.lethality)[-1] for column in some.T])
        for t, some in ((time, values), (when, best))
    ]
    own = lethalities[0] if gathered is None else np.asarray(gathered)
    return float(np.abs(values - there)[counted].max()), float(np.abs(own / lethalities[1] - 1.0).max())


def by_elements(case: Case, widest: float, finest: float, longest: float) -> tuple[Array, Array, int]:
    """Temperatures at PLACES over time: time (n_t,), temperatures (n_t, places), number of unknowns."""
    body = body_of(case)
    mesh, region, _, region_of = meshed(body, widest, finest)
    basis = Basis(mesh, ElementQuad2(), intorder=4)
    properties = Properties(body.materials, region)
    faces = {}
    for name, facets in exposed_facets(mesh, body, region_of).items():
        face = FacetBasis(mesh, ElementQuad2(), facets=facets, intorder=4)
        faces[name] = asm(surface, face), asm(load, face)

    def held(temperature: Array) -> Array:
        return asm(store, basis, h=properties.content(basis.interpolate(temperature)))

    def conducted(temperature: Array) -> Array:
        field = basis.interpolate(temperature)
        return asm(conduct, basis, t=field, k=properties.conductivity(field))

    def derivatives(temperature: Array) -> tuple[spmatrix, spmatrix]:
        field = basis.interpolate(temperature)
        stores = asm(mass, basis, c=properties.capacity(field))
        return stores, asm(conduction, basis, k=properties.conductivity(field))

    start = np.full(basis.N, case.product.initial)
    time, temperature = march(
        case.process, start, faces, basis.probes(PLACES.T),
        held=held, conducted=conducted, derivatives=derivatives, longest=longest,
    )  # fmt: skip
    return time, temperature, basis.N


class Properties:
    """Properties at the points of integration of elements, whose materials' numbers are ``region`` (n,)."""

    def __init__(self, materials, region: Array) -> None:
        self.region = region
        self.tables = []
        fine = np.linspace(0.0, 140.0, 1401)
        for material in materials:
            tabulated = material.tabulated
            k, c = np.full(fine.size, material.conductivity), np.full(fine.size, material.capacity)
            if tabulated is not None:
                k = np.interp(fine, tabulated.temperature, tabulated.conductivity)
                c = np.interp(fine, tabulated.temperature, tabulated.capacity)
            h = np.concatenate([[0.0], np.cumsum((c[1:] + c[:-1]) / 2.0 * np.diff(fine))])
            self.tables.append((fine, k, c, h))

    def _at(self, field, which: int) -> Array:
        values = np.asarray(field)
        found = np.empty_like(values)
        for number, table in enumerate(self.tables):
            own = self.region == number
            found[own] = np.interp(values[own], table[0], table[which])
        return found

    def conductivity(self, field) -> Array:
        """At a field of temperatures [W/mK]."""
        return self._at(field, 1)

    def capacity(self, field) -> Array:
        """At a field of temperatures [J/m3K]."""
        return self._at(field, 2)

    def content(self, field) -> Array:
        """At a field of temperatures [J/m3]."""
        return self._at(field, 3)


@LinearForm
def conduct(v, w):
    return 2 * np.pi * w.x[0] * w.k * (w.t.grad[0] * v.grad[0] + w.t.grad[1] * v.grad[1])


@LinearForm
def store(v, w):
    return 2 * np.pi * w.x[0] * w.h * v


if __name__ == "__main__":
    main()
