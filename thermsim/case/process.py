"""The process: the heating medium's temperature over time and the film coefficients at the surfaces."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from thermsim.case.keys.tables import STAGE_NAMES, keys_of
from thermsim.case.rules import ROUNDING, is_number, number_faults, refuse, word_faults
from thermsim.errors import WHOLE, Fault
from thermsim.physics.films import FilmRange, behind
from thermsim.values import Sealed, copy_arrays

#: In Python 0 is an insulated surface.
_FILM = dataclasses.replace(keys_of("film")["side"], above=False)

StageName = Literal["come-up", "hold", "cool"]
#: A stage that is shorter is a jump [s].
SHORTEST = 0.06
#: Rules on the order of stages and their durations, for files and for Python.
AFTER_COOLING = "comes after cooling has begun; from the first cool on only cool may follow"
ONLY_COOLING = "the process begins with cooling; a come-up or a hold comes first"
JUMP_TO_NOWHERE = "is a jump of the medium's temperature, but {} is missing: where does it go?"
TOO_SHORT = f"is too short; it must be 0, a jump, or at least {SHORTEST / 60:g} min"
JUMP_AT_THE_END = "the last stage lasts 0 minutes: a jump at the very end has no effect"


@dataclass(frozen=True)
class Film:
    """Film coefficients at the outer surfaces [W/m2K], > 0; ``inf``: surface at the medium's temperature.

    ``probe`` is that of the probe's parts outside the container; None: that of the wall they stick out of. ``low``
    and ``high`` are the least and the most that side, base and lid may have, where a medium's name stands for them;
    None where they are given. ``bare`` is what the medium alone has at side, base and lid, where labels lie between;
    None where there are none.

    Examples
    --------
    >>> from thermsim import Film, find_film
    >>> Film(side=450.0, base=60.0, lid=900.0).beside("base")
    60.0
    >>> Film.of_medium(find_film("water spray")).low is not None  # with the range that is usual of it
    True
    """

    side: float
    base: float
    lid: float
    probe: float | None = None
    low: tuple[float, float, float] | None = None
    high: tuple[float, float, float] | None = None
    bare: tuple[float, float, float] | None = None

    def __post_init__(self) -> None:
        refuse(self.faults("film"))

    def faults(self, path: str) -> Iterator[Fault]:
        """Faults of the film coefficients."""
        for name, value in (("side", self.side), ("base", self.base), ("lid", self.lid), ("probe", self.probe)):
            if value is not None or name != "probe":
                yield from number_faults(value, f"{path}.{name}", _FILM)
        rule = ""
        if (self.low is None) != (self.high is None):
            rule = "low and high belong together: give both or neither"
        elif (
            self.low
            and self.high
            and not all(is_number(low) and 0 < low <= high for low, high in zip(self.low, self.high, strict=True))
        ):
            rule = "low must be above 0 W/m2K and nowhere above high"
        if rule:
            yield Fault(path, WHOLE, rule)

    @property
    def surfaces(self) -> tuple[float, float, float]:
        """Film coefficients of side, base and lid [W/m2K]."""
        return self.side, self.base, self.lid

    def behind(self, resistances: tuple[float, float, float]) -> Film:
        """The film as side, base and lid have it beyond thermal resistances of their own [m2K/W]: labels, sleeves."""

        def beyond(films: tuple[float, float, float]) -> tuple[float, float, float]:
            side, base, lid = (behind(film, r) for film, r in zip(films, resistances, strict=True))
            return side, base, lid

        low, high = (None if ends is None else beyond(ends) for ends in (self.low, self.high))
        return Film(*beyond(self.surfaces), self.probe, low, high, self.surfaces)

    def beside(self, entry: Literal["lid", "base", "side"]) -> float:
        """Film that a probe meets outside the wall that it passes: the wall's medium, without its label [W/m2K]."""
        return dict(zip(("side", "base", "lid"), self.bare or self.surfaces, strict=True))[entry]

    @classmethod
    def of_medium(cls, film: FilmRange) -> Film:
        """The film of a named medium on all surfaces, with its range."""
        return cls(film.middle, film.middle, film.middle, None, (film.low,) * 3, (film.high,) * 3)

    @classmethod
    def given(cls, film: float | Film) -> Film:
        """A film as it is, or that of one coefficient on all surfaces [W/m2K]."""
        return film if isinstance(film, Film) else cls.everywhere(film)

    @classmethod
    def everywhere(cls, coefficient: float) -> Film:
        """The same coefficient [W/m2K] on all surfaces."""
        return cls(coefficient, coefficient, coefficient)


#: A stage by its duration: name, duration [s], temperature at its end [degC], a film of its own.
Step = (
    tuple[StageName, float]
    | tuple[StageName, float, float | None]
    | tuple[StageName, float, float | None, float | Film | None]
)


@dataclass(frozen=True, eq=False)
class Stage(Sealed):
    """A part of the process in which the medium's temperature is piecewise linear and the films are constant.

    Parameters
    ----------
    name : {"come-up", "hold", "cool"}
        What the stage is for; heating ends where the first ``cool`` stage begins.
    time : ndarray, shape (n,)
        Process time [s], strictly growing, n >= 2.
    medium : ndarray, shape (n,)
        Medium temperature [degC] at those times; it may differ from where the last stage ended (a jump).
    film : Film
        Film coefficients during the stage.

    Examples
    --------
    >>> from thermsim import Film, Stage
    >>> Stage("hold", [600.0, 5100.0], [121.1, 121.1], Film.everywhere(2000.0)).end
    5100.0
    """

    name: StageName
    time: NDArray[np.float64]
    medium: NDArray[np.float64]
    film: Film

    def __post_init__(self) -> None:
        copy_arrays(self, time=float, medium=float)
        refuse(self.faults("stage"))

    def faults(self, path: str) -> Iterator[Fault]:
        """Faults of the stage by itself; of its times and temperatures the first fault alone."""
        yield from word_faults(self.name, f"{path}.name", STAGE_NAMES)
        if self.time.ndim != 1 or self.time.size < 2 or self.time.shape != self.medium.shape:
            yield Fault(path, WHOLE, "time and medium must be two lists of the same length, two or more")
        elif not (np.isfinite(self.time).all() and (np.diff(self.time) > 0).all()):
            yield Fault(path, WHOLE, "time must be finite and growing, s")
        else:
            low, high = float(self.medium.min()), float(self.medium.max())
            for extreme in (low, high) if low < high else (low,):
                yield from number_faults(extreme, f"{path}.medium", "process.stage", "to_C")
        yield from self.film.faults(f"{path}.film")

    @property
    def start(self) -> float:
        """Process time at which the stage begins [s]."""
        return float(self.time[0])

    @property
    def end(self) -> float:
        """Process time at which the stage ends [s]."""
        return float(self.time[-1])

    def stretched(self, duration: float) -> Stage:
        """Give the same stage another duration [s], its medium's course stretched with it."""
        scale = duration / (self.end - self.start)
        return dataclasses.replace(self, time=self.start + (self.time - self.start) * scale)

    def since(self, time: float) -> Stage:
        """Give the rest of the stage, from a time within it [s] on."""
        later = self.time > time
        return dataclasses.replace(
            self,
            time=np.append(time, self.time[later]),
            medium=np.append(np.interp(time, self.time, self.medium), self.medium[later]),
        )

    def until(self, time: float) -> Stage:
        """Give the stage up to a time within it [s]."""
        earlier = self.time < time
        return dataclasses.replace(
            self,
            time=np.append(self.time[earlier], time),
            medium=np.append(self.medium[earlier], np.interp(time, self.time, self.medium)),
        )

    def shifted(self, delay: float) -> Stage:
        """Move the stage by ``delay`` [s]."""
        return dataclasses.replace(self, time=self.time + delay)


@dataclass(frozen=True, eq=False)
class Process(Sealed):
    """The stages of the process in order; each begins where the one before it ends.

    ``source`` says where the medium's temperature comes from: "stages", or the name of the CSV file.

    Examples
    --------
    >>> from thermsim import Film, Process, Stage
    >>> stage = Stage("hold", [0.0, 3600.0], [121.1, 121.1], Film.everywhere(2000.0))
    >>> Process((stage,)).with_hold(1800.0).end
    1800.0
    """

    stages: tuple[Stage, ...]
    source: str = "stages"

    def __post_init__(self) -> None:
        refuse(self._order_faults("process"))  # each stage has looked at itself

    @classmethod
    def of(cls, start: float, stages: Sequence[Step], *, film: float | Film) -> Process:
        """A process of stages that last so long, one after another.

        Parameters
        ----------
        start : float
            Temperature of the medium at the start [degC].
        stages : sequence of (name, duration, temperature)
            "come-up", "hold" or "cool"; how long it lasts [s], 0 for a jump; the medium's temperature at its end
            [degC], which it reaches along a straight line, as at its start where left out or None. A fourth item is a
            film of its own.
        film : float or Film
            Heat-transfer coefficient on all surfaces [W/m2K], or at each; of stages without one of their own.

        Raises
        ------
        CaseError
            With everything that is wrong with the stages.

        Examples
        --------
        >>> from thermsim import Process
        >>> stages = [("come-up", 720.0, 118.0), ("hold", 4500.0), ("cool", 1200.0, 30.0)]
        >>> process = Process.of(40.0, stages, film=450.0)
        >>> process.heated_until, process.end
        (5220.0, 6420.0)
        """
        steps = [(*step, None, None)[:4] for step in stages]
        refuse(_step_faults(steps))
        common = Film.given(film)
        return cls(
            in_turn(start, [(*step[:3], common if step[3] is None else Film.given(step[3])) for step in steps])
        )

    def faults(self, path: str = "process") -> Iterator[Fault]:
        """Faults of the stages, or of how they follow one another."""
        found = [
            fault for place, stage in enumerate(self.stages) for fault in stage.faults(f"{path}.stages[{place}]")
        ]
        yield from found or self._order_faults(path)

    def _order_faults(self, path: str) -> Iterator[Fault]:
        """Faults of how stages that are sound by themselves follow one another."""
        if not self.stages:
            yield Fault(f"{path}.stages", (), "holds no stage; at least one is needed")
        end = 0.0
        for place, stage in enumerate(self.stages):
            if abs(stage.start - end) > ROUNDING * max(1.0, abs(end)):
                before = "the stage before it ends at" if place else "the process begins at"
                rule = f"begins at {stage.start:.9g} s, but {before} {end:.9g} s"
                yield Fault(f"{path}.stages[{place}]", WHOLE, rule)
            end = stage.end
        names = [stage.name for stage in self.stages]
        cooling = names.index("cool") if "cool" in names else len(names)
        if names and cooling == 0:
            yield Fault(f"{path}.stages", WHOLE, ONLY_COOLING)
        for place in range(cooling, len(names)):
            if names[place] != "cool":
                yield Fault(f"{path}.stages[{place}].name", names[place], AFTER_COOLING)

    @property
    def end(self) -> float:
        """Process time at the end [s]."""
        return self.stages[-1].end

    @property
    def heated_until(self) -> float:
        """Process time at which heating ends: where the first cooling stage begins, or the process's end [s]."""
        return next((stage.start for stage in self.stages if stage.name == "cool"), self.end)

    @property
    def recorded(self) -> bool:
        """True of what a file holds, and not of stages as planned."""
        return self.source != "stages"

    @property
    def hold(self) -> int | None:
        """Index of the last hold stage before cooling, the one whose length is adjusted; None if there is none."""
        names = [stage.name for stage in self.stages]
        heating = names[: names.index("cool")] if "cool" in names else names
        return max((place for place, name in enumerate(heating) if name == "hold"), default=None)

    @property
    def held(self) -> float:
        """Duration of the hold stage [s] (see :attr:`hold`); 0 where there is none."""
        return 0.0 if self.hold is None else self.stages[self.hold].end - self.stages[self.hold].start

    @property
    def medium_range(self) -> tuple[float, float]:
        """Lowest and highest medium temperature [degC]."""
        _, temperatures = self.knots
        return float(temperatures.min()), float(temperatures.max())

    @property
    def knots(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Times [s] at which the medium bends or jumps, stage by stage, and its temperatures there [degC]."""
        time = np.concatenate([stage.time for stage in self.stages])
        return time, np.concatenate([stage.medium for stage in self.stages])

    def medium_at(self, time: NDArray[np.float64]) -> NDArray[np.float64]:
        """Medium temperature [degC] at the given times [s]; at a jump the value after it."""
        knots, values = self.knots
        time = np.asarray(time, dtype=float)
        after = np.clip(np.searchsorted(knots, time, side="right"), 1, knots.size - 1)
        span = knots[after] - knots[after - 1]
        part = np.where(span > 0, (time - knots[after - 1]) / np.where(span > 0, span, 1.0), 1.0)
        return np.asarray(values[after - 1] + np.clip(part, 0.0, 1.0) * (values[after] - values[after - 1]))

    def facing(self, entry: Literal["lid", "base", "side"], film: float | None) -> Process:
        """The same process with every film's ``probe`` known: its own, the given one, or that of the entered wall."""

        def faced(one: Film) -> Film:
            known = (value for value in (one.probe, film, one.beside(entry)) if value is not None)
            return dataclasses.replace(one, probe=next(known))

        return self.with_films(faced)

    def with_films(self, change: Callable[[Film], Film]) -> Process:
        """The same process with the film of each stage changed."""
        stages = tuple(dataclasses.replace(stage, film=change(stage.film)) for stage in self.stages)
        return Process(stages, self.source)

    def with_hold(self, duration: float) -> Process:
        """The same process with its hold stage (see :attr:`hold`) lasting ``duration`` [s] and the rest moved.

        Raises
        ------
        ValueError
            If the process has no hold stage, or the duration is not positive and finite.
        """
        if self.hold is None:
            raise ValueError("the process has no hold stage before cooling")
        if not (duration > 0 and math.isfinite(duration)):
            raise ValueError(f"a hold of {duration} s is not possible")
        held, delay = self.stages[self.hold], duration - self.held
        if abs(delay) <= ROUNDING * duration:
            return self  # as it was solved
        later = tuple(stage.shifted(delay) for stage in self.stages[self.hold + 1 :])
        return Process(self.stages[: self.hold] + (held.stretched(duration),) + later, self.source)


def in_turn(start: float, steps: Iterable[tuple[StageName, float, float | None, Film]]) -> tuple[Stage, ...]:
    """Stages one after another, each with its name, duration [s], temperature at its end [degC] and film.

    ``start`` is the medium's temperature at the start [degC]. A temperature that is None stays; one that lasts 0 s is
    a jump, and no stage of its own.
    """
    stages: list[Stage] = []
    clock, temperature = 0.0, start
    for name, lasting, reached, film in steps:
        end = temperature if reached is None else reached
        if lasting != 0:
            times = np.array([clock, clock + lasting])
            stages.append(Stage(name, times, np.array([temperature, end]), film))
            clock += lasting
        temperature = end
    return tuple(stages)


def _step_faults(steps: Sequence[tuple[Any, ...]]) -> Iterator[Fault]:
    """Faults of durations; the stages look at all else themselves."""
    for place, (_, lasting, reached, _) in enumerate(steps):
        path = f"stages[{place}].duration"
        if not is_number(lasting) or lasting < 0:
            yield from number_faults(lasting, path, "process.stage", "minutes")
        elif lasting == 0 and reached is None:
            yield Fault(path, lasting, JUMP_TO_NOWHERE.format("its temperature"), "s")
        elif lasting == 0 and place == len(steps) - 1:
            yield Fault("stages", WHOLE, JUMP_AT_THE_END)
        elif 0 < lasting < SHORTEST:
            yield Fault(path, lasting, TOO_SHORT, "s")
