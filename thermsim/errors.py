"""The program's own errors: what went wrong, where, and what to do about it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from thermsim.text import printed


class ThermsimError(Exception):
    """Anything this program refuses or cannot do; ``exit_code`` is what the command line ends with."""

    exit_code = 3


class InputError(ThermsimError, ValueError):
    """Something the user gave is at fault; one line says what, where and what is allowed."""

    exit_code = 2


class Whole(Enum):
    """The value of a fault that is about a thing as a whole."""

    WHOLE = "whole"


WHOLE = Whole.WHOLE


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong with what the user said.

    Parameters
    ----------
    path : str
        Attributes that lead to it from the case: "container.side.thickness".
    value : object
        What stands there, in SI units and degC; ``WHOLE`` where the rule is about the thing as a whole.
    rule : str
        The end of a sentence that begins with them: what is wrong and what is allowed; it may begin with a colon.
    unit : str
        The SI unit of a number; "" where it has none.
    """

    path: str
    value: object
    rule: str
    unit: str = ""

    def __str__(self) -> str:
        if self.value is WHOLE:
            return f"{self.path}: {self.rule}"
        shown = f"{self.value:.9g}" if isinstance(self.value, float) else printed(self.value)
        return sentence(f"{self.path} = {shown} {self.unit}".rstrip(), self.rule)


def sentence(beginning: str, rule: str) -> str:
    """What stands somewhere and the rule that it breaks, as one sentence."""
    return f"{beginning}{rule}" if rule.startswith(":") else f"{beginning} {rule}"


class CaseError(InputError):
    """One or more faults of a case.

    Parameters
    ----------
    faults : sequence of str
        One line each: file, key, what is wrong, what is allowed.
    found : sequence of Fault
        The same as things, where the case's nouns found them.
    """

    def __init__(self, faults: Sequence[str], found: Sequence[Fault] = ()) -> None:
        self.faults = tuple(faults)
        self.found = tuple(found)
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
