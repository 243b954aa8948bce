"""py-pde: one material only, on an even grid, explicit Runge-Kutta.

The unknown is T - medium: films are then constant and ramps a constant source, which spares py-pde expressions of
time in its boundaries. Those cost it some 80 ms a step uncompiled, and 10 s of compiling at every call compiled.
"""

from __future__ import annotations

import numpy as np
import pde

from contestants.answer import Answer
from contestants.jar import Array, Jar
from contestants.lines import looked_up

#: Part of the largest stable step that is taken, and that step times the diffusivity over the squared width.
STABLE, LIMIT = 0.9, 2.78 / 4


def solve(jar: Jar, places: Array, *, across: int, along: int, every: float = 20.0) -> Answer:
    """Temperatures at places; numbers of cells; kept every so many seconds."""
    if jar.heat.size > 1:
        raise ValueError("py-pde's operators know one diffusivity; a jar of layers is beyond them")
    k, diffusivity = (float(jar.conductivity[0, 0]), float(jar.conductivity[0, 0] / jar.heat[0, 0]))
    grid = pde.CylindricalSymGrid(float(jar.columns[-1]), (0.0, float(jar.levels[-1])), (across, along))
    r, z = grid.axes_coords
    probe = looked_up(jar, r, z, places)
    step = STABLE * LIMIT / (diffusivity * np.sum(1 / np.array(grid.discretization) ** 2))
    step = every / np.ceil(every / step)
    times, values, steps = [0.0], [np.full(len(places), jar.initial)], 0
    temperature = np.full(grid.shape, jar.initial)
    for period in jar.periods:
        film = {"type": "mixed", "value": period.film / k, "const": 0.0}
        equation = pde.PDE(
            {"y": f"{diffusivity} * laplace(y) - {period.slope}"},
            bc={"r+": film, "r-": {"derivative": 0.0}, "z": film},
        )
        field, kept = (pde.ScalarField(grid, temperature - period.medium), pde.MemoryStorage())
        field, info = equation.solve(
            field,
            t_range=(period.start, period.end),
            dt=step,
            solver="runge-kutta",
            adaptive=False,
            backend="numpy",
            tracker=kept.tracker(every),
            ret_info=True,
        )
        steps += info["solver"]["steps"]
        now = list(kept.times)[1:]
        times += now
        values += [
            probe @ data.ravel() + period.medium_at(t) for t, data in zip(now, list(kept.data)[1:], strict=True)
        ]
        temperature = field.data + period.medium_end
    return Answer(np.array(times), np.array(values), across * along, steps)
