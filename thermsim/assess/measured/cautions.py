"""Notes that the reader of a comparison must know before using a figure."""

from __future__ import annotations

from collections.abc import Iterator

from thermsim.assess.curves.heat_penetration import Penetration
from thermsim.assess.measured.result import Comparison, Measured

#: Always beside a verdict.
AUTHORITY = (
    "Whether a process is adequate is decided by the process authority, under local regulation and licensed "
    "practice; a figure within or outside a limit here does not decide it."
)
#: Intervals are of the samples and the model's fit, no more.
INTERVALS = (
    "95 % intervals account for sensor noise, allowing for correlated samples. They do not account for the "
    "calibration of the sensors, for properties that were not fitted, or for errors of the model."
)
#: A reading that ends so much before the process [s].
ENDS_EARLY = 60.0
#: What a sum of trapezoids may have too much before it is said [-].
SUMMED_WELL = 0.01


def notes_on(found: Comparison) -> Iterator[str]:
    """Notes on a comparison, loud ones first (they begin with words in capitals)."""
    for one in found.containers:
        yield from _on_fit(one)
    for one in found.containers:
        yield from _on_reading(found, one)
    if not found.plan.fit:
        yield "Nothing was fitted: the logger's lethality is given as it was read, the probe's own error included."


def _on_fit(one: Measured) -> Iterator[str]:
    fit = one.fit
    if fit is None:
        return
    for estimate in fit.estimates:
        if estimate.at_bound:
            yield (
                f'AT BOUND: the fit of "{one.name}" ended at a bound of "{estimate.name}"; neither its '
                "interval nor the corrected figures are valid."
            )
    for first, second, correlation in fit.indistinct:
        yield (
            f'CANNOT BE TOLD APART: "{first}" and "{second}" of "{one.name}" (correlation {correlation:+.3f}): the '
            "data determine only their combined effect; fit one of them and give the other."
        )
    if not fit.converged:
        yield f'NOT CONVERGED: the fit of "{one.name}" stopped before it converged.'
    if one.corrected is not None and one.corrected.heating_over_reading > 0.0:
        yield (
            f'UNSAFE SIDE: until heating ends the logger of "{one.name}" credits '
            f"{100 * one.corrected.heating_over_reading:.1f} % more lethality than the cold spot receives in the "
            "fitted model."
        )


def _on_reading(found: Comparison, one: Measured) -> Iterator[str]:
    early = found.process.end - float(one.time[-1])
    if early > ENDS_EARLY:
        yield (
            f'"{one.name}" ends {early / 60:.3g} min before the process: its own lethality lacks the rest; '
            "the corrected one counts the whole process."
        )
    general = one.general
    if general.trapezoids > 0.0 and abs(general.trapezoidal_error) > SUMMED_WELL * general.trapezoids:
        more = 100.0 * general.trapezoidal_error / general.trapezoids
        yield (
            f'"{one.name}": trapezoids of the lethal rate are off by {more:+.1f} % in sum (estimated); the figure '
            "given interpolates the temperature linearly between samples instead."
        )
    for phase, factors in (("heating", one.heating), ("cooling", one.cooling)):
        yield from _on_factors(one.name, phase, factors)


def _on_factors(name: str, phase: str, factors: Penetration | None) -> Iterator[str]:
    if factors is None:
        return
    if factors.remark:
        yield f'"{name}", {phase}: {factors.remark}.'
    elif factors.line is not None and factors.line.automatic and factors.line.early and phase == "heating":
        yield (
            f'"{name}": the straight part begins {(factors.line.start - factors.line.zero) / factors.line.f:.2f} f '
            "after the zero, where a conduction curve may still bend unnoticed: f and j may be off by a few per cent."
        )
