"""The report's tables of results, each figure with its numerical uncertainty."""

from __future__ import annotations

from collections.abc import Iterator

from thermsim.assess.simulate.result import Result
from thermsim.quantities import LENGTH, PART, TIME, Quantity, mm, percent
from thermsim.records.report.markup import typeset
from thermsim.records.words.figure_text import figure
from thermsim.records.words.parts import Facts, Heading, Part, facts, table

LEAST, SLOWEST = "cold_spot.least_lethality", "cold_spot.slowest_heating"
_HAPPENS = ("lethality", "heating_lethality", "end_of_heating")


def shown(result: Result, name: str) -> str:
    """A figure by its dotted name, as "5.90 ± 0.01 min", in one piece."""
    return typeset(figure(result, name))


def happening(result: Result) -> tuple[str, str, str]:
    """Heads of what happens at a place."""
    symbol = result.case.lethality.symbol
    return f"{symbol}, whole process", f"{symbol} until heating ends", "T when heating ends"


def result_parts(result: Result) -> tuple[Part, ...]:
    """Tables of both cold spots, all minima, the cold zone, the arrivals and the points."""
    heads = ("", "r", "z", *happening(result))
    places = [("least lethality", LEAST), ("slowest heating", SLOWEST)]
    parts: list[Part] = [
        *_brick(result),
        Heading("The two cold spots" + ("" if result.brick is None else " of the cylinder round the brick")),
        table(
            (*heads, "below the container's top"),
            [(*_row(result, *place), _below_top(result, place[1])) for place in places],
        ),
    ]
    minima = [
        (
            *_row(result, f"{k + 1}", f"cold_spot.minima.{k}"),
            "inside" if spot.inside else "on a surface",
        )
        for k, spot in enumerate(result.cold_spot.minima)
    ]
    parts += [Heading("All local minima of the lethality, lowest first"), table((*heads, "where"), minima)]
    parts += [Heading("The cold zone"), _zone(result)]
    if result.cold_spot.arrivals:
        parts += [Heading("Arrivals at the place of least lethality"), facts(_arrivals(result))]
    if result.points:
        rows = [_row(result, curve.name, f"points.{k}") for k, curve in enumerate(result.points)]
        parts += [Heading("Places that the case names"), table(heads, rows)]
    return tuple(parts)


def _brick(result: Result) -> list[Part]:
    """Both cold spots of a brick itself."""
    if result.brick is None:
        return []
    heads = ("", "x from the middle", "y from the middle", "z", *happening(result))
    rows = [
        (label, *(shown(result, f"brick.{name}.{one}") for one in ("x", "y", "z", *_HAPPENS)))
        for label, name in (("least lethality", "least_lethality"), ("slowest heating", "slowest_heating"))
    ]
    return [Heading("The two cold spots of the brick"), table(heads, rows)]


def _row(result: Result, label: str, name: str) -> tuple[str, ...]:
    return label, *(shown(result, f"{name}.{figure}") for figure in ("r", "z", *_HAPPENS))


def _below_top(result: Result, name: str) -> str:
    spot = getattr(result.cold_spot, name.rpartition(".")[2])
    return f"{mm(result.case.container.outer_height - spot.z):.1f} mm"


def _zone(result: Result) -> Facts:
    zone = result.cold_spot.zone

    def bound(name: str, of: Quantity = LENGTH) -> str:
        return of.text(getattr(zone, name), result.uncertainty[f"cold_spot.zone.{name}"]).replace("+-", "±")

    return facts(
        [
            (
                "What it is",
                f"at most {percent(zone.margin):g} % more lethality than the least, connected to that place",
            ),
            ("r", f"{bound('r_low')} to {bound('r_high')}"),
            ("z", f"{bound('z_low')} to {bound('z_high')}"),
            ("Share of the product's volume", bound("part", PART)),
        ]
    )


def _arrivals(result: Result) -> Iterator[tuple[str, str]]:
    for k, (temperature, time) in enumerate(result.cold_spot.arrivals):
        unsure = result.uncertainty.get(f"cold_spot.arrivals.{k}")
        if time is None:
            text = "not reached"
        elif unsure is None:
            text = f"{TIME.text(time)} (a coarser computation does not reach it)"
        else:
            text = TIME.text(time, unsure).replace("+-", "±")
        yield f"{temperature:g} °C", text
