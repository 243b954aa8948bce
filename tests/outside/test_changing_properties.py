"""Rung: another code. Properties that change with temperature, against finite elements (scikit-fem).

Biquadratic elements in (r, z); in time the trapezoidal rule on the heat content, each step iterated with the
conductivity and the heat capacity at the new temperature until they settle.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.sparse.linalg import splu
from skfem import Basis, BilinearForm, ElementQuad2, FacetBasis, LinearForm, MeshQuad, asm

from thermsim.assess.fields.lethality import gathered_lethality
from thermsim.assess.simulate.simulation import simulate
from thermsim.case.case import Case, Lethality, Point
from thermsim.case.container import Container
from thermsim.case.process import Film, Process, Stage
from thermsim.case.product import Headspace, Product
from thermsim.case.profile import straight
from thermsim.physics.materials import Material, Tabulated

RADIUS, HEIGHT, START = 0.030, 0.070, 30.0
LINES = (0.0, 40.0, 80.0, 150.0)
CONDUCTIVITY, CAPACITY = (0.42, 0.50, 0.56, 0.60), (3.6e6, 3.7e6, 3.9e6, 4.3e6)
PASTE = Material("paste", 0.5, 1000.0, 3700.0, tabulated=Tabulated(LINES, CONDUCTIVITY, CAPACITY))
FILM, COOLING = Film(side=300.0, base=80.0, lid=500.0), Film(side=150.0, base=60.0, lid=200.0)
STAGES = (
    Stage("come-up", np.array([0.0, 900.0]), np.array([START, 118.0]), FILM),
    Stage("hold", np.array([900.0, 3600.0]), np.array([118.0, 118.0]), FILM),
    Stage("cool", np.array([3600.0, 4500.0, 5400.0]), np.array([118.0, 30.0, 30.0]), COOLING),
)
PLACES = np.array([(0.0, 0.035), (0.012, 0.05), (0.025, 0.02)])


def case(material=PASTE):
    return Case(
        title="changing",
        container=Container(straight(2 * RADIUS, HEIGHT)),
        product=Product(material, START),
        fill_height=HEIGHT,
        headspace=Headspace("insulated"),
        process=Process(STAGES),
        lethality=Lethality(121.1, 10.0),
        points=tuple(Point(f"place {k}", r, z) for k, (r, z) in enumerate(PLACES)),
    )


def by_finite_elements(step):
    """Temperatures at PLACES over time: time (n,), temperature (n, 3)."""
    # finer towards the surfaces
    r = RADIUS * (1 - (1 - np.linspace(0, 1, 9)) ** 1.5)
    half = HEIGHT / 2 * (1 - (1 - np.linspace(0, 1, 9)) ** 1.5)
    mesh = MeshQuad.init_tensor(r, np.concatenate([HEIGHT / 2 - half[::-1], HEIGHT / 2 + half[1:]]))
    basis = Basis(mesh, ElementQuad2(), intorder=4)
    sides = {
        "side": lambda x: x[0] > RADIUS - 1e-9,
        "base": lambda x: x[1] < 1e-9,
        "lid": lambda x: x[1] > HEIGHT - 1e-9,
    }
    faces = {}
    for name, there in sides.items():
        face = FacetBasis(
            mesh, ElementQuad2(), facets=mesh.facets_satisfying(there, boundaries_only=True), intorder=4
        )
        faces[name] = (
            asm(BilinearForm(lambda u, v, w: 2 * np.pi * w.x[0] * u * v), face),
            asm(LinearForm(lambda v, w: 2 * np.pi * w.x[0] * v), face),
        )

    @BilinearForm
    def conduction(u, v, w):
        return (
            2 * np.pi * w.x[0] * np.interp(w.t, LINES, CONDUCTIVITY) * (u.grad[0] * v.grad[0] + u.grad[1] * v.grad[1])
        )

    @BilinearForm
    def storage(u, v, w):
        return 2 * np.pi * w.x[0] * np.interp(w.t, LINES, CAPACITY) * u * v

    fine = np.linspace(0.0, 150.0, 1501)
    rate = np.interp(fine, LINES, CAPACITY)
    content = np.concatenate([[0.0], np.cumsum((rate[1:] + rate[:-1]) / 2 * np.diff(fine))])

    @LinearForm
    def heat(v, w):
        return 2 * np.pi * w.x[0] * np.interp(w.t, fine, content) * v

    look = basis.probes(PLACES.T)
    temperature = np.full(basis.N, START)
    before, held = temperature, asm(heat, basis, t=basis.interpolate(temperature))
    flow = asm(conduction, basis, t=basis.interpolate(temperature)) @ temperature
    times, values, now = [0.0], [look @ temperature], 0.0
    process = Process(STAGES)
    for k in range(round(STAGES[-1].end / step)):
        film = FILM if (k + 1) * step <= 3600.0 else COOLING
        exchange = sum(getattr(film, name) * faces[name][0] for name in faces)
        load = sum(getattr(film, name) * faces[name][1] for name in faces)
        medium = process.medium_at(np.array([now, (k + 1) * step]))
        now = (k + 1) * step
        old = flow + exchange @ temperature - load * medium[0]
        before, temperature = temperature, 2.0 * temperature - before  # on where it was going
        for _ in range(20):
            field = basis.interpolate(temperature)
            store, stiffness = asm(storage, basis, t=field), asm(conduction, basis, t=field)
            stored, flow = asm(heat, basis, t=field), stiffness @ temperature
            defect = stored - held + step / 2 * (old + flow + exchange @ temperature - load * medium[1])
            change = splu((store + step / 2 * (stiffness + exchange)).tocsc()).solve(defect)
            temperature = temperature - change
            if np.abs(change).max() < 1e-4:
                break
        else:
            raise AssertionError("the step did not settle")
        held, flow = stored - store @ change, flow - stiffness @ change
        times.append(now)
        values.append(look @ temperature)
    return np.array(times), np.array(values)


@pytest.mark.long
def test_changing_properties_agree_with_finite_elements():
    result = simulate(case())
    time, reference = by_finite_elements(30.0)
    for k, point in enumerate(result.points):
        difference = point.temperature - np.interp(point.time, time, reference[:, k])
        assert np.abs(difference).max() < 0.05, point.name
        lethality = gathered_lethality(time, reference[:, k], result.case.lethality)[-1]
        assert_allclose(point.lethality, lethality, rtol=0.005)


def test_constant_properties_would_be_noticed():
    changing, constant = simulate(case()), simulate(case(dataclasses.replace(PASTE, tabulated=None)))
    assert np.abs(changing.points[0].temperature - constant.points[0].temperature).max() > 1.0
