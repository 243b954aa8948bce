"""What is odd about a process without being a fault: sentences for the user."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from thermsim.case.case import Lethality
from thermsim.case.process import Process

FALLEN = 5.0  # K below its highest: a medium that has fallen this far is no longer heating


def on_process(process: Process, initial: float) -> Iterator[str]:
    """What is odd about a process with at least one stage; ``initial`` is the product's temperature at the start."""
    highest = process.medium_range[1]
    if highest <= initial:
        yield (
            f"Nothing is heated: the medium, {highest:g} degC at most, never gets hotter than the product is at the "
            f"start, {initial:g} degC."
        )
    heating = [stage for stage in process.stages if stage.start < process.heating_end]
    last = float(heating[-1].medium[-1])
    if highest - last > FALLEN:
        reached = any(float(np.max(stage.medium)) == highest for stage in heating)
        yield (
            f"The medium is {'already' if reached else 'still'} {highest - last:.3g} K below its highest temperature "
            f"when heating is said to end (at {process.heating_end / 60:.6g} min): check where cooling starts "
            "(cooling_starts_min, or the stages' names)."
        )


def on_thinning(thin: float, lethality: Lethality) -> str:
    """How far a lethality may be off because the medium follows its record within ``thin`` [K].

    Temperatures inside differ by no more than those of the medium do (maximum principle), so a lethal rate
    10^((T - reference)/z) is off by a factor of 10^(thin/z) at most.
    """
    most = 100.0 * (10.0 ** (thin / lethality.z) - 1.0)
    return (
        f"Following the record within {thin:g} K may change a lethality by at most {most:.2g} % "
        f"(10^({thin:g}/{lethality.z:g}) - 1); this is not counted in the numerical uncertainty."
    )
