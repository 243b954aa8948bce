"""Causes that all containers of a run share: one fault of all probes, tips off by one length, other fillings.

One cause for all is likelier than the same fault in each of them, and what all share wrongly moves the clock that all
share, which hides it from each by itself.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

import numpy as np

from thermsim.assess.measured.doubts.explanation import Alone
from thermsim.assess.measured.doubts.judgement import filling_text, fills_otherwise, length_off
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


def common_cause(columns: Sequence[Column], tied: Sequence[bool], limits: Limits, most: float) -> Common | None:
    """The length by which all tips read as if off, or how all were filled otherwise, whichever explains all better.

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
    Common or None
        None where the curves are explained as stated, or by fewer than all of them.
    """
    if len(columns) < 2:
        return None
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
    return max(found, key=lambda cause: cause.gain, default=None)


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


def flags_of_cause(cause: Common, count: int, of: int) -> list[Notice]:
    """A flag for each container that one cause explains; so many of those looked at."""
    if not cause.filling:
        return [flag_of_shift(cause.shift, count, of)] * count
    which = f"ALL {count} CANS" if count == of else f"{count} OF {of} CANS"
    how = filling_text(cause.filling, float(np.median(cause.sizes)))
    text = (
        f"{which} LOOK FILLED OTHERWISE: by their curves with {how}. Check the fill height and the headspace in the "
        "case before single cans. One cause for all is likelier than the same fault in each of them; no corrected "
        "lethality stands until it is found."
    )
    return [
        Notice(ALL_FILLINGS[cause.filling], "danger", "logger", text, {cause.filling: size}, f"all: {cause.filling}?")
        for size in cause.sizes
    ]


def flag_of_shift(shift: float, count: int, of: int) -> Notice:
    """The flag of containers whose tips all read as if elsewhere by one length [m]; so many of those looked at."""
    off = length_off(shift)
    which = f"ALL {count} TIPS" if count == of else f"{count} OF {of} TIPS"
    text = (
        f"{which} READ AS IF {off} than said: check the drawing and what depths are counted from, then the case "
        "(fill height, container, probe, films), before single cans. One cause for all is likelier than the same "
        "fault in each of them; no corrected lethality stands until it is found."
    )
    return Notice(ALL_DEPTHS, "danger", "probe", text, {"shift": shift}, f"all tips {off}?")
