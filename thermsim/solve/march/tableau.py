"""The time scheme: coefficients of an L-stable, singly diagonally implicit Runge-Kutta method of order 4.

Source: C. A. Kennedy and M. H. Carpenter, "Additive Runge-Kutta schemes for convection-diffusion-reaction
equations", Applied Numerical Mathematics 44 (2003) 139-181, the implicit part of ARK4(3)6L[2]SA; digits from memory,
and the tests hold them against the order conditions and the stability function. First stage explicit, last stage at
the step's end.
"""

from __future__ import annotations

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
#: A stage begins on the polynomial through so many of the stages before it: of the last step its start and one more
#: count, and its end, which is this one's start.
BEHIND, OF_LAST = 3, 2
#: That one more.
BETWEEN = 3


def led_on(places: NDArray[np.float64], x: float) -> NDArray[np.float64]:
    """Weights of values at places in the polynomial through them, at ``x``."""
    weights = np.ones(places.size)
    for k in range(places.size):
        for q in range(places.size):
            if q != k:
                weights[k] *= (x - places[q]) / (places[k] - places[q])
    return weights


def placed(length: float, last_length: float) -> NDArray[np.float64]:
    """Places of the last step's stages that count and of a step's own, in parts of its length."""
    return np.append((C[[0, BETWEEN]] - 1.0) * (last_length / length), C)
