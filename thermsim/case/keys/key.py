"""What is known of a key of the case file: its quantity, its meaning, its default and what is allowed."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

from thermsim.physics.scales import COLDEST, HOTTEST
from thermsim.quantities import FILM, Quantity, quantity_of

REQUIRED = "required"


@dataclass(frozen=True)
class Key:
    """One key of one table.

    Parameters
    ----------
    name, meaning : str
        The key as written, and what it says.
    default : float or str
        What holds where the key is left out: a number in the key's own unit, or words;
        ``REQUIRED`` where it must not be left out.
    low, high : float
        Range of a number.
    above : bool
        ``low`` itself is excluded.
    infinite : bool
        ``inf`` is allowed.
    given_as : Quantity, optional
        Its quantity, where its name does not end with the unit.
    """

    name: str
    meaning: str
    default: float | str = REQUIRED
    low: float = -inf
    high: float = inf
    above: bool = False
    infinite: bool = False
    given_as: Quantity | None = None

    @property
    def quantity(self) -> Quantity:
        """What its number is, by the unit that its name ends with."""
        return self.given_as or quantity_of(self.name)

    @property
    def unit(self) -> str:
        """The unit of its value; "" where it has none."""
        return self.quantity.unit


def temperature(name: str, meaning: str, default: float | str = REQUIRED) -> Key:
    """A temperature [degC]."""
    return Key(name, meaning, default, COLDEST, HOTTEST)


def positive(
    name: str,
    meaning: str,
    default: float | str = REQUIRED,
    *,
    high: float = inf,
    given_as: Quantity | None = None,
) -> Key:
    """A number above 0."""
    return Key(name, meaning, default, 0.0, high, above=True, given_as=given_as)


def film(name: str, meaning: str, default: float | str = REQUIRED) -> Key:
    """A film coefficient [W/m2K], inf allowed."""
    return Key(name, meaning, default, 0.0, inf, above=True, infinite=True, given_as=FILM)
