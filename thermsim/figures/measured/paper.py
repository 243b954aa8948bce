"""Parts of an answer set on pages of paper: headings, labelled texts, tables and paragraphs within margins."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from thermsim.figures import style
from thermsim.figures.paper import FAMILY, HEIGHT, POINT, WIDTH, new_page, width_of
from thermsim.records.words.parts import Facts, Heading, Notices, Part, Prose, Section, Table
from thermsim.records.words.screen import LABELS

#: The margin round what is on a page [mm].
MARGIN = 18.0
#: Sizes of letters [pt]: text, small print and cells, headings of parts and of sections, the title.
TEXT, SMALL, PART, SECTION, TITLE = 8.0, 7.0, 8.5, 10.5, 15.0
#: A line over the size of its letters.
LINE = 1.35
#: Width of the labels at the left of texts, between columns, and above a section [mm].
LABEL, GAP, APART = 34.0, 3.0, 3.5
#: No column of a table gets narrower than this for the sake of others [mm].
NARROWEST = 12.0
_LOUD = "#a31515"


class Paper:
    """Pages that fill from the top; each goes into the PDF when it is full."""

    def __init__(self, pdf: PdfPages, foot: str) -> None:
        self.pdf, self.foot, self.number = pdf, foot, 0
        self.figure: Figure | None = None
        self.y = 0.0

    def new_page(self) -> Figure:
        """Begin a page; the one before it is written."""
        self.close()
        self.number += 1
        with style.styled():
            self.figure = new_page()
        self.y = MARGIN
        self._put(MARGIN, HEIGHT - MARGIN / 2, self.foot, SMALL)
        self._put(WIDTH - MARGIN, HEIGHT - MARGIN / 2, str(self.number), SMALL, align="right")
        return self.figure

    def close(self) -> None:
        """Write the page that is begun."""
        if self.figure is not None:
            self.pdf.savefig(self.figure)  # type: ignore[no-untyped-call]
            self.figure = None

    def title(self, text: str, below: Sequence[str]) -> None:
        """Set the title of the document on a page of its own making, and lines below it."""
        self.new_page()
        for line in wrapped(text, TITLE, WIDTH - 2 * MARGIN, bold=True):
            self._line(line, TITLE, bold=True)
        for line in below:
            for piece in wrapped(line, SMALL, WIDTH - 2 * MARGIN):
                self._line(piece, SMALL)

    def sections(self, sections: Iterable[Section]) -> None:
        """Set sections, each under its title."""
        for section in sections:
            self._room(APART + 4 * SECTION * POINT * LINE)
            self.y += APART
            loud = section.look == "loud" or any(_is_loud(part) for part in section.parts)
            if section.title:
                self._line(section.title, SECTION, bold=True, colour=_LOUD if loud else "black")
                self._rule(0.6)
            for part in section.parts:
                self._part(part)

    def _part(self, part: Part) -> None:
        width = WIDTH - 2 * MARGIN
        if isinstance(part, Heading):
            self._room(3 * PART * POINT * LINE)
            self._line(part.text, PART, bold=True)
        elif isinstance(part, Facts):
            for label, texts in part.entries:
                for k, text in enumerate(texts):
                    self._labelled("" if k else label, text)
        elif isinstance(part, Notices):
            for notice in part.notices:
                loud = notice.severity == "danger"
                self._labelled(LABELS[notice.severity], notice.text, colour=_LOUD if loud else "black")
        elif isinstance(part, Table):
            self._table(part)
        elif isinstance(part, Prose):
            size = SMALL if part.small else TEXT
            for text in part.texts:
                for line in wrapped(text, size, width):
                    self._line(line, size)
        self.y += 1.0

    def _labelled(self, label: str, text: str, *, colour: str = "black") -> None:
        lines = wrapped(text, TEXT, WIDTH - 2 * MARGIN - LABEL)
        for k, line in enumerate(lines):
            self._room(TEXT * POINT * LINE)
            if not k:
                if width_of(drawable(label), TEXT, bold=True) > LABEL - 1.0:
                    self._line(label, TEXT, bold=True, colour=colour)
                    label = ""
                self._put(MARGIN, self.y, label, TEXT, bold=True, colour=colour)
            self._put(MARGIN + LABEL, self.y, line, TEXT)
            self.y += TEXT * POINT * LINE

    def _table(self, part: Table) -> None:
        widths = column_widths([part.heads, *part.rows], WIDTH - 2 * MARGIN)
        numbers = [all(not re.search(r"[^\d.+% -]", row[k]) for row in part.rows) for k in range(len(widths))]
        self._row(part.heads, widths, numbers, bold=True)
        self._rule(0.4)
        for row in part.rows:
            if self._height(row, widths) + self.y > HEIGHT - MARGIN:
                self.new_page()
                self._row(part.heads, widths, numbers, bold=True)
                self._rule(0.4)
            self._row(row, widths, numbers)
        self._rule(0.2)

    def _height(self, row: Sequence[str], widths: Sequence[float]) -> float:
        lines = max(len(wrapped(cell, SMALL, width)) for cell, width in zip(row, widths, strict=True))
        return lines * SMALL * POINT * LINE + 0.8

    def _row(
        self, row: Sequence[str], widths: Sequence[float], numbers: Sequence[bool], *, bold: bool = False
    ) -> None:
        left = MARGIN
        for cell, width, number in zip(row, widths, numbers, strict=True):
            colour = _LOUD if re.search(r"DOUBT|REFUSED|OUTSIDE|NOT reached", cell) else "black"
            for k, line in enumerate(wrapped(cell, SMALL, width, bold=bold)):
                at = left + width if number else left
                align = "right" if number else "left"
                self._put(at, self.y + k * SMALL * POINT * LINE, line, SMALL, bold=bold, align=align, colour=colour)
            left += width + GAP
        self.y += self._height(row, widths)

    def _line(self, text: str, size: float, *, bold: bool = False, colour: str = "black") -> None:
        self._room(size * POINT * LINE)
        self._put(MARGIN, self.y, text, size, bold=bold, colour=colour)
        self.y += size * POINT * LINE

    def _room(self, height: float) -> None:
        if self.figure is None or self.y + height > HEIGHT - MARGIN:
            self.new_page()

    def _put(
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        *,
        bold: bool = False,
        align: str = "left",
        colour: str = "black",
    ) -> None:
        if self.figure is None:
            raise ValueError("no page is begun")
        self.figure.text(
            x / WIDTH,
            1.0 - y / HEIGHT,
            drawable(text),
            family=FAMILY,
            size=size,
            weight="bold" if bold else "normal",
            va="top",
            ha=align,
            color=colour,
            parse_math=False,
        )

    def _rule(self, width: float) -> None:
        if self.figure is not None:
            from matplotlib.lines import Line2D

            at = 1.0 - (self.y + 0.2) / HEIGHT
            self.figure.add_artist(
                Line2D([MARGIN / WIDTH, 1.0 - MARGIN / WIDTH], [at, at], linewidth=width, color=style.LINE)
            )
        self.y += 1.0


def _is_loud(part: Part) -> bool:
    return isinstance(part, Notices) and any(notice.severity == "danger" for notice in part.notices)


def drawable(text: str) -> str:
    """Text without what no letter stands for."""
    return re.sub(r"[^\x20-\x7e\xa0-\u024f\u0370-\u03ff\u0400-\u04ff\n]", "?", text)


def wrapped(text: str, size: float, width: float, *, bold: bool = False) -> list[str]:
    """A text as lines of at most a width [mm]; a word that is longer is broken."""
    lines, line = [], ""
    for word in map(drawable, text.split()):  # measured as it is drawn
        longer = f"{line} {word}" if line else word
        if width_of(longer, size, bold=bold) <= width:
            line = longer
            continue
        if line:
            lines.append(line)
        while width_of(word, size, bold=bold) > width and len(word) > 1:
            fits = next(
                k for k in range(len(word) - 1, 0, -1) if k == 1 or width_of(word[:k], size, bold=bold) <= width
            )
            lines.append(word[:fits])
            word = word[fits:]
        line = word
    return [*lines, line]


def column_widths(rows: Sequence[Sequence[str]], room: float) -> list[float]:
    """Widths of a table's columns [mm]: as wide as their texts, the widest narrowed until all fit."""
    natural = [
        max(width_of(drawable(row[k]), SMALL, bold=row is rows[0]) for row in rows) + 0.5 for k in range(len(rows[0]))
    ]
    room -= GAP * (len(natural) - 1)
    widest = max(natural)
    while sum(min(width, widest) for width in natural) > room and widest > NARROWEST:
        widest -= 0.5
    return [min(width, widest) for width in natural]
