"""scikit-fem: quadratic elements on a graded mesh aligned with the layers, sparse LU, TR-BDF2."""

from __future__ import annotations

import numpy as np
from skfem import Basis, BilinearForm, ElementQuad2, ElementTriP2, FacetBasis, LinearForm, MeshQuad, MeshTri, asm

from contestants.answer import Answer
from contestants.jar import Array, Jar
from contestants.lines import mesh_lines
from contestants.trbdf2 import march


@BilinearForm
def conduction(u, v, w):
    return 2 * np.pi * w.x[0] * w.k * (u.grad[0] * v.grad[0] + u.grad[1] * v.grad[1])


@BilinearForm
def mass(u, v, w):
    return 2 * np.pi * w.x[0] * w.c * u * v


@BilinearForm
def surface(u, v, w):
    return 2 * np.pi * w.x[0] * u * v


@LinearForm
def load(v, w):
    return 2 * np.pi * w.x[0] * v


def solve(jar: Jar, places: Array, *, shape: str, finest: float, widest: float, growth: float, step: float) -> Answer:
    """Temperatures at places; mesh widths [m], step [s]."""
    lines = mesh_lines(jar, finest=finest, widest=widest, growth=growth)
    mesh, element, order = (
        (MeshQuad.init_tensor(*lines), ElementQuad2(), 5)
        if shape == "quads"
        else (MeshTri.init_tensor(*lines), ElementTriP2(), 5)
    )
    middle = mesh.p[:, mesh.t].mean(axis=1)
    at = tuple(np.searchsorted(b, x) - 1 for b, x in zip((jar.columns, jar.levels), middle, strict=True))
    basis = Basis(mesh, element, intorder=order)
    k, c = (np.repeat(values[at][:, None], basis.dx.shape[1], axis=1) for values in (jar.conductivity, jar.heat))
    facets = mesh.facets_satisfying(lambda x: x[0] > 1e-9, boundaries_only=True)
    face = FacetBasis(mesh, element, facets=facets, intorder=order)
    time, temperature = march(
        jar,
        asm(mass, basis, c=c),
        asm(conduction, basis, k=k),
        asm(surface, face),
        asm(load, face),
        basis.probes(places.T),
        step=step,
    )
    return Answer(time, temperature, basis.N, time.size - 1)
