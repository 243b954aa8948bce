"""Exact solutions to check against: series, closed forms, and the observed-order helper.

Imports nothing else of thermsim; SI units, temperatures in degC.
"""

from thermsim.exact.bodies import CentredBody, FiniteCylinder, Slab, infinite_cylinder, sphere, symmetric_slab
from thermsim.exact.closed_forms import (
    fin_heat_flow,
    fin_parameter,
    fin_temperature,
    lethal_rate,
    lethality_of_exponential_cooling,
    lethality_of_exponential_heating,
    lethality_of_hold,
    lethality_of_parabolic_peak,
    lethality_of_ramp,
    lethality_of_sine,
    semi_infinite_unaccomplished,
)
from thermsim.exact.eigenvalues import (
    cylinder_eigenvalues,
    slab_eigenvalues,
    slab_unequal_eigenvalues,
    sphere_eigenvalues,
)
from thermsim.exact.first_modes import coldest_height, heating_factor_f, lag_factor_j, long_time_coldest_fraction
from thermsim.exact.order import observed_order, richardson

__all__ = [
    "CentredBody", "FiniteCylinder", "Slab", "coldest_height", "cylinder_eigenvalues", "fin_heat_flow",
    "fin_parameter", "fin_temperature", "heating_factor_f", "infinite_cylinder", "lag_factor_j", "lethal_rate",
    "lethality_of_exponential_cooling", "lethality_of_exponential_heating", "lethality_of_hold",
    "lethality_of_parabolic_peak", "lethality_of_ramp", "lethality_of_sine", "long_time_coldest_fraction",
    "observed_order", "richardson", "semi_infinite_unaccomplished", "slab_eigenvalues",
    "slab_unequal_eigenvalues", "sphere", "sphere_eigenvalues", "symmetric_slab",
]  # fmt: skip
