"""Random compositions that the tests of properties vary."""

from __future__ import annotations

import math

from hypothesis import strategies as st

from thermsim.physics.composition import Composition
from thermsim.physics.mixing import RULES

MEAT = Composition(water=0.72, protein=0.21, fat=0.05, ash=0.02)
DRY = ("protein", "fat", "carbohydrate", "fibre", "ash")
RULE_NAMES = sorted(RULES)


@st.composite
def compositions(draw, wettest=0.99, driest=0.01, ice=False):
    """Random mass fractions that add up to 1; with ice and unfrozen water, or with water alone."""
    water = draw(st.floats(driest, wettest))
    frozen = draw(st.floats(0.01, 0.99)) * water if ice else 0.0
    parts = [draw(st.floats(0.0, 1.0)) for _ in DRY]
    total = math.fsum(parts)
    shares = [part / total for part in parts] if total > 1e-6 else [0.2] * len(DRY)
    rest = {name: (1.0 - water) * share for name, share in zip(DRY, shares, strict=True)}
    return Composition(water=water - frozen, ice=frozen, **rest)
