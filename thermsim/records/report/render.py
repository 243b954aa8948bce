"""A page of sections as one HTML file that stands by itself: inline style and pictures, no scripts and no links."""

from __future__ import annotations

import dataclasses
import functools
import hashlib
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from importlib import resources

from jinja2 import Environment, PackageLoader, StrictUndefined, Template

from thermsim.records.words.parts import Part, Picture, Section, Verbatim, facts, in_units, paragraphs, table

#: Control characters, and those that turn the direction of what follows them: users' texts may hold them.
_UNSEEN = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069]")


@dataclass(frozen=True)
class Page:
    """Head of a page, and its sections.

    Parameters
    ----------
    kind, title, about : str
        What sort of page it is, what it is of, and what comes after the title in the browser's tab.
    origin : tuple of str
        Where it comes from: file, date and time, program.
    sections : tuple of Section
    """

    kind: str
    title: str
    about: str
    origin: tuple[str, ...]
    sections: tuple[Section, ...]


def html(page: Page) -> str:
    """The page as HTML that is well-formed XML after its first line."""
    style = resources.files("thermsim.records.report").joinpath("report.css").read_text("utf-8")
    page = dataclasses.replace(page, sections=tuple(in_units(page.sections)))
    return _UNSEEN.sub("?", _template().render(page=page, style=style))


def pictures(figures: Mapping[str, str], captions: Mapping[str, str]) -> tuple[Picture, ...]:
    """SVG elements by their titles with captions; a title may have more after a colon than its caption's key."""
    return tuple(
        Picture(name, svg, captions.get(name.partition(":")[0].strip(), "")) for name, svg in figures.items()
    )


def provenance(facts_of_run: Iterable[tuple[str, str]], texts: Mapping[str, str], case_text: str) -> Section:
    """Origin of a page: the program, the SHA-256 of the texts it rests on, and the case word for word."""
    rows = [
        (name, f"{len(text.splitlines())}", hashlib.sha256(text.encode("utf-8")).hexdigest())
        for name, text in texts.items()
        if text
    ]
    parts: list[Part] = [facts(facts_of_run)]
    if case_text:
        parts += [
            table(("file", "lines", "SHA-256 of the text"), rows),
            Verbatim("The case, word for word", case_text),
        ]
    else:
        parts.append(paragraphs(["The case was made in a program, not read from a file."]))
    return Section("Where this page comes from", tuple(parts))


@functools.cache
def _template() -> Template:
    environment = Environment(
        loader=PackageLoader("thermsim.records", "report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["set"] = typeset
    return environment.get_template("page.html")


def typeset(text: str) -> str:
    """Plain text as a page sets it: an uncertainty stays with its figure, a unit with its number."""
    for degree in ("C", "F"):
        text = text.replace(f" deg{degree}", f"\u00a0°{degree}").replace(f"deg{degree}", f"°{degree}")
    return text.replace("+-", "±").replace(" ± ", "\u00a0±\u00a0")
