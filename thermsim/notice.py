"""A finding that the reader must know of: how grave it is, what it concerns, and its text."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Literal

#: ``danger``: who acts on the figures regardless can harm those who eat the food. ``warning``: a figure is worth less
#: than it seems, or something is to be done. ``note``: what was assumed, or explains a figure.
Severity = Literal["danger", "warning", "note"]
SEVERITIES: tuple[Severity, ...] = ("danger", "warning", "note")
#: What a finding concerns.
Topic = Literal[
    "convection", "cold spot", "target", "films", "probe", "depth", "headspace", "accuracy", "energy", "fit",
    "logger", "input",
]  # fmt: skip


@dataclass(frozen=True)
class Notice:
    """One finding, all of it in the sentences of ``text``, and in a line in ``brief``, unless that is short enough.

    ``code`` is short and stable, as "probe-unsafe-side", for programs to go by; ``figures`` are the numbers said, in
    SI units, degC and fractions; ``pressing`` is a warning that no screen leaves out, however short: what is drilled
    or signed hangs on it.
    """

    code: str
    severity: Severity
    topic: Topic
    text: str
    figures: Mapping[str, float] = field(default_factory=dict)
    brief: str = ""
    pressing: bool = False

    @property
    def short(self) -> str:
        """The finding in as few words as there are."""
        return self.brief or self.text


def of_severity(notices: Iterable[Notice], *severities: Severity) -> tuple[Notice, ...]:
    """The notices of some severities, the gravest first, else in their order."""
    found = [notice for notice in notices if notice.severity in severities]
    return tuple(sorted(found, key=lambda notice: SEVERITIES.index(notice.severity)))


def of_flow(notices: Iterable[Notice]) -> tuple[Notice, ...]:
    """The dangers that the product flows: what is computed does not hold then, so they come before any number."""
    return tuple(notice for notice in of_severity(notices, "danger") if notice.topic == "convection")


def of_input(notices: Iterable[Notice]) -> tuple[Notice, ...]:
    """The pressing warnings about the input: all figures rest on it, so they come before any number."""
    found = of_severity(notices, "warning")
    return tuple(notice for notice in found if notice.pressing and notice.topic == "input")


def as_given(texts: Iterable[str]) -> tuple[Notice, ...]:
    """Assumptions of a reader about its input, as notes."""
    return tuple(Notice("as-given", "note", "input", text) for text in texts)
