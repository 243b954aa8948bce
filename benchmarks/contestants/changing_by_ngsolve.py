"""NGSolve where properties change with temperature: quadrilaterals of high order on a few graded lines.

The stages' flows and heat contents are nonlinear forms, compiled; their derivatives are assembled by NGSolve and
factorised by SuperLU.
"""

from __future__ import annotations

import functools

import netgen.meshing as ng
import ngsolve as ngs
import numpy as np

from contestants.by_ngsolve import exported, probe_of
from contestants.changing_march import march
from contestants.jar import Array
from contestants.lines import graded_lines
from thermsim.case.case import Case
from thermsim.solve.grid.body import OUTSIDE, body_of

#: To these temperatures tables go on as they end [degC]: elements of high order overshoot.
BEYOND = (-200.0, 400.0)


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

    time, temperature = march(
        case.process,
        np.array(state.vec.FV().NumPy()),
        faces,
        look=probe_of(space, places),
        held=functools.partial(applied, store),
        conducted=functools.partial(applied, conduct),
        derivatives=lambda temperature: (derivative(store, temperature), derivative(conduct, temperature)),
        longest=longest,
    )
    return time, temperature, space.ndof


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
