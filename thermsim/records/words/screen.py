"""An answer as lines of text: what each entry is about on the left, the text wrapped beside it."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence

from thermsim.notice import Severity
from thermsim.records.words.parts import Facts, Heading, Notices, Part, Prose, Section, Table

#: Width of the lines, and of the labels at their left.
WIDTH, LABEL = 116, 16
#: How notices are labelled.
LABELS: Mapping[Severity, str] = {"danger": "DANGER", "warning": "Warning", "note": "Note"}
#: Columns of a table keep this apart, and are not folded to fewer characters.
GAP, NARROWEST = 2, 12


def lines_of(sections: Iterable[Section]) -> list[str]:
    """Sections as lines of at most about 116 characters; their titles are a page's and are left out."""
    found: list[str] = []
    apart, headed = False, False
    for part in (part for section in sections for part in section.parts):
        # tables and paragraphs stand by themselves, a heading with what follows it
        stands_apart = not isinstance(part, Facts | Notices)
        if found and (apart or stands_apart) and not headed:
            found.append("")
        found += _lines(part)
        apart, headed = stands_apart, isinstance(part, Heading)
    return found


def labelled(label: str, text: str) -> list[str]:
    """A text as lines with its label before the first; a figure and its uncertainty stay on one."""
    lines = textwrap.wrap(
        # a no-break space keeps both on one line
        f"{label:<{LABEL - 1}} {text}".replace(" +- ", "\u00a0+-\u00a0"),
        width=WIDTH,
        subsequent_indent=" " * LABEL,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace("\u00a0", " ") for line in lines]


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
        yield part.text
    elif isinstance(part, Prose):
        for text in part.texts:
            yield from textwrap.wrap(text, WIDTH)


def grid(rows: Sequence[Sequence[str]], width: int = WIDTH) -> list[str]:
    """Rows as a table: numbers to the right, all else to the left; wide columns are folded where they must be."""
    natural = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    room, widest = width - GAP * (len(natural) - 1), max(natural)
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
    return not text.strip("+-0123456789. %to") or text == "-"
