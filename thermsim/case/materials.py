"""Materials: conductivity, density and specific heat, each with the source it comes from."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Material:
    """A homogeneous material with constant properties.

    ``conductivity`` [W/mK], ``density`` [kg/m3], ``specific_heat`` [J/kgK], all > 0; ``source`` says where the
    numbers come from.
    """

    name: str
    conductivity: float
    density: float
    specific_heat: float
    source: str = ""

    @property
    def diffusivity(self) -> float:
        """Thermal diffusivity k/(rho c) [m2/s]."""
        return self.conductivity / (self.density * self.specific_heat)

    @property
    def capacity(self) -> float:
        """Volumetric heat capacity rho c [J/m3K]."""
        return self.density * self.specific_heat
