"""The time scheme: coefficients of an L-stable, singly diagonally implicit Runge-Kutta method of order 4.

Source: C. A. Kennedy and M. H. Carpenter, "Additive Runge-Kutta schemes for convection-diffusion-reaction
equations", Applied Numerical Mathematics 44 (2003) 139-181, the implicit part of ARK4(3)6L[2]SA; digits from memory,
and the tests hold them against the order conditions and the stability function. First stage explicit, last stage at
the step's end.
"""

from __future__ import annotations

import functools

import numpy as np
from numpy.typing import NDArray

GAMMA = 0.25

#: Stage weights a[i, j]; the last row is also the weights b of the step.
A = np.array(
    [
        [0.0, 0.0, 0.0, 0.0, 0.0, 0.0],
        [1 / 4, GAMMA, 0.0, 0.0, 0.0, 0.0],
        [8611 / 62500, -1743 / 31250, GAMMA, 0.0, 0.0, 0.0],
        [5012029 / 34652500, -654441 / 2922500, 174375 / 388108, GAMMA, 0.0, 0.0],
        [
            15267082809 / 155376265600,
            -71443401 / 120774400,
            730878875 / 902184768,
            2285395 / 8070912,
            GAMMA,
            0.0,
        ],
        [82889 / 524892, 0.0, 15625 / 83664, 69875 / 102672, -2260 / 8211, GAMMA],
    ]
)
B = A[-1]
#: Weights of the embedded third-order solution, for the error estimate.
B_EMBEDDED = np.array(
    [
        4586570599 / 29645900160,
        0.0,
        178811875 / 945068544,
        814220225 / 1159782912,
        -3700637 / 11593932,
        61727 / 225920,
    ]
)
#: By what the two solutions differ.
OFF = B - B_EMBEDDED
C = A.sum(axis=1)
#: Weights of the stages before each.
BEFORE = np.tril(A, -1)
#: A stage begins on the polynomial through so many of the stages before it: of the last step its start and one more
#: count, and its end, which is this one's start.
BEHIND, OF_LAST = 3, 2
#: That one more.
BETWEEN = 3
for constant in (OFF, BEFORE):
    constant.flags.writeable = False  # as those of :func:`leads`: the loops are compiled for one kind of array


@functools.lru_cache(maxsize=64)
def leads(last: float) -> NDArray[np.float64]:
    """Weights of the temperatures of stages in those from which each stage begins.

    Parameters
    ----------
    last : float
        The last step's length in parts of this one's, which is most often a power of two; 0 for none.

    Returns
    -------
    ndarray, shape (stages, OF_LAST + stages)
        First of the last step's stages that count.
    """
    places = np.append((C[[0, BETWEEN]] - 1.0) * last, C)
    found = np.zeros((C.size, places.size))
    for s in range(1, C.size):
        known = range(max(s + OF_LAST - BEHIND, 0 if last > 0.0 else OF_LAST), s + OF_LAST)
        for k in known:
            others = np.array([places[q] for q in known if q != k])
            found[s, k] = np.prod((C[s] - others) / (places[k] - others))
    found.flags.writeable = False
    return found
