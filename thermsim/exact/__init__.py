"""Exact solutions to check against: series, closed forms, and the observed-order helper.

Imports nothing else of thermsim; SI units, temperatures in degC.
"""

from thermsim.exact.bodies import CentredBody, FiniteCylinder, Slab, sphere
from thermsim.exact.closed_forms import (
    fin_heat_flow,
    fin_parameter,
    fin_temperature,
    lethal_rate,
    lethality_of_exponential_heating,
    lethality_of_ramp,
    semi_infinite_unaccomplished,
)
from thermsim.exact.eigenvalues import (
    cylinder_eigenvalues,
    slab_eigenvalues,
    slab_unequal_eigenvalues,
    sphere_eigenvalues,
)
from thermsim.exact.first_modes import coldest_height, heating_factor_f, lag_factor_j, long_time_coldest_fraction
from thermsim.exact.order import observed_order

__all__ = [
    "CentredBody", "FiniteCylinder", "Slab", "coldest_height", "cylinder_eigenvalues", "fin_heat_flow",
    "fin_parameter", "fin_temperature", "heating_factor_f", "lag_factor_j", "lethal_rate",
    "lethality_of_exponential_heating", "lethality_of_ramp", "long_time_coldest_fraction", "observed_order",
    "semi_infinite_unaccomplished", "slab_eigenvalues", "slab_unequal_eigenvalues", "sphere",
    "sphere_eigenvalues",
]  # fmt: skip
