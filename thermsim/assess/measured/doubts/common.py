"""Causes that all containers of a run share: one fault of all probes, tips off by one length, other fillings.

One cause for all is likelier than the same fault in each of them, and what all share wrongly moves the clock that all
share, which hides it from each by itself.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

import numpy as np

from thermsim.assess.measured.doubts.explanation import Alone
from thermsim.assess.measured.doubts.judgement import AS_GOOD, filling_text, fills_otherwise, length_off
from thermsim.assess.measured.doubts.suspicion import REACH, TRIED, Column
from thermsim.assess.measured.lattice import FILL, HEADSPACE
from thermsim.assess.measured.result import Limits
from thermsim.notice import Notice

#: The flags of tips that all read as if elsewhere by one length, and of cans that all read as if filled otherwise.
ALL_DEPTHS = "all-depths-in-doubt"
ALL_FILLINGS = {FILL: "all-fillings-in-doubt", HEADSPACE: "all-headspaces-in-doubt"}
#: What all probes seem to do where each has a fault's flag, by its code.
SHARED = {
    "calibration-in-doubt": "READ AS IF {:+.1f} K OFF",
    "drift-in-doubt": "DRIFT AS IF TO {:+.1f} K",
    "contact-in-doubt": "READ AS IF BY THE WALL IN PART",
    "clock-in-doubt": "HAVE A CLOCK AS IF {:+.0f} s AHEAD",
    "slide-in-doubt": "READ AS IF THEIR TIPS SLID",
    "gap-in-doubt": "READ AS IF THE MEDIUM DID OTHERWISE IN THE GAP OF THE RECORD",
    "start-uneven": "DID NOT START EVENLY WARM",
}


def common_fault(flags: Sequence[Sequence[Notice]]) -> tuple[str, float] | None:
    """A fault of :data:`SHARED` that all of some containers have with one sign, and its median size."""
    for code in SHARED if len(flags) > 1 else ():
        sizes = np.array([next((flag.figures["size"] for flag in some if flag.code == code), 0.0) for some in flags])
        if abs(np.sign(sizes).sum()) == sizes.size:
            return code, float(np.median(sizes))
    return None


class _Together:
    """Columns that share one cause, with the one clock of those that share it."""

    def __init__(self, columns: Sequence[Column], tied: Sequence[bool]) -> None:
        self.columns, self.tied = columns, tied
        self._known: dict[tuple[float, str], list[Alone]] = {}

    def badness(self, shift: float, but: int = -1, fault: str = "") -> float:
        """Least sum of squares of all columns, or of all but one, with tips off by a length [m] or another fault."""
        known = self.alone(shift, fault)
        clocks = [one.clock for k, one in enumerate(known) if self.tied[k] and k != but]
        values, weights = (np.array(part) for part in ([c.value for c in clocks], [c.error**-2 for c in clocks]))
        mean = weights @ values / weights.sum() if clocks else 0.0
        least = sum(one.badness for k, one in enumerate(known) if k != but)
        return least + float(weights @ (values - mean) ** 2)

    def alone(self, shift: float, fault: str = "") -> list[Alone]:
        """Each column's best."""
        if (shift, fault) not in self._known:
            self._known[shift, fault] = [
                column.by_itself(column.stated + shift, fault, free_clock=tied)
                for column, tied in zip(self.columns, self.tied, strict=True)
            ]
        return self._known[shift, fault]

    def gains(self, shift: float, fault: str = "", than: float = 0.0) -> list[float]:
        """Gain against tips off by another length, of all columns and of all but each."""
        return [self.badness(than, but) - self.badness(shift, but, fault) for but in range(-1, len(self.columns))]


@dataclasses.dataclass(frozen=True)
class Common:
    """One cause that explains the curves of all columns: tips off by a ``shift`` [m], or a filling and its sizes."""

    gain: float
    shift: float
    filling: str = ""
    sizes: tuple[float, ...] = ()

    def size_of(self, place: int) -> float:
        """The size of one column's: what its tip is off by [m], or of its filling."""
        return self.sizes[place] if self.filling else self.shift


def common_causes(columns: Sequence[Column], tied: Sequence[bool], limits: Limits, most: float) -> list[Common]:
    """The length by which all tips read as if off, and how all were filled otherwise, the likeliest first.

    What all share wrongly moves the clock that all share, which hides it from each by itself.

    Parameters
    ----------
    columns : sequence of Column
        Those of which nothing else is to be said.
    tied : sequence of bool
        Which of them share a clock whose offset is not known.
    limits : Limits
    most : float
        What is no chance, as of :func:`critical`.

    Returns
    -------
    list of Common
        Empty where the curves are explained as stated, or by fewer than all of them.
    """
    if len(columns) < 2:
        return []
    together = _Together(columns, tied)
    found = [
        cause
        for cause in (
            _common_shift(together, limits),
            *(_common_filling(together, name) for name in max((one.fillings for one in columns), key=len)),
        )
        # one curve alone must not be what asks for it
        if cause is not None and cause.gain > most
    ]
    found.sort(key=lambda cause: -cause.gain)
    return [cause for cause in found if cause.gain > found[0].gain - len(columns) * AS_GOOD]


def _common_shift(together: _Together, limits: Limits) -> Common | None:
    columns, tip = together.columns, 1e-3 * limits.tip_mm
    if not all(column.moves for column in columns):
        return None
    low = max(column.shiftable[0] for column in columns)
    high = min(column.shiftable[1] for column in columns)

    def best(tried: Sequence[float]) -> float:
        return min((one for one in tried if low <= one <= high), key=together.badness, default=0.0)

    coarse = best((TRIED * np.arange(-(REACH // TRIED), REACH // TRIED + 1)).tolist())
    shift = best([coarse + k * TRIED / 3.0 for k in range(-2, 3)])
    if abs(shift) <= tip:
        return None
    return Common(min(together.gains(shift, than=best([-tip, 0.0, tip]))), shift)


def _common_filling(together: _Together, name: str) -> Common | None:
    sizes = tuple(one.values[4] for one in together.alone(0.0, name))
    if abs(np.sign(sizes).sum()) < len(sizes) or not fills_otherwise(name, float(np.median(sizes))):
        return None
    # each has a size of its own
    return Common(min(together.gains(0.0, name)) - len(sizes), 0.0, name, sizes)


def flags_of_causes(causes: Sequence[Common], count: int, of: int) -> list[Notice]:
    """A flag for each container of what explains them all, the likeliest first; so many of those looked at."""
    first, *others = causes
    which = f"ALL {count}" if count == of else f"{count} OF {of}"
    what = (
        f"{which} CANS LOOK FILLED OTHERWISE: by their curves with {_words(first)}"
        if first.filling
        else f"{which} TIPS READ AS IF {length_off(first.shift)} than said"
    )
    also = "".join(f", or {_words(other)}" for other in others)
    text = (
        f"{what}{also}. Check the drawing, what depths are counted from, the fill height and the headspace (then the "
        "probe, films) before single cans: one cause for all is likelier than the same fault in each of them. No "
        "corrected lethality stands until it is found."
    )
    brief = " or ".join(f"{one.filling or 'tips'}" for one in causes)
    brief = f"all: {brief}?" if first.filling or others else f"all tips {length_off(first.shift)}?"
    code = ALL_FILLINGS.get(first.filling, ALL_DEPTHS)
    return [
        Notice(code, "danger", "probe", text, {one.filling or "shift": one.size_of(k) for one in causes}, brief)
        for k in range(count)
    ]


def _words(cause: Common) -> str:
    if cause.filling:
        return filling_text(cause.filling, float(np.median(cause.sizes)))
    return f"tips {length_off(cause.shift)} than said"
