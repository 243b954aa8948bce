"""Sentences about hardware at hand: what to take, how to set it, and how far off the depth is that it gives."""

from __future__ import annotations

from thermsim.assess.probe.advice import Setting
from thermsim.quantities import mm
from thermsim.records.words.figure_text import millimetres
from thermsim.systems import nominal


def fits(setting: Setting, needed: str = "") -> str:
    """Distance of hardware at hand from the recommended depth, and whether that is good."""
    misfit, exact = millimetres(abs(setting.misfit)), round(mm(setting.misfit), 1) == 0.0
    off = f"{misfit} mm too {'deep' if setting.misfit > 0 else 'shallow'}{needed}"
    verdict = ", OUTSIDE THE WINDOW" if not setting.in_window else "" if exact else ", in the window"
    return f"{'as recommended' if exact else off}{verdict}"


def spacers_needed(setting: Setting) -> str:
    """Height of spacers that would bring the tip to the recommended depth, as " (60.3 mm needed)"."""
    needed = sum(setting.spacers) - setting.misfit
    return "" if setting.length is not None or needed < 0.0 else f" ({millimetres(needed)} mm of spacers needed)"


def hardware(setting: Setting, wall: str) -> str:
    """Probe to take and length to measure with calipers, or spacers to stack."""
    if setting.length is not None and setting.stick_out is not None:
        return f"{nominal(setting.length)} probe, {millimetres(setting.stick_out)} mm out of the {wall} by calipers"
    return f"spacers {_stack(setting)}" if setting.spacers else "no spacer"


def shortly(setting: Setting | None) -> str:
    """The probe's length and how far it sticks out, or the spacers."""
    if setting is None:
        return "none"
    if setting.length is not None and setting.stick_out is not None:
        return f"{nominal(setting.length)}, {millimetres(setting.stick_out)} mm out"
    return _stack(setting)


def _stack(setting: Setting) -> str:
    heights = " + ".join(f"{mm(height):g}" for height in setting.spacers)
    return f"{heights} mm" if heights else "no spacer"
