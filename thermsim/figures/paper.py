"""A page of A4, and the width of a text on it."""

from __future__ import annotations

import functools

from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import text_to_path

from thermsim.figures import style

#: The page [mm].
WIDTH, HEIGHT = 210.0, 297.0
#: The letters that texts on paper are measured in.
FAMILY = "DejaVu Sans"
#: A point [mm].
POINT = 25.4 / 72.0


def new_page() -> Figure:
    """An empty page."""
    return Figure(figsize=(WIDTH * style.INCH, HEIGHT * style.INCH))


@functools.lru_cache(maxsize=20000)
def width_of(text: str, size: float, *, bold: bool = False) -> float:
    """Width of a text in one line [mm], its letters so many points high."""
    letters = FontProperties(family=FAMILY, size=size, weight="bold" if bold else "normal")
    width, _, _ = text_to_path.get_text_width_height_descent(text, letters, False)
    return float(width) * POINT
