"""Approved texts: what a screen says is compared with a file that was read and found good."""

from __future__ import annotations

import os
import re
from pathlib import Path

FOLDER = Path(__file__).parents[1] / "approved"
#: Set to anything, the texts are written anew instead of compared.
RENEW = "THERMSIM_APPROVE"
_NUMBER = re.compile(r"[+-]?\d+(?:\.\d+)?")


def check_approved(name, lines):
    """Compare lines with the approved text of a name: its words exactly, its numbers to the last digit printed.

    Where a line breaks is left open: a number that gains a digit may move a word.
    """
    path, text = FOLDER / f"{name}.txt", "\n".join(lines) + "\n"
    if os.environ.get(RENEW):
        path.write_text(text, "utf-8")
        return
    approved = path.read_text("utf-8")
    assert _words(text) == _words(approved), f"{name}: set {RENEW}=1 to renew it, and read what changes"
    for found, wanted in zip(_NUMBER.findall(text), _NUMBER.findall(approved), strict=True):
        # one of the last digit: another machine may round it otherwise
        step = 10.0 ** -len(wanted.partition(".")[2])
        assert abs(float(found) - float(wanted)) <= 1.01 * step, f"{name}: {found}, approved is {wanted}"


def _words(text):
    """The words of a text, "#" for each number."""
    return _NUMBER.sub("#", text).split()
