"""The pieces of an answer: what a screen shows as lines of text, and a report as HTML, is built of these once.

Texts are plain: "+-" and "degC" stand for what a page sets as "±" and "°C", and nothing is escaped here.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

from thermsim.case import doubts
from thermsim.notice import SEVERITIES, Notice, Severity, of_flow, of_input, of_severity
from thermsim.systems import told, told_columns

#: A label and its text; what has no label goes on with what the last label began.
Entry: TypeAlias = tuple[str, str]


@dataclass(frozen=True)
class Heading:
    """Subject of the parts below it."""

    text: str
    part: Literal["heading"] = "heading"


@dataclass(frozen=True)
class Facts:
    """Labels and texts, in frames where they are the answer; each label with all the texts that go on with it."""

    entries: tuple[tuple[str, tuple[str, ...]], ...]
    framed: bool = False
    part: Literal["facts"] = "facts"


@dataclass(frozen=True)
class Table:
    """Heads and rows, the first column the rows' names; a ``whole`` one keeps all its rows on a short screen too."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    whole: bool = False
    part: Literal["table"] = "table"


@dataclass(frozen=True)
class Prose:
    """Paragraphs; ``small`` ones explain."""

    texts: tuple[str, ...]
    small: bool = False
    part: Literal["prose"] = "prose"


@dataclass(frozen=True)
class Notices:
    """Findings, the gravest first."""

    notices: tuple[Notice, ...]
    part: Literal["notices"] = "notices"


@dataclass(frozen=True)
class Verbatim:
    """A text word for word, and what it is."""

    title: str
    text: str
    part: Literal["verbatim"] = "verbatim"


@dataclass(frozen=True)
class Picture:
    """A figure as an SVG element, and how to read it."""

    title: str
    svg: str
    caption: str
    part: Literal["picture"] = "picture"


Part: TypeAlias = Heading | Facts | Table | Prose | Notices | Verbatim | Picture


@dataclass(frozen=True)
class Section:
    """Parts under a title.

    ``look`` is the style of a page's section: "loud", "cautions", "beside" (its
    first part at the left of the others), "figures", "sheet". A ``detail`` stands in
    the report and on the full screen, and is left out of the short one.
    """

    title: str
    parts: tuple[Part, ...]
    look: str = ""
    detail: bool = False


def facts(entries: Iterable[Entry], *, framed: bool = False) -> Facts:
    """Labels and texts as a part."""
    found: list[tuple[str, tuple[str, ...]]] = []
    for label, text in entries:
        if label or not found:
            found.append((label, (text,)))
        else:
            found[-1] = (found[-1][0], (*found[-1][1], text))
    return Facts(tuple(found), framed)


def table(heads: Sequence[str], rows: Iterable[Sequence[str]], *, whole: bool = False) -> Table:
    """A table as a part."""
    return Table(tuple(heads), tuple(tuple(row) for row in rows), whole)


def paragraphs(texts: Iterable[str], *, small: bool = False) -> Prose:
    """Paragraphs as a part."""
    return Prose(tuple(texts), small)


def details(entries: Iterable[Entry], title: str = "") -> list[Section]:
    """Labels and texts that the short screen leaves out; no section where there are none."""
    found = facts(entries)
    return [Section(title, (found,), detail=True)] if found.entries else []


def briefly(notices: Iterable[Notice]) -> Notices:
    """Notices in few words as a part."""
    return Notices(tuple(replace(one, text=one.short) for one in notices))


def noticed(title: str, notices: Iterable[Notice], *severities: Severity) -> list[Section]:
    """A section of the notices of some severities; none where there are none."""
    found = of_severity(notices, *(severities or SEVERITIES))
    look = "loud" if "danger" in severities else ""
    return [Section(title, (Notices(found),), look)] if found else []


def flow_first(notices: Iterable[Notice]) -> tuple[list[Section], list[Notice]]:
    """The danger that the product flows, which is said before any number, and all other findings."""
    found = list(notices)
    flows = of_flow(found)
    title = (
        "The product may convect"
        if any(one.code == "product-may-convect" for one in flows)
        else "The product convects"
    )
    return noticed(title, flows, "danger"), [one for one in found if one not in flows]


def input_first(notices: Iterable[Notice]) -> tuple[list[Section], list[Notice]]:
    """The pressing warnings about the input, which are said before any number, and all other findings."""
    found = list(notices)
    doubts = of_input(found)
    section = [Section("Check the input", (Notices(doubts),), "loud")] if doubts else []
    return section, [one for one in found if one not in doubts]


def in_units(sections: Iterable[Section]) -> list[Section]:
    """Sections in the units that are asked for; what is word for word stays."""
    return [replace(section, parts=tuple(map(_in_units, section.parts))) for section in sections]


def _in_units(part: Part) -> Part:
    if isinstance(part, Facts):
        entries = tuple((told(label), tuple(map(told, texts))) for label, texts in part.entries)
        return Facts(entries, part.framed)
    if isinstance(part, Table):
        return table(*told_columns(part.heads, part.rows))
    if isinstance(part, Prose):
        return paragraphs(map(told, part.texts), small=part.small)
    if isinstance(part, Notices):
        return Notices(
            tuple(
                one if one.code == doubts.CODE else replace(one, text=told(one.text), brief=told(one.brief))
                for one in part.notices
            )
        )
    if isinstance(part, Heading):
        return Heading(told(part.text))
    return replace(part, caption=told(part.caption)) if isinstance(part, Picture) else part
