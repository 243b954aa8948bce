"""Facts about a key of the case file: its quantity, its meaning, its default and what is allowed."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from math import inf

from thermsim.physics.scales import COLDEST, HOTTEST
from thermsim.quantities import FILM, Quantity, quantity_of

REQUIRED = "required"


@dataclass(frozen=True)
class Key:
    """One key of one table: its name as written, and its meaning.

    ``default`` holds where the key is left out, a number in the key's own unit, or words; it is ``REQUIRED`` where it
    must not be. ``low`` to ``high`` is the range of a number, without ``low`` itself where ``above``; ``infinite``
    allows ``inf``. ``given_as`` is its quantity, where its name does not end with the unit; ``tabled`` says that its
    value may be a table, [[temperature, value], ...], ``most`` how many a list or an array of tables under it may
    hold (0: it is none, or its rule stands elsewhere), ``usual`` which words are often written, for a form to offer.
    """

    name: str
    meaning: str
    default: float | str = REQUIRED
    low: float = -inf
    high: float = inf
    above: bool = False
    infinite: bool = False
    given_as: Quantity | None = None
    tabled: bool = False
    most: int = 0
    usual: tuple[str, ...] = ()

    @property
    def quantity(self) -> Quantity:
        """Quantity of its number, by the unit that its name ends with."""
        return self.given_as or quantity_of(self.name)

    @property
    def unit(self) -> str:
        """The unit of its value; "" where it has none."""
        return self.quantity.unit

    @property
    def others(self) -> tuple[Key, ...]:
        """The same key in the units of the other system, each with its unit at the end of its name."""
        # a difference of temperatures is called like a temperature where its scale is meant: z_C, z_F
        endings = (f"_{self.quantity.suffix}", f"_{quantity_of(self.name).suffix}")
        stem = next((self.name.removesuffix(end) for end in endings if len(end) > 1 and self.name.endswith(end)), "")
        return tuple(
            dataclasses.replace(
                self,
                name=other.key(stem),
                meaning=self.meaning.replace("in degC", "in degF"),
                default=self.default if isinstance(self.default, str) else self._moved(self.default, other),
                low=self._moved(self.low, other),
                high=self._moved(self.high, other),
                given_as=other,
            )
            for other in (self.quantity.others if stem else ())
        )

    def _moved(self, value: float, other: Quantity) -> float:
        return other.edge(self.quantity.si_value(value))


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
    tabled: bool = False,
    most: int = 0,
) -> Key:
    """A number above 0."""
    return Key(name, meaning, default, 0.0, high, above=True, given_as=given_as, tabled=tabled, most=most)


def film(name: str, meaning: str, default: float | str = REQUIRED) -> Key:
    """A film coefficient [W/m2K], inf allowed."""
    return Key(name, meaning, default, 0.0, inf, above=True, infinite=True, given_as=FILM)
