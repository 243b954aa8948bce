"""A result as notebooks show it: the drawing beside the answer."""

from __future__ import annotations

from html import escape

from thermsim.assess.simulate.result import Result
from thermsim.figures.container.section import plot_section
from thermsim.figures.files import inline_svg
from thermsim.records.words.answer import answer


def html_of(result: Result) -> str:
    """The container's section and the short answer as one piece of HTML, without scripts and links."""
    drawing = inline_svg(plot_section(result), "section")
    told = escape("\n".join(answer(result)))
    return f'<div class="thermsim"><h3>{escape(result.case.title)}</h3><pre>{told}</pre>{drawing}</div>'
