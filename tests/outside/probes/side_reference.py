"""Compute the three-dimensional reference of cases with a probe from the side, by finite elements (scikit-fem).

``python tests/outside/probes/side_reference.py [NAME ...]`` writes ``side_reference.json`` beside this file; it takes
a quarter of an hour a case. Half the container (the plane through its axis and the stem halves it) is meshed by
hexahedra: blocks round the stem in the section across it, extruded along it, drawn onto the container's circle.
Walls, headspace and the stem's outside are resolved. The values kept were computed with the flat's film behind a flat
wall, not a ring: what that changes, ``flat``, is worked out in two dimensions with the side's film changed as much on
that part of the perimeter; it is part of the tolerance. Triquadratic geometry, quadratic serendipity elements,
consistent mass, the temperature itself as unknown (not its difference to anything), TR-BDF2 in time, conjugate
gradients.
"""

from __future__ import annotations

import json
import sys
import time as clock
from pathlib import Path

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.sparse import diags
from scipy.sparse.linalg import cg
from side_mesh import Mapping, Scene
from side_scenes import SCENES
from skfem import (
    Basis,
    BilinearForm,
    ElementHex2,
    ElementHexS2,
    ElementQuad2,
    FacetBasis,
    LinearForm,
    asm,
)

from thermsim.case.process import Process

VALUES = Path(__file__).with_name("side_reference.json")
#: How fine the meshes are: cells an eighth of a turn, how much wider the spacings; and the longest time step [s]. The
#: first step after a jump is half a second, and they grow by a third at most.
RUNS = {"coarse": (2, 2.2, 30.0), "coarse, shorter steps": (2, 2.2, 15.0), "fine": (3, 1.5, 30.0)}
#: Step of the record [s].
EVERY = 60.0


def march(stiffness, mass, faces, process, temperature, step, first, film_at):
    """TR-BDF2 with conjugate gradients; yields time and temperatures."""
    gamma = 2.0 - np.sqrt(2.0)
    yield 0.0, temperature
    film = course = None
    for stage in process.stages:
        if stage.film != film:
            film, systems = stage.film, {}
            matrix, load = stiffness.copy(), np.zeros(temperature.size)
            for name, (face_matrix, face_load) in faces.items():
                strength = film_at(film, name)
                matrix, load = matrix + strength * face_matrix, load + strength * face_load
            course = None
        for t0, t1, a, b in zip(stage.time[:-1], stage.time[1:], stage.medium[:-1], stage.medium[1:], strict=True):
            slope = (b - a) / (t1 - t0)
            smooth = course is not None and np.allclose(course, (a, slope))
            course = b, slope
            t, h = t0, step if smooth else first
            while t < t1 - 1e-9:
                h = min(h, step)
                left = t1 - t
                now = left if h >= left else (left / 2 if 2 * h > left else h)
                key = round(now, 9)
                if key not in systems:
                    left_side = (mass + gamma * now / 2 * matrix).tocsr()
                    systems[key] = left_side, diags(1 / left_side.diagonal())
                left_side, jacobi = systems[key]

                def solve(right, guess, left_side=left_side, jacobi=jacobi):
                    found, status = cg(left_side, right, x0=guess, rtol=1e-7, maxiter=4000, M=jacobi)
                    assert status == 0
                    return found

                def outside(time, t0=t0, a=a, slope=slope):
                    return a + slope * (time - t0)

                right = mass @ temperature + gamma * now / 2 * (
                    load * (outside(t) + outside(t + gamma * now)) - matrix @ temperature
                )
                middle = solve(right, temperature)
                share = gamma * (2 - gamma)
                right = mass @ (middle / share - temperature * (1 - gamma) ** 2 / share)
                right += gamma / 2 * now * load * outside(t + now)
                temperature = solve(right, middle + (middle - temperature) * (1 - gamma) / gamma)
                t = t1 if now == left else t + now
                yield t, temperature
                if now >= h:
                    h *= 1.3


def solve(case, quarter, scale, step):
    """Readings of one case on one mesh."""
    process: Process = case.process.facing("side", case.probe.film)
    scene = Scene(case, quarter, scale)
    basis = Basis(scene.mesh, ElementHexS2(), intorder=4)
    k = np.array([m.conductivity for m in scene.materials])[scene.material]
    c = np.array([m.density * m.specific_heat for m in scene.materials])[scene.material]
    k, c = (np.repeat(v[:, None], basis.dx.shape[1], axis=1) for v in (k, c))
    stiffness = asm(BilinearForm(lambda u, v, w: w.k * sum(u.grad[i] * v.grad[i] for i in range(3))), basis, k=k)
    mass = asm(BilinearForm(lambda u, v, w: w.c * u * v), basis, c=c)
    faces = {}
    mapping = Mapping(scene.mesh, ElementHex2(), ElementQuad2())
    for name, facets in scene.facets.items():
        if facets.size:
            face = FacetBasis(scene.mesh, ElementHexS2(), mapping=mapping, facets=facets, intorder=4)
            faces[name] = asm(BilinearForm(lambda u, v, w: u * v), face), asm(LinearForm(lambda v, w: 1.0 * v), face)

    def film_at(film, name):
        if name != "flat":
            return getattr(film, name)
        # by the inner face of the ring that stands behind the flat
        wall, inner = case.container.side, case.container.radius_at(case.probe.z)
        outer = inner + wall.thickness
        return 1.0 / (inner * np.log(outer / inner) / wall.material.conductivity + inner / outer / film.side)

    # the sensing volume: elements of the stem behind its tip
    x = scene.mesh.p[0][scene.mesh.t].mean(axis=0)
    y, z = (scene.mesh.p[i][scene.mesh.t].mean(axis=0) for i in (1, 2))
    sensing = scene.of_probe & (x > scene.tip) & (x < scene.tip + scene.sensing) & (np.hypot(y, z) < scene.stem)
    sensor = Basis(scene.mesh, ElementHexS2(), elements=np.flatnonzero(sensing), intorder=4)
    weights = asm(LinearForm(lambda v, w: 1.0 * v), sensor)
    weights /= weights.sum()
    start = np.full(basis.N, case.product.initial)
    tip = int(np.argmin(np.linalg.norm(basis.doflocs - np.array([[scene.tip], [0.0], [0.0]]), axis=0)))
    times, readings, tips = [], [], []
    began = clock.perf_counter()
    for time, temperature in march(stiffness, mass, faces, process, start, step, 0.5, film_at):
        times.append(time), readings.append(weights @ temperature), tips.append(temperature[tip])
    seconds = clock.perf_counter() - began
    volume = float(asm(LinearForm(lambda v, w: 1.0 * v), basis).sum())
    area = {name: float(part[1].sum()) for name, part in faces.items()}
    print(case.title, basis.N, "unknowns", len(times), "steps", f"{seconds:.0f} s,", volume, area, flush=True)
    return np.array(times), np.array(readings), np.array(tips), basis.N, volume


def lethality_of(time, temperature, case):
    """[min] until heating ends and in all."""
    curve = PchipInterpolator(time, temperature)
    end = case.process.heated_until
    found = []
    for stop in (end, case.process.end):
        knots = np.unique(np.concatenate([np.linspace(0.0, stop, 20001)]))
        rate = 10 ** ((curve(knots) - case.lethality.reference) / case.lethality.z)
        found.append(float(((rate[1:] + rate[:-1]) / 2 * np.diff(knots)).sum()) / 60.0)
    return found


def main(names):
    known = json.loads(VALUES.read_text("utf-8")) if VALUES.exists() else {}
    for name in names:
        case = SCENES[name]()
        entry = {}
        for mesh, (quarter, scale, step) in RUNS.items():
            time, reading, tip, unknowns, volume = solve(case, quarter, scale, step)
            kept = np.arange(0.0, case.process.end + 1.0, EVERY)
            heating, whole = lethality_of(time, reading, case)
            entry[mesh] = {
                "unknowns": int(unknowns),
                "half_volume_ml": volume * 1e6,
                "steps": len(time),
                "tip_C": np.round(np.interp(kept, time, tip), 4).tolist(),
                "reading_C": np.round(np.interp(kept, time, reading), 4).tolist(),
                "end_of_heating_C": float(reading[np.searchsorted(time, case.process.heated_until * (1 - 1e-12))]),
                "heating_lethality_min": heating,
                "lethality_min": whole,
            }
        coarse, shorter, fine = (entry[run] for run in RUNS)
        entry["tolerance"] = {
            "temperature_K": sum(
                float(np.abs(np.array(one["reading_C"]) - np.array(coarse["reading_C"])).max())
                for one in (shorter, fine)
            ),
            "lethality": sum(abs(one["lethality_min"] / coarse["lethality_min"] - 1.0) for one in (shorter, fine)),
        }
        entry["every_s"] = EVERY
        known[name] = entry
        print(name, entry["tolerance"], entry["fine"]["lethality_min"], flush=True)
        VALUES.write_text(json.dumps(known, indent=1) + "\n", "utf-8")


if __name__ == "__main__":
    main(sys.argv[1:] or list(SCENES))
