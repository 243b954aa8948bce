"""How deep a probe should go, in plain text for the terminal, and the settings for a family of cases."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from thermsim.assess.probe.advice import Advice, Candidate, Recommendation, Setting
from thermsim.assess.simulate.result import Result
from thermsim.case.probe import Probe
from thermsim.case.study import CRITERIA, Criterion
from thermsim.quantities import PART, mm, percent
from thermsim.records.numbers.probe import correction_factor, phase_factors
from thermsim.records.words.figure_text import (
    bias,
    figure,
    measured,
    millimetres,
    over_reading,
    signed_millimetres,
    true_name,
)
from thermsim.records.words.parts import Entry, Part, Table, facts, table
from thermsim.text import plain

#: So many settings of the hardware at hand are told.
SETTINGS = 3
#: Depths that differ by less are one [m].
ALIKE = 0.1e-3
_NAME = 22
#: What a mark at the end of a line means.
_MARKS = {
    "*": "OUTSIDE THE WINDOW: the hardware at hand does not reach a depth that is as good as the recommended one",
    "!": "NO DEPTH IS GOOD for this probe in this case; see its own answer",
}


def advice_parts(result: Result, advice: Advice) -> tuple[Part, ...]:
    """The advice about a probe's depth: what to do, what the reading there is worth, and how candidates compare."""
    own, aim = advice.own, advice.criterion
    chosen = own.recommended(aim)
    first = [
        ("Recommended", f'{how_to_set(own, chosen)}: "{plain(own.probe.name, _NAME)}"'),
        *_worth(result, chosen),
        (
            "",
            f"within the window the mismatch grows by at most {percent(chosen.margin):g} points",
        ),
    ]
    first += given_depth(advice, chosen)
    first += [entry for other in other_criteria(advice) for entry in _other_criterion(result, own, other)]
    more = [
        ("Hardware" if k == 0 else "", setting_sentence(setting, own.probe))
        for k, setting in enumerate(advice.settings[:SETTINGS])
    ]
    if result.case.stock is not None and not advice.settings:
        more.append(("Hardware", "nothing at hand brings the tip to a depth that is possible"))
    if len(own.ladder) > 1:
        more.append(("Confirm", confirmation_sentence(advice)))
    if len(advice.candidates) == 1:
        return (facts([*first, *more], framed=True),)
    return (facts(first, framed=True), candidates_table(advice), *([facts(more, framed=True)] if more else []))


def given_depth(advice: Advice, chosen: Recommendation) -> list[Entry]:
    """The insertion that the case gives, beside the recommended one."""
    one = advice.given
    if one is None:
        return []
    off = one.depth - chosen.depth
    if abs(off) < ALIKE / 2:
        return [("As given", f"insertion_mm = {mm(one.depth):g} is the recommended depth")]
    low, high = chosen.window
    return [
        (
            "As given",
            f"insertion_mm = {mm(one.depth):g}: {millimetres(abs(off))} mm {'deeper' if off > 0 else 'less deep'} "
            f"than recommended, {'in' if low <= one.depth <= high else 'OUTSIDE'} the window; {mismatch(one)}, "
            f"{by_phase(one)}",
        )
    ]


def other_criteria(advice: Advice) -> list[Criterion]:
    """The criteria beside the chosen one that ask for another depth."""
    depth = advice.own.recommended(advice.criterion).depth
    return [other for other in CRITERIA if abs(advice.own.recommended(other).depth - depth) > ALIKE]


def how_to_set(candidate: Candidate, one: Recommendation) -> str:
    """The depth and its window, as "Insert 37.3 mm (window 32.6 to 46.4 mm) from the outer face of the lid"."""
    probe = candidate.probe
    if len(candidate.ladder) == 1:
        return f"The tip is {millimetres(one.depth)} mm from {_face(probe)} and cannot be set"
    verb = "Insert" if probe.mount == "through" else "Set the tip"
    return f"{verb} {millimetres(one.depth)} mm (window {window(one)} mm) from {_face(probe)}"


def _face(probe: Probe) -> str:
    """What depths are counted from, and how high a probe from the side enters."""
    height = "" if probe.z is None else f", its axis at z = {millimetres(probe.z)} mm"
    return f"the outer face of the {probe.wall}{height}"


def window(one: Recommendation) -> str:
    """The window's bounds in mm, as "32.6 to 46.4"."""
    return " to ".join(millimetres(bound) for bound in one.window)


def _worth(result: Result, one: Recommendation) -> Iterator[Entry]:
    """What the reading at a recommended depth is worth."""
    yield "", f"{mismatch(one)} of lethality ({'good' if one.good else 'NOT GOOD'}: {by_phase(one)})"
    yield "", f"{reads(result, one)}{correction(one)}"
    yield (
        "",
        f"the probe's own bias until heating ends: {heating_bias(result, one)} of lethality, against its place "
        "without it",
    )


def mismatch(one: Recommendation) -> str:
    """How far the reading's history is from its place's, as "mismatch 8.1 +- 0.2 %"."""
    return f"mismatch {percent(one.mismatch):.1f} +- {max(0.1, percent(one.mismatch_uncertainty)):.1f} %"


def by_phase(one: Recommendation) -> str:
    """Over-reading in both phases, as "reads +8.7 % until heating ends, +7.5 % in cooling"."""
    cooling = "" if one.cooling_over_reading == 0.0 else f", {percent(one.cooling_over_reading):+.1f} % in cooling"
    return f"reads {percent(one.heating_over_reading):+.1f} % until heating ends{cooling}"


def correction(one: Recommendation) -> str:
    """The factor of correction, for this case alone; one for each phase where these ask for different ones."""
    factor, phases = correction_factor(one), phase_factors(one)
    if factor is not None:
        return f", correction factor {factor:.3f} for this case alone"
    return (
        f"; no single correction factor serves: x {phases['heating']:.3f} until heating ends, x "
        f"{phases['cooling']:.3f} in cooling, for this case alone"
    )


def until(one: Recommendation) -> str:
    """What the figure that the criterion compares leaves out."""
    return "" if one.criterion == "least lethality" else " until heating ends"


def reads(result: Result, one: Recommendation) -> str:
    """What the probe reads at a recommended depth, what it should read, and what is left of the error."""
    return f"reads F = {measured(one)}{until(one)}, should read {figure(result, true_name(one))}: {over_reading(one)}"


def heating_bias(result: Result, one: Recommendation) -> str:
    """What the probe itself does at a recommended depth until heating ends, as "+47.9 +- 0.1 %"."""
    if result.probe is not None and result.probe.depth == one.depth:
        return bias(result, "probe.at_place.heating_lethality")
    return PART.text(one.heating_bias, signed=True)


def _other_criterion(result: Result, own: Candidate, criterion: Criterion) -> Iterator[Entry]:
    one = own.recommended(criterion)
    how = how_to_set(own, one)
    yield "Or, to show", f"the {criterion}: {how[0].lower()}{how[1:]}"
    yield from _worth(result, one)


def candidates_table(advice: Advice) -> Table:
    """The probes and entries compared, the good ones first."""
    heads = ("probe", "entry", "depth, mm", "window, mm", "mismatch, %", "heating, %", "in all, %", "good")
    return table(heads, [_candidate(advice, one) for one in advice.candidates])


def _candidate(advice: Advice, candidate: Candidate) -> tuple[str, ...]:
    one, probe = candidate.recommended(advice.criterion), candidate.probe
    return (
        f"{plain(probe.name, _NAME)}{' (own)' if candidate is advice.own else ''}",
        probe.entry if probe.z is None else f"side, z = {millimetres(probe.z)} mm",
        millimetres(one.depth),
        window(one),
        f"{percent(one.mismatch):.1f}",
        f"{percent(one.heating_over_reading):+.1f}",
        f"{percent(one.over_reading):+.1f}",
        "yes" if one.good else "NO",
    )


def setting_sentence(setting: Setting, probe: Probe) -> str:
    """How to bring the hardware at hand to its depth, how far off it is, what it reads, and whether that is good."""
    misfit = millimetres(abs(setting.misfit))
    off = f"{misfit} mm too {'deep' if setting.misfit > 0 else 'shallow'}{spacers_needed(setting)}"
    fits = "as recommended" if misfit == "0.0" else off
    verdict = "in the window" if setting.in_window else "OUTSIDE THE WINDOW"
    one = setting.worth
    worth = "" if one is None else f"; F = {measured(one)}{until(one)}, {mismatch(one)}, {by_phase(one)}"
    return f"{hardware(setting, probe.wall)}: {fits}, {verdict}{worth}"


def spacers_needed(setting: Setting) -> str:
    """Height of spacers that would bring the tip to the recommended depth, as " (60.3 mm needed)"."""
    needed = sum(setting.spacers) - setting.misfit
    return "" if setting.length is not None or needed < 0.0 else f" ({millimetres(needed)} mm of spacers needed)"


def hardware(setting: Setting, wall: str) -> str:
    """Which probe to take and what to measure with calipers, or which spacers to stack."""
    if setting.length is not None and setting.stick_out is not None:
        return f"{mm(setting.length):g} mm probe, {millimetres(setting.stick_out)} mm out of the {wall} by calipers"
    return f"spacers {_stack(setting)}" if setting.spacers else "no spacer"


def _stack(setting: Setting) -> str:
    heights = " + ".join(f"{mm(height):g}" for height in setting.spacers)
    return f"{heights} mm" if heights else "no spacer"


def confirmation_sentence(advice: Advice) -> str:
    """Where to measure too, so that the prediction can be wrong and show it."""
    accuracy = f"{advice.sensor_accuracy:g} K"
    if not advice.confirmation:
        return f"no other depth differs by enough for a sensor good to {accuracy}"
    depths = ", ".join(millimetres(depth) for depth in advice.confirmation)
    return (
        f"measure at {depths} mm too: when heating ends the readings there differ from that at the recommended depth "
        f"by at least twice, or four times, the sensor's {accuracy}"
    )


def settings_table(results: Sequence[Result]) -> list[str]:
    """What to set in each case of a family with one probe: several fill heights or containers, say.

    Parameters
    ----------
    results : sequence of Result
        With advice.

    Returns
    -------
    list of str
        Lines of at most about 116 characters: the heads of the columns, a line for each case, and what the marks
        mean. Misfits count positive where the tip comes too deep.

    Raises
    ------
    ValueError
        If a result has no advice.
    """
    lines = [_line("case", "depth, mm", "window, mm", "mismatch, %", "hardware at hand", "off, mm")]
    seen = ""
    for result in results:
        advice = result.advice
        if advice is None:
            raise ValueError("a result without advice has no settings")
        one = advice.own.recommended(advice.criterion)
        setting = advice.settings[0] if advice.settings else None
        marks = _marks(advice, setting)
        seen += marks
        cells = _line(
            plain(result.case.file or result.case.title, 40),
            millimetres(one.depth),
            window(one),
            f"{percent(one.mismatch if setting is None or setting.worth is None else setting.worth.mismatch):.1f}",
            _shortly(setting),
            "" if setting is None else signed_millimetres(setting.misfit),
        )
        lines.append(f"{cells} {marks}".rstrip())
    return lines + [f"{mark} {meaning}" for mark, meaning in _MARKS.items() if mark in seen]


def _line(case: str, depth: str, window: str, over: str, hardware: str, off: str) -> str:
    return f"{case:<44}{depth:>10}{window:>15}{over:>14}  {hardware:<21}{off:>7}"


def _marks(advice: Advice, setting: Setting | None) -> str:
    outside = "*" if setting is not None and not setting.in_window else ""
    return outside + ("" if advice.own.recommended(advice.criterion).good else "!")


def _shortly(setting: Setting | None) -> str:
    """The probe's length and how far it sticks out, or the spacers."""
    if setting is None:
        return "none"
    if setting.length is not None and setting.stick_out is not None:
        return f"{mm(setting.length):g} mm, {millimetres(setting.stick_out)} mm out"
    return _stack(setting)
