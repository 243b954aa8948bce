"""The program's own errors: what went wrong, where, and what to do about it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import Enum

from thermsim.text import plain, printed

#: Longest line of a message; most lines of a case's faults, and most numbers of tables in one of them.
LONGEST, MOST_FAULTS, _MOST_NUMBERS = 700, 20, 10
#: A fault of one of many tables: what stands before its number, the number, what comes after.
_NUMBERED = re.compile(r"([^:]* no\. )(\d+)(\b.*)")


class ThermsimError(Exception):
    """Anything this program refuses or cannot do; ``exit_code`` is what the command line ends with."""

    exit_code = 3


class InputError(ThermsimError, ValueError):
    """Something the user gave is at fault; one line says what, where and what is allowed."""

    exit_code = 2

    def __init__(self, message: str = "") -> None:
        super().__init__(plain(message, LONGEST))


class Whole(Enum):
    """The value of a fault that is about a thing as a whole."""

    WHOLE = "whole"


WHOLE = Whole.WHOLE


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong with what the user said.

    ``path`` are the attributes that lead to it from the case, "container.side.thickness", ``value`` is what stands
    there, in SI units and degC; ``WHOLE`` where the rule is about the thing as a whole. ``rule`` is the end of a
    sentence that begins with them: what is wrong and what is allowed; it may begin with a colon.
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
    """Sentence of what stands somewhere and the rule that it breaks."""
    return f"{beginning}{rule}" if rule.startswith(":") else f"{beginning} {rule}"


class CaseError(InputError):
    """One or more faults of a case; ``faults`` are the lines that tell them, the first twenty.

    Parameters
    ----------
    faults : sequence of str
        One line each: file, key, what is wrong, what is allowed. One that several tables share is told once.
    found : sequence of Fault
        The same as things, where the case's nouns found them.
    """

    def __init__(self, faults: Sequence[str], found: Sequence[Fault] = ()) -> None:
        lines = [*_shared(plain(fault, LONGEST) for fault in faults)]
        more = len(lines) - MOST_FAULTS
        self.faults = (*lines[:MOST_FAULTS], *([f"and {more} more faults; mend these first"] if more > 0 else []))
        self.found = tuple(found)
        ValueError.__init__(self, "\n".join(self.faults))

    def __reduce__(self) -> tuple[type[CaseError], tuple[Sequence[str], Sequence[Fault]]]:
        """Pass a pickle, as from a worker, what this was made of; an error is made anew of its message otherwise."""
        return type(self), (self.faults, self.found)


def _shared(faults: Iterable[str]) -> list[str]:
    """Faults in their order, those of several numbered tables in one line: "jar.toml [[points]] no. 1 and 2: ..."."""
    numbers: dict[tuple[str, str], list[str]] = {}
    for fault in faults:
        match = _NUMBERED.fullmatch(fault)
        before, number, after = match.groups() if match else (fault, "", "")
        numbers.setdefault((before, after), []).append(number)
    return [f"{before}{_counted(which)}{after}" for (before, after), which in numbers.items()]


def _counted(which: Sequence[str]) -> str:
    """Numbers of tables as words; how often, where what is at fault has none."""
    if not which[0]:
        return f" ({len(which)} times)" if len(which) > 1 else ""
    rest = len(which) - _MOST_NUMBERS
    *some, last = which if rest <= 1 else [*which[:_MOST_NUMBERS], f"{rest} more"]
    return f"{', '.join(some)} and {last}" if some else last


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
