"""The words and numbers beside the drawing of a bench sheet, block by block."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from thermsim.assess.probe.advice import Setting
from thermsim.assess.probe.unsafe import UNSAFE, Excess
from thermsim.assess.simulate.probe_cautions import OFF_HEIGHT, beyond_limit
from thermsim.assess.simulate.result import Result
from thermsim.case.container import Container
from thermsim.case.probe import Probe
from thermsim.case.study import CRITERIA
from thermsim.figures.bench.flowing import height_rows
from thermsim.figures.bench.setting import Bench, Row, edge_radius, hole_height, standing
from thermsim.figures.container.probe_outline import datum, rim_below
from thermsim.figures.probe.ladder import advice_of
from thermsim.notice import Notice, of_flow, of_severity
from thermsim.quantities import LENGTH, LETHALITY, PART, TEMPERATURE, mm, percent
from thermsim.records.words.depth import correction, depths_as_cold, elsewhere, mismatch, not_through
from thermsim.records.words.figure_text import figure, true_name
from thermsim.systems import nominal, row_shown, told_bare

#: When what each criterion compares is gathered.
WHEN = {"least lethality": "in all", "slowest heating": "until heating ends"}


def loud(result: Result, bench: Bench) -> tuple[str, ...]:
    """Notices to be seen first, in short (the report gives reasons): every danger, and hardware that does not fit.

    Where the map itself does not hold, that is said before all else.
    """
    dangers = sorted(of_severity(result.notices, "danger"), key=lambda notice: notice.topic != "convection")
    found = [words for notice in dangers for words in _as_set(notice, result, bench)]
    if bench.off and not any(notice.code == UNSAFE for notice in dangers):
        found += _unsafe(result, bench)
    if result.case.product.convects:
        # what is said of the computed depth does not hold either
        return tuple(notice.short for notice in of_flow(dangers))
    if bench.at_hand and bench.tolerance is None:
        low, high = bench.recommended.window
        found.append(
            f"OUT OF THE WINDOW: the hardware at hand reaches {LENGTH.text(bench.depth)}; recommended are "
            f"{LENGTH.text(bench.recommended.depth)} ({LENGTH.number(low)} to {LENGTH.text(high)})."
        )
    if not bench.at_hand:
        found.append("The hardware at hand cannot be set to any depth that is possible: get another length.")
    return tuple(found)


def _as_set(notice: Notice, result: Result, bench: Bench) -> list[str]:
    """A danger in short; what the probe reads, for the depth that is set."""
    return _unsafe(result, bench) if notice.code == UNSAFE and bench.off else [notice.short]


def excess_as_set(result: Result, bench: Bench) -> Excess:
    """Excess of the reading over the cold spot at the depth that is set."""
    spot, read, unsure = result.spots[0], bench.reading, bench.worth.uncertainty
    return Excess(
        read.heating_lethality / spot.heating_lethality - 1.0, read.lethality / spot.lethality - 1.0, unsure, unsure
    )


def _unsafe(result: Result, bench: Bench) -> list[str]:
    """That the probe reads on the unsafe side at the depth that is set, if it does."""
    excess = excess_as_set(result, bench)
    return [f"{excess.said(f', set to {LENGTH.text(bench.depth)}')}."] if excess.unsafe else []


def blocks(result: Result, bench: Bench) -> tuple[tuple[str, Sequence[Row]], ...]:
    """Headings and rows, in the order in which the work is done."""
    if result.case.product.convects:
        return (("1  Entry", _entry(result, bench)), ("2  Where to measure", height_rows(result, bench)))
    return (
        ("1  Entry", _entry(result, bench)),
        ("2  Depth of the tip", _depth(result, bench)),
        ("3  Measure before closing", _outside(bench, result.case.container)),
        ("4  Expected reading", _expected(result, bench)),
    )


def _entry(result: Result, bench: Bench) -> list[Row]:
    probe, container = bench.probe, result.case.container
    if probe.mount == "inside":
        on_axis = "on the container's axis"
        return [
            Row("entry", f"no hole: {standing(probe)}", strong=True),
            Row("place", f"foot centred {on_axis if probe.z is None else _level(probe, container)}"),
            *_from_table(probe, container),
        ]
    edge = "outer edge" if container.profile.is_straight else f"outer edge of the {probe.entry}"
    if probe.z is not None:
        centre = _level(probe, container)
        off = result.off_height(probe.z)
        if abs(off) > OFF_HEIGHT and not result.case.product.convects:
            centre += f"; {LENGTH.text(abs(off))} {'below' if off > 0 else 'above'} the cold spot's height"
    elif container.brick is not None:
        length, width = (LENGTH.text(side / 2) for side in container.brick_outside)
        centre = f"in the middle of the {probe.entry}, {length} from the ends, {width} from the long edges"
    else:
        centre = f"on the axis, {LENGTH.text(edge_radius(probe, container))} from the {edge}"
        if container.seam is not None:
            centre = f"on the axis, {LENGTH.text(edge_radius(probe, container))} from the body's edge"
            if container.seam.radius is not None:
                centre += f", {LENGTH.text(container.seam.radius)} from the seam's"
    face = (
        ""
        if container.brick is None or probe.entry == "side"
        else f", the {'upper' if probe.entry == 'lid' else 'lower'} face"
    )
    return [
        Row("entry", f"through the {probe.wall}{face}", strong=True),
        Row("hole centre", centre),
        *_from_table(probe, container),
        *_hole(probe),
    ]


def _hole(probe: Probe) -> list[Row]:
    """The drill, where it is known, and what goes through the hole; a drill is not guessed."""
    fitting = probe.fitting
    if fitting is None:
        widest = max(segment.diameter for segment in probe.segments)
        return [Row("drill", f"as the maker of its seal says; the stem is ⌀ {LENGTH.text(widest)}", strong=True)]
    diameter, inside, outside = map(LENGTH.number, (fitting.diameter, fitting.inside, fitting.outside))
    drill = "as the fitting's maker says" if fitting.hole is None else f"⌀ {LENGTH.text(fitting.hole)}"
    return [
        Row("drill", drill, strong=True),
        Row("fitting", told_bare(f"⌀ {diameter}, {inside} inside, {outside} outside")),
        *([Row("thread", fitting.thread)] if fitting.thread else []),
    ]


def what_it_is(result: Result, bench: Bench) -> str:
    """The probe's make-up, how the container is filled, and at what temperature all starts."""
    case, probe = result.case, bench.probe
    parts = ", ".join(
        f"⌀ {LENGTH.number(one.diameter)} × {LENGTH.text(one.length)} {one.material.name}"
        + (f" tube, wall {LENGTH.text(one.wall)}, in it {one.core.name}" if one.wall and one.core else "")
        for one in probe.segments
    )
    start = f"product starts at {_started(case.product.initial)}"
    if probe.initial is not None:
        start += f", the probe at {_started(probe.initial)}"
    brick = case.container.brick
    outline = (
        ""
        if brick is None
        else f" Brick of {LENGTH.number(brick[0])} x {LENGTH.number(brick[1])} x {LENGTH.text(brick[2])} inside, "
        + (
            "solved in three dimensions."
            if probe.entry == "side"
            else "computed as the upright cylinder that just encloses it."
        )
    )
    over = f"over {LENGTH.text(probe.sensing)} at the tip" if probe.sensing else "with the face of its tip alone"
    return (
        f'Probe "{probe.name}", {"outer end" if probe.mount == "through" else "foot"} to tip: {parts}; '
        f"senses {over}. Filled {LENGTH.text(case.fill_height)} high above the "
        f"inside of the base, headspace {LENGTH.text(case.headspace_height)}; {start}. All depths count from the "
        f"{datum(probe, case.container)}.{outline}"
    )


def _as_told(length: float) -> float:
    """A length [m] as it is told: what is set by a tolerance ends where the window that stands below it ends."""
    row = row_shown(LENGTH)
    return row.si_value(round(row.edge(length), row.digits))


def _started(temperature: float) -> str:
    """A temperature [degC] of the case in the unit asked for: tenths of a degC are not those of a degF."""
    row = row_shown(TEMPERATURE)
    return f"{row.number(temperature, 1)} {row.unit.replace('deg', '°')}"


def _level(probe: Probe, container: Container) -> str:
    """Entry of a probe from the side, in words."""
    if container.brick is not None:
        ends = LENGTH.text(container.halves(probe.edge)[1] + probe.wall_thickness(container))
        return (
            f"{LENGTH.text(probe.z or 0.0)} above the lower face, in the middle of the {probe.wall}, {ends} from its "
            "ends; level, straight in"
        )
    return f"{LENGTH.text(probe.z or 0.0)} above the outside of the base; level, towards the container's axis"


def hole_text(probe: Probe, container: Container) -> str:
    """Height of a hole in the side, above what a height gauge stands on."""
    below = "table, standing on its seam" if container.seam_above("base") else "outside of the base"
    return f"{LENGTH.text(hole_height(probe, container))} above the {below}"


def _from_table(probe: Probe, container: Container) -> Iterator[Row]:
    """Height of a probe from the side above the table, where a can stands on its seam and not on its base's panel."""
    seam = container.seam_above("base")
    if probe.z is not None and seam:
        yield Row("from the table", f"{hole_text(probe, container)}; {_seam(container, seam)}", strong=True)


def _seam(container: Container, height: float) -> str:
    """Height of a seam beyond its panel, and whether it is to be measured."""
    return f"seam {LENGTH.text(height)}{' (measure it)' if container.seam and container.seam.assumed else ''}"


def _depth(result: Result, bench: Bench) -> list[Row]:
    advice, recommended = advice_of(result), bench.recommended
    low, high = (LENGTH.number(depth) for depth in recommended.window)
    what = "tip from the datum" if bench.probe.mount == "inside" else "insertion depth"
    container = result.case.container
    # the rim is what a rule laid across the base begins at
    above, words = rim_below(bench.probe, container), datum(bench.probe, container)
    rows = [
        Row("datum", f"{words}, {LENGTH.text(above)} above its rim" if above else words, strong=True),
        Row(what, LENGTH.text(bench.depth) if bench.at_hand else "none at hand", big=True),
    ]
    seam = container.seam_above(bench.probe.entry)
    if seam and bench.at_hand:
        rows.append(Row("from the seam", f"{LENGTH.text(bench.depth + seam)}; {_seam(container, seam)}", strong=True))
    rows += _by_calipers(bench, container)
    if not bench.at_hand:
        rows.append(Row("wanted", f"{LENGTH.text(bench.depth)}: get hardware that reaches it", strong=True))
    elif bench.tolerance is None:
        rows.append(Row("tolerance", "none: out of the window", strong=True))
    elif not any(bench.tolerance) and (bench.probe.mount == "inside" or bench.travel[0] == bench.travel[1]):
        what = "stack" if bench.probe.mount == "inside" else "probe"
        rows.append(Row("tolerance", f"none: the {what}'s length sets it", strong=True))
    else:
        less, more = bench.tolerance
        at, first, last = (_as_told(depth) for depth in (bench.depth, bench.depth - less, bench.depth + more))
        rows.append(Row("tolerance", f"+{LENGTH.number(last - at)} / −{LENGTH.number(at - first)} mm", strong=True))
    as_cold = depths_as_cold(result, bench.probe)
    if as_cold:
        rows.append(Row("as cold", f"{as_cold}: no place there can be told from the coldest"))
    rows.append(Row("window", f"{low} to {high} mm, within {percent(recommended.margin):g} points"))
    for criterion in CRITERIA:
        place = elsewhere(result, criterion)
        if place is not None:
            rows.append(Row(f"for {criterion}", not_through(place)))
            continue
        one = advice.own.recommended(criterion)
        this = " (recommended)" if criterion == advice.criterion else ""
        if one.at_limit:
            this += f"; at the end of what is possible, {beyond_limit(one)}"
        rows.append(Row(f"for {criterion}", f"{LENGTH.text(one.depth)}{this}"))
    return rows


def _by_calipers(bench: Bench, container: Container) -> Iterator[Row]:
    """Depth and stick-out from the side wall as it measures, where a volume has the inside wider or narrower."""
    moved = container.outer_radius - container.measured(container.outer_radius, container.profile.widest)
    if bench.probe.entry == "side" and bench.probe.mount == "through" and bench.at_hand and round(mm(moved), 1):
        set_so = f"{LENGTH.text(bench.depth - moved)} deep, {LENGTH.text(bench.stick_out + moved)} out"
        where = f"{LENGTH.text(abs(moved))} {'nearer to' if moved > 0.0 else 'farther from'} the axis"
        yield Row("by calipers", f"{set_so}: the wall measures {where} than its volume has it", strong=True)


def _outside(bench: Bench, container: Container) -> list[Row]:
    probe, setting = bench.probe, bench.setting
    at_hand = " (at hand)" if setting else ""
    if probe.mount == "inside":
        heights = setting.spacers if setting else [part.length for part in probe.segments if part.spacer]
        stack = " + ".join(LENGTH.number(height) for height in heights)
        foot = f"on the inside of the {probe.wall}, {LENGTH.number(bench.depth - probe.length, 2)} mm from the datum"
        return [
            Row("whole stack", f"{LENGTH.text(probe.length)} from its foot to the tip", strong=True),
            Row("spacers", f"{stack} mm{at_hand}{_wanted(setting)}" if stack else "none", strong=True),
            Row("foot", foot),
        ]
    rows = [
        Row("probe length", f"{nominal(probe.length)}{at_hand}", strong=True),
        Row(
            "stick-out",
            f"{LENGTH.text(bench.stick_out)}, {datum(probe, container)} to the probe's outer end",
            strong=True,
        ),
    ]
    seam = container.seam_above(probe.entry)
    if seam:
        beyond = bench.stick_out - seam
        rows.append(
            Row("from the seam", f"{LENGTH.text(abs(beyond))} {'beyond' if beyond >= 0.0 else 'below'} its edge")
        )
    rim = rim_below(probe, container)
    if rim:
        below = bench.stick_out - rim
        rows.append(Row("from the rim", f"{LENGTH.text(abs(below))} {'below' if below > 0.0 else 'above'} its plane"))
    if probe.fitting and bench.stick_out > probe.fitting.outside:
        beyond = bench.stick_out - probe.fitting.outside
        rows.append(Row("beyond the fitting", f"{LENGTH.text(beyond)} of it, by calipers"))
    return rows


def _wanted(setting: Setting | None) -> str:
    """Height of spacers that the recommended depth needs, where those at hand leave a difference."""
    if setting is None or round(abs(mm(setting.misfit)), 1) == 0.0:
        return ""
    needed = sum(setting.spacers) - setting.misfit
    left = "over" if setting.misfit > 0 else "left"
    return f"; {LENGTH.text(needed)} needed, {LENGTH.text(abs(setting.misfit))} {left}"


def _expected(result: Result, bench: Bench) -> list[Row]:
    advice, worth, reading = advice_of(result), bench.worth, bench.reading
    read = reading.measure(advice.criterion)
    lethality = LETHALITY.text(read, worth.reading_uncertainty * read)
    should = LETHALITY.text(worth.truth, result.uncertainty[true_name(result, worth)])
    over = PART.text(worth.over_reading, worth.uncertainty)
    doubt = " (but see the warning)" if loud(result, bench) else ""
    terms = result.case.lethality
    of_brick = "computed is the cylinder round it: until heating ends the brick must read this or more"
    if result.brick is not None:
        own = figure(result, "brick.least_lethality.lethality").replace("+-", "±")
        of_brick = f"{terms.symbol} in all {own} at its own cold spot; below: {of_brick}"
    return [
        *([Row("of the brick", of_brick)] if result.case.container.brick and result.beside != "brick" else []),
        Row("when heating ends", f"{reading.end_of_heating:.1f} °C", strong=True),
        Row(f"{terms.symbol} {WHEN[advice.criterion]}", lethality.replace("+-", "±"), strong=True),
        Row("it should be", should.replace("+-", "±")),
        Row("mismatch", f"{mismatch(worth).removeprefix('mismatch ').replace('+-', '±')} of lethality"),
        Row("over-reading", _signed(over.replace("+-", "±"))),
        Row("until heating ends", f"{_signed(f'{percent(worth.heating_over_reading):.1f}')} % of lethality"),
        Row("correct by", correction(worth).replace("x ", "×\N{NO-BREAK SPACE}") + doubt, strong=not doubt),
        Row(
            "holds for",
            f"this process alone; {terms.symbol} at {terms.reference_text} °C, "
            f"z\N{NO-BREAK SPACE}=\N{NO-BREAK SPACE}{terms.z_text} K; ± is numerical alone",
        ),
    ]


def confirm_sentence(bench: Bench, symbol: str) -> str:
    """Readings that the depths round it must show, for whoever reads the records."""
    end = bench.reading.end_of_heating
    if not bench.confirmation:
        return "No further depths can be told apart here."
    away = [(rung, rung.end_of_heating - end) for rung in bench.confirmation]
    told = "; ".join(
        f"at {LENGTH.text(rung.depth)} it must read {abs(off):.1f} K {'more' if off > 0 else 'less'}"
        for rung, off in away
    )
    return (
        f"Bold: the depth of this sheet, {LENGTH.text(bench.depth)}. When heating ends, against the reading there, "
        f"{told}. If it does not, or if {symbol} in all is less at one of them than expected here, the cold spot is "
        "elsewhere: ask before anything is decided by this record."
    )


def _signed(number: str) -> str:
    """A printed number with its sign, whichever it is."""
    return number.replace("-", "−") if number.startswith("-") else f"+{number}"
