"""A comparison in words: for the terminal, the report and the pages of the PDF."""

from __future__ import annotations

from collections.abc import Iterator

from thermsim.assess.curves.fit import Estimate
from thermsim.assess.curves.heat_penetration import Penetration
from thermsim.assess.curves.straight_part import Line
from thermsim.assess.measured.cautions import AUTHORITY, INTERVALS
from thermsim.assess.measured.doubts.judgement import depth_text
from thermsim.assess.measured.model import FITTED
from thermsim.assess.measured.result import ENDED_OTHERWISE, Comparison, Measured, Misfit
from thermsim.quantities import LENGTH, LETHALITY, PART, TIME, minutes
from thermsim.records.measured.rows import rows_table
from thermsim.records.words.answer import CAUTION
from thermsim.records.words.parts import Entry, Part, Section, details, facts, flow_first, noticed, paragraphs, table
from thermsim.records.words.screen import screen_of
from thermsim.systems import told

#: What the table of holds is about, beside the container whose product it goes by.
DESIGN_OF = (
    "For the planned process, not the logged one, at the place of least lethality wherever that then is, cooling "
    "counted, without the probe. The lethality is that of the planned time from steam on to cooling: a slow come-up "
    "takes its time off the hold. Margins for what varies beyond these rows are the process authority's to set."
)


def measured_answer(found: Comparison, *, full: bool = False) -> list[str]:
    """Findings of a comparison as lines of text of at most about 100 characters.

    Parameters
    ----------
    found : Comparison
    full : bool, optional
        Everything, not what fits a screen alone.

    Returns
    -------
    list of str
        :func:`first_sections`, then each container, the notes and the cautions.
    """
    containers = [
        facts([(f'"{one.name}"', ""), *container_entries(found, one), *_factors(one)]) for one in found.containers
    ]
    return screen_of(
        [
            *first_sections(found),
            Section("", tuple(containers), detail=True),
            *noticed("Notes", found.notices, "warning", "note"),
            *details([("Intervals", INTERVALS), CAUTION]),
        ],
        full=full,
    )


def first_sections(found: Comparison) -> list[Section]:
    """That the product convects, a row a container, the least lethality, every danger, the verdict, the holds."""
    run = ("Run", f"{found.run.file}, SHA-256 {found.run.sha256[:16]}...")
    flows, others = flow_first(found.notices)
    answer = facts([*_slowest(found), ("Decision", AUTHORITY), run], framed=True)
    return [
        *flows,
        Section("The containers", (rows_table(found),)),
        Section("The answer", (answer,)),
        *noticed("Danger", others, "danger"),
        Section("Verdict", _verdict(found), detail=True),
        Section("Holds for the target", _design(found), detail=True),
    ]


def _slowest(found: Comparison) -> Iterator[Entry]:
    slow, lethality = found.containers[found.slowest], found.case.lethality
    function = lethality.function
    if not slow.whole and slow.fit is not None:
        yield "Least lethality", "REFUSED: no container's record reaches from the start to the end of cooling"
    elif slow.corrected is None:
        read = f'{function} = {minutes(slow.general.lethality):.2f} min read in "{slow.name}", uncorrected'
        yield "Least lethality", read
    else:
        yield (
            "Least lethality",
            f"{function} = {lethality_text(slow)}{_doubt(slow)} at the cold spot of "
            f'"{slow.name}", without its probe; its logger '
            f"says {minutes(slow.general.lethality):.2f} min, {PART.text(slow.corrected.over_reading, signed=True)}",
        )
    for check in found.checks:
        if check.target:
            yield "Target", f"{check.stands}: {check.statement}; target {check.limit}"
    outside = _outside(found)
    doubted = "" if all(one.sound for one in found.containers) else "; figures are IN DOUBT, see the flags"
    yield "Outside limits", ("; ".join(outside) if outside else "nothing that was checked") + doubted


def _outside(found: Comparison) -> list[str]:
    """Names of what is outside its limits, all of a container behind its own."""
    by: dict[str, list[str]] = {}
    for check in found.checks:
        if check.within is False and not check.target:
            whose, colon, what = check.name.rpartition('": ')
            by.setdefault(f'{whose}":' if colon else "", []).append(what if colon else check.name)
    return [f"{whose} {', '.join(what)}".strip() for whose, what in by.items()]


def _doubt(one: Measured) -> str:
    """Word between a lethality in doubt and its place."""
    if one.sound:
        return ""
    others = [] if one.there is None else [f"{minutes(one.there):.2f} as found"]
    others += [] if one.otherwise is None else [f"{minutes(one.otherwise.lethality):.2f} {one.otherwise.words}"]
    return f", IN DOUBT ({'; '.join(others)})," if others else ", IN DOUBT,"


def _verdict(found: Comparison) -> tuple[Part, ...]:
    if not found.checks:
        return (paragraphs(["Nothing was fitted: there is nothing to be held against limits."]),)
    rows = [(check.name, check.stands, check.statement, check.limit) for check in found.checks if not check.target]
    return (table(("checked", "stands", "found", "limit"), rows),)


def _design(found: Comparison) -> tuple[Part, ...]:
    if not found.design:
        return (paragraphs(["No holds computed: no target is given, nothing was fitted, or they were not wanted."]),)
    rows = [
        (
            told(row.name),  # names of rows stay as they are, and these are amounts
            f"{minutes(row.lethality):.2f} min",
            row.remark
            if row.hold is None
            else f"{minutes(row.hold):.1f} +- {max(minutes(row.uncertainty), 0.1):.1f} min",
            "-" if row.heating is None else f"{minutes(row.heating):.1f} min",
        )
        for row in found.design
    ]
    heads = (
        "deviation",
        f"{found.case.lethality.symbol} of the planned time",
        "hold that just reaches the target",
        "steam on to cooling",
    )
    return (paragraphs([_designed(found)]), table(heads, rows), paragraphs([DESIGN_OF], small=True))


def _designed(found: Comparison) -> str:
    """The container whose product the holds are of, and which slower one is in doubt."""
    slow = found.containers[found.slowest]
    one = slow if found.designed is None else found.containers[found.designed]
    said = f'Holds with the product as fitted in "{one.name}", the slowest container'
    if not one.sound:
        return f"{said}, which is IN DOUBT as all others are."
    if not found.design_stands:
        said = f"IN DOUBT, as records do not agree on when heating ended. {said}"
    return f"{said}." if one is slow else f'{said} that stands; "{slow.name}", slower, is IN DOUBT and not counted.'


def lethality_text(one: Measured) -> str:
    """The corrected lethality with its interval."""
    spot = one.corrected
    if spot is None:
        return LETHALITY.text(one.general.lethality)
    return f"{LETHALITY.text(spot.lethality)} ({minutes(spot.low):.2f} to {minutes(spot.high):.2f})"


def container_entries(found: Comparison, one: Measured) -> Iterator[Entry]:
    """Sentences about one container of a comparison."""
    general = one.general
    doubt = " (an end IN DOUBT)" if one.flagged(ENDED_OTHERWISE) else ""
    yield (
        "Probe",
        f"{LENGTH.edge(one.insertion):.4g} mm deep" + (", as given for this column" if one.own_depth else ""),
    )
    yield "Samples", f"{one.time.size}, {minutes(one.time[0]):.1f} to {minutes(one.time[-1]):.1f} min"
    yield (
        "Lethality read",
        f"{minutes(general.lethality):.2f} min, {minutes(general.heating):.2f} min before heating ends{doubt}",
    )
    yield (
        "Trapezoids",
        f"the lethal rate summed: {minutes(general.trapezoids):.2f} min, of which "
        f"{minutes(general.trapezoidal_error):+z.3f} min is its error (estimated by leaving out every second sample)",
    )
    yield "Against case", misfit_text(one.as_case.misfit)
    if one.fitted is not None:
        yield "Against fit", misfit_text(one.fitted.misfit)
    if one.depth is not None:
        yield "Depth found", f"{depth_text(one.depth)}, by its curve"
    for estimate in one.own:
        alone = FITTED[estimate.name][0]
        yield (
            "By itself",
            f"{estimate.name} {alone.edge(estimate.value):.4g} ({alone.edge(estimate.low):.4g} to "
            f"{alone.edge(estimate.high):.4g}) {alone.unit}; what all containers share is used".replace(")  ", ") "),
        )
    if one.seen is not None:
        yield (
            "Cold spot",
            "NO corrected lethality: the record does not reach the end of cooling; up to "
            f"{minutes(one.time[-1]):.1f} min the fitted model's cold spot has gathered {minutes(one.seen):.2f} min",
        )
    if one.there is not None:
        yield (
            "As found",
            f"with tip or filling as the curve has it the corrected lethality is {minutes(one.there):.2f} min",
        )
    if one.otherwise is not None:
        held = one.otherwise
        yield (
            "Its turn",
            f"{held.words} the corrected lethality is {minutes(held.lethality):.2f} min, and the fit leaves "
            f"{held.rms:.2f} K over; if the clocks differ, {held.against:.2f} K",
        )
    for flag in one.flags:
        yield "Flag", flag.text
    if one.predicted is not None:
        yield "Predicted here", f"{minutes(one.predicted):.2f} min"
    if one.corrected is not None:
        spot = one.corrected
        yield (
            "Cold spot",
            f"without the probe {found.case.lethality.symbol} = {lethality_text(one)}, numerical uncertainty "
            f"{max(minutes(spot.numerical), 0.01):.2f} min, "
            f"at r = {LENGTH.text(spot.r)}, z = {LENGTH.text(spot.z)}; "
            f"{spot.end_of_heating:.2f} degC when heating ends",
        )
        yield (
            "Logger's error",
            f"{PART.text(spot.over_reading, signed=True)} against that; until heating ends{doubt} "
            f"{PART.text(spot.heating_over_reading, signed=True)}",
        )


def _factors(one: Measured) -> Iterator[Entry]:
    """Factors and fitted parameters in words."""
    doubt = doubt_of_factors(one)
    yield "Heating", factors_text(one.heating, "h") + doubt
    if one.cooling is not None:
        yield "Cooling", factors_text(one.cooling, "c") + doubt
    if one.fit is not None:
        yield "Fitted", "; ".join(estimate_text(estimate) for estimate in one.fit.estimates)


def doubt_of_factors(one: Measured) -> str:
    """Mark behind factors of a reading that are in doubt."""
    return "" if one.factors_stand else "; IN DOUBT"


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
    """Place of the straight part."""
    how = "found" if line.automatic else "given"
    return f"straight part {TIME.number(line.start)} to {TIME.text(line.end)} ({how}, {line.samples} samples)"


def misfit_text(misfit: Misfit) -> str:
    """Residuals in words."""
    return (
        f"mean {misfit.bias:+z.2f} K, root mean square {misfit.rms:.2f} K, largest {misfit.largest:+z.2f} K at "
        f"{TIME.text(misfit.time)}"
    )


def estimate_text(estimate: Estimate) -> str:
    """A fitted parameter with its interval, in the unit that is shown."""
    quantity = FITTED[estimate.name][0]
    value, low, high, start = (
        f"{quantity.edge(number):.4g}" for number in (estimate.value, estimate.low, estimate.high, estimate.start)
    )
    bound = ", stopped by its bound" if estimate.at_bound else ""
    return f"{estimate.name} {value} ({low} to {high}) {quantity.unit}".rstrip() + f", from {start}{bound}"
