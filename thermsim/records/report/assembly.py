"""The report's tables of the probes that went in: their segments, fitting and gap, and the hardware at hand."""

from __future__ import annotations

from collections.abc import Iterator

from thermsim.assess.simulate.result import Result
from thermsim.case.case import Case
from thermsim.case.probe import Probe, Segment, Stock
from thermsim.physics.materials import Material
from thermsim.records.report.markup import film, plain_mm
from thermsim.records.words.parts import Heading, Part, facts, table

_HEADS = ("part, from outside in", "diameter [mm]", "length [mm]", "material", "wall and core")


def probe_inputs(result: Result) -> Iterator[Part]:
    """The case's probe, those to compare with it, and the hardware at hand, as pieces of a page."""
    case = result.case
    probes = _probes(case)
    for probe in probes:
        kind = "Probe" if probe is case.probe else "To compare"
        yield Heading(f"{kind}: {probe.name}")
        yield facts(_mounting(case, probe, recommended=probe is case.probe and result.advice is not None))
        yield table(_HEADS, [_segment(place, segment) for place, segment in enumerate(probe.segments, 1)])
    if probes and case.stock is not None:
        yield Heading("Hardware at hand")
        yield facts(_stock(case.stock))


def probe_materials(case: Case) -> Iterator[tuple[str, Material]]:
    """Materials of the probes, each material with the name of its probe."""
    for probe in _probes(case):
        for segment in probe.segments:
            yield probe.name, segment.material
            if segment.core is not None:
                yield probe.name, segment.core
        if probe.fitting is not None:
            yield probe.name, probe.fitting.material
        if probe.gap is not None:
            yield probe.name, probe.gap.material


def _probes(case: Case) -> list[Probe]:
    return [probe for probe in (case.probe, *case.probes) if probe is not None]


def _mounting(case: Case, probe: Probe, *, recommended: bool) -> Iterator[tuple[str, str]]:
    if probe.mount == "through":
        yield "Mounting", f"through the {probe.wall}"
    elif probe.entry == "side":
        yield "Mounting", "on the side wall, inside"
    else:
        yield "Mounting", "hangs from the lid, inside" if probe.entry == "lid" else "stands on the base, inside"
    depth = probe.depth(case.container)
    if depth is None:
        yield "Tip", "to be recommended"
    else:
        mark = ", as recommended here" if recommended else ""
        yield "Tip", f"{plain_mm(depth)} mm from the outer face of the {probe.wall}{mark}"
    if probe.entry == "side":
        height = "that of the cold spot" if probe.z is None else f"z = {plain_mm(probe.z)} mm"
        yield "Height of its axis", height
    yield "Sensing length", f"{plain_mm(probe.sensing)} mm" if probe.sensing > 0.0 else "none: the tip's face"
    fitting, gap = probe.fitting, probe.gap
    if fitting is None:
        yield "Fitting", "none"
    else:
        yield (
            "Fitting",
            f"{plain_mm(fitting.diameter)} mm wide, {plain_mm(fitting.inside)} mm inside, "
            f"{plain_mm(fitting.outside)} mm outside, {fitting.material.name}",
        )
    if gap is not None:
        yield "Gap round the stem", f"{plain_mm(gap.thickness)} mm, {gap.material.name}"
    if probe.mount == "through" or (fitting is not None and fitting.outside > 0.0):
        yield (
            "Film of the parts outside",
            "as the process says" if probe.film is None else f"{film(probe.film)} W/m²K",
        )
    yield (
        "Start",
        f"{case.product.initial:g} °C, as the product (default)"
        if probe.initial is None
        else f"{probe.initial:g} °C",
    )


def _segment(place: int, segment: Segment) -> tuple[str, ...]:
    inside = "solid"
    if segment.wall is not None and segment.core is not None:
        inside = f"{plain_mm(segment.wall)} mm, {segment.core.name}"
    return (
        f"{place}, made up of spacers" if segment.spacer else f"{place}",
        plain_mm(segment.diameter),
        plain_mm(segment.length),
        segment.material.name,
        inside,
    )


def _stock(stock: Stock) -> Iterator[tuple[str, str]]:
    if stock.lengths:
        yield "Probes", f"{_listed(stock.lengths)} mm long"
    if stock.travel is not None:
        yield "They may stick out", f"{plain_mm(stock.travel[0])} to {plain_mm(stock.travel[1])} mm of the wall"
    if stock.spacers:
        yield "Spacers", f"{_listed(stock.spacers)} mm high, at most {stock.most_spacers} on each other"


def _listed(lengths: tuple[float, ...]) -> str:
    return ", ".join(plain_mm(length) for length in lengths)
