"""Pauses in a record: where a data logger took no samples for long."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np
from numpy.typing import NDArray

_PAUSE = 10.0  # usual steps between samples; a longer one ...
_LONG = 120.0  # s; ... that also lasts longer than this is a pause


def long_pauses(seconds: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Steps between samples that are pauses, shape (n - 1,); ``seconds`` are the samples' times, shape (n,)."""
    steps = np.diff(seconds)
    return np.asarray((steps > _PAUSE * np.median(steps)) & (steps > _LONG))


def pauses(seconds: NDArray[np.float64], where: Sequence[int], besides: Collection[int] = ()) -> list[str]:
    """Pauses in the samples as one sentence at most, or none; ``besides`` are lines not to be named."""
    steps = np.diff(seconds)
    long = [place for place in np.flatnonzero(long_pauses(seconds)).tolist() if where[place + 1] not in besides]
    if not long:
        return []
    shown = ", ".join(
        f"for {steps[place] / 60:.3g} min from {seconds[place] / 60:.4g} min on (before line {where[place + 1]})"
        for place in long[:3]
    )
    more = f" and {len(long) - 3} more times" if len(long) > 3 else ""
    return [
        f"no samples {shown}{more}; usually one is taken every {np.median(steps) / 60:.3g} min. In between the "
        "temperature is interpolated linearly."
    ]
