"""A figure and its uncertainty as text, with no more digits than are known."""

from __future__ import annotations

import math
from decimal import ROUND_CEILING, Decimal


def with_uncertainty(value: float, uncertainty: float, *, least: float, sign: str = "+-") -> str:
    """A value and its uncertainty, both to the same decimal.

    The uncertainty is rounded up to one significant digit, to two where the first is a 1 (rounding 0.11 to 0.2
    would nearly double it) and ``least`` is smaller than the second.

    Parameters
    ----------
    value, uncertainty : float
        In the same unit; the uncertainty >= 0.
    least : float
        The smallest uncertainty worth showing, > 0: a smaller one is shown as this, never as 0.
    sign : str, optional
        What stands between the two.

    Returns
    -------
    str

    Examples
    --------
    >>> with_uncertainty(5.8973, 0.163, least=0.01)
    '5.90 +- 0.17'
    >>> with_uncertainty(106.0, 0.0, least=0.1)
    '106.0 +- 0.1'
    """
    if not (math.isfinite(value) and math.isfinite(uncertainty)):
        return f"{value:g} {sign} {uncertainty:g}"
    # six digits: enough to round up by, few enough to leave rounding errors such as 0.30000000000000004 behind
    shown = Decimal(f"{max(uncertainty, least):.6g}")
    digits = 2 if shown.as_tuple().digits[0] == 1 else 1
    step = Decimal(1).scaleb(max(shown.adjusted() - digits + 1, Decimal(f"{least:.6g}").adjusted()))
    # 0.10 tells no more than 0.1
    shown = shown.quantize(step, rounding=ROUND_CEILING).normalize()
    step = Decimal(1).scaleb(shown.adjusted() - len(shown.as_tuple().digits) + 1)
    # adding 0 turns -0.0 into 0.0
    rounded = Decimal(f"{value:.17g}").quantize(step) + 0
    return f"{rounded:f} {sign} {shown:f}"


def share(part: float) -> str:
    """A part of a whole [-] as per cent, with two digits where it is small."""
    percent = 100.0 * part
    return f"{percent:.0f} %" if percent >= 10.0 else f"{percent:.2g} %"


def least_lethality_step(lethality: float) -> float:
    """The smallest uncertainty of a lethality [min] worth showing [min]: a hundredth of its leading decade.

    Between 0.001 and 0.01 min: differences below do not matter to any process (common practice, no source).
    """
    if not lethality > 0.0:
        return 0.001
    return min(0.01, max(0.001, 10.0 ** (math.floor(math.log10(lethality)) - 2)))
