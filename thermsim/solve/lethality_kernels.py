"""The lethal rate, integrated at every node."""

from __future__ import annotations

import math

import numpy as np

from thermsim.solve.compiled import compiled

#: Gauss-Legendre places and weights on [0, 1], exact for polynomials of degree 7, and the end.
_PLACES, _WEIGHTS = (np.append(part, 1.0) for part in np.polynomial.legendre.leggauss(4))


_PLACES, _WEIGHTS = (_PLACES + 1.0) / 2.0, np.append(_WEIGHTS[:4] / 2.0, 0.0)


#: After so many steps rates are worked out anew, so that the rounding of series does not add up.
_AFRESH = 8


#: Columns whose lethality is gathered together, and the degree of the polynomial for what the rate does in a panel.
_TOGETHER, _DEGREE = 64, 9


_FACTORS = np.array([1.0 / math.factorial(k) for k in range(_DEGREE + 1)])


@compiled
def accumulate(time, temperature, rate, columns, reference, z, total):
    """Integrate 10^((T - reference)/z) over time at the chosen columns, T being cubic between the entries.

    ``total`` (n_t, n_columns) receives the lethality gathered up to each entry, in the unit of ``time``.
    """
    scale = math.log(10.0) / z
    t0, t1, d0, d1 = np.empty(_TOGETHER), np.empty(_TOGETHER), np.empty(_TOGETHER), np.empty(_TOGETHER)
    before, begun, gathered = np.empty(_TOGETHER), np.empty(_TOGETHER), np.empty(_TOGETHER)
    rates = np.empty(columns.size)
    for c in range(columns.size):
        total[0, c] = 0.0
    since = 0
    for step in range(time.size - 1):
        h = time[step + 1] - time[step]
        if h <= 0.0:
            since = 0  # temperatures may jump
            for c in range(columns.size):
                total[step + 1, c] = total[step, c]
            continue
        for first in range(0, columns.size, _TOGETHER):
            count = min(_TOGETHER, columns.size - first)
            most = 0.0
            for c in range(count):
                i = columns[first + c]
                t0[c], t1[c] = temperature[step, i], temperature[step + 1, i]
                d0[c], d1[c] = h * rate[step, i], h * rate[step + 1, i]
                most = max(most, abs(t1[c] - t0[c]), abs(d0[c]), abs(d1[c]))
                gathered[c], before[c], begun[c] = 0.0, t0[c], rates[first + c]
            if since == 0:
                for c in range(count):
                    begun[c] = math.exp(scale * (t0[c] - reference))
            # where the rate would span more than a factor of ten the step is cut
            panels = 1 + int(min(most / z, 100.0))
            for panel in range(panels):
                # four places for the integral, and the panel's end, where the next one begins
                for g in range(5):
                    x = (panel + _PLACES[g]) / panels
                    y = 1.0 - x
                    of_t0, of_d0 = y * y * (1.0 + 2.0 * x), y * y * x
                    of_t1, of_d1 = x * x * (1.0 + 2.0 * y), x * x * y
                    weight = _WEIGHTS[g] / panels
                    for c in range(count):
                        value = of_t0 * t0[c] + of_d0 * d0[c] + of_t1 * t1[c] - of_d1 * d1[c]
                        # the rate over that at the panel's begin: the exponential's series at an eighth, three times
                        # squared, is right to 1e-8 over the whole range of a panel
                        part = scale * (value - before[c]) / 8.0
                        grown = _FACTORS[_DEGREE]
                        for k in range(_DEGREE - 1, -1, -1):
                            grown = grown * part + _FACTORS[k]
                        grown *= grown
                        grown *= grown
                        grown *= grown * begun[c]
                        gathered[c] += weight * grown
                        if g == 4:
                            before[c], begun[c] = value, grown
            for c in range(count):
                total[step + 1, first + c] = total[step, first + c] + h * gathered[c]
                rates[first + c] = begun[c]
        since = (since + 1) % _AFRESH
