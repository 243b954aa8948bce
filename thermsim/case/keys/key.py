"""What is known of a key of the case file: its unit, its meaning, its default and what is allowed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf

from thermsim.physics.scales import COLDEST, HOTTEST

REQUIRED = "required"

# A value in the file's unit times the first number over the second is the value in SI units.
TO_SI: Mapping[str, tuple[float, float]] = {
    "mm": (1.0, 1000.0),
    "min": (60.0, 1.0),
    "g": (1.0, 1000.0),
    "kPa": (1000.0, 1.0),
    "ml": (1.0, 1e6),
    "%": (1.0, 100.0),
}


@dataclass(frozen=True)
class Key:
    """One key of one table.

    Parameters
    ----------
    name, unit, meaning : str
        The key as written, the unit of its value ("" where it has none), what it says.
    default : float or str
        What holds where the key is left out: a number in the key's own unit, or words;
        ``REQUIRED`` where it must not be left out.
    low, high : float
        Range of a number.
    above : bool
        ``low`` itself is excluded.
    infinite : bool
        ``inf`` is allowed.
    """

    name: str
    unit: str
    meaning: str
    default: float | str = REQUIRED
    low: float = -inf
    high: float = inf
    above: bool = False
    infinite: bool = False


def temperature(name: str, meaning: str, default: float | str = REQUIRED) -> Key:
    """A temperature [degC]."""
    return Key(name, "degC", meaning, default, COLDEST, HOTTEST)


def positive(name: str, unit: str, meaning: str, default: float | str = REQUIRED, *, high: float = inf) -> Key:
    """A number above 0."""
    return Key(name, unit, meaning, default, 0.0, high, above=True)


def film(name: str, meaning: str, default: float | str = REQUIRED) -> Key:
    """A film coefficient [W/m2K], inf allowed."""
    return Key(name, "W/m2K", meaning, default, 0.0, inf, above=True, infinite=True)
