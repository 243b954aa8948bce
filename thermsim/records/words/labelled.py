"""An answer's lines: what each is about on the left, the text wrapped beside it."""

from __future__ import annotations

import textwrap

#: Width of the lines, and of the labels at their left.
WIDTH, LABEL = 116, 16


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
