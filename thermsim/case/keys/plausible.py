"""What a number out of its range was probably meant to be: metres for millimetres, another scale of temperature."""

from __future__ import annotations

from thermsim.case.keys.key import Key
from thermsim.physics.scales import other_scale

# A length nearer to its lower limit than this part of it may just be too small.
_WELL_BELOW = 0.5


def slip(value: float, key: Key) -> str:
    """The end of a sentence that says what a number out of a key's range may be; "" where nothing is seen."""
    if key.unit == "mm" and 0.0 < value <= _WELL_BELOW * key.low <= 1000.0 * value <= key.high:
        return f"; did you mean metres ({1000.0 * value:g} mm)?"
    return other_scale(value) if key.unit == "degC" else ""
