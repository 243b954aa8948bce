"""FiPy: cell-centred finite volumes on a graded cylindrical mesh, sparse LU; backward Euler or Crank-Nicolson.

The film and half a cell in series are sources of the cells at the surface, as FiPy's questions and answers advise.
"""

from __future__ import annotations

import os

os.environ.setdefault("FIPY_SOLVERS", "scipy")

import fipy
import numpy as np

from contestants.answer import Answer
from contestants.jar import Array, Jar
from contestants.lines import layer_of, looked_up, mesh_lines
from contestants.trbdf2 import steps_of


def solve(
    jar: Jar, places: Array, *, finest: float, widest: float, growth: float, step: float, implicit: float
) -> Answer:
    """Temperatures at places; mesh widths [m], step [s]; ``implicit`` is 1 or 0.5."""
    r, z = mesh_lines(jar, finest=finest, widest=widest, growth=growth)
    mesh = fipy.CylindricalGrid2D(dr=np.diff(r), dz=np.diff(z))
    at = np.ix_(layer_of(jar.columns, r), layer_of(jar.levels, z))
    # FiPy numbers its cells with r running fastest
    k, heat = (fipy.CellVariable(mesh, value=values[at].T.ravel()) for values in (jar.conductivity, jar.heat))
    centre_r, centre_z = (r[1:] + r[:-1]) / 2, (z[1:] + z[:-1]) / 2
    order = np.arange(heat.value.size).reshape(centre_z.size, centre_r.size).T.ravel()
    probe = looked_up(jar, centre_r, centre_z, places)
    temperature = fipy.CellVariable(mesh, value=jar.initial, hasOld=True)
    exposed = mesh.facesRight | mesh.facesTop | mesh.facesBottom
    inside = mesh.faceCellIDs[0].filled(0)
    half = np.linalg.norm(np.asarray(mesh.faceCenters.value - mesh.cellCenters.value[:, inside]), axis=0)
    half = half / k.value[inside]
    conduction = k.harmonicFaceValue
    solver = fipy.LinearLUSolver(tolerance=1e-12, iterations=1)
    times, values = [0.0], [probe @ temperature.value[order]]
    for period in jar.periods:
        film = fipy.FaceVariable(mesh, value=exposed.value / (1.0 / period.film + half))
        exchange = fipy.CellVariable(mesh, value=(film * mesh.faceNormals).divergence.value)
        medium = fipy.Variable(value=period.medium)
        balance = (
            fipy.DiffusionTerm(coeff=implicit * conduction)
            - fipy.ImplicitSourceTerm(coeff=implicit * exchange)
            + exchange * medium
        )
        if implicit < 1.0:
            balance = balance + fipy.ExplicitDiffusionTerm(coeff=(1.0 - implicit) * conduction)
            balance = balance - (1.0 - implicit) * exchange * temperature.old
        equation = fipy.TransientTerm(coeff=heat) == balance
        for time, h in steps_of(period, step):
            medium.setValue(period.medium_at(time + implicit * h))
            temperature.updateOld()
            equation.solve(var=temperature, dt=h, solver=solver)
            times.append(time + h)
            values.append(probe @ temperature.value[order])
    return Answer(np.array(times), np.array(values), heat.value.size, len(times) - 1)
