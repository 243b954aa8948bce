"""An answer as lines of text: what each entry is about on the left, the text wrapped beside it.

Which screen shows what is decided here alone. The full one shows everything. The short one leaves out the sections
that are details, small print and notes, and shows the other notices in few words. Where there is no room, rows of
tables go first, then warnings; dangers and pressing warnings never. Its last lines say how much is left out and how
to see it.
"""

from __future__ import annotations

import dataclasses
import re
import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence

from thermsim.notice import Notice, Severity
from thermsim.records.words.parts import (
    Facts,
    Heading,
    Notices,
    Part,
    Prose,
    Section,
    Table,
    briefly,
    facts,
    in_units,
)

#: Width of the lines, and of the labels at their left.
WIDTH, LABEL = 100, 16
#: Lines that a short screen may take, one of them left for what the program says of files; of a recommendation more.
ROOM, DEPTH_ROOM = 24, 30
#: Rows that each table keeps.
ROWS = 4
#: How notices are labelled.
LABELS: Mapping[Severity, str] = {"danger": "DANGER", "warning": "Warning", "note": "Note"}
#: Columns of a table keep this apart, and are not folded to fewer characters.
GAP, NARROWEST = 2, 12
NO_BREAK = "\N{NO-BREAK SPACE}"
#: Blanks that stay on one line: beside "+-" and "=", and before a unit.
_TOGETHER = re.compile(r" (?=(?:\+-|=) )|(?<= \+-) |(?<= =) |(?<=\d) (?=(?:%|mm|in|min|deg[CF]|K)(?!\w))")
#: The cautions in a line; the full screen, the report and README have them whole.
CAUTION = ("Caution", "No validation: the process authority decides. Not for products that flow. See --full")


def lines_of(sections: Iterable[Section]) -> list[str]:
    """Sections as lines of at most about 100 characters; their titles are a page's and are left out."""
    found: list[str] = []
    apart, headed = False, False
    for part in (part for section in in_units(sections) for part in section.parts):
        # tables and paragraphs stand by themselves, a heading with what follows it
        stands_apart = not isinstance(part, Facts | Notices)
        if found and (apart or stands_apart) and not headed:
            found.append("")
        found += _lines(part)
        apart, headed = stands_apart, isinstance(part, Heading)
    return found


def screen_of(sections: Iterable[Section], *, full: bool, room: int = ROOM) -> list[str]:
    """The full screen, or the short one, of ``room`` lines where dangers and the answer itself take no more."""
    whole = list(sections)
    if full:
        return lines_of(whole)
    shown = [section for section in whole if not section.detail]
    tables = [part for section in shown for part in section.parts if isinstance(part, Table) and not part.whole]
    most = max((len(one.rows) for one in tables), default=0)
    warnings = sum(notice.severity == "warning" and not notice.pressing for notice in _notices(shown))
    tries = [*((rows, warnings) for rows in range(most, ROWS, -1)), *((ROWS, k) for k in range(warnings, -1, -1))]
    for rows, kept in tries:
        lines = lines_of(_shortened(shown, rows, kept))
        if len(lines) < room:
            break
    return lines


def brief_of(sections: Iterable[Section]) -> list[str]:
    """Sections as lines, their notices in few words."""
    return lines_of(
        dataclasses.replace(
            section, parts=tuple(_brief(part) if isinstance(part, Notices) else part for part in section.parts)
        )
        for section in sections
    )


def _brief(part: Notices, among: Sequence[Notice] | None = None) -> Notices:
    """Notices in few words; those ``among`` some alone."""
    return briefly(one for one in part.notices if among is None or one in among)


def _shortened(sections: Sequence[Section], rows: int, warnings: int) -> Iterator[Section]:
    """Sections with so many rows in each table and so many warnings, no notes, and at the end what is left out.

    Dangers and pressing warnings stay.
    """
    cut, notices = 0, _notices(sections)
    warned = [notice for notice in notices if notice.severity == "warning" and not notice.pressing]
    shown = [
        notice for notice in notices if notice.severity == "danger" or notice.pressing or notice in warned[:warnings]
    ]
    for section in sections:
        parts: list[Part] = []
        for part in section.parts:
            if isinstance(part, Table) and not part.whole:
                cut += max(0, len(part.rows) - rows)
                parts.append(dataclasses.replace(part, rows=part.rows[:rows]))
            elif isinstance(part, Notices):
                kept = _brief(part, shown)
                parts += [kept] if kept.notices else []
            elif not (isinstance(part, Prose) and part.small):
                parts.append(part)
        yield dataclasses.replace(section, parts=tuple(parts))
    left = {
        "warning": len(warned) - warnings,
        "note": sum(notice.severity == "note" for notice in notices),
        "table row": cut,
    }
    more = [f"{count} {name}{'' if count == 1 else 's'}" for name, count in left.items() if count]
    listed = f"{', '.join([*more, 'further figures'])} and conventions: add --full"
    yield Section("", (facts([CAUTION, ("More", listed)]),))


def _notices(sections: Sequence[Section]) -> list[Notice]:
    return [notice for section in sections for part in section.parts if isinstance(part, Notices)
            for notice in part.notices]  # fmt: skip


def labelled(label: str, text: str) -> list[str]:
    """A text as lines with its label before the first; a figure stays with its uncertainty and its unit."""
    lines = textwrap.wrap(
        f"{label:<{LABEL - 1}} {_TOGETHER.sub(NO_BREAK, text)}",
        width=WIDTH,
        subsequent_indent=" " * LABEL,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace(NO_BREAK, " ") for line in lines]


def _lines(part: Part) -> Iterator[str]:
    if isinstance(part, Facts):
        for label, texts in part.entries:
            for k, text in enumerate(texts):
                yield from labelled("" if k else label, text)
    elif isinstance(part, Notices):
        for notice in part.notices:
            yield from labelled(LABELS[notice.severity], notice.text)
    elif isinstance(part, Table):
        yield from grid([part.heads, *part.rows])
    elif isinstance(part, Heading):
        yield from textwrap.wrap(part.text, WIDTH)
    elif isinstance(part, Prose):
        for text in part.texts:
            yield from textwrap.wrap(text, WIDTH)


def grid(rows: Sequence[Sequence[str]], width: int = WIDTH) -> list[str]:
    """Rows as a table: numbers to the right, all else to the left; heads are folded first, then wide columns."""
    room = width - GAP * (len(rows[0]) - 1)
    # a column may be empty in all rows, as marks are where there is nothing to say
    natural = [max(1, *(len(row[k]) for row in rows)) for k in range(len(rows[0]))]
    if sum(natural) > room:
        words = [max((len(word) for word in head.split()), default=0) for head in rows[0]]
        natural = [max([1, size, *(len(row[k]) for row in rows[1:])]) for k, size in enumerate(words)]
    widest = max(natural)
    while sum(min(size, widest) for size in natural) > room and widest > NARROWEST:
        widest -= 1
    widths = [min(size, widest) for size in natural]
    right = [all(_number(row[k]) for row in rows[1:]) for k in range(len(widths))]
    found = []
    for row in rows:
        cells = [textwrap.wrap(text, size) or [""] for text, size in zip(row, widths, strict=True)]
        for k in range(max(map(len, cells))):
            texts = [cell[k] if k < len(cell) else "" for cell in cells]
            line = (" " * GAP).join(
                text.rjust(size) if to_right else text.ljust(size)
                for text, size, to_right in zip(texts, widths, right, strict=True)
            )
            found.append(line.rstrip())
    return found


def _number(text: str) -> bool:
    return not text.strip("+-0123456789. %to?") or text == "-"
