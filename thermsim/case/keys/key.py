"""Facts about a key of the case file: its quantity, its meaning, its default, what is allowed and what is not."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from functools import partial
from math import inf, isfinite, isinf, isnan

from thermsim.physics.scales import COLDEST, HOTTEST, other_scale
from thermsim.quantities import FILM, Quantity, quantity_of

REQUIRED = "required"
# A length beyond its limits by less than this factor may just be too small or too large.
_FAR = 2.0


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


#: A temperature [degC], a number above 0, and a film coefficient [W/m2K], inf allowed.
temperature = partial(Key, low=COLDEST, high=HOTTEST)
positive = partial(Key, low=0.0, above=True)
film = partial(Key, low=0.0, above=True, infinite=True, given_as=FILM)


def range_rule(value: float, key: Key) -> str:
    """The rule that a number in the key's unit breaks, what it may be meant to be included; "" if it breaks none."""
    if isnan(value):
        return "is not a number"
    low_enough = value <= key.high and (isfinite(value) or key.infinite)
    if low_enough and (value > key.low if key.above else value >= key.low):
        return ""
    return f"must be {_range_in_words(key)}{_slip(value, key)}"


def _range_in_words(key: Key) -> str:
    unit = f" {key.unit}" if key.unit else ""
    low = f"above {key.low:g}" if key.above else f"at least {key.low:g}"
    if isinf(key.high):
        return f"{low}{unit}" + ("" if key.infinite else " and finite")
    return f"{low} and at most {key.high:g}{unit}"


def _too_small(value: float, times: float, key: Key) -> bool:
    """Tell whether a number too small for its key would be one that may be meant in a unit so many times larger."""
    return 0.0 < value < key.low / (_FAR if times > 100.0 else 1.0) and key.low <= times * value <= key.high


def _slip(value: float, key: Key) -> str:
    """The end of a sentence that says what a number out of a key's range may be; "" where nothing is seen."""
    larger = {"mm": (("inches", 25.4), ("metres", 1000.0)), "J/kgK": (("kJ/kgK", 1000.0),)}.get(key.unit, ())
    meant = [f"{unit} ({times * value:g} {key.unit})" for unit, times in larger if _too_small(value, times, key)]
    if meant:
        return f"; did you mean {' or '.join(meant)}?"
    if key.unit != "mm":
        return other_scale(value) if key.unit == "degC" else ""
    if isfinite(value) and value >= _FAR * key.high and key.low <= value / 1000.0 <= key.high:
        return f"; did you mean {value / 1000.0:g} mm?"
    return ""
