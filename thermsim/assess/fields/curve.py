"""Curve of temperature and lethality at a place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Curve:
    """Curve at a place: name, ``r`` and ``z`` [m], lethality [s], temperatures [degC] at ``time`` [s]."""

    name: str
    r: float
    z: float
    lethality: float
    heating_lethality: float
    end_of_heating: float
    time: Array
    temperature: Array
