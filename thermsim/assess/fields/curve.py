"""Curve of temperature and lethality at a place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.quantities import LETHALITY, TEMPERATURE
from thermsim.values import Sealed

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False, repr=False)
class Curve(Sealed):
    """Curve at a place: name, ``r`` and ``z`` [m], lethality [s], temperatures [degC] at ``time`` [s]."""

    name: str
    r: float
    z: float
    lethality: float
    heating_lethality: float
    end_of_heating: float
    time: Array
    temperature: Array

    def __repr__(self) -> str:
        told = (
            f"lethality {LETHALITY.text(self.lethality)}, {TEMPERATURE.text(self.end_of_heating)} when heating ends"
        )
        return f"<Curve {self.name!r} at r = {self.r:.6g} m, z = {self.z:.6g} m: {told}, {self.time.size} times>"
