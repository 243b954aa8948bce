"""Quantities, a row for each: its unit inside and at the edge, its decimals and its names.

Inside everything is in SI units and degC. Keys of files and of JSON, columns, texts and figures are "the edge".
"""

from __future__ import annotations

import dataclasses
import functools
import math
from collections.abc import Mapping
from contextvars import ContextVar
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeVar

from thermsim.text import with_uncertainty

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Value = TypeVar("Value", float, "NDArray[np.float64]", "float | None")

System = Literal["metric", "us"]
#: The units that screens, sheets and pages are in (see :mod:`thermsim.systems`).
SHOWN: ContextVar[System] = ContextVar("shown", default="metric")

_SUFFIXES = {"degC": "C", "degF": "F", "%": "percent"}
_TYPESET = str.maketrans("23", "²³")


@dataclass(frozen=True)
class Quantity:
    """Facts about a quantity, wherever it is shown: its name as it begins a key, its units inside and at the edge.

    A value at the edge times ``times`` over ``over``, both exact, is the value inside, where 0 is shown as ``zero``:
    32 for degF. ``digits`` decimals are worth showing at the edge, ``finest`` of the smallest values (``digits``
    where left out); ``words`` is it called at an axis, ``long_name`` in a results file.
    """

    name: str
    si: str
    unit: str
    times: float = 1.0
    over: float = 1.0
    digits: int = 3
    words: str = ""
    long_name: str = ""
    finest: int = 0
    zero: float = 0.0

    def edge(self, value: Value) -> Value:
        """A value inside, or an array of them, in the unit at the edge; what is not there stays None."""
        if value is None:
            return None
        shown = value * (self.over / self.times)
        return shown + self.zero if self.zero else shown

    def si_value(self, value: Value) -> Value:
        """A value at the edge in the unit inside; what is not there stays None."""
        if value is None:
            return None
        return (value - self.zero if self.zero else value) * self.times / self.over

    @property
    def suffix(self) -> str:
        """End of a key: "W_mK"; "" for a mere number."""
        return _SUFFIXES.get(self.unit, self.unit.replace("/", "_").replace(" ", "_"))

    @property
    def others(self) -> tuple[Quantity, ...]:
        """The same quantity in the other system of units, the usual unit first; none where there is no other."""
        return tuple(
            dataclasses.replace(self, unit=unit, times=times, over=over, zero=zero, digits=digits, finest=0)
            for unit, times, over, zero, digits in _OTHERS.get(self.si, ())
        )

    def key(self, stem: str = "") -> str:
        """The key of a value in files and JSON, its unit at its end: "lethality_min"."""
        return f"{stem or self.name}_{self.suffix}" if self.suffix else stem or self.name

    def record(self, **values: float | None | list[float] | tuple[float, ...]) -> dict[str, object]:
        """Values inside, or lists of them, under their keys at the edge, the stems given by their names."""
        return {
            self.key(stem): list(map(self.edge, value)) if isinstance(value, list | tuple) else self.edge(value)
            for stem, value in values.items()
        }

    def inside(self) -> Quantity:
        """The same quantity shown in its unit inside."""
        return dataclasses.replace(self, unit=self.si, times=1.0, over=1.0, zero=0.0)

    def axis(self, words: str = "") -> str:
        """The label of an axis with its unit: "Lethality [min]"."""
        unit = self.unit.replace("deg", "°").translate(_TYPESET)
        words = words or self.words or self.name
        gap = "" if words.endswith("\n") else " "
        return f"{words}{gap}[{unit}]"

    def number(self, value: float, digits: int | None = None) -> str:
        """A value inside as text at the edge, without its unit, to the decimals worth showing."""
        if digits is None:
            # what goes over to inches has decimals to spare, so that 0.125 in given as such are told as such
            digits = self.digits + (2 if self.si == "m" and SHOWN.get() == "us" else 0)
        # adding 0 turns -0.0 into 0.0
        return f"{round(self.edge(value), digits) + 0.0:.{digits}f}"

    def text(self, value: float, uncertainty: float | None = None, *, signed: bool = False) -> str:
        """A value inside as text at the edge, with its unit, and with its uncertainty if that is known."""
        least = self.least(value)
        if uncertainty is None:
            told = self.number(value, None if least == 10.0**-self.digits else -math.floor(math.log10(least)))
        else:
            # an uncertainty is a difference, of temperatures too
            told = with_uncertainty(self.edge(value), self.edge(uncertainty) - self.zero, least=least)
            if self.si == "m" and SHOWN.get() == "us" and " +- " in told:
                # decimals to spare here too, so that one place is not told in two ways
                digits = max(0, -math.floor(math.log10(least)))
                told = f"{self.number(value, digits + 2)} +- {told.partition(' +- ')[2]}"
        sign = "+" if signed and not told.startswith("-") else ""
        return f"{sign}{told} {self.unit}".rstrip()

    def least(self, value: float) -> float:
        """The smallest uncertainty at the edge that is worth showing beside a value inside.

        Of small values a hundredth of their leading decade: differences below do not matter to any process (common
        practice, no source).
        """
        shown, finest = self.edge(value), -(self.finest or self.digits)
        if shown > 0.0:
            finest = max(finest, math.floor(math.log10(min(shown, 1e9))) - 2)
        return float(10.0 ** min(-self.digits, finest))

    @property
    def stored(self) -> str:
        """The unit inside as results files write it: "W m-1 K-1"."""
        return _STORED.get(self.si, self.si)


#: An inch, a pound and the British thermal unit (of the steam tables) in SI units, exact by definition (from memory).
INCH, _POUND, _BTU = 0.0254, 0.45359237, 1055.05585262
_FOOT, _HOUR = 0.3048, 3600.0
#: The units of the other system by the unit inside: as shown, factor and divisor, what is shown for 0, decimals.
_OTHERS: Mapping[str, tuple[tuple[str, float, float, float, int], ...]] = {
    "m": (("in", 254.0, 1e4, 0.0, 3),),
    "degC": (("degF", 5.0, 9.0, 32.0, 1),),
    "K": (("degF", 5.0, 9.0, 0.0, 1),),
    "W/mK": (("Btu/hftF", 9.0 * _BTU, 5.0 * _HOUR * _FOOT, 0.0, 3),),
    "kg/m3": (("lb/ft3", _POUND, _FOOT**3, 0.0, 2),),
    "J/kgK": (("Btu/lbF", 4186.8, 1.0, 0.0, 3),),
    "J/m3K": (("Btu/ft3F", 9.0 * _BTU, 5.0 * _FOOT**3, 0.0, 2),),
    "m2/s": (("ft2/h", _FOOT**2, _HOUR, 0.0, 5),),
    "W/m2K": (("Btu/hft2F", 9.0 * _BTU, 5.0 * _HOUR * _FOOT**2, 0.0, 2),),
    "m2K/W": (("hft2F/Btu", 5.0 * _HOUR * _FOOT**2, 9.0 * _BTU, 0.0, 4),),
    "Pa s": (("cP", 1.0, 1e3, 0.0, 0),),
    "Pa": (("psia", _POUND * 9.80665, INCH**2, 0.0, 2),),
    "kg": (("lb", _POUND, 1.0, 0.0, 3), ("oz", _POUND, 16.0, 0.0, 2)),
    "m3": (("fl oz", 231.0 * INCH**3, 128.0, 0.0, 2),),
    "J": (("Btu", _BTU, 1.0, 0.0, 2),),
}

_STORED = {"W/mK": "W m-1 K-1", "J/kgK": "J kg-1 K-1", "J/m3K": "J m-3 K-1", "kg/m3": "kg m-3"}

LENGTH = Quantity("length", "m", "mm", 1.0, 1e3, 1)
R = dataclasses.replace(LENGTH, name="r", long_name="distance from the axis")
X = dataclasses.replace(LENGTH, name="x", long_name="distance from a brick's middle along its length")
Y = dataclasses.replace(LENGTH, name="y", long_name="distance from a brick's middle along its width")
Z = dataclasses.replace(LENGTH, name="z", long_name="height above the outside of the base")
DEPTH = dataclasses.replace(
    LENGTH, name="insertion", words="Insertion depth", long_name="outer face of the entered wall to the tip"
)
TIME = Quantity("time", "s", "min", 60.0, 1.0, 1, "Time", "process time")
DURATION = Quantity("duration", "s", "s", digits=0, words="Duration", long_name="short time")
LETHALITY = Quantity("lethality", "s", "min", 60.0, 1.0, 2, "Lethality", "lethality", 3)
TEMPERATURE = Quantity("temperature", "degC", "degC", 1.0, 1.0, 2, "Temperature", "temperature")
DIFFERENCE = Quantity("difference", "K", "K", 1.0, 1.0, 2, "Change")
PART = Quantity("part", "1", "%", 1.0, 100.0, 1, "Part", "part of a whole")
NUMBER = Quantity("number", "1", "", 1.0, 1.0, 3, "Number", "number")
CONDUCTIVITY = Quantity("conductivity", "W/mK", "W/mK", words="k", long_name="conductivity")
DENSITY = Quantity("density", "kg/m3", "kg/m3", words="ρ", long_name="density")
SPECIFIC_HEAT = Quantity("specific_heat", "J/kgK", "J/kgK", words="c", long_name="specific heat")
HEAT_CAPACITY = Quantity("heat_capacity", "J/m3K", "MJ/m3K", 1e6, 1.0, 4, "ρc", "heat capacity by volume")
DIFFUSIVITY = Quantity("diffusivity", "m2/s", "mm2/s", 1.0, 1e6, 4, "k/(ρc)", "thermal diffusivity")
FILM = Quantity("film", "W/m2K", "W/m2K", words="Heat-transfer coefficient")
RESISTANCE = Quantity("resistance", "m2K/W", "m2K/W", words="Resistance")
VISCOSITY = Quantity("viscosity", "Pa s", "Pa s", words="Viscosity")
PRESSURE = Quantity("pressure", "Pa", "kPa", 1e3, 1.0, 1, "Pressure")
MASS = Quantity("mass", "kg", "g", 1.0, 1e3, 1, "Mass")
VOLUME = Quantity("volume", "m3", "ml", 1.0, 1e6, 1, "Volume")
ENERGY = Quantity("heat", "J", "kJ", 1e3, 1.0, 3, "Heat")

#: Every row; of several in one unit the first is the plain one.
ROWS = (
    LENGTH, R, X, Y, Z, DEPTH, TIME, DURATION, LETHALITY, TEMPERATURE, DIFFERENCE, PART, NUMBER, CONDUCTIVITY,
    DENSITY, SPECIFIC_HEAT, HEAT_CAPACITY, DIFFUSIVITY, FILM, RESISTANCE, VISCOSITY, PRESSURE, MASS, VOLUME, ENERGY,
)  # fmt: skip
#: The plain row of each unit, by how a key ends with it; where two rows end alike, one at the edge counts.
_BY_ENDING: Mapping[str, Quantity] = {
    row.key("x")[1:]: row
    for row in (
        *(other for row in ROWS for other in row.others if other.unit != row.unit),
        *(row.inside() for row in ROWS if row.si != "1"),
        *ROWS[::-1],
    )
    if row.unit
}


@functools.cache
def quantity_of(key: str) -> Quantity:
    """The quantity of a key's number by the unit at the key's end; that of a mere number where there is none."""
    endings = [ending for ending in _BY_ENDING if key.endswith(ending)]
    return _BY_ENDING[max(endings, key=len)] if endings else NUMBER


def _rows(of: Quantity, *names: str) -> dict[str, Quantity]:
    return {name: dataclasses.replace(of, name=name) for name in names}


#: The row of a figure of a result by the last name of its attribute; its key may be called otherwise.
FIGURES: Mapping[str, Quantity] = {
    "r": R,
    "x": X,
    "y": Y,
    "z": Z,
    **_rows(LENGTH, "distance", "moved"),
    **_rows(LETHALITY, "lethality", "heating_lethality"),
    **_rows(TEMPERATURE, "temperature", "end_of_heating"),
    **_rows(TIME, "required_hold", "arrival"),
    "least": dataclasses.replace(LETHALITY, name="least_lethality"),
    "part": dataclasses.replace(PART, name="product"),
    "f": dataclasses.replace(TIME, name="fh"),
    "j": dataclasses.replace(NUMBER, name="jh"),
}
#: The same of what a reading has more than it should, in the order in which it is told.
BIAS: Mapping[str, Quantity] = {
    **_rows(PART, "lethality", "heating_lethality", "cooling_lethality"),
    **_rows(DIFFERENCE, "temperature"),
    **_rows(TIME, "temperature_time"),
    **_rows(DIFFERENCE, "cooling_temperature"),
    **_rows(TIME, "cooling_temperature_time"),
    **_rows(DIFFERENCE, "end_of_heating"),
}

mm, minutes, percent = LENGTH.edge, TIME.edge, PART.edge
