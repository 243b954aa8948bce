"""A comparison in plain text for the terminal and the pages of the PDF."""

from __future__ import annotations

from collections.abc import Iterator

from thermsim.assess.curves.fit import Estimate
from thermsim.assess.curves.heat_penetration import Penetration
from thermsim.assess.curves.straight_part import Line
from thermsim.assess.measured.cautions import AUTHORITY, INTERVALS
from thermsim.assess.measured.model import FITTED
from thermsim.assess.measured.result import Check, Comparison, DesignRow, Measured, Misfit
from thermsim.assess.simulate.cautions import CONDUCTION_ONLY, NO_VALIDATION
from thermsim.quantities import LENGTH, LETHALITY, PART, TIME, minutes
from thermsim.records.words.answer import loud_first
from thermsim.records.words.labelled import labelled


def measured_answer(found: Comparison) -> list[str]:
    """What a comparison found, as lines of text of at most about 116 characters.

    Parameters
    ----------
    found : Comparison

    Returns
    -------
    list of str
        The corrected lethality of the slowest container first, then each container, the verdict, the holds, the
        notes and the cautions.
    """
    entries = [("Run", f"{found.run.file}, SHA-256 {found.run.sha256[:16]}..."), *_slowest(found)]
    for one in found.containers:
        entries += container_entries(one)
    entries += [("Verdict" if place == 0 else "", text) for place, text in enumerate(map(check_text, found.checks))]
    if found.checks:
        entries.append(("Decision", AUTHORITY))
    if found.design:
        entries.append(("Hold", DESIGN_OF))
    entries += [("", design_text(row)) for row in found.design]
    loud, others = loud_first(found.notes)
    entries += [("WARNING", note) for note in loud]
    entries += [("Note", note) for note in others]
    entries += [("Intervals", INTERVALS), ("Caution", f"{NO_VALIDATION} {CONDUCTION_ONLY}")]
    return [line for label, text in entries for line in labelled(label, text)]


def _slowest(found: Comparison) -> Iterator[tuple[str, str]]:
    slow, lethality = found.containers[found.slowest], found.case.lethality
    function = f"F({lethality.reference:g} degC, z {lethality.z:g})"
    if slow.corrected is None:
        yield (
            "Least lethality",
            f'{function} = {LETHALITY.text(slow.general.lethality)} read in "{slow.name}", uncorrected',
        )
        return
    yield (
        "Least lethality",
        f'{function} = {lethality_text(slow)} at the cold spot of "{slow.name}", without its probe; its logger says '
        f"{LETHALITY.text(slow.general.lethality)}, {PART.text(slow.corrected.over_reading, signed=True)}",
    )


def lethality_text(one: Measured) -> str:
    """The corrected lethality with its interval."""
    spot = one.corrected
    if spot is None:
        return LETHALITY.text(one.general.lethality)
    return f"{LETHALITY.text(spot.lethality)} ({minutes(spot.low):.2f} to {minutes(spot.high):.2f})"


def container_entries(one: Measured) -> Iterator[tuple[str, str]]:
    """What is said of one container."""
    general = one.general
    total, heating, summed = (minutes(x) for x in (general.lethality, general.heating, general.trapezoids))
    yield (
        f'"{one.name}"',
        f"{one.time.size} samples, probe {LENGTH.text(one.insertion)} deep; read F = {total:.2f} min, {heating:.2f} "
        f"min before heating ends (trapezoids of the rate: {summed:.2f} min, of which "
        f"{minutes(general.trapezoidal_error):+.3f} min is their error)",
    )
    yield "", f"heating: {factors_text(one.heating, 'h')}"
    if one.cooling is not None:
        yield "", f"cooling: {factors_text(one.cooling, 'c')}"
    yield "", f"against the case as it stands: {misfit_text(one.as_case.misfit)}"
    if one.fit is not None and one.fitted is not None:
        yield "", f"fitted: {'; '.join(estimate_text(estimate) for estimate in one.fit.estimates)}"
        yield "", f"against the fitted model: {misfit_text(one.fitted.misfit)}"
    if one.corrected is not None:
        spot = one.corrected
        yield (
            "",
            f"cold spot without the probe, r = {LENGTH.text(spot.r)}, z = {LENGTH.text(spot.z)}: F = "
            f"{lethality_text(one)}, numerical uncertainty {LETHALITY.number(spot.numerical)} min; the logger reads "
            f"{PART.text(spot.over_reading, signed=True)}, until heating ends "
            f"{PART.text(spot.heating_over_reading, signed=True)}",
        )


#: What the table of holds is about.
DESIGN_OF = (
    "for the case's own process, not the logged one, with the fitted product; the planned time runs from steam on "
    "to cooling, so a longer come-up leaves less of it for the hold:"
)


def factors_text(found: Penetration, phase: str) -> str:
    """The factors of a phase, "h" or "c", or why there are none."""
    line = found.line
    if line is None:
        return f"no factors: {found.remark}"
    return f"{f_text(line, phase)}, {j_text(line, phase)}; {straight_text(line)}"


def f_text(line: Line, phase: str) -> str:
    """The slope factor with its interval."""
    return f"f{phase} = {minutes(line.f):.2f} min ({minutes(line.f_low):.2f} to {minutes(line.f_high):.2f})"


def j_text(line: Line, phase: str) -> str:
    """The lag factor with its interval."""
    return f"j{phase} = {line.j:.3f} ({line.j_low:.3f} to {line.j_high:.3f})"


def straight_text(line: Line) -> str:
    """Where the straight part lies."""
    how = "found" if line.automatic else "given"
    return f"straight part {TIME.number(line.start)} to {TIME.text(line.end)} ({how}, {line.samples} samples)"


def misfit_text(misfit: Misfit) -> str:
    """Residuals in words."""
    return (
        f"mean {misfit.bias:+.2f} K, root mean square {misfit.rms:.2f} K, largest {misfit.largest:+.2f} K at "
        f"{TIME.text(misfit.time)}"
    )


def estimate_text(estimate: Estimate) -> str:
    """A fitted parameter with its interval, in the unit that is shown."""
    quantity = FITTED[estimate.name][0]
    value, low, high, start = (
        f"{quantity.edge(number):.4g}" for number in (estimate.value, estimate.low, estimate.high, estimate.start)
    )
    bound = ", ended at its bound" if estimate.at_bound else ""
    return f"{estimate.name} {value} ({low} to {high}) {quantity.unit}".rstrip() + f", from {start}{bound}"


def check_text(check: Check) -> str:
    """One line of the verdict."""
    stand = {True: "within", False: "OUTSIDE", None: "cannot be judged against"}[check.within]
    return f"{check.name}: {check.statement}; {stand} the limit ({check.limit})"


def design_text(row: DesignRow) -> str:
    """One line of the table of holds."""
    given = f"{row.name}: the planned time gives {LETHALITY.text(row.lethality)}; "
    if row.hold is None or row.heating is None or row.remark:
        return given + (row.remark or "no hold was found")
    return (
        f"{given}the target needs a hold of {TIME.text(row.hold)}, {TIME.text(row.heating)} from steam on to cooling"
    )
