"""Pieces of an HTML page: escaped text, tables, and lists of facts."""

from __future__ import annotations

import html
import math
from collections.abc import Iterable, Sequence

from thermsim.quantities import mm


def escaped(text: str) -> str:
    """Text as it may stand in a page, between quotes too."""
    return html.escape(text, quote=True)


def table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table of plain texts, the first column the rows' names; it scrolls sideways on a narrow screen."""
    head = "".join(f'<th scope="col">{escaped(text)}</th>' for text in heads)
    body = "\n".join(
        f'<tr><th scope="row">{escaped(row[0])}</th>{"".join(f"<td>{escaped(text)}</td>" for text in row[1:])}</tr>'
        for row in rows
    )
    return f'<div class="wide"><table>\n<thead><tr>{head}</tr></thead>\n<tbody>\n{body}\n</tbody></table></div>'


def facts(pairs: Iterable[tuple[str, str]]) -> str:
    """Names and plain texts in two columns."""
    rows = "\n".join(f'<tr><th scope="row">{escaped(name)}</th><td>{escaped(text)}</td></tr>' for name, text in pairs)
    return f'<table class="facts"><tbody>\n{rows}\n</tbody></table>'


def paragraphs(texts: Iterable[str], kind: str = "") -> str:
    """Plain texts as paragraphs, of a style class if one is given."""
    opening = f'<p class="{kind}">' if kind else "<p>"
    return "\n".join(f"{opening}{escaped(text)}</p>" for text in texts)


def typeset(text: str) -> str:
    """A figure of plain text, its uncertainty and its unit as they are set in a page, in one piece."""
    return text.replace("+-", "±").replace("degC", "°C").replace(" ", "\u00a0")


def plain_mm(length: float) -> str:
    """A length that was given [m], in mm, without the unit and without needless digits."""
    return f"{round(mm(length), 3):g}"


def film(coefficient: float) -> str:
    """A film coefficient [W/m2K] without the unit."""
    return f"{coefficient:.4g}" if math.isfinite(coefficient) else "∞"
