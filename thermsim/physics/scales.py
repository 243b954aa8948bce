"""Temperatures that food and its process can have, and the scale that one beyond them was probably meant in."""

from __future__ import annotations

# No food is sterilised outside this; it catches kelvins and degrees Fahrenheit written by mistake.
COLDEST, HOTTEST = -60.0, 200.0


# What a process or a food may well have [degC]; narrower than what is accepted.
_LIKELY = (0.0, 150.0)


def other_scale(value: float) -> str:
    """The end of a sentence on a temperature that is too hot in degC: whether degF or K was meant; "" if neither."""
    scales = {"degF": (value - 32.0) / 1.8, "K": value - 273.15}
    likely = [
        f"{name} ({celsius:.4g} degC)"
        for name, celsius in scales.items()
        if value > HOTTEST and _LIKELY[0] <= celsius <= _LIKELY[1]
    ]
    return f"; did you mean {' or '.join(likely)}?" if likely else ""
