"""The process: the heating medium's temperature over time and the film coefficients at the surfaces."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from thermsim.case.keys.tables import STAGE_NAMES, keys_of
from thermsim.case.rules import ROUNDING, is_number, number_faults, word_faults
from thermsim.errors import WHOLE, Fault
from thermsim.physics.films import FilmRange, behind

#: In Python 0 is an insulated surface.
_FILM = dataclasses.replace(keys_of("film")["side"], above=False)

StageName = Literal["come-up", "hold", "cool"]


@dataclass(frozen=True)
class Film:
    """Film coefficients at the outer surfaces [W/m2K], > 0; ``inf``: surface at the medium's temperature.

    ``probe`` is that of the probe's parts outside the container; None: that of the wall they stick out of. ``low``
    and ``high`` are the least and the most that side, base and lid may have, where a medium's name stands for them;
    None where they are given. ``bare`` is what the medium alone has at side, base and lid, where labels lie between;
    None where there are none.
    """

    side: float
    base: float
    lid: float
    probe: float | None = None
    low: tuple[float, float, float] | None = None
    high: tuple[float, float, float] | None = None
    bare: tuple[float, float, float] | None = None

    def faults(self, path: str) -> Iterator[Fault]:
        """What is wrong with the film coefficients."""
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

    def behind(self, resistances: tuple[float, float, float]) -> Film:
        """The film as side, base and lid have it beyond thermal resistances of their own [m2K/W]: labels, sleeves."""

        def beyond(films: tuple[float, float, float]) -> tuple[float, float, float]:
            side, base, lid = (behind(film, r) for film, r in zip(films, resistances, strict=True))
            return side, base, lid

        low, high = (None if ends is None else beyond(ends) for ends in (self.low, self.high))
        bare = self.side, self.base, self.lid
        return Film(*beyond(bare), self.probe, low, high, bare)

    def beside(self, entry: Literal["lid", "base", "side"]) -> float:
        """What a probe that passes a wall meets outside it: the wall's medium, without its label [W/m2K]."""
        side, base, lid = self.bare or (self.side, self.base, self.lid)
        return {"side": side, "base": base, "lid": lid}[entry]

    @classmethod
    def of_medium(cls, film: FilmRange) -> Film:
        """The film of a named medium on all surfaces, with its range."""
        return cls(film.middle, film.middle, film.middle, None, (film.low,) * 3, (film.high,) * 3)

    @classmethod
    def everywhere(cls, coefficient: float) -> Film:
        """The same coefficient [W/m2K] on all surfaces."""
        return cls(coefficient, coefficient, coefficient)


@dataclass(frozen=True)
class Stage:
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
    """

    name: StageName
    time: NDArray[np.float64]
    medium: NDArray[np.float64]
    film: Film

    def __post_init__(self) -> None:
        for field in ("time", "medium"):
            values = np.array(getattr(self, field), dtype=float)
            values.setflags(write=False)
            object.__setattr__(self, field, values)

    def faults(self, path: str) -> Iterator[Fault]:
        """What is wrong with the stage by itself; of its times and temperatures the first fault alone."""
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

    def shifted(self, delay: float) -> Stage:
        """Move the stage by ``delay`` [s]."""
        return dataclasses.replace(self, time=self.time + delay)


@dataclass(frozen=True)
class Process:
    """The stages of the process in order; each begins where the one before it ends.

    ``source`` says where the medium's temperature comes from: "stages", or the name of the CSV file.
    """

    stages: tuple[Stage, ...]
    source: str = "stages"

    def faults(self, path: str = "process") -> Iterator[Fault]:
        """What is wrong with the stages, and where they do not follow one another."""
        if not self.stages:
            yield Fault(f"{path}.stages", (), "holds no stage; at least one is needed")
        end = 0.0
        for place, stage in enumerate(self.stages):
            found = [*stage.faults(f"{path}.stages[{place}]")]
            yield from found
            if found:
                return  # nothing can be said about the stages after it
            if abs(stage.start - end) > ROUNDING * max(1.0, abs(end)):
                before = "the stage before it ends at" if place else "the process begins at"
                rule = f"begins at {stage.start:.9g} s, but {before} {end:.9g} s"
                yield Fault(f"{path}.stages[{place}]", WHOLE, rule)
            end = stage.end

    @property
    def end(self) -> float:
        """Process time at the end [s]."""
        return self.stages[-1].end

    @property
    def heating_end(self) -> float:
        """Process time at which heating ends: where the first cooling stage begins, or the process's end [s]."""
        return next((stage.start for stage in self.stages if stage.name == "cool"), self.end)

    @property
    def hold(self) -> int | None:
        """Index of the last hold stage before cooling, the one whose length is adjusted; None if there is none."""
        found = None
        for index, stage in enumerate(self.stages):
            if stage.name == "cool":
                break
            if stage.name == "hold":
                found = index
        return found

    @property
    def medium_range(self) -> tuple[float, float]:
        """Lowest and highest medium temperature [degC]."""
        temperatures = np.concatenate([stage.medium for stage in self.stages])
        return float(temperatures.min()), float(temperatures.max())

    def medium_at(self, time: NDArray[np.float64]) -> NDArray[np.float64]:
        """Medium temperature [degC] at the given times [s]; at a jump the value after it."""
        knots = np.concatenate([stage.time for stage in self.stages])
        values = np.concatenate([stage.medium for stage in self.stages])
        time = np.asarray(time, dtype=float)
        after = np.clip(np.searchsorted(knots, time, side="right"), 1, knots.size - 1)
        span = knots[after] - knots[after - 1]
        part = np.where(span > 0, (time - knots[after - 1]) / np.where(span > 0, span, 1.0), 1.0)
        return np.asarray(values[after - 1] + np.clip(part, 0.0, 1.0) * (values[after] - values[after - 1]))

    def facing(self, entry: Literal["lid", "base", "side"], film: float | None) -> Process:
        """The same process with every film's ``probe`` known: its own, the given one, or that of the entered wall."""
        stages = tuple(
            dataclasses.replace(
                stage,
                film=dataclasses.replace(
                    stage.film,
                    probe=next(
                        value for value in (stage.film.probe, film, stage.film.beside(entry)) if value is not None
                    ),
                ),
            )
            for stage in self.stages
        )
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
        held = self.stages[self.hold]
        delay = duration - (held.end - held.start)
        later = tuple(stage.shifted(delay) for stage in self.stages[self.hold + 1 :])
        return Process(self.stages[: self.hold] + (held.stretched(duration),) + later, self.source)
