"""An independent solution by finite elements (scikit-fem), for the tests to compare with.

Biquadratic quadrilaterals on a mesh aligned with the materials, weighted by r; TR-BDF2 in time (trapezoidal rule to
0.5858 of the step, then BDF2; second order, L-stable) on steps that start small after every jump or bend of the
medium. ``discretised`` and ``march`` take any mesh of quadrilaterals; ``solve_by_finite_elements`` makes one from a
body of rectangles.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import spmatrix
from scipy.sparse.linalg import splu
from skfem import Basis, BilinearForm, ElementQuad2, FacetBasis, LinearForm, MeshQuad, asm

from thermsim.solve.grid.body import OUTSIDE


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


@dataclass(frozen=True)
class Discretised:
    """Matrices of a mesh: ``stiffness`` [W/K], ``mass`` [J/K], each film's ``faces`` (matrix and load, [m2])."""

    basis: Basis
    stiffness: spmatrix
    mass: spmatrix
    faces: dict[str, tuple[spmatrix, np.ndarray]]

    def projected(self, values):
        """Nodal values whose field is nearest (least squares) to one value an element."""
        if np.ptp(values) == 0:
            return np.full(self.basis.N, values[0])
        each = np.repeat(values[:, None], self.basis.dx.shape[1], axis=1)
        weights = asm(BilinearForm(lambda u, v, w: 2 * np.pi * w.x[0] * u * v), self.basis)
        load = asm(LinearForm(lambda v, w: 2 * np.pi * w.x[0] * w.t0 * v), self.basis, t0=each)
        return splu(weights.tocsc()).solve(load)


def discretised(mesh, conductivity, capacity, films):
    """Assemble the matrices: conductivity [W/mK] and capacity [J/m3K] an element, facets by the film's name."""
    basis = Basis(mesh, ElementQuad2(), intorder=5)
    k, c = (np.repeat(values[:, None], basis.dx.shape[1], axis=1) for values in (conductivity, capacity))

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

    faces = {}
    for name, facets in films.items():
        face = FacetBasis(mesh, ElementQuad2(), facets=facets, intorder=5)
        faces[name] = (asm(surface, face), asm(load, face))
    return Discretised(basis, asm(stiffness, basis, k=k), asm(mass, basis, c=c), faces)


def factorised(matrix):
    """Factorise a symmetric positive definite matrix."""
    options = {"SymmetricMode": True}
    return splu(matrix.tocsc(), permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options=options)


def march(system, process, temperature, *, step, first, growth=1.3):
    """Yield time and nodal temperatures at the start and after every step.

    Steps grow from ``first`` [s] after every jump or bend of the medium, by ``growth`` each, to ``step`` [s].
    """
    gamma = 2.0 - np.sqrt(2.0)
    yield 0.0, temperature
    film = None
    course = None
    for stage in process.stages:
        if stage.film != film:
            film, factors = stage.film, {}
            matrix, load_vector = system.stiffness.copy(), np.zeros(temperature.size)
            for name, (face_matrix, face_load) in system.faces.items():
                matrix = matrix + getattr(film, name) * face_matrix
                load_vector += getattr(film, name) * face_load
            course = None
        for t0, t1, a, b in zip(stage.time[:-1], stage.time[1:], stage.medium[:-1], stage.medium[1:], strict=True):
            slope = (b - a) / (t1 - t0)
            smooth = course is not None and np.allclose(course, (a, slope), rtol=1e-9, atol=1e-9)
            course = b, slope
            t, h = t0, step if smooth else first
            while t < t1 - 1e-9:
                h = min(h, step)
                left = t1 - t
                now = left if h >= left else (left / 2 if 2 * h > left else h)
                key = round(now, 9)
                if key not in factors:
                    factors[key] = factorised(system.mass + gamma * now / 2 * matrix)

                def outside(time, t0=t0, a=a, slope=slope):
                    return a + slope * (time - t0)

                right = system.mass @ temperature + gamma * now / 2 * (
                    load_vector * (outside(t) + outside(t + gamma * now)) - matrix @ temperature
                )
                middle = factors[key].solve(right)
                right = system.mass @ (
                    middle / (gamma * (2 - gamma)) - temperature * (1 - gamma) ** 2 / (gamma * (2 - gamma))
                ) + (1 - gamma) / (2 - gamma) * now * load_vector * outside(t + now)
                # (1 - gamma)/(2 - gamma) equals gamma/2 for this gamma: one matrix serves both
                temperature = factors[key].solve(right)
                t = t1 if now == left else t + now
                yield t, temperature
                if now >= h:
                    h *= growth


def meshed(body, widest, finest):
    """Mesh of what conducts of a body; its elements' materials and starts; and what tells the region of places."""
    mesh = MeshQuad.init_tensor(mesh_lines(body.columns, widest, finest), mesh_lines(body.levels, widest, finest))

    def region_of(places):
        """Region of the body at places (2, n): indices along r and z, and the material, outside beyond the edges."""
        i = np.searchsorted(body.columns, places[0]) - 1
        j = np.searchsorted(body.levels, places[1]) - 1
        within = (i >= 0) & (i < body.columns.size - 1) & (j >= 0) & (j < body.levels.size - 1)
        i, j = np.clip(i, 0, body.columns.size - 2), np.clip(j, 0, body.levels.size - 2)
        return i, j, np.where(within, body.material[i, j], OUTSIDE)

    i, j, region = region_of(mesh.p[:, mesh.t].mean(axis=1))
    conducting = np.flatnonzero(region >= 0)
    return mesh.restrict(conducting), region[conducting], body.initial[i, j][conducting], region_of


def solve_by_finite_elements(body, process, places, *, widest=2.5e-3, finest=0.3e-3, step=20.0, first=0.25):
    """Temperatures at places (n, 2) over time.

    Returns
    -------
    time : (n_t,), temperature : (n_t, n)
    """
    mesh, region, start, region_of = meshed(body, widest, finest)
    conductivity = np.array([body.materials[k].conductivity for k in region])
    capacity = np.array([body.materials[k].density * body.materials[k].specific_heat for k in region])

    system = discretised(mesh, conductivity, capacity, exposed_facets(mesh, body, region_of))
    probe = system.basis.probes(np.array(places).T)
    times, values = [], []
    for time, temperature in march(system, process, system.projected(start), step=step, first=first):
        times.append(time)
        values.append(probe @ temperature)
    return np.array(times), np.array(values)
