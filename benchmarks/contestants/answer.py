"""What a contestant hands back."""

from __future__ import annotations

from dataclasses import dataclass

from contestants.jar import Array


@dataclass(frozen=True)
class Answer:
    """Temperatures (n_t, n_places) [degC] at times [s] of the contestant's own choice, and what they took.

    ``lethality`` [s] at the places where the contestant works it out itself; None: it follows from the curves.
    ``promised`` is the error of temperature that the contestant itself estimates [K], where it does.
    """

    time: Array
    temperature: Array
    unknowns: int
    steps: int
    lethality: Array | None = None
    promised: float | None = None
