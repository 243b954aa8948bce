"""scipy's solve_ivp: BDF with the sparse Jacobian, on cell-centred finite volumes, one call a period."""

from __future__ import annotations

import numpy as np
from scipy.integrate import solve_ivp
from scipy.sparse import diags

from contestants.answer import Answer
from contestants.jar import Array, Jar
from contestants.lines import looked_up
from contestants.volumes import volumes_of


def solve(jar: Jar, places: Array, *, finest: float, widest: float, growth: float, tolerance: float) -> Answer:
    """Temperatures at places; mesh widths [m], absolute tolerance [K]."""
    cells = volumes_of(jar, finest=finest, widest=widest, growth=growth)
    probe = looked_up(jar, cells.r, cells.z, places)
    temperature = np.full(cells.heat.size, jar.initial)
    times, values = [np.zeros(1)], [(probe @ temperature)[None, :]]
    for period in jar.periods:
        exchange = cells.exchange(period.film) / cells.heat
        matrix = (-diags(1 / cells.heat) @ (cells.conduction) - diags(exchange)).tocsc()
        done = solve_ivp(
            lambda t, y, m=matrix, e=exchange, p=period: m @ y + e * p.medium_at(t),
            (period.start, period.end),
            temperature,
            method="BDF",
            jac=matrix,
            rtol=1e-10,
            atol=tolerance,
        )
        temperature = done.y[:, -1]
        times.append(done.t[1:])
        values.append((probe @ done.y[:, 1:]).T)
    time = np.concatenate(times)
    return Answer(time, np.concatenate(values), cells.heat.size, time.size - 1)
