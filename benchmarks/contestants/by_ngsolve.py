"""NGSolve: quadrilaterals of high order on a few graded lines, TR-BDF2.

The matrices are factorised by SuperLU: on 2,465 unknowns that took 4 ms, NGSolve's UMFPACK 8 ms, its Cholesky 28 ms.
"""

from __future__ import annotations

import netgen.meshing as ng
import ngsolve as ngs
import numpy as np
from scipy.sparse import csr_matrix, lil_matrix

from contestants.answer import Answer
from contestants.jar import Array, Jar
from contestants.lines import layer_of, mesh_lines
from contestants.trbdf2 import march


def mesh_of(jar: Jar, lines: tuple[Array, Array]) -> ngs.Mesh:
    """Quadrilaterals between lines, each layer a region of its own; the surface is called "film"."""
    mesh = ng.Mesh(dim=2)
    points = [[mesh.Add(ng.MeshPoint(ng.Pnt(r, z, 0.0))) for z in lines[1]] for r in lines[0]]
    layers = tuple(layer_of(b, x) for b, x in zip((jar.columns, jar.levels), lines, strict=True))
    regions = {}
    for i in range(jar.heat.shape[0]):
        for j in range(jar.heat.shape[1]):
            regions[i, j] = mesh.AddRegion(f"{i}-{j}", dim=2)
    film, axis = mesh.AddRegion("film", dim=1), mesh.AddRegion("axis", dim=1)
    for i, in_r in enumerate(layers[0]):
        for j, in_z in enumerate(layers[1]):
            corners = [points[i][j], points[i + 1][j], points[i + 1][j + 1], points[i][j + 1]]
            mesh.Add(ng.Element2D(regions[int(in_r), int(in_z)], corners))
    for i in range(len(layers[0])):
        for j in (0, -1):
            mesh.Add(ng.Element1D([points[i][j], points[i + 1][j]], index=film))
    for j in range(len(layers[1])):
        mesh.Add(ng.Element1D([points[-1][j], points[-1][j + 1]], index=film))
        mesh.Add(ng.Element1D([points[0][j], points[0][j + 1]], index=axis))
    return ngs.Mesh(mesh)


def solve(jar: Jar, places: Array, *, order: int, finest: float, widest: float, growth: float, step: float) -> Answer:
    """Temperatures at places; mesh widths [m], step [s]."""
    lines = mesh_lines(jar, finest=finest, widest=widest, growth=growth)
    mesh = mesh_of(jar, lines)
    k, c = (
        mesh.MaterialCF({f"{i}-{j}": float(value) for (i, j), value in np.ndenumerate(values)})
        for values in (jar.conductivity, jar.heat)
    )
    space = ngs.H1(mesh, order=order)
    u, v = space.TnT()
    ring = 2 * np.pi * ngs.x
    mass, conduction, face = (
        exported(ngs.BilinearForm(form).Assemble())
        for form in (
            ring * c * u * v * ngs.dx,
            ring * k * ngs.grad(u) * ngs.grad(v) * ngs.dx,
            ring * u * v * ngs.ds("film"),
        )
    )
    load = ngs.LinearForm(ring * v * ngs.ds("film")).Assemble()
    start = ngs.GridFunction(space)
    start.Set(ngs.CF(jar.initial))
    time, temperature = march(
        jar,
        mass,
        conduction,
        face,
        load.vec.FV().NumPy(),
        probe_of(space, places),
        step=step,
        start=np.array(start.vec.FV().NumPy()),
    )
    return Answer(time, temperature, space.ndof, time.size - 1)


def exported(form: ngs.BilinearForm) -> csr_matrix:
    """A form's matrix for scipy."""
    values, columns, rows = form.mat.CSR()
    return csr_matrix((np.array(values), np.array(columns), np.array(rows)), shape=form.mat.shape)


def probe_of(space: ngs.H1, places: Array) -> csr_matrix:
    """Matrix from the unknowns to temperatures at places."""
    matrix = lil_matrix((len(places), space.ndof))
    for n, (r, z) in enumerate(places):
        at = space.mesh(r, z)
        element = ngs.ElementId(ngs.VOL, at.nr)
        matrix[n, list(space.GetDofNrs(element))] = np.array(space.GetFE(element).CalcShape(*at.pnt[:2]))
    return matrix.tocsr()
