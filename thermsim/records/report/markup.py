"""Numbers as a page sets them."""

from __future__ import annotations

import math

from thermsim.quantities import mm


def typeset(text: str) -> str:
    """A figure of plain text in one piece, for a narrow column."""
    return text.replace(" ", "\u00a0")


def plain_mm(length: float) -> str:
    """A length that was given [m], in mm, without the unit and without needless digits."""
    return f"{round(mm(length), 3):g}"


def film(coefficient: float) -> str:
    """A film coefficient [W/m2K] without the unit."""
    return f"{coefficient:.4g}" if math.isfinite(coefficient) else "∞"
