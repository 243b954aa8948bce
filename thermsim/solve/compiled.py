"""Compiling of loops, kept on disk."""

from __future__ import annotations

from typing import Any

import numba

#: Sums may be reordered (so that they vectorise); infinities and NaN keep their meaning.
_FAST = {"reassoc", "contract"}


def compiled(function: Any, **more: Any) -> Any:
    """Compile on first use and keep the machine code on disk, where there is a place to keep it."""
    jit: Any = numba.njit  # numba describes its types only from some version on
    try:
        return jit(cache=True, nogil=True, fastmath=_FAST, **more)(function)
    except RuntimeError:  # no folder that could be written: compile anew in every process
        return jit(nogil=True, fastmath=_FAST, **more)(function)


def inlined(function: Any) -> Any:
    """The same for a part of larger loops: it is put into each as it stands, and not compiled by itself as well."""
    return compiled(function, inline="always")
