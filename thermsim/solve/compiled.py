"""Compiling of loops, kept on disk; numba is loaded by the first of them."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any

#: Sums may be reordered (so that they vectorise); infinities and NaN keep their meaning.
_FAST = {"reassoc", "contract"}
_to_be_told: list[Callable[[], None]] = []


def tell_once(tell: Callable[[], None] | None) -> None:
    """Have ``tell`` called when next a loop must be compiled, which takes some seconds."""
    _to_be_told[:] = [] if tell is None else [tell]


def compiled(function: Any) -> Any:
    """Compile on first use and keep the machine code on disk, where there is a place to keep it."""
    jit = _jit()
    try:
        return jit(cache=True, nogil=True, fastmath=_FAST)(function)
    except RuntimeError:  # no folder that could be written: compile anew in every process
        return jit(nogil=True, fastmath=_FAST)(function)


@functools.cache
def _jit() -> Any:  # numba describes its types only from some version on
    import numba
    from numba.core import event

    class Listener(event.Listener):
        def on_start(self, event: Any) -> None:
            if _to_be_told:
                _to_be_told.pop()()

        def on_end(self, event: Any) -> None:
            pass

    register: Any = event.register
    register("numba:compile", Listener())
    return numba.njit
