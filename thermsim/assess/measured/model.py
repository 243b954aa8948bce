"""The container with its probe as a function of what is fitted: product, film coefficients, start, clock and tip."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.curves.fit import Parameter
from thermsim.assess.depth.limits import allowed_depths
from thermsim.assess.fields.family import extrapolated
from thermsim.assess.fields.reading import Course, Reading, reading_along, summed
from thermsim.assess.measured.stem import StemChanges, sensed
from thermsim.case.case import Case
from thermsim.case.process import Film, Process, Stage
from thermsim.errors import InputError
from thermsim.physics.materials import Material
from thermsim.quantities import DEPTH, DIFFUSIVITY, DURATION, NUMBER, SPECIFIC_HEAT, TEMPERATURE, Quantity
from thermsim.solve.march.history import hermite_sum, hermite_weights
from thermsim.text import did_you_mean, plain

Array = NDArray[np.float64]

#: What may be fitted, with its quantity and what it is.
FITTED: Mapping[str, tuple[Quantity, str]] = {
    "diffusivity": (DIFFUSIVITY, "thermal diffusivity k/(rho c) of the product; k changes, rho c stays"),
    "specific-heat": (
        SPECIFIC_HEAT,
        "specific heat of the product; k is kept, or the diffusivity where that is fitted too",
    ),
    "film": (NUMBER, "factor on all film coefficients"),
    "film-side": (NUMBER, "factor on the film coefficients of the side"),
    "film-base": (NUMBER, "factor on the film coefficients of the base"),
    "film-lid": (NUMBER, "factor on the film coefficients of the lid"),
    "initial": (TEMPERATURE, "temperature of the product at the start"),
    "offset": (DURATION, "how far the probe's clock is ahead of the medium's"),
    "tip": (DEPTH, f"insertion of the probe: {DEPTH.long_name}"),
}
#: Ranges of factors, of the start [K] either way, of the clock [s] either way, and of the tip [m] either way.
FACTOR, START, CLOCK, TIP = 4.0, 30.0, 300.0, 5e-3
#: Parameters that readings over diffusivity and depth are known for.
USUAL = ("diffusivity", "initial", "offset")
#: Logarithm of the diffusivity over the case's, start [degC], depth [m], offset [s], times [s]; to readings [degC].
Readings = Callable[[float, float, float, float, Array], Array]
#: Marches that are kept while fitting.
MOST_KEPT = 64


class ProbeModel:
    """Readings of a probe for given values of the fitted parameters.

    Parameters
    ----------
    case : Case
        With its probe, the insertion known.
    process : Process
        What the container went through.
    names : sequence of str
        What is varied, of :data:`FITTED`.
    time : ndarray, shape (n,)
        The samples' times by the probe's clock [s].
    readings : Readings, optional
        Those of the case over diffusivity and depth, from the two coarser grids: they save marches of their own where
        nothing but :data:`USUAL` is varied.
    changes : StemChanges, optional
        Of a stem that is no part of the grid, where some are known already.

    Raises
    ------
    InputError
        If a name is not known, stands twice, or cannot be varied in this case.
    """

    def __init__(
        self,
        case: Case,
        process: Process,
        names: Sequence[str],
        time: Array,
        readings: Readings | None = None,
        changes: StemChanges | None = None,
    ) -> None:
        if case.probe is None or case.probe.depth(case.container) is None:
            raise InputError("the case has no [probe] with its insertion_mm: the reading cannot be computed")
        self.case, self.process, self.names, self.time = case, process, tuple(names), time
        self.correction: Array = np.zeros(time.size)
        self.readings = readings if set(names) <= set(USUAL) else None
        self.changes = changes or StemChanges(case.replace(process=process))
        self._known: dict[tuple[float, ...], tuple[Probed, Probed]] = {}
        self.parameters = tuple(self._parameter(name) for name in check_names(names))

    def _parameter(self, name: str) -> Parameter:
        case, probe = self.case, self.case.probe
        if name == "initial":
            start = case.product.initial
            return Parameter(name, start, start - START, start + START, 0.5)
        if name == "offset":
            return Parameter(name, 0.0, -CLOCK, CLOCK, 5.0)
        if name == "tip" and probe is not None:
            depth, allowed = probe.depth(case.container), allowed_depths(case, probe)
            if depth is None or allowed is None or probe.mount == "inside" or not allowed[0] < depth < allowed[1]:
                raise InputError('"tip" cannot be fitted: only a probe through the wall can sit deeper or less deep')
            return Parameter(name, depth, max(allowed[0], depth - TIP), min(allowed[1], depth + TIP), 0.3e-3)
        if name.startswith("film"):
            surfaces = ("side", "base", "lid") if name == "film" else (name.removeprefix("film-"),)
            held = [part for part in surfaces for stage in self.process.stages if np.isinf(getattr(stage.film, part))]
            if held:
                raise InputError(f'"{name}" cannot be fitted: the film coefficient of the {held[0]} is inf')
            return Parameter(name, 1.0, 1 / FACTOR, FACTOR, 0.1, relative=True)
        material = case.product.material
        start = material.diffusivity if name == "diffusivity" else material.specific_heat
        return Parameter(name, start, start / FACTOR, start * FACTOR, 0.02, relative=True)

    def case_with(self, values: Sequence[float] | Array) -> tuple[Case, float]:
        """The case with these values, its process the measured one; and the clock's offset [s]."""
        given = dict(zip(self.names, map(float, values), strict=True))
        case, material = self.case, self.case.product.material
        spread = given.get("diffusivity", material.diffusivity) / material.diffusivity
        heat = given.get("specific-heat", material.specific_heat) / material.specific_heat
        better = spread * heat if "diffusivity" in given else 1.0
        product = dataclasses.replace(
            case.product,
            material=_changed(material, better, heat),
            initial=given.get("initial", case.product.initial),
            # fitted properties follow from no composition any more
            composition=None if better != 1.0 or heat != 1.0 else case.product.composition,
        )
        factors = {part: given.get("film", 1.0) * given.get(f"film-{part}", 1.0) for part in ("side", "base", "lid")}
        process = Process(
            tuple(dataclasses.replace(stage, film=_times(stage, factors)) for stage in self.process.stages),
            self.process.source,
        )
        probe = case.probe
        if probe is not None and "tip" in given:
            probe = probe.at_depth(given["tip"], case.container)
        return case.replace(product=product, process=process, probe=probe), given.get("offset", 0.0)

    def curve(self, values: Sequence[float] | Array) -> Array:
        """Reading of the probe at the samples' times [degC], from the two coarser grids and the correction."""
        return self._rough(values) + self.correction

    def on_grids(self, values: Sequence[float] | Array, *, finer: bool) -> Reading:
        """The reading extrapolated from the two coarser grids of the family, or from the two finer ones."""
        case, offset = self.case_with(values)
        return reading_of_pair(case, self.time - offset, finer=finer, change=self._change(case, finer=finer))

    def _change(self, case: Case, *, finer: bool) -> Course | None:
        """Change by a stem that is no part of the grid, as deep as the case's."""
        depth = case.probe.depth(case.container) if case.probe else None
        return self.changes.at(float(depth or 0.0), finer=finer)

    def _rough(self, values: Sequence[float] | Array) -> Array:
        """The reading from the two coarser grids [degC]; another offset alone needs no new march."""
        if self.readings is not None and self.case.probe is not None:
            given, product = dict(zip(self.names, map(float, values), strict=True)), self.case.product
            return self.readings(
                math.log(given.get("diffusivity", product.material.diffusivity) / product.material.diffusivity),
                given.get("initial", product.initial),
                float(self.case.probe.depth(self.case.container) or 0.0),
                given.get("offset", 0.0),
                self.time,
            )
        case, offset = self.case_with(values)
        key = tuple(float(value) for name, value in zip(self.names, values, strict=True) if name != "offset")
        if key not in self._known:
            if len(self._known) >= MOST_KEPT:
                self._known.clear()
            self._known[key] = courses_of_pair(case, finer=False, change=self._change(case, finer=False))
        coarse, middle = self._known[key]
        return extrapolated(coarse.at(self.time - offset), middle.at(self.time - offset))

    def settle(self, values: Sequence[float] | Array) -> None:
        """Correct the curves by what the two finer grids differ from the two coarser ones at these values.

        That hardly depends on the values, so what is fitted with it is what the finer grids would give.
        """
        self.correction = self.on_grids(values, finer=True).temperature - self._rough(values)


def check_names(names: Sequence[str]) -> Sequence[str]:
    """The names of what is to be fitted, if they are known and stand once each.

    Raises
    ------
    InputError
    """
    for place, name in enumerate(names):
        if name not in FITTED:
            raise InputError(f'"{plain(name)}" cannot be fitted; {did_you_mean(name, list(FITTED))}')
        if name in names[:place]:
            raise InputError(f'"{name}" is to be fitted twice; name it once')
    films = [name for name in names if name.startswith("film-")]
    if "film" in names and films:
        raise InputError(f'"film" and "{films[0]}" exclude each other: the first varies all surfaces together')
    return names


@dataclass(frozen=True)
class Probed:
    """Reading of a sensor on one grid [degC], and its rate [K/s], at the ``knots`` of the march [s]."""

    knots: Array
    temperature: Array
    rate: Array

    def at(self, time: Array) -> Array:
        """The reading at some times [s]; before the first knot that of the start, after the last that of the end."""
        return hermite_sum(*hermite_weights(self.knots, time), self.temperature, self.rate)


def courses_of_pair(case: Case, *, finer: bool, change: Course | None = None) -> tuple[Probed, Probed]:
    """Readings of the case's probe on two grids of the family, at the knots of their marches.

    ``change`` is what a stem changes of them that is no part of the grids.
    """
    one, other = (
        Probed(course.time, course.temperature, course.rate) for course in _courses(case, finer=finer, change=change)
    )
    return one, other


def _courses(case: Case, *, finer: bool, change: Course | None) -> Iterator[Course]:
    """Readings of the case's sensor on two grids of the family."""
    ((one, other),) = sensed(case, [case.process], finer=finer)
    for course in (one, other):
        yield course if change is None else summed(course, change)


def reading_of_pair(case: Case, time: Array, *, finer: bool, change: Course | None = None) -> Reading:
    """Reading of the case's probe at some times [s], extrapolated from two grids of the family."""
    end = case.process.heated_until
    stacks = [
        reading_along(course, case.lethality, heated_until=end, time=time).stack()
        for course in _courses(case, finer=finer, change=change)
    ]
    return Reading.unstack(extrapolated(*stacks))


def _times(stage: Stage, factors: Mapping[str, float]) -> Film:
    film = stage.film
    return dataclasses.replace(film, **{part: getattr(film, part) * factor for part, factor in factors.items()})


def _changed(material: Material, better: float, heat: float) -> Material:
    """The material conducting and storing so many times better, at every temperature."""
    tabulated = material.tabulated
    if tabulated is not None:
        tabulated = dataclasses.replace(
            tabulated,
            conductivity=tuple(value * better for value in tabulated.conductivity),
            downwards=tuple(value * better for value in tabulated.downwards),
            capacity=tuple(value * heat for value in tabulated.capacity),
        )
    return dataclasses.replace(
        material,
        conductivity=material.conductivity * better,
        specific_heat=material.specific_heat * heat,
        tabulated=tabulated,
    )
