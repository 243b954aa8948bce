"""Heat-penetration factors of a conduction-heated body: the straight line its heating curve ends in.

``log10((medium - T)/(medium - T0)) = log10 j - t/f``. Source: C. O. Ball and F. C. W. Olson, Sterilization in Food
Technology, 1957 (from memory), with exact first modes instead of rounded constants.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

import numpy as np

from thermsim.exact.checks import FloatArray, as_floats


class HasSlowestMode(Protocol):
    """A body that knows its first mode: `CentredBody`, `Slab`, `FiniteCylinder`."""

    @property
    def slowest_rate(self) -> float:
        """Decay rate [1/s]."""

    @property
    def slowest_amplitude(self) -> Callable[..., FloatArray]:
        """Share of a step in the first mode at places [m]."""


def heating_factor_f(body: HasSlowestMode) -> float:
    """Time [s] in which the unaccomplished temperature falls tenfold; inf when the body is insulated all round.

    ``f = ln 10/(alpha (b1^2/R^2 + z1^2/H^2))`` for a finite cylinder, any Biot numbers. Valid once the first mode
    is alone: about t > f, theta < 0.25 at the centre.
    """
    rate = body.slowest_rate
    return float(np.log(10.0)) / rate if rate > 0.0 else float("inf")


def lag_factor_j(body: HasSlowestMode, *places: float | FloatArray) -> FloatArray:
    """Intercept j [-] of the straight line at places [m]: ``(r, z)``, or ``(r,)`` or ``(z,)`` in one dimension.

    Shape (n_r, n_z), or (n,) in one dimension.
    """
    return as_floats(body.slowest_amplitude(*places))
