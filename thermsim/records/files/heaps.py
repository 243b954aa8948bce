"""Texts of an HDF5 file in a list without an end: HDF5 would read it for ever, and nothing could stop it.

It keeps texts in collections of objects, each with a number and a size, number 0 for what is left over, and goes from
one to the next by their sizes (HDF5 file format specification, level 1E, global heap; from memory). A left-over of no
size, as where zeros lie on a damaged disk, is passed by no step (HDF5 2.0.0, seen in an altered file).
"""

from __future__ import annotations

import mmap
from pathlib import Path

#: How a collection begins; the bytes before its first object and before each object's contents; what sizes are
#: multiples of.
_BEGINS, _BEFORE, _STEP = b"GCOL\x01\0\0\0", 16, 8


def check_texts(path: Path) -> None:
    """Make sure that the lists of texts in a file end.

    Raises
    ------
    ValueError
        If one does not.
    """
    with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as data:
        begin = data.find(_BEGINS)
        while begin >= 0:
            place = begin + _BEFORE
            end = min(begin + _number(data, begin + _STEP, _STEP), len(data))
            while place + _BEFORE <= end:
                number, size = _number(data, place, 2), _number(data, place + _STEP, _STEP)
                if number == size == 0:
                    raise ValueError("a list of texts in it has no end")
                place += size if number == 0 else _BEFORE + -(-size // _STEP) * _STEP
            begin = data.find(_BEGINS, begin + 1)


def _number(data: mmap.mmap, begin: int, size: int) -> int:
    return int.from_bytes(data[begin : begin + size], "little")
