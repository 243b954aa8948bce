"""The range of a key as a rule, and what a number out of it was probably meant to be."""

from __future__ import annotations

import math

from thermsim.case.keys.key import Key
from thermsim.physics.scales import other_scale

# A length beyond its limits by less than this factor may just be too small or too large.
_FAR = 2.0


def range_rule(value: float, key: Key) -> str:
    """The rule that a number in the key's unit breaks, what it may be meant to be included; "" if it breaks none."""
    if math.isnan(value):
        return "is not a number"
    low_enough = value <= key.high and (math.isfinite(value) or key.infinite)
    if low_enough and (value > key.low if key.above else value >= key.low):
        return ""
    return f"must be {_range_in_words(key)}{_slip(value, key)}"


def _range_in_words(key: Key) -> str:
    unit = f" {key.unit}" if key.unit else ""
    low = f"above {key.low:g}" if key.above else f"at least {key.low:g}"
    if math.isinf(key.high):
        return f"{low}{unit}" + ("" if key.infinite else " and finite")
    return f"{low} and at most {key.high:g}{unit}"


def _slip(value: float, key: Key) -> str:
    """The end of a sentence that says what a number out of a key's range may be; "" where nothing is seen."""
    if key.unit != "mm":
        return other_scale(value) if key.unit == "degC" else ""
    if 0.0 < value <= key.low / _FAR <= 1000.0 * value <= key.high:
        return f"; did you mean metres ({1000.0 * value:g} mm)?"
    if math.isfinite(value) and value >= _FAR * key.high and key.low <= value / 1000.0 <= key.high:
        return f"; did you mean {value / 1000.0:g} mm?"
    return ""
