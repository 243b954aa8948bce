"""Values that are allowed but unlikely, questioned in words, with the slip of the pen that would explain them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from thermsim.case.case import Case
from thermsim.case.keys.tables import keys_of
from thermsim.notice import Notice
from thermsim.physics.convection import GIVEN

#: The code of the notices: they speak of both systems of units, and stay as they are whatever a screen is in.
CODE = "implausible-value"
STAGE_CODE = "implausible-stage"
#: A medium that goes the other way than its stage's name says by more than this is questioned [K].
OTHER_WAY = 5.0
#: So is a cooling in which it stays within that of what it was for longer than this [s]; looked at so many times.
STILL_HOT, LOOKED_AT = 300.0, 2001
#: A container whose product stands lower than this part of its height is questioned (common practice, no source).
HALF_FULL = 0.5
#: So is a straight taper whose base is wider than its top by more than this part, and a gas that was sealed at a
#: temperature further than this from the product's [K].
TAPERS, SEALED = 0.02, 25.0
#: Hotter is no medium [degC] (common practice, no source).
HOTTEST_USUAL = 150.0
#: So is a lethal rate at the medium's highest temperature below this.
COUNTS = 0.01
#: And a stage that lasts longer [min], and a viscosity above this [Pa s]: it decides that a product does not flow.
LONGEST, THICK = 300.0, 5000.0
#: Walls of what conducts more than the first [W/mK] are metal, less than the second plastic; how thick each usually
#: is at most [mm], and all else (common practice, no source).
METAL, PLASTIC = 10.0, 0.6
THICKEST = {"metal": 2.5, "plastic": 5.0, "": 15.0}
#: A specific heat [J/kgK] above which a food is mostly water, which conducts well (computed: three parts of water).
WATERY = 3300.0


@dataclass(frozen=True)
class Doubt:
    """A value that is to lie where such values usually do (common practice, no source).

    ``what`` is its name with its article, ``value`` is in the unit inside; ``heading`` and ``name`` are its key, in
    whose unit what is usual reaches from ``low`` to ``high``. ``also`` are units that are written by mistake, and how
    many of the key's unit one of them is; ``why`` says what makes it unusual here, "" where it always is.
    """

    what: str
    value: float
    heading: str
    name: str
    low: float
    high: float
    also: tuple[tuple[str, float], ...] = ()
    why: str = ""

    def notice(self) -> Notice | None:
        """The question, if there is one."""
        key = keys_of(self.heading)[self.name]
        shown = key.quantity.edge(self.value)
        if not math.isfinite(shown) or self.low <= shown <= self.high:
            return None
        unit = f" {key.unit}"
        usual = f"{self.low:g} to {self.high:g}{unit} is usual{self.why} (common practice, no source)"
        slips = list(self._slips(shown))
        guess = f" Is it a slip? {' Or: '.join(slips)}" if slips else " Check it, and the unit in its key."
        return Notice(
            CODE,
            "warning",
            "input",
            f"CHECK THE INPUT: {self.what} of {_number(shown)}{unit} is questionable: {usual}.{guess}",
            {self.name.rpartition("_")[0] or self.name: self.value},
            pressing=True,
        )

    def _slips(self, shown: float) -> Iterator[str]:
        """Likely meaning: the number that was written, in another unit."""
        key = keys_of(self.heading)[self.name]
        for other in key.others[:1]:
            meant = key.quantity.edge(other.quantity.si_value(shown))
            if self.low <= meant <= self.high and _decimals(shown) <= 3:
                number = _number(shown)
                yield f"{number} {other.unit} would be {meant:.4g} {key.unit}: write {other.name} = {number}."
            written = other.quantity.edge(self.value)
            if self.low <= written <= self.high and _decimals(written) <= min(3, _decimals(shown)):
                yield f"If {written:.4g} {key.unit} was meant, write {key.name} = {written:.4g}."
        for unit, times in self.also:
            meant = shown * times
            if self.low <= meant <= self.high:
                yield f"{shown:.4g} {unit} would be {meant:.4g} {key.unit}: write {key.name} = {meant:.4g}."


def doubts(case: Case) -> tuple[Notice, ...]:
    """Doubts about a case."""
    found = (doubt.notice() for doubt in (*_container(case), *_product(case), *_process(case)))
    told = [notice for notice in found if notice is not None]
    for ask in (_fill, _taper, _bare, _sealed, _reference, _stages):
        told += ask(case)
    return tuple(told)


def _fill(case: Case) -> Iterator[Notice]:
    """A container that is less than half full."""
    part = case.fill_height / case.container.inner_height
    if part < HALF_FULL:
        text = (
            f"CHECK THE INPUT: the product stands {1e3 * case.fill_height:.4g} mm high, {100.0 * part:.0f} % of the "
            f"container's height; {100.0 * HALF_FULL:.0f} to 100 % is usual (common practice, no source). Check "
            "[fill], and the unit in its key."
        )
        yield Notice("implausible-fill", "warning", "input", text, {"part": part}, pressing=True)


def _taper(case: Case) -> Iterator[Notice]:
    """A straight taper that is wider at the base than at the top, as no tub is that is stacked or turned out."""
    profile = case.container.profile
    base, top = profile.corners[0][1], profile.corners[-1][1]
    if len(profile.corners) > 2 or base <= (1.0 + TAPERS) * top:
        return
    text = (
        f"CHECK THE INPUT: the container is {2e3 * base:.4g} mm wide at its base and {2e3 * top:.4g} mm at its top. "
        "A tub is wider at the top (common practice, no source): is it the right way up? The number at the base is "
        "the first."
    )
    yield Notice("implausible-taper", "warning", "input", text, {"base": 2.0 * base, "top": 2.0 * top}, pressing=True)


def _bare(case: Case) -> Iterator[Notice]:
    """A container some of whose walls are given, and some left out: what is behind those meets the medium."""
    given = case.container.walls
    # lids are thin, and often left out on purpose
    bare = [name for name in ("side", "base") if name not in given]
    if not given or not bare:
        return
    names = " and ".join(bare)
    text = (
        f"CHECK THE INPUT: {' and '.join(given)} {'has a wall' if len(given) == 1 else 'have walls'}, {names} none: "
        f"what is behind meets the medium itself. Is {names} left out by mistake?"
    )
    yield Notice("implausible-walls", "warning", "input", text, {"walls": float(len(given))}, pressing=True)


def _sealed(case: Case) -> Iterator[Notice]:
    """A headspace that was closed at quite another temperature than its product has at the start."""
    gap, start = case.headspace.gap, case.product.initial
    if gap is None or gap.sealed_at is None or abs(gap.sealed_at - start) <= SEALED:
        return
    off = f"{abs(gap.sealed_at - start):.3g} K {'hotter' if gap.sealed_at > start else 'colder'}"
    text = (
        f"CHECK THE INPUT: the gas was sealed at {gap.sealed_at:.4g} degC, {off} than the product is at the start, "
        f"{start:.4g} degC; its pressure and what it carries go by that. Is it so, as after a wait between closing "
        "and heating, or is one of the two a slip?"
    )
    yield Notice(
        "implausible-gas", "warning", "input", text, {"sealed": gap.sealed_at, "start": start}, pressing=True
    )


def _reference(case: Case) -> Iterator[Notice]:
    """A reference temperature so far above the medium that next to no lethality is counted."""
    terms, hottest = case.lethality, case.process.medium_range[1]
    rate = 10.0 ** ((hottest - terms.reference) / terms.z)
    if rate < COUNTS:
        text = (
            f"CHECK THE INPUT: at the medium's highest {hottest:.4g} degC a minute counts as {rate:.1g} min at the "
            f"reference temperature of {terms.reference:.4g} degC. Is that, or z, of another process?"
        )
        yield Notice("implausible-reference", "warning", "input", text, {"rate": rate}, pressing=True)


def _stages(case: Case) -> Iterator[Notice]:
    """Stages whose medium goes the other way than their name says, and a cooling that begins while it stays hot."""
    process = case.process
    for number, stage in enumerate(process.stages, 1):
        first, last = float(stage.medium[0]), float(stage.medium[-1])
        falls, cools = first - last, stage.name == "cool"
        if (falls if not cools else -falls) <= OTHER_WAY:
            continue
        text = (
            f'CHECK THE INPUT: stage no. {number} "{stage.name}" {"rises" if cools else "falls"} from {first:.4g} to '
            f"{last:.4g} degC. "
            + ("Does it heat?" if cools else 'Is it a "cool"? What is no cooling counts as heating, in all figures.')
        )
        written = keys_of("process.stage")["to_C"].others[0].quantity.edge(last)
        if first < written <= HOTTEST_USUAL and _decimals(written) <= _decimals(last):
            text += f" If {written:.4g} degC was meant, write to_C = {written:.4g}."
        yield Notice(STAGE_CODE, "warning", "input", text, {"first": first, "last": last}, pressing=True)
    begins = process.heated_until
    if begins >= process.end:
        return
    hot = float(process.medium_at(np.array([begins * (1.0 - 1e-9)]))[0])
    later = np.linspace(begins, process.end, LOOKED_AT)
    cooler = later[process.medium_at(later) < hot - OTHER_WAY]
    left = float(cooler[0]) if cooler.size else process.end
    if left - begins > STILL_HOT and hot > process.medium_range[1] - OTHER_WAY:
        text = (
            f"CHECK THE INPUT: cooling is said to begin at {begins / 60:.4g} min, but the medium stays within "
            f"{OTHER_WAY:g} K of its {hot:.4g} degC until {left / 60:.4g} min. The required hold rests on it."
        )
        yield Notice(STAGE_CODE, "warning", "input", text, {"begins": begins, "left": left}, pressing=True)


def _container(case: Case) -> Iterator[Doubt]:
    container = case.container
    wide, high = 2 * container.profile.widest, container.inner_height
    cm, um = (("cm", 10.0),), (("um", 1e-3),)
    yield Doubt("an inner diameter", wide, "container", "inner_diameter_mm", 20.0, 500.0, cm)
    yield Doubt("an inner height", high, "container", "inner_height_mm", 8.0, 600.0, cm)
    for name, wall in container.walls.items():
        conducts = wall.material.conductivity
        kind = "metal" if conducts > METAL else "plastic" if conducts < PLASTIC else ""
        what, of = f"a thickness of the {name}", f" of {kind}" if kind else ""
        yield Doubt(what, wall.thickness, "container.wall", "thickness_mm", 0.05, THICKEST[kind], um, of)
    if case.headspace_height > 0.0:
        yield Doubt("a headspace", case.headspace_height, "fill", "headspace_mm", 0.5, 600.0)


def _product(case: Case) -> Iterator[Doubt]:
    product, material = case.product, case.product.material
    why = " of what is not frozen: thawing takes heat that is not computed, and true lethalities would be lower"
    yield Doubt("a product's temperature at the start", product.initial, "product", "initial_C", -2.0, 100.0, (), why)
    flow = product.flow
    if flow is not None and flow.viscosity.source == GIVEN:
        yield Doubt("a viscosity", flow.viscosity.thickest, "product", "viscosity_Pa_s", 0.0, THICK)
    if product.composition is not None:
        return
    watery = material.specific_heat >= WATERY
    why = f" beside a food of {material.specific_heat:.4g} J/kgK, mostly water" if watery else " of a food"
    low = 0.40 if watery else 0.08
    yield Doubt("a conductivity", material.conductivity, "materials", "conductivity_W_mK", low, 0.75, (), why)
    g_cm3 = (("g/cm3", 1000.0),)
    yield Doubt("a density", material.density, "materials", "density_kg_m3", 250.0, 1500.0, g_cm3, " of a food")
    kj = (("kJ/kgK", 1000.0),)
    heat = "a specific heat", material.specific_heat, "materials", "specific_heat_J_kgK"
    yield Doubt(*heat, 1200.0, 4400.0, kj, " of a food")


def _process(case: Case) -> Iterator[Doubt]:
    terms, process = case.lethality, case.process
    yield Doubt("a z", terms.z, "lethality", "z_C", 6.4, 13.0, (), " of microorganisms that heat is to kill")
    yield Doubt("a reference temperature", terms.reference, "lethality", "reference_C", 55.0, 150.0)
    if terms.target is not None:
        yield Doubt("a target", terms.target, "lethality", "target_min", 0.0, 200.0, (("s", 1 / 60),))
    for number, stage in enumerate(process.stages if not process.recorded else (), 1):
        what, seconds = f'stage no. {number} "{stage.name}"', (("s", 1 / 60),)
        yield Doubt(what, stage.end - stage.start, "process.stage", "minutes", 0.0, LONGEST, seconds)
    start = float(process.medium_at(np.zeros(1))[0])
    if abs(start - case.product.initial) > OTHER_WAY:
        yield Doubt("a medium's temperature at the start", start, "process", "start_C", 5.0, 150.0)
    cooling = [stage.medium for stage in process.stages if stage.name == "cool"]
    coldest = min((float(medium.min()) for medium in cooling), default=math.inf)
    if cooling and coldest < cooling[0][0] - OTHER_WAY:
        yield Doubt("a lowest temperature of the cooling medium", coldest, "process.stage", "to_C", 0.5, 60.0)
    yield Doubt("a highest medium temperature", process.medium_range[1], "process.stage", "to_C", 60.0, HOTTEST_USUAL)
    heating = [stage.film for stage in process.stages if stage.start < process.heated_until]
    films = {value for film in heating if film.low is None for value in film.bare or film.surfaces}
    kw = (("kW/m2K", 1000.0),)
    for film in sorted(films):
        yield Doubt("a heat-transfer coefficient while heating", film, "process", "film_W_m2K", 10.0, 25_000.0, kw)


def _number(value: float) -> str:
    """Four digits, or all before the point."""
    return f"{value:.4g}" if abs(value) < 1e4 else f"{value:.0f}"


def _decimals(value: float) -> int:
    """Number of decimals with which somebody may have written a number; more than three are many."""
    return next((digits for digits in range(4) if abs(value - round(value, digits)) <= 1e-9 * abs(value)), 9)
