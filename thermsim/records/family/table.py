"""The table of settings of a family of cases: for the screen, as CSV, and as a page with what must be minded."""

from __future__ import annotations

import csv
import dataclasses
import io
from collections.abc import Sequence

from thermsim.assess.probe.advice import Advice, Setting
from thermsim.assess.simulate.cautions import CAUTIONS
from thermsim.assess.simulate.result import Result
from thermsim.quantities import LENGTH, mm, percent
from thermsim.records.family.running import label
from thermsim.records.report.render import Page, html
from thermsim.records.words.answer import in_short, verdict_sections
from thermsim.records.words.depth import window
from thermsim.records.words.figure_text import millimetres, signed_millimetres
from thermsim.records.words.hardware import shortly
from thermsim.records.words.parts import Part, Section, facts, flow_first, paragraphs, table
from thermsim.records.words.screen import labelled, lines_of
from thermsim.text import plain

_HEADS = (
    "case", "entry", "product_convects", "depth_mm", "window_low_mm", "window_high_mm", "good", "mismatch_percent",
    "set_to_mm", "off_mm", "in_window", "probe_length_mm", "stick_out_mm", "spacers_mm",
)  # fmt: skip

#: What a mark at the end of a line means.
_MARKS = {
    "*": "OUTSIDE THE WINDOW: the hardware at hand does not reach a depth that is as good as the recommended one",
    "!": "NO DEPTH IS GOOD for this probe in this case; see its own answer",
}


def family_sections(results: Sequence[Result]) -> list[Section]:
    """That products flow, the table, what its marks mean, and whether one probe does for all."""
    flows = []
    for result in results:
        flowing = flow_first(result.notices)[0]
        if flowing:
            flows += [Section("", (facts([("Case", f'"{label(result.case)}"')]),)), *flowing]
    return [
        *flows,
        Section("Settings", (*settings_parts(results), facts([("One probe", one_probe(results))]))),
    ]


def settings_parts(results: Sequence[Result]) -> tuple[Part, ...]:
    """Settings in each case of a family with one probe: several fill heights or containers, say.

    Parameters
    ----------
    results : sequence of Result
        With advice.

    Returns
    -------
    tuple of Part
        A table with a line for each case, and what its marks mean. Misfits count positive where the tip comes too
        deep; of a product that convects there is no depth.

    Raises
    ------
    ValueError
        If a result has no advice.
    """
    heads = ("case", "depth, mm", "window, mm", "hardware at hand", "off, mm", "mismatch as set, %", "")
    rows, seen = [], ""
    for result in results:
        advice = result.advice
        if advice is None:
            raise ValueError("a result without advice has no settings")
        name = plain(result.case.member or result.case.file or result.case.title, 40)
        if result.case.product.convects:
            rows.append((name, "-", "-", "it flows: see its own sheet", "", "-", ""))
            continue
        one = advice.own.recommended(advice.criterion)
        setting = advice.settings[0] if advice.settings else None
        marks = _marks(advice, setting)
        seen += marks
        shown = one.mismatch if setting is None or setting.worth is None else setting.worth.mismatch
        rows.append(
            (
                name,
                millimetres(one.depth),
                window(one),
                shortly(setting),
                "" if setting is None else signed_millimetres(setting.misfit),
                f"{percent(shown):.1f}",
                marks,
            )
        )
    meanings = [f"{mark} {meaning}" for mark, meaning in _MARKS.items() if mark in seen]
    return table(heads, rows), *([paragraphs(meanings)] if meanings else [])


def _marks(advice: Advice, setting: Setting | None) -> str:
    outside = "*" if setting is not None and not setting.in_window else ""
    return outside + ("" if advice.own.recommended(advice.criterion).good else "!")


def one_probe(results: Sequence[Result]) -> str:
    """Verdict on whether one length of probe in stock, or one stack, is in the window of every case with a depth."""
    advices = [one.advice for one in results if one.advice is not None and not one.case.product.convects]
    if not advices:
        return "none: where a product flows there is no depth to set"
    every = "every case" if len(advices) == len(results) else "every case that does not flow"
    # the window of a probe that has no good depth is that of the least bad one
    bad = sum(not one.own.recommended(one.criterion).good for one in advices)
    but = (
        "" if not bad else f"; but NO DEPTH IS GOOD in {'any' if bad == len(advices) else f'{bad} of {len(advices)}'}"
    )
    fitting = [[one for one in advice.settings if one.in_window] for advice in advices]
    lengths = sorted(
        length for length in set.intersection(*({one.length for one in of} for of in fitting)) if length is not None
    )
    if lengths:
        return f"{LENGTH.text(lengths[0])} long is in the window of {every}, set as the table says{but}"
    stacks = sorted(set.intersection(*({one.spacers for one in of if one.length is None} for of in fitting)))
    if stacks:
        on = " + ".join(LENGTH.number(one) for one in stacks[0])
        return f"on spacers {on} mm is in the window of {every}{but}"
    return f"none in stock is in the window of {every}"


def family_lines(results: Sequence[Result]) -> list[str]:
    """The table for the terminal."""
    return lines_of(family_sections(results))


def family_answers(results: Sequence[Result]) -> list[str]:
    """Verdict, dangers and target of each case as lines of text, and at the end what is left out."""
    found = []
    for result in results:
        found += ["", f"{label(result.case)}: {plain(result.case.title)}", *in_short(result)]
    counts = {
        severity: sum(one.severity == severity and not one.pressing for result in results for one in result.notices)
        for severity in ("warning", "note")
    }
    left = ", ".join(f"{count} {severity}{'' if count == 1 else 's'}" for severity, count in counts.items() if count)
    more = f"settings, probes compared, cold spots, {left} of the {len(results)} cases: add --full"
    return [*found, "", *labelled("More", more)]


def family_csv(results: Sequence[Result]) -> str:
    """The table as CSV, lengths in mm whatever screens are in; no depth where the product convects."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(_HEADS)
    for result in results:
        advice = result.advice
        if advice is None:
            raise ValueError("a result without advice has no settings")
        row: list[object] = [label(result.case), advice.own.probe.entry, result.case.product.convects]
        if not result.case.product.convects:
            one = advice.own.recommended(advice.criterion)
            row += [*(f"{mm(x):.2f}" for x in (one.depth, *one.window)), one.good, f"{percent(one.mismatch):.2f}"]
            for setting in advice.settings[:1]:
                row += [f"{mm(setting.depth):.2f}", f"{mm(setting.misfit):.2f}", setting.in_window]
                row += ["" if x is None else f"{mm(x):.2f}" for x in (setting.length, setting.stick_out)]
                row.append(" + ".join(f"{mm(height):g}" for height in setting.spacers))
        writer.writerow([*row, *[""] * (len(_HEADS) - len(row))])
    return text.getvalue()


def family_html(results: Sequence[Result], *, program: str, when: str, case_name: str) -> str:
    """The table as a page that stands by itself; each case has a report of its own beside it."""
    sections = [
        *family_sections(results),
        *(
            dataclasses.replace(
                section, title=f'"{label(result.case)}": {section.title[:1].lower()}{section.title[1:]}'
            )
            for result in results
            if not result.case.product.convects
            for section in verdict_sections(result)
        ),
        Section("Before you act on it", (paragraphs(CAUTIONS),), "cautions"),
        Section("The cases", (facts([(f'"{label(one.case)}"', f'"{one.case.title}"') for one in results]),)),
    ]
    kind = "Insertion depths of one probe in a family of cases"
    return html(Page(kind, case_name, "settings", (case_name, when, program), tuple(sections)))
