"""An independent solution of a body by finite elements (scikit-fem), for the tests to compare with.

Biquadratic quadrilaterals on a mesh aligned with the materials, weighted by r; TR-BDF2 in time (trapezoidal rule to
0.5858 of the step, then BDF2; second order, L-stable) on steps that start small after every jump.
"""

from __future__ import annotations

import numpy as np
from scipy.sparse.linalg import splu
from skfem import Basis, BilinearForm, ElementQuad2, FacetBasis, LinearForm, MeshQuad, asm

from thermsim.case.body import OUTSIDE


def mesh_lines(breaks, widest, finest):
    """Lines of the mesh along one axis: at least 3 intervals a layer, short at the layers' ends."""
    lines = [breaks[:1]]
    for low, high in zip(breaks[:-1], breaks[1:], strict=True):
        # density of a smooth spacing that grows with the distance from both ends
        x = np.linspace(low, high, 4001)
        spacing = np.minimum(widest, finest + 0.35 * np.minimum(x - low, high - x))
        count = np.insert(np.cumsum(np.diff(x) * (1 / spacing[1:] + 1 / spacing[:-1]) / 2), 0, 0.0)
        n = max(3, int(np.ceil(count[-1])))
        lines.append(np.interp(np.linspace(0, count[-1], n + 1), count, x)[1:-1])
        lines.append(np.array([high]))
    return np.concatenate(lines)


def exposed_facets(mesh, body, region_of):
    """Facets that face the medium, by the name of the film that acts on them."""
    facets = mesh.boundary_facets()
    facets = facets[mesh.p[0, mesh.facets[:, facets]].max(axis=0) > 0]  # not the axis
    middle = mesh.p[:, mesh.facets[:, facets]].mean(axis=1)
    element = mesh.f2t[0, facets]
    outwards = middle - mesh.p[:, mesh.t[:, element]].mean(axis=1)
    beyond = region_of(middle + 1e-3 * outwards)[2] == OUTSIDE
    i, j, _ = region_of(middle - 1e-3 * outwards)
    of_probe = body.probe[i, j]
    upright = np.abs(outwards[0]) > np.abs(outwards[1])
    side = np.where(upright, "side", np.where(outwards[1] > 0, "lid", "base"))
    side = np.where(of_probe, "probe", side)
    return {name: facets[beyond & (side == name)] for name in np.unique(side[beyond])}


def solve_by_finite_elements(body, process, places, *, widest=2.5e-3, finest=0.3e-3, step=10.0, first=0.25):
    """Temperatures at places (n, 2) over time.

    Returns
    -------
    time : (n_t,), temperature : (n_t, n)
    """
    mesh = MeshQuad.init_tensor(mesh_lines(body.r, widest, finest), mesh_lines(body.z, widest, finest))

    def region_of(places):
        """Region of the body at places (2, n): indices along r and z, and the material, outside beyond the edges."""
        i = np.searchsorted(body.r, places[0]) - 1
        j = np.searchsorted(body.z, places[1]) - 1
        within = (i >= 0) & (i < body.r.size - 1) & (j >= 0) & (j < body.z.size - 1)
        i, j = np.clip(i, 0, body.r.size - 2), np.clip(j, 0, body.z.size - 2)
        return i, j, np.where(within, body.material[i, j], OUTSIDE)

    i, j, region = region_of(mesh.p[:, mesh.t].mean(axis=1))
    conducting = np.flatnonzero(region >= 0)
    mesh = mesh.restrict(conducting)
    region, start = region[conducting], body.initial[i, j][conducting]
    conductivity = np.array([body.materials[k].conductivity for k in region])
    capacity = np.array([body.materials[k].density * body.materials[k].specific_heat for k in region])

    basis = Basis(mesh, ElementQuad2(), intorder=5)
    piecewise = {
        name: np.repeat(values[:, None], basis.dx.shape[1], axis=1)
        for name, values in (("k", conductivity), ("c", capacity))
    }

    @BilinearForm
    def stiffness(u, v, w):
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

    k_matrix, m_matrix = asm(stiffness, basis, k=piecewise["k"]), asm(mass, basis, c=piecewise["c"])
    faces = {}
    for name, facets in exposed_facets(mesh, body, region_of).items():
        face = FacetBasis(mesh, ElementQuad2(), facets=facets, intorder=5)
        faces[name] = (asm(surface, face), asm(load, face))

    probe = basis.probes(np.array(places).T)
    weights = asm(mass, basis, c=np.ones_like(piecewise["c"]))
    # start: the projection of the regions' temperatures
    begin = asm(
        LinearForm(lambda v, w: 2 * np.pi * w.x[0] * w.t0 * v),
        basis,
        t0=np.repeat(start[:, None], basis.dx.shape[1], axis=1),
    )
    temperature = splu(weights.tocsc()).solve(begin) if np.ptp(start) > 0 else np.full(basis.N, start[0])

    gamma = 2.0 - np.sqrt(2.0)
    times, values = [0.0], [probe @ temperature]
    film = None
    medium = None
    for stage in process.stages:
        if stage.film != film:
            film, factors = stage.film, {}
            matrix, load_vector = k_matrix.copy(), np.zeros(basis.N)
            for name, (face_matrix, face_load) in faces.items():
                matrix = matrix + getattr(film, name) * face_matrix
                load_vector += getattr(film, name) * face_load
            medium = None
        for t0, t1, a, b in zip(stage.time[:-1], stage.time[1:], stage.medium[:-1], stage.medium[1:], strict=True):
            jump = medium is None or a != medium
            medium = b
            t, h = t0, first if jump else step
            while t < t1 - 1e-9:
                h = min(h, step)
                left = t1 - t
                now = left if h >= left else (left / 2 if 2 * h > left else h)
                key = round(now, 9)
                if key not in factors:
                    factors[key] = splu((m_matrix + gamma * now / 2 * matrix).tocsc())

                def outside(time, t0=t0, t1=t1, a=a, b=b):
                    return a + (b - a) * (time - t0) / (t1 - t0)

                right = m_matrix @ temperature + gamma * now / 2 * (
                    load_vector * (outside(t) + outside(t + gamma * now)) - matrix @ temperature
                )
                middle = factors[key].solve(right)
                right = m_matrix @ (
                    middle / (gamma * (2 - gamma)) - temperature * (1 - gamma) ** 2 / (gamma * (2 - gamma))
                ) + (1 - gamma) / (2 - gamma) * now * load_vector * outside(t + now)
                # (1 - gamma)/(2 - gamma) equals gamma/2 for this gamma: one matrix serves both
                temperature = factors[key].solve(right)
                t = t1 if now == left else t + now
                times.append(t)
                values.append(probe @ temperature)
                if now >= h:
                    h *= 1.3
    return np.array(times), np.array(values)
