"""What a number out of its range was probably meant to be: metres for millimetres, another scale of temperature."""

from __future__ import annotations

from thermsim.case.key import HOTTEST, Key

# What a process or a food may well have [degC]; narrower than what is accepted.
_LIKELY = (0.0, 150.0)
# A length nearer to its lower limit than this part of it may just be too small.
_WELL_BELOW = 0.5


def slip(value: float, key: Key) -> str:
    """The end of a sentence that says what a number out of a key's range may be; "" where nothing is seen."""
    if key.unit == "mm" and 0.0 < value <= _WELL_BELOW * key.low <= 1000.0 * value <= key.high:
        return f"; did you mean metres ({1000.0 * value:g} mm)?"
    return other_scale(value) if key.unit == "degC" else ""


def other_scale(value: float) -> str:
    """Like :func:`slip`, for a temperature that is too hot in degC: degF or K."""
    scales = {"degF": (value - 32.0) / 1.8, "K": value - 273.15}
    likely = [
        f"{name} ({celsius:.4g} degC)"
        for name, celsius in scales.items()
        if value > HOTTEST and _LIKELY[0] <= celsius <= _LIKELY[1]
    ]
    return f"; did you mean {' or '.join(likely)}?" if likely else ""
