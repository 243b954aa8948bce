"""Solutions that simulations leave for each other where a case is changed and solved again, as on a page."""

from __future__ import annotations

import pickle
from collections.abc import Callable

from thermsim.assess.fields.cache import SolutionCache
from thermsim.assess.fields.refinement import Refined
from thermsim.assess.simulate.result import Result
from thermsim.case.case import Case


class Containers:
    """Store of what the last cases left: the result without its probe, and grids and matrices of bodies.

    Another depth solves no more than the probe, another process no grid. It is used from one thread at a time.
    """

    def __init__(self) -> None:
        self._last: tuple[bytes, tuple[Result, Refined]] | None = None
        self.runs = SolutionCache()

    def solved(self, case: Case, make: Callable[[], tuple[Result, Refined]]) -> tuple[Result, Refined]:
        """The result of a case without probe and its fields, as kept or as ``make`` makes them."""
        key = pickle.dumps(case.replace(text="", file="", stock=None, study=None))
        last = self._last
        if last is None or last[0] != key:
            last = self._last = key, make()
        return last[1]
