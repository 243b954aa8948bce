"""A case with some of its numbers changed, by paths of its nouns' attributes: "container.side.thickness".

In SI units and degC. A noun among several is named by its place, "process.stages[1].film.lid". Some paths are no
attributes of their own: what people vary most, "fill.headspace" or "process.hold"; see :data:`WAYS`.
"""

from __future__ import annotations

import dataclasses
import math
import numbers
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from thermsim.case.case import Case, met
from thermsim.case.container import Container
from thermsim.case.keys.paths import Place
from thermsim.case.keys.tables import keys_of
from thermsim.case.process import Film, Process
from thermsim.case.product import Headspace
from thermsim.case.profile import Profile
from thermsim.case.rules import SI_UNITS, key_of
from thermsim.errors import InputError
from thermsim.text import nearest, plain

#: Parts of a case whose numbers are quantities.
PARTS = ("container", "product", "fill_height", "headspace", "process", "lethality", "probe")
#: The tables of keys that say what the numbers of nouns are.
_HEADINGS = {
    "Container": "container",
    "Fitting": "probe.fitting",
    "Film": "film",
    "Gap": "probe.gap",
    "GasGap": "headspace",
    "Lethality": "lethality",
    "Material": "materials",
    "Probe": "probe",
    "Product": "product",
    "Rise": "container",
    "Segment": "probe.segments",
    "Wall": "container.wall",
}
#: What is within other numbers already, and would change nothing.
_WITHIN = {
    "contact": "a label is within the film coefficients already: vary those",
    "hole": "a drilled hole is not computed with",
    "brick": "the enclosing cylinder is computed: vary container.inner_diameter and inner_height",
    "low": "ends of a film's range come with its medium: vary the film",
    "high": "ends of a film's range come with its medium: vary the film",
}
Parts = dict[str, Any]


def _of_profile(container: Container, *, high: float = 1.0, wide: float = 1.0) -> Container:
    """A container whose inside is higher, or wider everywhere, by a factor; its walls stay as thick."""
    corners = tuple((height * high, radius * wide) for height, radius in container.profile.corners)
    return dataclasses.replace(container, profile=Profile(corners, container.profile.rounding))


def _filled(parts: Parts, volume: float) -> float:
    """Depth of a product of a volume [m3]."""
    container: Container = parts["container"]
    try:
        return container.level_of(volume)
    except ValueError as failure:
        raise InputError(f"the fill is too much: {failure}") from None


def _hold_at(process: Process, temperature: float) -> Process:
    """A process whose level hold, and what leads to it and away from it, has another temperature [degC]."""
    if process.hold is None or len({*process.stages[process.hold].medium.tolist()}) != 1:
        raise InputError("the process has no hold at one temperature that could be varied")
    level = process.stages[process.hold].medium[0]
    stages = []
    for place, stage in enumerate(process.stages):
        medium = stage.medium.copy()
        if place == process.hold:
            medium[:] = temperature
        elif place == process.hold - 1 and medium[-1] == level:
            medium[-1] = temperature
        elif place == process.hold + 1 and medium[0] == level:
            medium[0] = temperature
        stages.append(dataclasses.replace(stage, medium=medium))
    return dataclasses.replace(process, stages=tuple(stages))


def _held(process: Process) -> float | None:
    return None if process.hold is None else process.held


def _with_film(parts: Parts, film: float) -> Process:
    """A process with one film coefficient on all surfaces [W/m2K], behind the labels that they have."""
    contacts = parts["container"].contacts
    common = Film.everywhere(film)
    film_there = common.behind(contacts) if any(contacts) else common
    process: Process = parts["process"]
    return process.with_films(lambda _: film_there)


def _film(process: Process) -> float | None:
    """The film coefficient that all surfaces have, if they have one alone [W/m2K]."""
    films = {value for stage in process.stages for value in stage.film.surfaces}
    return films.pop() if len(films) == 1 else None


def _with_hold(process: Process, duration: float) -> Process:
    try:
        return process.with_hold(duration)
    except ValueError as failure:
        raise InputError(str(failure)) from None


#: Paths that are no attributes: unit, what stands there now, and the part that another value gives.
WAYS: Mapping[str, tuple[str, Callable[[Case], float | None], str, Callable[[Parts, float], object]]] = {
    "container.inner_diameter": (
        "m",
        lambda case: 2 * case.container.profile.widest,
        "container",
        lambda parts, value: _of_profile(parts["container"], wide=value / (2 * parts["container"].profile.widest)),
    ),
    "container.inner_height": (
        "m",
        lambda case: case.container.inner_height,
        "container",
        lambda parts, value: _of_profile(parts["container"], high=value / parts["container"].inner_height),
    ),
    "fill.headspace": (
        "m",
        lambda case: case.headspace_height,
        "fill_height",
        lambda parts, value: parts["container"].inner_height - value,
    ),
    "fill.height": ("m", lambda case: case.fill_height, "fill_height", lambda parts, value: value),
    "fill.fraction": (
        "",
        lambda case: case.product_volume / case.container.volume,
        "fill_height",
        lambda parts, value: _filled(parts, value * parts["container"].volume),
    ),
    "fill.mass": (
        "kg",
        lambda case: case.product_volume * case.product.material.density,
        "fill_height",
        lambda parts, value: _filled(parts, value / parts["product"].material.density),
    ),
    "process.hold": (
        "s",
        lambda case: _held(case.process),
        "process",
        lambda parts, value: _with_hold(parts["process"], value),
    ),
    "process.hold_temperature": (
        "degC",
        lambda case: None if case.process.hold is None else float(case.process.stages[case.process.hold].medium[0]),
        "process",
        lambda parts, value: _hold_at(parts["process"], value),
    ),
    "process.film": (
        "W/m2K",
        lambda case: _film(case.process),
        "process",
        lambda parts, value: _with_film(parts, value),
    ),
}


def quantity_at(case: Case, path: str) -> Place:
    """The number of a case that a path leads to, with its SI unit; its trail are the attributes.

    Raises ``InputError`` if there is none, or another value would change nothing; the message offers the nearest
    path.
    """
    if path in WAYS:
        unit, now, *_ = WAYS[path]
        return Place(path, tuple(path.split(".")), unit, now(case))
    known = {place.path: place for place in every_quantity(case)}
    if path in known:
        return known[path]
    last = path.rpartition(".")[2].partition("[")[0]
    if last in _WITHIN:
        raise InputError(f'"{plain(path)}": {_WITHIN[last]}')
    close = nearest(path, [*WAYS, *known], 0.5)
    offer = f'did you mean "{plain(close[0])}"?' if close else f"some that do: {', '.join([*WAYS][:3])}"
    raise InputError(f'"{plain(path)}" leads to no number of this case; {offer}')


def every_quantity(case: Case) -> Iterator[Place]:
    """Every number among the attributes of a case that can be varied."""
    for part in PARTS:
        yield from _within(getattr(case, part), part, (part,), "m")


def _within(node: Any, path: str, trail: tuple[str | int, ...], unit: str) -> Iterator[Place]:
    if isinstance(node, numbers.Real) and not isinstance(node, bool | int):
        yield Place(path, trail, unit, float(node))
    elif isinstance(node, tuple):
        for place, item in enumerate(node):
            yield from _within(item, f"{path}[{place}]", (*trail, place), unit)
    elif dataclasses.is_dataclass(node) and type(node).__name__ in (*_HEADINGS, "Headspace", "Process", "Stage"):
        keys = keys_of(_HEADINGS.get(type(node).__name__, "output"))
        tabulated = getattr(node, "tabulated", None)
        for field in dataclasses.fields(node):
            value, key = getattr(node, field.name), key_of(keys, field.name)
            made = field.name == "thickness" and type(node).__name__ == "GasGap"  # for what is left above the product
            if made or field.name in _WITHIN or field.name in ("bare", "profile") or tabulated is not None:
                continue
            if value is None and key is not None and key.unit:
                yield Place(f"{path}.{field.name}", (*trail, field.name), SI_UNITS.get(key.unit, key.unit), None)
            inner = SI_UNITS.get(key.unit, key.unit) if key is not None else ""
            yield from _within(value, f"{path}.{field.name}", (*trail, field.name), inner)


def with_numbers(case: Case, values: Mapping[str, float]) -> Case:
    """The case with other numbers at some paths, in SI units and degC.

    A container's sizes come first, so that what is said of the fill is said of the new one. A headspace of gas is
    made anew for the height and the temperatures that follow.

    Raises ``InputError`` if a path leads to no number; a ``CaseError`` if what comes out cannot be computed.
    """
    parts: Parts = {part: getattr(case, part) for part in PARTS}
    for path in sorted(values, key=lambda path: path.startswith("fill")):
        value = float(values[path])
        if path in WAYS:
            _, _, part, change = WAYS[path]
            parts[part] = change(parts, value)
        else:
            first, *trail = quantity_at(case, path).trail
            parts[str(first)] = _replaced(parts[str(first)], trail, value)
    gap = parts["headspace"].gap
    if gap is not None:
        left = parts["container"].inner_height - parts["fill_height"]
        ends = met(parts["container"], parts["product"], parts["process"], (parts["probe"], *case.probes))
        if left > 0.0 and not math.isnan(sum(ends)):
            parts["headspace"] = Headspace.of_gas(dataclasses.replace(gap, thickness=left), ends)
    return case.replace(**{name: part for name, part in parts.items() if part is not getattr(case, name)})


def _replaced(node: Any, trail: list[str | int], value: float) -> Any:
    """A noun with a number within it changed."""
    if not trail:
        return value
    step, *onwards = trail
    if isinstance(step, int):
        return tuple(_replaced(item, onwards, value) if k == step else item for k, item in enumerate(node))
    return dataclasses.replace(node, **{step: _replaced(getattr(node, step), onwards, value)})
