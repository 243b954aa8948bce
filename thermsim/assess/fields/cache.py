"""Work that one run of a study leaves for the next: grids and matrices of the same body, bases of the same process.

Nothing is approximated. Runs that differ in their lethality alone (reference, z, target) have the same temperatures,
and what is taken over is, bit for bit, what would be computed again.
"""

from __future__ import annotations

import pickle
from collections import OrderedDict
from collections.abc import Callable
from typing import TYPE_CHECKING

from thermsim.case.case import Case
from thermsim.case.process import Process
from thermsim.solve.grid.body import body_of

if TYPE_CHECKING:
    from thermsim.assess.fields.family import Family, FourSolutions

#: Refinement and time tolerance of a family of grids, and whether it is for one process alone.
How = tuple[float, float, bool]
#: Bodies whose grids, matrices and factors are kept, and processes: of a container with its probe and without it.
MOST_BODIES, MOST_PROCESSES = 4, 2


class SolutionCache:
    """Families of grids and processes followed on them, those of the last runs, by all that they depend on.

    One process uses it from one thread at a time.
    """

    def __init__(self) -> None:
        self._families: OrderedDict[bytes, Family] = OrderedDict()
        self._followed: OrderedDict[bytes, tuple[Family, FourSolutions]] = OrderedDict()
        #: How often families and processes were taken over.
        self.taken = {"families": 0, "processes": 0}

    def family(self, case: Case, how: How, make: Callable[[], Family]) -> Family:
        """The nested grids of a case with all that is worked out for its body; ``make`` makes them where not kept."""
        key = pickle.dumps((body_of(case), how))
        if key in self._families:
            self._families.move_to_end(key)
            self.taken["families"] += 1
        else:
            self._families[key] = make()
            while len(self._families) > MOST_BODIES:
                self._families.popitem(last=False)
        return self._families[key]

    def followed(
        self,
        case: Case,
        process: Process,
        how: How,
        make: Callable[[], tuple[Family, FourSolutions]],
    ) -> tuple[Family, FourSolutions]:
        """A process followed on a case's family of grids, and the family then; ``make`` does it where not kept.

        Whoever goes on with the family goes on with a copy of it.
        """
        key = pickle.dumps((body_of(case), how, process))
        if key in self._followed:
            self._followed.move_to_end(key)
            self.taken["processes"] += 1
        else:
            self._followed[key] = make()
            while len(self._followed) > MOST_PROCESSES:
                self._followed.popitem(last=False)
        return self._followed[key]
