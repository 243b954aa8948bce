"""One row a container: the first thing that is said of a comparison, on screens, in reports and spreadsheets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from thermsim.assess.curves.heat_penetration import Penetration
from thermsim.assess.measured.doubts.common import ALL_DEPTHS
from thermsim.assess.measured.doubts.explanation import Depth
from thermsim.assess.measured.result import Comparison, Limits, Measured
from thermsim.quantities import DEPTH, DIFFUSIVITY, LENGTH, LETHALITY, NUMBER, TEMPERATURE, TIME, Quantity, minutes
from thermsim.records.words.parts import Table, table


@dataclass(frozen=True)
class Cell:
    """One number of a row, its unit at the head of its column; ``text`` stands where there is no number."""

    name: str
    quantity: Quantity | None
    value: float | None
    text: str = ""

    @property
    def head(self) -> str:
        """Name and unit: "fh [min]"."""
        unit = self.quantity.unit if self.quantity is not None else ""
        return f"{self.name} [{unit}]" if unit else self.name

    @property
    def shown(self) -> float | str:
        """The value at the edge, or the text."""
        if self.value is None or self.quantity is None:
            return self.text
        return round(self.quantity.edge(self.value), 6)


def rows_table(found: Comparison) -> Table:
    """The rows as they are read, lengths in mm, times and lethalities in min."""
    symbol = found.case.lethality.symbol
    heads = (
        "can",
        "no.",
        "tip said, mm",
        "tip found, mm",
        "fh",
        "jh",
        f"{symbol} read",
        f"{symbol} corrected",
        "flags",
    )
    return table(heads, [_row(one, found.plan.limits) for one in found.containers], whole=True)


def _row(one: Measured, limits: Limits) -> Sequence[str]:
    line, depth = one.heating.line, one.depth
    mark = "" if one.factors_stand else " ?"
    # found with nothing else otherwise than said, which is not what explains the curve
    other = "" if one.at_its_depth(limits) or one.flagged("depth-in-doubt", "columns-swapped", ALL_DEPTHS) else " ?"
    return (
        one.name,
        str(one.channel),
        f"{LENGTH.edge(one.insertion):.4g}",
        "-" if depth is None or depth.nowhere else _tip_found(depth) + other,
        "-" if line is None else TIME.number(line.f) + mark,
        "-" if line is None else f"{line.j:.2f}{mark}",
        LETHALITY.number(one.general.lethality) + ("" if one.whole else " by then"),
        corrected_text(one),
        flags_text(one),
    )


def _tip_found(depth: Depth) -> str:
    """The interval of a depth, and what else explains the curve: along a radius a place beyond the axis does."""
    others = "".join(f" or {LENGTH.number(other)}" for other in depth.others)
    return f"{LENGTH.number(depth.low)} to {LENGTH.number(depth.high)}{others}"


def corrected_text(one: Measured) -> str:
    """The corrected lethality with its interval, or that it is refused, or what else it may be."""
    spot = one.corrected
    if spot is None:
        if one.fit is None:
            return "none"
        return (
            "REFUSED" if one.seen is None else f"REFUSED; {minutes(one.seen):.2f} by {minutes(one.time[-1]):.0f} min"
        )
    told = f"{minutes(spot.lethality):.2f} ({minutes(spot.low):.2f} to {minutes(spot.high):.2f})"
    others = [] if one.there is None else [f"{minutes(one.there):.2f} as found"]
    if one.otherwise is not None:
        told, others = f"{minutes(one.otherwise.lethality):.2f} {one.otherwise.words}", [*others, f"{told} if not"]
    return "; ".join([told if one.sound and not others else f"{told} DOUBTFUL", *others])


def flags_text(one: Measured) -> str:
    """All flags in a few words."""
    return "; ".join(flag.short for flag in one.flags) or "-"


def cells_of(one: Measured) -> tuple[Cell, ...]:
    """The row as numbers for a spreadsheet."""
    depth, spot = one.depth, one.corrected
    estimates = {} if one.fit is None else {estimate.name: estimate for estimate in one.fit.estimates}
    start, spread = estimates.get("initial"), estimates.get("diffusivity")

    def line(of: Penetration | None, name: str) -> float | None:
        return None if of is None or of.line is None else float(getattr(of.line, name))

    return (
        Cell("can", None, None, one.name),
        Cell("channel", None, None, str(one.channel)),
        Cell("tip as said", DEPTH, one.insertion),
        *(
            Cell(f"tip found{which}", DEPTH, None if depth is None else getattr(depth, name))
            for which, name in (("", "best"), (", from", "low"), (", to", "high"))
        ),
        Cell("fh", TIME, line(one.heating, "f")),
        Cell("jh", NUMBER, line(one.heating, "j")),
        Cell("fc", TIME, line(one.cooling, "f")),
        Cell("jc", NUMBER, line(one.cooling, "j")),
        Cell("f and j in doubt", None, None, "no" if one.factors_stand else "YES"),
        Cell("diffusivity", DIFFUSIVITY, None if spread is None else spread.value),
        Cell("start", TEMPERATURE, None if start is None else start.value),
        Cell("lethality read", LETHALITY, one.general.lethality),
        *(
            Cell(f"lethality corrected{which}", LETHALITY, None if spot is None else getattr(spot, name))
            for which, name in (("", "lethality"), (", from", "low"), (", to", "high"))
        ),
        Cell("lethality corrected as found", LETHALITY, one.there),
        Cell(
            "lethality corrected if heated until it turned",
            LETHALITY,
            None if one.otherwise is None else one.otherwise.lethality,
        ),
        Cell("lethality up to the last sample", LETHALITY, one.seen),
        Cell("in doubt or refused", None, None, "no" if one.sound and spot is not None else "YES"),
        Cell("flags", None, None, "; ".join(flag.short for flag in one.flags)),
    )
