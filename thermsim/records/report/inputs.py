"""The report's tables of what went in: container, materials, fill, process, lethality, accuracy."""

from __future__ import annotations

from collections.abc import Iterator

from thermsim.assess.simulate.result import Result
from thermsim.case.case import Accuracy, Case, Lethality
from thermsim.case.container import Container
from thermsim.case.process import Stage
from thermsim.quantities import MASS, VOLUME, minutes, percent
from thermsim.records.numbers.geometry import inner_diameters, product_mass, side_thickness
from thermsim.records.report.assembly import probe_inputs
from thermsim.records.report.markup import film, plain_mm
from thermsim.records.report.substances import substance_tables
from thermsim.records.words.geometry import diameters_text, displacement_note, thickness_text
from thermsim.records.words.parts import Heading, Part, facts, paragraphs, table


def input_parts(result: Result) -> tuple[Part, ...]:
    """Tables of everything that the user said, defaults marked as such."""
    case = result.case
    stages = ("stage", "from [min]", "to [min]", "medium [°C]", "film side", "film base", "film lid")
    of_probe = any(stage.film.probe is not None for stage in case.process.stages)
    parts = [
        Heading("Container and fill"),
        facts(_container(case)),
        *_profile(case.container),
        *substance_tables(case),
        *probe_inputs(result),
        Heading("Process"),
        paragraphs([f"Medium from: {case.process.source}. Heat-transfer (film) coefficients in W/m²K, labels "
                    "included; ∞: surface at the medium's temperature; in brackets what is usual, where a medium's "
                    "name stands for them.",
                    f"Heating ends after {minutes(case.process.heated_until):g} min."], small=True),
        table(
            (*stages, "film probe") if of_probe else stages,
            [(*_stage(stage), *_film_of_probe(stage, of_probe)) for stage in case.process.stages],
        ),
        Heading("Lethality and accuracy"),
        facts(_wanted(result)),
    ]  # fmt: skip
    return tuple(parts)


def _container(case: Case) -> Iterator[tuple[str, str]]:
    container = case.container
    if container.is_straight:
        yield (
            "Inner diameter, inner height",
            f"{plain_mm(inner_diameters(container).widest)} × {plain_mm(container.inner_height)} mm",
        )
    else:
        yield "Inner diameter", diameters_text(container)
        yield "Inner height", f"{plain_mm(container.inner_height)} mm"
    if container.rise is not None:
        yield (
            "Rise of the base",
            f"{plain_mm(container.rise.height)} mm on the axis, {plain_mm(container.rise.diameter)} mm across, a "
            f"{container.rise.form}",
        )
    yield "Inner volume", VOLUME.text(container.volume)
    side = side_thickness(container)
    for name, wall, thickness in (
        ("Lid", container.lid, None),
        ("Side wall", container.side, side),
        ("Base", container.base, None),
    ):
        least, largest = thickness or (2 * (wall.thickness,) if wall else (0.0, 0.0))
        label = f", behind a label or sleeve of {wall.contact:g} m²K/W" if wall and wall.contact else ""
        yield name, "none" if wall is None else f"{wall.material.name}, {thickness_text(least, largest)} mm{label}"
    if container.initial is not None:
        yield "Walls at the start", f"{container.initial:g} °C"
    yield "Product", f"{case.product.material.name}, {case.product.initial:g} °C at the start"
    part = percent(case.product_volume / container.volume)
    yield (
        "Fill",
        f"{plain_mm(case.fill_height)} mm high, {VOLUME.text(case.product_volume)}, {MASS.text(product_mass(case))} "
        f"({part:.1f} % of the inner volume)"
        f"{displacement_note(case)}",
    )
    if container.rise is not None:
        yield "Depth on the axis", f"{plain_mm(case.fill_height - container.crown)} mm"
    if case.headspace_height > 0.0:
        inside = (
            "no heat crosses it (insulated)"
            if case.headspace.material is None
            else case.headspace.material.name
            if case.headspace.gap is not None
            else f"{case.headspace.material.name}, as a solid of that conductivity"
        )
        yield (
            "Headspace",
            f"{plain_mm(case.headspace_height)} mm, {VOLUME.text(case.headspace_volume)} for vacuum or gas; {inside}",
        )
    else:
        yield "Headspace", "none"


def _profile(container: Container) -> Iterator[Part]:
    """The corners of a shaped container's inside, as pieces of a page."""
    profile, side = container.profile, container.side
    if container.is_straight:
        return
    heads = ["height above the base [mm]", "inner diameter [mm]"]
    columns = [
        [plain_mm(height) for height, _ in profile.corners],
        [plain_mm(2.0 * radius) for _, radius in profile.corners],
    ]
    if side is not None and side.course:
        heads.append("side wall [mm]")
        columns.append([plain_mm(thickness) for thickness in side.course])
    yield Heading("Corners of the inside")
    if profile.rounding > 0.0:
        yield paragraphs([f"Those between the ends are rounded to {plain_mm(profile.rounding)} mm."], small=True)
    yield table(heads, zip(*columns, strict=True))


def _stage(stage: Stage) -> tuple[str, ...]:
    medium = f"{stage.medium[0]:g} to {stage.medium[-1]:g}"
    if stage.medium[0] == stage.medium[-1]:
        medium = f"{stage.medium[0]:g}"
    if stage.time.size > 2:
        medium = f"{stage.time.size} values, {stage.medium.min():.1f} to {stage.medium.max():.1f}"
    ends = zip(stage.film.low, stage.film.high, strict=True) if stage.film.low and stage.film.high else ()
    between = [f" ({film(low)} to {film(high)})" for low, high in ends] or ["", "", ""]
    films = zip((stage.film.side, stage.film.base, stage.film.lid), between, strict=True)
    return (
        stage.name,
        f"{minutes(stage.start):g}",
        f"{minutes(stage.end):g}",
        medium,
        *(f"{film(one)}{range_}" for one, range_ in films),
    )


def _film_of_probe(stage: Stage, given: bool) -> tuple[str, ...]:
    """The film coefficient of the probe's parts outside, if any stage has one of its own."""
    if not given:
        return ()
    return ("as the wall",) if stage.film.probe is None else (film(stage.film.probe),)


def _wanted(result: Result) -> Iterator[tuple[str, str]]:
    case, lethality, accuracy, usual = result.case, result.case.lethality, result.case.accuracy, Accuracy()
    yield "Lethality", f"reference temperature {lethality.reference_text} °C, z = {lethality.z_text} K"
    yield "Target", "none" if lethality.target is None else f"{minutes(lethality.target):g} min"
    yield "Margin of the cold zone", _marked(f"{percent(lethality.zone):g} %", lethality.zone == Lethality.zone)
    yield "Accuracy: temperature", _marked(f"{accuracy.temperature:g} K", accuracy.temperature == usual.temperature)
    yield "Accuracy: lethality", _marked(f"{percent(accuracy.lethality):g} %", accuracy.lethality == usual.lethality)
    yield "Accuracy: place", _marked(f"{plain_mm(accuracy.place)} mm", accuracy.place == usual.place)
    step = float(result.time[1] - result.time[0]) if case.output_every is None else case.output_every
    yield "Temperatures kept every", _marked(f"{minutes(step):g} min", case.output_every is None)


def _marked(text: str, default: bool) -> str:
    return f"{text} (default)" if default else text
