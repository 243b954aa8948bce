"""Writing on a page of paper: paragraphs, rules, frames and heads, placed in millimetres from its lower left."""

from __future__ import annotations

import re
from collections.abc import Sequence

from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from thermsim.figures import style
from thermsim.figures.other_units import VERBATIM
from thermsim.figures.paper import HEIGHT, WIDTH, width_of
from thermsim.systems import told

#: The page's margins [mm].
MARGIN = 13.0
#: Type sizes [pt], and the height of a line on paper for each point of type [mm].
BODY, FINE, HEAD, TITLE, BIG, LEADING = 8.2, 7.2, 9.0, 14.0, 15.0, 0.49
DIM = "#444444"


def write(
    figure: Figure,
    text: str,
    x: float,
    y: float,
    width: float,
    *,
    size: float = BODY,
    colour: str = style.LINE,
    weight: str = "normal",
    verbatim: bool = False,
) -> float:
    """Write a paragraph from a place [mm from the left and from the bottom] downwards; returns where it ends."""
    for line in folded(text if verbatim else told(text).replace("degF", "°F"), width, size=size, weight=weight):
        figure.text(
            x / WIDTH, y / HEIGHT, line, ha="left", va="top", fontsize=size, color=colour, fontweight=weight,
            label=VERBATIM if verbatim else "",
        )  # fmt: skip
        y -= LEADING * size
    return y


def folded(text: str, width: float, *, size: float, weight: str = "normal") -> list[str]:
    """Break a text into lines no wider than a width on paper [mm]; a number stays with its unit."""
    lines: list[str] = []
    for word in re.sub(r"(?<=\d) (?=(%|mm|in|min|K|°C|°F)\b|%)", "\N{NO-BREAK SPACE}", text).split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_of(longer, size, bold=weight == "bold") <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def rule(figure: Figure, x: tuple[float, float], y: float, *, width: float = 0.6, colour: str = style.LINE) -> None:
    """Draw a level line between two places."""
    figure.add_artist(Line2D([x[0] / WIDTH, x[1] / WIDTH], [y / HEIGHT, y / HEIGHT], color=colour, linewidth=width))


def box(figure: Figure, text: str, y: float, *, colour: str) -> float:
    """A paragraph in a frame; its first words are loud by their colour."""
    inside = write(figure, text, MARGIN + 3.0, y - 2.0, WIDTH - 2 * MARGIN - 6.0, colour=colour, weight="bold")
    figure.add_artist(
        Rectangle(
            (MARGIN / WIDTH, (inside - 1.0) / HEIGHT), (WIDTH - 2 * MARGIN) / WIDTH, (y - inside + 1.0) / HEIGHT,
            fill=False, edgecolor=colour, linewidth=1.4,
        )
    )  # fmt: skip
    return inside - 3.0


def heading(figure: Figure, text: str, y: float, x: float) -> float:
    """Write a head; returns where it ends."""
    return write(figure, text, x, y, WIDTH - MARGIN - x, size=HEAD, weight="bold") - 0.6


def footer(figure: Figure, signed: Sequence[str], program: str, digest: str, date: str) -> None:
    """Lines to sign on, each with who signs, and where the page comes from."""
    y, right = 25.0, WIDTH - MARGIN
    for k, what in enumerate(signed):
        x = MARGIN + 61.5 * k
        rule(figure, (x, x + 57.0), y, width=0.5)
        write(figure, f"{what}, date", x, y - 0.8, 55.0, size=FINE, colour=DIM)
    y -= 7.0
    rule(figure, (MARGIN, right), y, width=0.4, colour=style.PALE)
    y = write(figure, f"{program}, computed {date or '_' * 16}", MARGIN, y - 1.0, right - MARGIN, size=FINE)
    write(figure, f"case SHA-256 {digest or 'none: not read from a file'}", MARGIN, y, right - MARGIN, size=FINE)
