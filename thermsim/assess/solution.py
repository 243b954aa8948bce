from thermsim.assess.simulation import *
from thermsim.assess.simulation import simulate as solve, TOLERANCE, output_times, FINEST_REFINEMENT, worst_excess
