"""The bench: one case under edit, its latest answer, and the work that goes on beside the page.

It knows nothing of how it is shown. Its pages are told of every change through ``listeners``.
"""

from __future__ import annotations

import asyncio
import functools
import threading
import time
from collections.abc import Callable
from concurrent.futures import CancelledError, ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from typing import Any, Literal, ParamSpec, TypeVar

from thermsim.assess.depth.bracket import headspace_bracket, with_headspace_moves
from thermsim.assess.depth.recommendation import recommend
from thermsim.assess.measured.comparison import compare
from thermsim.assess.measured.result import Comparison, Plan
from thermsim.assess.simulate.containers import Containers
from thermsim.assess.simulate.result import Result
from thermsim.assess.simulate.simulation import simulate
from thermsim.case.case import Case
from thermsim.errors import CaseError, ThermsimError
from thermsim.loggers.run import run_from_bytes
from thermsim.page.draft import Draft, Said, said_of
from thermsim.page.scan import scanned
from thermsim.page.units import system_of
from thermsim.quantities import System
from thermsim.systems import shown_in
from thermsim.text import plain

Given = ParamSpec("Given")
Found = TypeVar("Found")

#: What the pages are told has changed: the tables' shape, a value, what is drawn, the answer, how far work is, ...
Change = Literal["shape", "value", "drawn", "answer", "units", "work", "kept"]
#: Answers kept to compare, at most.
MOST_KEPT = 10
#: Seconds that a picture has to be drawn before the work goes on.
ROOM_TO_DRAW = 0.2
#: Changes of one number that follow within so many seconds are one step back.
AT_ONCE = 1.5
#: Seconds after which an answer that is not there yet is told to be late: marks that come and go would flicker.
PATIENCE = 0.6
#: Seconds between two words of how far work is: each costs the browser as much as a new picture.
BETWEEN_WORDS = 0.3
#: Seconds after which a hand that changes nothing rests: then what the headspace alone does is looked at, too.
AT_REST = 0.6
#: Steps back that are remembered.
MOST_BACK = 100


@dataclass
class Job:
    """Work beside the page: what it is called, how far it is, what came of it, and why it failed."""

    name: str
    part: float = 0.0
    told: float = field(default_factory=time.monotonic)
    running: bool = False
    found: Any = None
    of: Draft | None = None
    failed: str = ""
    stop: threading.Event = field(default_factory=threading.Event)


@dataclass(frozen=True)
class Answer:
    """A result, the case it is of, and where it is kept to compare its name."""

    result: Result
    draft: Draft
    name: str = ""


@dataclass(frozen=True)
class Logged:
    """A logger's file: its name and its bytes."""

    name: str
    data: bytes


def in_its_units(method: Callable[Given, Found]) -> Callable[Given, Found]:
    """Let a method of what shows a bench tell everything in the units that its pages are in."""

    @functools.wraps(method)
    def told(*given: Given.args, **named: Given.kwargs) -> Found:
        with shown_in(given[0].bench.system):  # type: ignore[attr-defined]
            return method(*given, **named)

    return told


class Bench:
    """One case under edit, which begins with a draft, and its answers."""

    def __init__(self, draft: Draft) -> None:
        self.draft = draft
        #: The units that the pages are in: to begin with those of the case.
        self.system: System = system_of(draft.tables)
        self.case: Case | None = None
        self.faults: tuple[Said, ...] = ()
        self.answer: Answer | None = None
        #: What is drawn, which is there before all of the answer is.
        self.drawn: Answer | None = None
        self.kept: list[Answer] = []
        self.listeners: set[Callable[[Change, object], None]] = set()
        self.jobs = {name: Job(name) for name in ("answer", "moves", "depth", "headspace", "scan", "measured")}
        self._closed = False
        self._back: list[Draft] = []
        self._last: tuple[object, float] = None, 0.0
        self._changed = 0.0
        self._containers = Containers()
        # each kind of work has one thread: a newer piece begins when the older one has noticed that it is to stop
        self._threads = {name: ThreadPoolExecutor(1, thread_name_prefix=f"bench-{name}") for name in self.jobs}
        self._tasks: set[asyncio.Task[None]] = set()
        self._read()

    @property
    def shown(self) -> Draft:
        """The case in the units that the pages are in, to be looked at."""
        return self.draft.seen(self.system)

    def tell_in(self, system: System) -> None:
        """Let the pages be in the units of a system."""
        self.system = system
        self.tell("units")

    @property
    def result(self) -> Result | None:
        """The latest answer, be it of an older case."""
        return None if self.answer is None else self.answer.result

    @property
    def fresh(self) -> bool:
        """True if the answer is of the case as it stands."""
        return self._is_now(self.answer)

    @property
    def late(self) -> bool:
        """True if the answer of the case as it stands has been waited for, or will not come."""
        if self.fresh:
            return False
        return not self.jobs["answer"].running or time.monotonic() - self._changed >= PATIENCE

    @property
    def seen(self) -> Result | None:
        """The result that can be drawn of the case as it stands; None if there is none yet."""
        return next((one.result for one in (self.answer, self.drawn) if one is not None and self._is_now(one)), None)

    def _is_now(self, answer: Answer | None) -> bool:
        """True if an answer is of the case as it stands."""
        now = self.draft
        return answer is not None and (answer.draft.text, answer.draft.attachments) == (now.text, now.attachments)

    def tell(self, change: Change, who: object = None) -> None:
        """Tell all pages of a change that one of them, or nobody, made."""
        for listener in list(self.listeners):
            listener(change, who)

    def edit(self, draft: Draft, *, change: Change = "shape", who: object = None, of: object = None) -> None:
        """Go on with another draft; what it was can be gone back to.

        Changes of the same thing, ``of``, one soon after another are gone back in one step.
        """
        if draft == self.draft:
            return
        again = of is not None and of == self._last[0] and time.monotonic() - self._last[1] < AT_ONCE
        if not again:
            self._back = [*self._back[-MOST_BACK:], self.draft]
        self._last = of, time.monotonic()
        self._take(draft, change, who)

    def back(self) -> None:
        """Take the last change back."""
        if self._back:
            self._last = None, 0.0
            self._take(self._back.pop(), "shape", None)

    def open(self, draft: Draft, result: Result | None = None) -> None:
        """Go on with another file, and with the answer that came with it."""
        self._back = [*self._back[-MOST_BACK:], self.draft]
        self.system = system_of(draft.tables)
        if result is not None:
            self.answer = self.drawn = Answer(result, draft)
        self._take(draft, "shape", None)
        self.tell("units")

    def _take(self, draft: Draft, change: Change, who: object) -> None:
        if self.fresh or self.case is None:
            self._changed = time.monotonic()
        self.draft = draft
        self._read()
        self.solve()
        self.tell(change, who)

    def _read(self) -> None:
        """Read the case; what is wrong is kept instead of raised."""
        try:
            self.case, self.faults = self.draft.case(), ()
        except CaseError as failure:
            self.case, self.faults = None, said_of(failure, self.draft.name)

    def solve(self) -> None:
        """Work the answer out beside the page, if it is not of this case already; a newer case overtakes an older."""
        self.stop("answer")
        self.stop("moves")
        if self.case is None or self.fresh:
            return
        loop, draft = asyncio.get_running_loop(), self.draft

        def first(result: Result) -> None:
            drawn = threading.Event()
            loop.call_soon_threadsafe(self._draw, Answer(result, draft), drawn)
            drawn.wait(ROOM_TO_DRAW)  # or the rest of the work would take its time from the picture

        # recommendations come from a button: an answer follows the hand without them
        self._begin(
            "answer", lambda case, progress: simulate(case, progress=progress, kept=self._containers, first=first)
        )

    def _draw(self, answer: Answer, drawn: threading.Event) -> None:
        self.drawn = answer
        if self.seen is not None:
            self.tell("drawn")
        drawn.set()

    def _look_at_headspace(self, answer: Answer) -> None:
        """Add to an answer that still stands how far the headspace alone moves its cold spots."""
        if self.answer is answer and self.fresh:
            self._begin("moves", lambda case, progress: with_headspace_moves(answer.result))

    def recommend(self) -> None:
        """Work out beside the page how deep the probe should go."""
        self._begin("depth", lambda case, progress: with_headspace_moves(recommend(case, progress=progress)))

    def bound_headspace(self) -> None:
        """Work out beside the page what the headspace can do at most."""
        self._begin("headspace", lambda case, progress: headspace_bracket(case, progress=progress))

    def scan(self, path: str, ends: tuple[float, float]) -> None:
        """Work the answer out beside the page for some values of one number, in the units that the pages are in."""
        draft = self.shown
        self._begin("scan", lambda case, progress: scanned(draft, path, ends, progress))

    def compare(self, logged: Logged, plan: Plan) -> None:
        """Compare beside the page a measured run with the case."""

        def compared(case: Case, progress: Callable[[float], None]) -> Comparison:
            measured = run_from_bytes(logged.data, plan.columns, name=logged.name)
            return compare(case, measured, plan, progress=progress)

        self._begin("measured", compared)

    def stop(self, name: str) -> None:
        """Stop work; what it found is lost."""
        self.jobs[name].stop.set()

    def close(self) -> None:
        """Stop all work."""
        self._closed = True
        for job in self.jobs.values():
            job.stop.set()
        for thread in self._threads.values():
            thread.shutdown(wait=False, cancel_futures=True)

    @property
    def advice(self) -> Result | None:
        """The recommendation, if it is of the case as it stands, or as it was before its depth was taken."""
        job = self.jobs["depth"]
        if not isinstance(job.found, Result) or job.of is None:
            return None
        return job.found if self._is_now(Answer(job.found, job.of)) else None

    def take_depth(self, key: str, depth: float) -> None:
        """Let the probe go as deep as is recommended, with a key of the case format."""
        kept = self.advice is not None
        self.edit(self.draft.with_value(("probe", key), depth))
        if kept:
            self.jobs["depth"].of = self.draft

    def keep(self, name: str) -> None:
        """Keep the answer to compare it."""
        if self.answer is not None and len(self.kept) < MOST_KEPT:
            self.kept = [*self.kept, replace(self.answer, name=name)]
            self.tell("kept")

    def compared(self) -> list[tuple[str, Result]]:
        """The answers that are kept, and that of the case as it stands."""
        kept = [(one.name, one.result) for one in self.kept]
        return [*kept, ("as it stands now", self.answer.result)] if self.answer is not None and self.fresh else kept

    def forget(self, place: int) -> None:
        """Let a kept answer go."""
        self.kept = [one for k, one in enumerate(self.kept) if k != place]
        self.tell("kept")

    def _begin(self, name: str, work: Callable[[Case, Callable[[float], None]], object]) -> None:
        if self.case is None or self._closed:
            return
        self.jobs[name].stop.set()
        job = self.jobs[name] = Job(name, running=True, of=self.draft)
        task = asyncio.get_running_loop().create_task(self._run(job, self.case, work))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)
        if name == "answer":
            asyncio.get_running_loop().call_later(PATIENCE, self.tell, "work")
        else:
            self.tell("work")

    async def _run(self, job: Job, case: Case, work: Callable[[Case, Callable[[float], None]], object]) -> None:
        loop = asyncio.get_running_loop()

        def progress(part: float) -> None:
            if job.stop.is_set():
                raise CancelledError
            job.part = part
            if time.monotonic() - job.told >= BETWEEN_WORDS:
                job.told = time.monotonic()
                loop.call_soon_threadsafe(self.tell, "work")

        def made() -> object:
            progress(0.0)
            return work(case, progress)

        try:
            job.found = await loop.run_in_executor(self._threads[job.name], made)
        except (CancelledError, asyncio.CancelledError):
            pass
        except ThermsimError as failure:
            job.failed = str(failure)
        except Exception as failure:  # what nobody foresaw must not leave the page waiting
            job.failed = f"this is a fault of the program: {type(failure).__name__}: {plain(str(failure), 200)}"
        finally:
            job.running = False
        if self.jobs[job.name] is job:
            answers = job.name in ("answer", "moves")
            if answers and isinstance(job.found, Result) and job.of and not job.stop.is_set():
                self.answer = self.drawn = Answer(job.found, job.of)
                self.tell("answer")
                if job.name == "answer":
                    loop.call_later(AT_REST, self._look_at_headspace, self.answer)
            self.tell("work")
