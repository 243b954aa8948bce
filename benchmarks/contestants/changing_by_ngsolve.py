"""NGSolve where properties change with temperature: quadrilaterals of high order on a few graded lines.

The stages' flows and heat contents are nonlinear forms, compiled; their derivatives are assembled by NGSolve and
factorised by SuperLU, and a factor is kept while corrections shrink fast.
"""

from __future__ import annotations

import netgen.meshing as ng
import ngsolve as ngs
import numpy as np
from scipy.sparse.linalg import splu

from contestants.by_ngsolve import exported, probe_of
from contestants.jar import Array
from contestants.lines import graded_lines
from thermsim.case.case import Case
from thermsim.solve.grid.body import OUTSIDE, body_of

#: To these temperatures tables go on as they end [degC]: elements of high order overshoot.
BEYOND = (-200.0, 400.0)
FIRST, GROWTH = 0.5, 1.4
CORRECTIONS, SETTLED, STALE = 12, 1e-4, 0.3


def by_ngsolve(
    case: Case, order: int, finest: float, widest: float, growth: float, longest: float, *, places: Array
) -> tuple[Array, Array, int]:
    """Temperatures at places over time: time (n_t,), temperatures (n_t, places), number of unknowns."""
    mesh, materials = mesh_of(case, finest=finest, widest=widest, growth=growth)
    space = ngs.H1(mesh, order=order)
    u, v = space.TnT()
    ring = 2 * np.pi * ngs.x
    conductivity, content = (
        mesh.MaterialCF({name: spline(u) for name, spline in parts.items()}) for parts in materials
    )
    conduct, store = ngs.BilinearForm(space), ngs.BilinearForm(space)
    conduct += (ring * conductivity * ngs.grad(u) * ngs.grad(v)).Compile() * ngs.dx
    store += (ring * content * v).Compile() * ngs.dx(bonus_intorder=2)
    faces = {}
    for name in ("side", "base", "lid"):
        face, load = ngs.BilinearForm(space), ngs.LinearForm(space)
        face += ring * u * v * ngs.ds(name)
        load += ring * v * ngs.ds(name)
        faces[name] = exported(face.Assemble()), np.array(load.Assemble().vec.FV().NumPy())
    look = probe_of(space, places)
    state = ngs.GridFunction(space)
    state.Set(ngs.CF(case.product.initial))
    result = state.vec.CreateVector()

    def applied(form: ngs.BilinearForm, temperature: Array) -> Array:
        state.vec.FV().NumPy()[:] = temperature
        form.Apply(state.vec, result)
        return np.array(result.FV().NumPy())

    def derivative(form: ngs.BilinearForm, temperature: Array):
        state.vec.FV().NumPy()[:] = temperature
        form.AssembleLinearization(state.vec)
        return exported(form)

    temperature = np.array(state.vec.FV().NumPy())
    times, values = [0.0], [look @ temperature]
    gamma, film = 1.0 - 1.0 / np.sqrt(2.0), None
    factor, factored_for = None, 0.0
    held = applied(store, temperature)
    for stage in case.process.stages:
        if stage.film != film:
            film = stage.film
            exchange = sum(getattr(film, name) * face for name, (face, _) in faces.items())
            warmed = sum(getattr(film, name) * load for name, (_, load) in faces.items())
            factor = None
        for t0, t1, m0, m1 in zip(stage.time[:-1], stage.time[1:], stage.medium[:-1], stage.medium[1:], strict=True):
            slope, step, now = (m1 - m0) / (t1 - t0), FIRST, t0
            while now < t1 - 1e-9:
                h = min(step, t1 - now)
                if abs(h - factored_for) > 1e-9 * h:
                    factor = None
                flow = np.zeros_like(temperature)
                for place, known in ((gamma, 0.0), (1.0, 1.0 - gamma)):
                    medium = m0 + slope * (now + place * h - t0)
                    start, before = held + h * known * flow, np.inf
                    for _ in range(CORRECTIONS):
                        flow = warmed * medium - exchange @ temperature - applied(conduct, temperature)
                        off = start + h * gamma * flow - applied(store, temperature)
                        if factor is None:
                            matrix = derivative(store, temperature)
                            matrix = matrix + h * gamma * (derivative(conduct, temperature) + exchange)
                            factor, factored_for = splu(matrix.tocsc()), h
                        change = factor.solve(off)
                        temperature = temperature + change
                        worst = np.abs(change).max()
                        if worst > STALE * before:
                            factor = None
                        before = worst
                        if worst < SETTLED:
                            break
                    else:
                        raise RuntimeError("a stage did not settle")
                held = applied(store, temperature)
                now += h
                times.append(now)
                values.append(look @ temperature)
                if h >= step:
                    step = min(longest, GROWTH * step)
    return np.array(times), np.array(values), space.ndof


def mesh_of(
    case: Case, *, finest: float, widest: float, growth: float
) -> tuple[ngs.Mesh, tuple[dict[str, ngs.BSpline], dict[str, ngs.BSpline]]]:
    """Quadrilaterals of a straight body, and splines of conductivity and of heat content of its regions."""
    body = body_of(case)
    breaks = body.columns, body.levels
    lines = [
        graded_lines(one, finest=finest, widest=widest, growth=growth, axis=k == 0) for k, one in enumerate(breaks)
    ]
    layers = [np.searchsorted(one, (x[1:] + x[:-1]) / 2) - 1 for one, x in zip(breaks, lines, strict=True)]
    mesh = ng.Mesh(dim=2)
    points = [[mesh.Add(ng.MeshPoint(ng.Pnt(r, z, 0.0))) for z in lines[1]] for r in lines[0]]
    regions, conductivity, content = {}, {}, {}
    for k, material in enumerate(body.materials):
        regions[k] = mesh.AddRegion(f"m{k}", dim=2)
        table = material.tabulated
        known = [[0.0], [material.conductivity], [material.capacity]]
        if table is not None:
            known = [list(one) for one in (table.temperature, table.conductivity, table.capacity)]
        ends = [[BEYOND[0], *known[0], BEYOND[1]], *([one[0], *one, one[-1]] for one in known[1:])]
        # of order 2: straight between the knots, as the tables are read
        conductivity[f"m{k}"] = ngs.BSpline(2, ends[0][:1] + ends[0], ends[1])
        content[f"m{k}"] = ngs.BSpline(2, ends[0][:1] + ends[0], ends[2]).Integrate()
    films = {name: mesh.AddRegion(name, dim=1) for name in ("side", "base", "lid", "none")}
    # beyond the section there is the medium
    material = np.pad(body.material[np.ix_(*layers)], 1, constant_values=OUTSIDE)
    for i, j in np.argwhere(material >= 0) - 1:
        corners = [points[i][j], points[i + 1][j], points[i + 1][j + 1], points[i][j + 1]]
        mesh.Add(ng.Element2D(regions[int(material[i + 1, j + 1])], corners))
        for k, (across, up, name) in enumerate(((0, -1, "base"), (1, 0, "side"), (0, 1, "lid"), (-1, 0, "none"))):
            beyond = material[i + 1 + across, j + 1 + up]
            if beyond < 0:
                film = films[name if beyond == OUTSIDE else "none"]
                mesh.Add(ng.Element1D([corners[k], corners[(k + 1) % 4]], index=film))
    return ngs.Mesh(mesh), (conductivity, content)
