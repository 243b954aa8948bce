"""The unsafe side: a reading above the least that the product gets without the probe. The rule for every screen.

Whoever reads a record credits its lethality to the coldest food. So what counts is the lethality that is read against
the least of the product without the probe, of the whole process or until heating ends: errors of heating and of
cooling may cancel in the whole, and do not for another hold. That a stem warms its tip is unsafe only where the
reading is above that, by more than it is uncertain by; where the place chosen makes up for it, a caution says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.probe.effect import ProbeEffect
from thermsim.notice import Notice

#: An over-reading from which it is spoken of (a fraction).
NOTABLE = 0.02
#: The notice of a reading above the cold spot.
UNSAFE = "probe-unsafe-side"


def above(over: float | NDArray[np.float64], uncertainty: float | NDArray[np.float64] = 0.0) -> NDArray[np.bool_]:
    """Tell whether readings are notably above what they are held against, and by more than they are uncertain by.

    Parameters
    ----------
    over, uncertainty : float or ndarray
        What is read more, a fraction of what it is held against, and its uncertainty.
    """
    return np.asarray(over) > np.maximum(NOTABLE, uncertainty)


@dataclass(frozen=True)
class Excess:
    """Lethality of a reading beyond the least of the product without the probe, as fractions of that.

    ``heating`` until heating ends, ``whole`` of the whole process, each with its uncertainty.
    """

    heating: float
    whole: float
    heating_uncertainty: float = 0.0
    whole_uncertainty: float = 0.0

    @property
    def unsafe(self) -> bool:
        """True where either is above the cold spot."""
        return bool(above(self.heating, self.heating_uncertainty) or above(self.whole, self.whole_uncertainty))

    @property
    def text(self) -> str:
        """Both in words, as "+8.7 % until heating ends, +7.5 % in all"."""
        return f"{100 * self.heating:+z.1f} % until heating ends, {100 * self.whole:+z.1f} % in all"

    @property
    def most(self) -> str:
        """The same of the most that several have: a phase in which none is above its cold spot is left out."""
        phases = (self.heating, "until heating ends"), (self.whole, "in all")
        return ", ".join(f"{100 * over:+.1f} % {phase}" for over, phase in phases if over > 0.0)

    def said(self, where: str = "") -> str:
        """That the reading is on the unsafe side, and where, as ", set to 35.0 mm"."""
        return f"UNSAFE SIDE{where}: the probe reads more lethality than the cold spot gets without it: {self.text}"


def excess_of(effect: ProbeEffect, uncertainty: Mapping[str, float]) -> Excess:
    """Excess of a probe's reading, with what the figures of its result are uncertain by."""
    one, name = effect.at_cold_spot, "probe.at_cold_spot"
    return Excess(
        one.heating_lethality,
        one.lethality,
        uncertainty[f"{name}.heating_lethality"],
        uncertainty[f"{name}.lethality"],
    )


def reads_high(effect: ProbeEffect, uncertainty: Mapping[str, float]) -> Notice | None:
    """Say loudly when the probe reads on the unsafe side, and as a caution when only its place keeps it from that."""
    excess, own = excess_of(effect, uncertainty), effect.at_place
    figures = {
        "heating_over_reading": excess.heating,
        "over_reading": excess.whole,
        "heating_bias": own.heating_lethality,
        "end_of_heating_bias": own.end_of_heating,
    }
    if excess.unsafe:
        text = (
            f"{excess.said()}. Its stem changes what is read there by {100 * own.heating_lethality:+z.0f} % until "
            f"heating ends, {own.end_of_heating:+z.1f} K when it ends. Uncorrected, its record credits heat that the "
            f"coldest product did not get.{_better_mounting(effect)}"
        )
        return Notice(UNSAFE, "danger", "probe", text, figures, f"{excess.said()}.")
    if own.heating_lethality <= NOTABLE:
        return None
    above_it = "not" if max(excess.heating, excess.whole) <= 0.0 else "hardly"
    brief = (
        f"The stem warms its tip by {own.end_of_heating:z.1f} K when heating ends; the reading is still {above_it} "
        f"above the cold spot: {excess.text}."
    )
    text = (
        f"{brief} The place of the tip makes up for the {100 * own.heating_lethality:.0f} % of lethality that the "
        "stem adds until heating ends: in another process, or at another depth, it need not."
    )
    return Notice("stem-made-up-for", "warning", "probe", text, figures, brief, pressing=True)


def _better_mounting(effect: ProbeEffect) -> str:
    """Advice on what reads less wrong than a body that displaces product and stores heat."""
    if effect.probe.mount == "through":
        return ""
    return (
        " A body in the product stores heat and displaces product: a thin stem through the wall, a longer or less "
        "conducting stem in front of the body, or the body outside the cold zone reads less wrong."
    )
