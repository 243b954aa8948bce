"""How often a fault of a measured run is found, how often a sound run is accused, and what slips through.

``python benchmarks/faults_found.py [--runs 50] [--kinds sound,tip-12]`` prints a table.

Every run is noisy and invented: three cans said to be probed at 58 mm and one at 75 mm, products that differ by 1 %
(standard deviation), starts by 0.3 K, tips by 0.3 mm, noise of 0.1 K, one clock that is up to 20 s off; one of the
cans has the fault. They go through ``compare`` as any run does. To spare hours, readings come from one lattice for
each process (what ``compare`` itself fits with), corrections by finer grids and cold spots from tables made once.
Kinds marked FE have curves by finite elements (scikit-fem, ``tests/scenes``), which share but the body with it.
"""

from __future__ import annotations

import argparse
import dataclasses
import itertools
import math
import sys
import time as clocks
from collections.abc import Callable
from pathlib import Path

import numpy as np

HERE = Path(__file__).parent
TESTS = HERE.parent / "tests"
sys.path[:0] = [str(HERE.parent / "cases"), str(TESTS / "scenes"), str(TESTS / "outside" / "probes")]

import make_measured_run as ready  # noqa: E402

from thermsim.assess.fields.lethality import gathered_lethality  # noqa: E402
from thermsim.assess.measured import comparison, fitting  # noqa: E402
from thermsim.assess.measured.correction import bare, log_least  # noqa: E402
from thermsim.assess.measured.lattice import Lattice  # noqa: E402
from thermsim.assess.measured.model import ProbeModel, reading_of_pair  # noqa: E402
from thermsim.assess.measured.result import Comparison, Corrected, Plan  # noqa: E402
from thermsim.assess.simulate.simulation import simulate_container  # noqa: E402
from thermsim.case.case import Case  # noqa: E402
from thermsim.case.file.reader import read_case  # noqa: E402
from thermsim.case.process import Process  # noqa: E402
from thermsim.loggers.run import Columns, run_from_bytes  # noqa: E402

STATED = (0.058, 0.058, 0.058, 0.075)
NOISE, EVERY, FILLED = 0.1, 30.0, 15e-3
#: Depths that a sliding tip's readings are taken from.
SLIDING = 25
DIFFUSIVITY, START = 1.35e-7, 58.8
NAMES = tuple("ABCD")


@dataclasses.dataclass
class Can:
    """The truth of one can, and what its logger does to its reading."""

    depth: float
    diffusivity: float
    initial: float
    offset: float
    fuller: float = 0.0
    carries: float = 1.0
    slides: float = 0.0
    longer: float = 0.0
    copies: bool = False
    spoilt: Callable[[np.ndarray, np.ndarray, np.ndarray], np.ndarray] = lambda time, reading, medium: reading


def base_case() -> Case:
    """The ready can with room for 15 mm more of product."""
    case = read_case(HERE.parent / "cases" / "measured_can.toml")
    case = case.replace(fill_height=case.fill_height - FILLED)
    return case.replace(probe=case.probe.at_depth(STATED[0], case.container))


class Bench:
    """Readings and cold spots from tables."""

    def __init__(self) -> None:
        self.case = base_case()
        self.process = ready.retort(self.case)
        self.time = np.arange(0.0, self.process.end + 1.0, EVERY)
        chance = np.random.default_rng(5)
        self.medium = self.process.medium_at(self.time) + chance.normal(0.0, 0.05, self.time.size)
        self.true: dict[tuple[float, float, float], Lattice] = {}
        self.fitted: dict[float, Lattice] = {}
        self.corrections: dict[tuple[float, float], np.ndarray] = {}
        self.spots: dict[float, tuple[np.ndarray, np.ndarray, np.ndarray]] = {}
        self.elements: dict[tuple[float, float], np.ndarray] = {}

    def reading(self, can: Can, *, by_elements: bool) -> np.ndarray:
        """What an ideal probe reads in a can."""
        lattice = self._lattice_of(can)
        log_factor = math.log(can.diffusivity / self.case.product.material.diffusivity)
        if by_elements:
            return self._by_elements(can)
        if not can.slides:
            return lattice(log_factor, can.initial, can.depth, can.offset, self.time)
        # evenly from start to end, at each moment as if it had always been there
        there = np.linspace(can.depth, can.depth + can.slides, self.time.size)
        depths = np.linspace(there.min(), there.max(), SLIDING)
        curves = [lattice(log_factor, can.initial, float(one), can.offset, self.time) for one in depths]
        return np.array(
            [np.interp(one, depths, course) for one, course in zip(there, np.stack(curves, axis=1), strict=True)]
        )

    def _lattice_of(self, can: Can) -> Lattice:
        """The readings of a can as it was filled, and heated as long as it was."""
        key = can.fuller, can.longer, can.carries
        if key not in self.true:
            fuller = self._filled(can)
            self.true[key] = Lattice(fuller, self.process.with_hold(self.process.held + can.longer))
        return self.true[key]

    def _filled(self, can: Can) -> Case:
        """The case as a can was filled."""
        case = self.case.replace(fill_height=self.case.fill_height + can.fuller)
        gas = case.headspace.material
        gas = dataclasses.replace(gas, conductivity=gas.conductivity * can.carries)
        return case.replace(headspace=dataclasses.replace(case.headspace, material=gas))

    def _by_elements(self, can: Can) -> np.ndarray:
        """The same by finite elements: parabola over the logarithm of the diffusivity, straight in the start."""
        places = [math.log(DIFFUSIVITY) + step for step in (-0.14, -0.04, 0.06)]
        at = math.log(can.diffusivity)
        found = np.zeros(self.time.size)
        for one in places:
            share = math.prod((at - other) / (one - other) for other in places if other != one)
            cold, warmer = self._element_curves(can.depth, math.exp(one))
            curve = cold + (can.initial - START) / 5.0 * (warmer - cold)
            found += share * np.interp(self.time - can.offset, np.arange(curve.size) * 5.0, curve)
        return found

    def _element_curves(self, depth: float, diffusivity: float) -> np.ndarray:
        from test_probe_fem import reference_reading

        if (depth, diffusivity) not in self.elements:
            case = self.case.replace(probe=self.case.probe.at_depth(depth, self.case.container))
            every = np.arange(0.0, self.process.end + 5.0, 5.0)
            curves = []
            for start in (START, START + 5.0):
                model = ProbeModel(case, self.process, ("diffusivity", "initial"), self.time)
                there = model.case_with((diffusivity, start))[0]
                time, values = reference_reading(there, widest=4e-3, finest=0.5e-3, step=30.0)
                curves.append(np.interp(every, time, values))
            self.elements[depth, diffusivity] = np.stack(curves)
        return self.elements[depth, diffusivity]

    def record(self, cans: list[Can], chance: np.random.Generator, *, by_elements: bool, from_time: float) -> bytes:
        """A logger's file."""
        rows = [self.time, self.medium]
        for can in cans:
            reading = self.reading(can, by_elements=by_elements) + chance.normal(0.0, NOISE, self.time.size)
            rows.append(rows[-1] if can.copies else can.spoilt(self.time, reading, self.medium))
        table = np.column_stack(rows)[self.time >= from_time]
        lines = ["Time [s];Retort;" + ";".join(NAMES)]
        lines += [";".join("" if math.isnan(cell) else f"{cell:.2f}" for cell in row) for row in table]
        return "\n".join(lines).encode()

    def compared(self, data: bytes) -> Comparison:
        """What ``compare`` says."""
        columns = Columns(probes=NAMES, medium="Retort", depths=(("D", STATED[3]),))
        run = run_from_bytes(data, columns)
        return comparison.compare(self.case, run, Plan(columns=columns, design=False))

    def lattice(self, case: Case, process: Process) -> Lattice:
        """One lattice for each process."""
        return self.fitted.setdefault(process.end, Lattice(case, process))

    def on_grids(self, model: ProbeModel, values: np.ndarray, *, finer: bool) -> object:
        """A reading by the lattice, and what finer grids change, once for each depth."""
        depth = float(model.case.probe.depth(model.case.container))
        key = depth, model.process.end
        lattice = self.fitted[model.process.end]
        if key not in self.corrections:
            usual = model.case_with([DIFFUSIVITY, START, 0.0])[0]
            fine = reading_of_pair(usual, lattice.time, finer=True).temperature
            rough = reading_of_pair(usual, lattice.time, finer=False).temperature
            self.corrections[key] = fine - rough
        rough = model._rough(values)
        time = model.time - dict(zip(model.names, values, strict=True)).get("offset", 0.0)
        return dataclasses.make_dataclass("Read", ["temperature"])(
            rough + np.interp(time, lattice.time, self.corrections[key])
        )

    def corrected(
        self, model: ProbeModel, fit: object, read: object, last: float
    ) -> tuple[Corrected | None, float | None]:
        """The cold spot from a table over diffusivity and start."""
        seen = self._seen(model, last)
        if seen is not None:
            return None, seen
        value = math.exp(self.log_spot(model.process, fit.value("diffusivity"), fit.value("initial")))
        return Corrected(0.0, 0.0, value, value, 0.0, value, value, 0.0, np.zeros(1), np.zeros(1), 0.0, 0.0), None

    def _seen(self, model: ProbeModel, last: float) -> float | None:
        end = model.process.end
        if end not in self.spots:
            self._tabulate(model, end)
        time, temperature, _ = self.spots[end]
        course = gathered_lethality(time, temperature, self.case.lethality)
        part = float(np.interp(last, time, course))
        return part if course[-1] - part > 0.01 * course[-1] else None

    def _tabulate(self, model: ProbeModel, end: float) -> None:
        result, _ = simulate_container(bare(model.case_with([DIFFUSIVITY, START, 0.0])[0]))
        table = [
            [log_least(bare(model.case_with([DIFFUSIVITY * math.exp(a), START + b, 0.0])[0])) for b in (-6.0, 6.0)]
            for a in (-0.2, -0.1, 0.0, 0.1)
        ]
        self.spots[end] = result.time, result.spots[0].temperature, np.array(table)

    def log_true(self, can: Can) -> float:
        """Logarithm of the least lethality that a can really got."""
        if not can.fuller and can.carries == 1.0:
            return self.log_spot(self.process, can.diffusivity, can.initial)
        model = ProbeModel(self._filled(can), self.process, ("diffusivity", "initial"), self.time)
        return log_least(bare(model.case_with([can.diffusivity, can.initial])[0]))

    def log_spot(self, process: Process, diffusivity: float, initial: float) -> float:
        """Logarithm of the least lethality."""
        table = self.spots[process.end][2]
        places, at = (-0.2, -0.1, 0.0, 0.1), math.log(diffusivity / DIFFUSIVITY)
        value = table[:, 0] + (initial - START + 6.0) / 12.0 * (table[:, 1] - table[:, 0])
        return sum(
            float(value[k]) * math.prod((at - other) / (one - other) for other in places if other != one)
            for k, one in enumerate(places)
        )


def cans_of(chance: np.random.Generator, *, exact_tips: bool) -> list[Can]:
    """Four sound cans."""
    offset = float(chance.uniform(-20.0, 20.0))
    return [
        Can(
            depth + (0.0 if exact_tips else float(chance.normal(0.0, 0.3e-3))),
            DIFFUSIVITY * math.exp(float(chance.normal(0.0, 0.01))),
            START + float(chance.normal(0.0, 0.3)),
            offset,
        )
        for depth in STATED
    ]


def _moved(by: float) -> Callable[[list[Can], np.random.Generator], None]:
    def change(cans: list[Can], chance: np.random.Generator) -> None:
        cans[0].depth = STATED[0] + by * (1.0 if chance.random() < 0.5 else -1.0)

    return change


def _deeper(cans: list[Can], chance: np.random.Generator) -> None:
    cans[0].depth = STATED[0] + 12e-3


def _all_deeper(cans: list[Can], chance: np.random.Generator) -> None:
    for can in cans:
        can.depth += 6e-3


def _swap(cans: list[Can], chance: np.random.Generator) -> None:
    cans[0], cans[3] = cans[3], cans[0]


def _spoil(how: Callable[[np.ndarray, np.ndarray, np.ndarray], np.ndarray]) -> Callable[..., None]:
    def change(cans: list[Can], chance: np.random.Generator) -> None:
        cans[0].spoilt = how

    return change


def _with(**changes: float) -> Callable[..., None]:
    def change(cans: list[Can], chance: np.random.Generator) -> None:
        for name, value in changes.items():
            setattr(cans[0], name, getattr(cans[0], name) + value)

    return change


def _slide(cans: list[Can], chance: np.random.Generator) -> None:
    cans[0].slides = 5e-3 * (1.0 if chance.random() < 0.5 else -1.0)


def _held(longer: float) -> Callable[..., None]:
    """The cans of another run than the medium's column."""

    def change(cans: list[Can], chance: np.random.Generator) -> None:
        for can in cans:
            can.longer = longer

    return change


def _all(**changes: float) -> Callable[..., None]:
    """All cans filled otherwise."""

    def change(cans: list[Can], chance: np.random.Generator) -> None:
        for can, (name, value) in itertools.product(cans, changes.items()):
            setattr(can, name, value)

    return change


def _two_loggers(cans: list[Can], chance: np.random.Generator) -> None:
    for can in cans[2:]:
        can.offset += 90.0


def _copied(cans: list[Can], chance: np.random.Generator) -> None:
    cans[1].copies = True


def _loose(time: np.ndarray, reading: np.ndarray, medium: np.ndarray) -> np.ndarray:
    bursts = (np.sin(time / 170.0) > 0.3) & (time > 1800.0)
    return reading + bursts * np.abs(np.random.default_rng(int(1e3 * reading[0])).normal(0.0, 1.5, time.size))


def _clocks(cans: list[Can], chance: np.random.Generator) -> None:
    offset = 150.0 * (1.0 if chance.random() < 0.5 else -1.0)
    for can in cans:
        can.offset = offset


def _slip(time: np.ndarray, reading: np.ndarray, medium: np.ndarray) -> np.ndarray:
    return reading + np.where(time > 2500.0, 2.0, 0.0)


def _product(cans: list[Can], chance: np.random.Generator) -> None:
    cans[0].diffusivity *= 0.9


#: Faults that are of all cans.
OF_ALL = (
    ("all-depths-in-doubt", "all-fillings-in-doubt"),
    ("all-fillings-in-doubt", "fill-in-doubt"),
    ("all-headspaces-in-doubt", "all-fillings-in-doubt", "all-depths-in-doubt"),
    ("all-headspaces-in-doubt", "headspace-in-doubt"),
    ("heating-ended-otherwise",),
    ("come-up-missing",),
    ("start-uneven",),
)
#: Kind: what it does, whether by finite elements, and codes that name it.
KINDS: dict[str, tuple[Callable[..., None], bool, tuple[str, ...]]] = {
    "sound": (lambda cans, chance: None, False, ()),
    "sound, FE": (lambda cans, chance: None, True, ()),
    "tip off by 3 mm": (_moved(3e-3), False, ("depth-in-doubt",)),
    "tip off by 6 mm": (_moved(6e-3), False, ("depth-in-doubt",)),
    "tip off by 12 mm": (_moved(12e-3), False, ("depth-in-doubt",)),
    "tip 12 mm deeper, FE": (_deeper, True, ("depth-in-doubt",)),
    "two columns swapped": (_swap, False, ("columns-swapped",)),
    "own clock, 45 s": (_with(offset=45.0), False, ("clock-in-doubt",)),
    "sensor reads 1 K high": (_spoil(lambda t, y, m: y + 1.0), False, ("calibration-in-doubt",)),
    "sensor drifts by 1 K": (_spoil(lambda t, y, m: y + t / t[-1]), False, ("drift-in-doubt",)),
    "dead half-way": (_spoil(lambda t, y, m: np.where(t > 3750.0, np.nan, y)), False, ("probe-failed",)),
    "frozen half-way": (
        _spoil(lambda t, y, m: np.where(t > 2500.0, y[int(2500 / EVERY)], y)),
        False,
        ("probe-failed",),
    ),
    "reads the medium": (_spoil(lambda t, y, m: m + 0.1 * (y - m) * 0.1), False, ("probe-failed",)),
    "touches the wall, 4 %": (_spoil(lambda t, y, m: y + 0.04 * (m - y)), False, ("contact-in-doubt",)),
    "filled 15 mm higher": (_with(fuller=FILLED), False, ("outlier", "depth-in-doubt")),
    "start 5 K colder": (_with(initial=-5.0), False, ("start-otherwise",)),
    "another product, -10 %": (_product, False, ("outlier",)),
    "another product, FE": (_product, True, ("outlier",)),
    "come-up not in the log": (lambda cans, chance: None, False, ("come-up-missing",)),
    "tip slides by 5 mm": (_slide, False, ("slide-in-doubt", "depth-in-doubt")),
    "all tips 6 mm deeper": (_all_deeper, False, ("all-depths-in-doubt", "all-fillings-in-doubt")),
    "come-up and clocks": (_clocks, False, ("come-up-missing",)),
    "all clocks, 150 s": (_clocks, False, ("heating-ended-otherwise",)),
    "hold 5 min longer": (_held(300.0), False, ("heating-ended-otherwise",)),
    "hold 8 min shorter": (_held(-480.0), False, ("heating-ended-otherwise",)),
    "filled 8 mm lower": (_with(fuller=-8e-3), False, ("fill-in-doubt", "depth-in-doubt")),
    "all filled 8 mm lower": (_all(fuller=-8e-3), False, ("all-fillings-in-doubt", "fill-in-doubt")),
    "dry headspaces": (_all(carries=0.2), False, ("all-headspaces-in-doubt", "headspace-in-doubt")),
    "vapour in headspaces": (
        _all(carries=20.0),
        False,
        ("all-headspaces-in-doubt", "all-fillings-in-doubt", "all-depths-in-doubt"),
    ),
    "two loggers, 90 s apart": (_two_loggers, False, ("second-clock",)),
    "one column twice": (_copied, False, ("columns-copied",)),
    "contact loose": (_spoil(_loose), False, ("probe-noisy",)),
    "log 2 min late": (lambda cans, chance: None, False, ("start-uneven",)),
    "slips, by 2 K at once": (_spoil(_slip), False, ("reading-steps", "probe-failed")),
}


def main() -> None:
    """Print the table."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--runs", type=int, default=50)
    words.add_argument("--seed", type=int, default=0, help="other runs of the same kinds")
    words.add_argument("--kinds", default=",".join(name.replace(",", "") for name in KINDS))
    options = words.parse_args()
    bench = Bench()
    comparison.Lattice = bench.lattice  # type: ignore[assignment,misc]
    fitting.corrected = bench.corrected  # type: ignore[assignment]
    fitting.log_least = lambda case: bench.log_spot(  # type: ignore[assignment]
        case.process, case.product.material.diffusivity, case.product.initial
    )
    courses: dict[tuple[float, float], object] = {}
    as_case = comparison.courses_of_pair

    def courses_of(case: Case, *, finer: bool, change: None) -> object:
        key = case.probe.depth(case.container), case.process.end
        return courses.get(key) or courses.setdefault(key, as_case(case, finer=finer))

    comparison.courses_of_pair = courses_of  # type: ignore[assignment]
    ProbeModel.on_grids = lambda model, values, finer: bench.on_grids(model, values, finer=finer)  # type: ignore
    wanted = options.kinds.split(",")
    # factors play no part in what is looked for here, and cost as much as all the rest
    factors = comparison.heating_penetration
    some: list[object] = []

    def once(*given: object, **more: object) -> object:
        if not some:
            some.append(factors(*given, **more))
        return some[0]

    comparison.heating_penetration = fitting.heating_penetration = once  # type: ignore[assignment]
    comparison.cooling_penetration = fitting.cooling_penetration = lambda *given, **more: None
    print(f"{'kind':24} runs  found  named  others accused  error of F where nothing is flagged, mean and worst")
    for name, (change, by_elements, codes) in KINDS.items():
        if name.replace(",", "") not in wanted:
            continue
        found = named = others = 0
        errors, recovered = [], []
        began = clocks.process_time()
        for number in range(options.runs):
            chance = np.random.default_rng(1000 * list(KINDS).index(name) + number + 100_000 * options.seed)
            cans = cans_of(chance, exact_tips=by_elements)
            change(cans, chance)
            from_time = {"come-up-missing": 600.0, "start-uneven": 120.0}.get((*codes, "")[0], 0.0)
            data = bench.record(cans, chance, by_elements=by_elements, from_time=from_time)
            result = bench.compared(data)
            marks = [{f.code for f in one.flags} - {"depth-not-confirmed"} for one in result.containers]
            general = {notice.code for notice in result.notices} & {"come-up-missing"}
            pairs = {("columns-swapped",): {0, 3}, ("second-clock",): {2, 3}, ("columns-copied",): {0, 1}}
            faulty = {**pairs, **dict.fromkeys(OF_ALL, {0, 1, 2, 3})}.get(codes, {0})
            by_hold = all(one.otherwise is not None and one.otherwise.likelier for one in result.containers)
            hit = any(marks[k] for k in faulty) or general
            found += bool(hit)
            named += any(set(codes) & (marks[k] | general) for k in faulty) and by_hold == (cans[0].longer != 0.0)
            innocent = set(range(4)) - (faulty if codes else set())
            others += bool(not general and any(marks[k] for k in innocent))
            for k, (one, can) in enumerate(zip(result.containers, cans, strict=True)):
                if not marks[k] and not general and one.corrected is not None:
                    true = math.exp(bench.log_true(can))
                    if k in faulty or not codes:
                        errors.append(one.corrected.lethality / true - 1.0)
                    recovered.append(abs(one.fit.value("diffusivity") / can.diffusivity - 1.0))
        off = f"{100 * np.mean(errors):+.1f} %, {100 * max(errors, key=abs):+.1f} %" if errors else "-"
        print(
            f"{name:24} {options.runs:4d} {100 * found // options.runs:4d} % {100 * named // options.runs:4d} % "
            f"{100 * others // options.runs:8d} %        {off:22} "
            f"diffusivity within {100 * max(recovered, default=0.0):.2f} % "
            f"({clocks.process_time() - began:.0f} s)",
            flush=True,
        )


if __name__ == "__main__":
    main()
