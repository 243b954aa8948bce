"""A two-stage L-stable scheme of order 2 on the heat content, for elements whose properties change with temperature.

Stages are solved by corrections; a factor is kept while corrections shrink fast.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.sparse import spmatrix
from scipy.sparse.linalg import splu

from contestants.jar import Array
from thermsim.case.process import Process

#: Steps begin so after a jump or a bend of the medium [s], and grow by so much each.
FIRST, GROWTH = 0.5, 1.4
CORRECTIONS, SETTLED, STALE = 12, 1e-4, 0.3


def march(
    process: Process,
    temperature: Array,
    faces: dict[str, tuple[spmatrix, Array]],
    look: spmatrix,
    *,
    held: Callable[[Array], Array],
    conducted: Callable[[Array], Array],
    derivatives: Callable[[Array], tuple[spmatrix, spmatrix]],
    longest: float,
) -> tuple[Array, Array]:
    """Temperatures at places over time: time (n_t,), temperatures (n_t, places).

    ``faces`` are matrix and load of each surface, by the film that acts on it, ``look`` leads to the places. ``held``
    is the heat content of temperatures, ``conducted`` what leaves by conduction, ``derivatives`` those of both.
    """
    times, values = [0.0], [look @ temperature]
    gamma, film = 1.0 - 1.0 / np.sqrt(2.0), None
    factor, factored_for = None, 0.0
    content = held(temperature)
    for stage in process.stages:
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
                    start, before = content + h * known * flow, np.inf
                    for _ in range(CORRECTIONS):
                        flow = warmed * medium - exchange @ temperature - conducted(temperature)
                        off = start + h * gamma * flow - held(temperature)
                        if factor is None:
                            stores, conducts = derivatives(temperature)
                            factor, factored_for = splu((stores + h * gamma * (conducts + exchange)).tocsc()), h
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
                content = held(temperature)
                now += h
                times.append(now)
                values.append(look @ temperature)
                if h >= step:
                    step = min(longest, GROWTH * step)
    return np.array(times), np.array(values)
