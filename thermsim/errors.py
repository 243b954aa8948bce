"""The program's own errors: what went wrong, where, and what to do about it."""

from __future__ import annotations

from collections.abc import Sequence


class ThermsimError(Exception):
    """Anything this program refuses or cannot do; ``exit_code`` is what the command line ends with."""

    exit_code = 3


class InputError(ThermsimError, ValueError):
    """Something the user gave is at fault; one line says what, where and what is allowed."""

    exit_code = 2


class CaseError(InputError):
    """One or more faults of a case file.

    Parameters
    ----------
    faults : sequence of str
        One line each: file, key, what is wrong, what is allowed.
    """

    def __init__(self, faults: Sequence[str]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(self.faults))


class NumericalError(ThermsimError, ArithmeticError):
    """The computation did not reach what it promises; the evidence is attached.

    Parameters
    ----------
    message : str
        What failed, and at which time or place.
    evidence : dict
        Numbers that show it (names carry their units).
    """

    def __init__(self, message: str, **evidence: object) -> None:
        self.evidence = evidence
        super().__init__(message)
