"""Who takes part, and with which settings.

The settings of each contestant are those that gave the least time for an error in a search beforehand over mesh
widths, growth, order and step (some hundred combinations where a run takes well under a second, some ten where it
takes many); every run of the benchmark tries them all again and takes, for each error asked for, the fastest.
"""

from __future__ import annotations

import importlib
import importlib.util
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from contestants.answer import Answer
from contestants.jar import Jar, bare_product, composite_jar

Setting = dict[str, float | str]


@dataclass(frozen=True)
class Entry:
    """A contestant: its name, its file here, the package it needs, its jar and its settings, coarse to fine."""

    name: str
    module: str
    package: str
    jar: Callable[[], Jar]
    settings: tuple[Setting, ...]

    @property
    def installed(self) -> bool:
        """Whether its package can be imported."""
        return importlib.util.find_spec(self.package) is not None

    def load(self) -> Callable[..., Answer]:
        """Its ``solve``."""
        return importlib.import_module(f"contestants.{self.module}").solve  # type: ignore[no-any-return]


def _settings(names: str, rows: Iterable[tuple[float | str, ...]]) -> tuple[Setting, ...]:
    """Settings from rows; widths in rows are in mm."""
    found = []
    for row in rows:
        setting = dict(zip(names.split(), row, strict=True))
        for width in ("finest", "widest"):
            if width in setting:
                setting[width] = float(setting[width]) * 1e-3
        found.append(setting)
    return tuple(found)


THERMSIM = _settings(
    "accuracy", [(value,) for value in (1.0, 0.2, 0.1, 0.05, 0.02, 0.01, 0.006, 0.004, 0.003, 0.002, 0.001)]
)
QUADS = _settings(
    "shape finest widest growth step",
    [("quads", *row) for row in
     [(4.0, 8.0, 1.0, 60.0), (4.0, 11.0, 0.3, 60.0), (2.5, 8.0, 0.5, 60.0), (2.5, 8.0, 0.3, 60.0),
      (2.5, 6.0, 0.3, 60.0), (2.5, 6.0, 0.3, 45.0), (2.5, 6.0, 0.3, 40.0), (2.5, 6.0, 0.3, 30.0),
      (2.5, 5.0, 0.2, 30.0), (1.8, 4.0, 0.3, 30.0), (1.8, 4.0, 0.3, 20.0), (1.0, 4.0, 0.3, 20.0),
      (1.0, 3.0, 0.3, 20.0), (1.0, 3.0, 0.3, 15.0), (0.6, 3.5, 0.3, 15.0)]],
)  # fmt: skip
TRIANGLES = _settings(
    "shape finest widest growth step",
    [("triangles", *row) for row in
     [(2.5, 8.0, 0.5, 60.0), (2.5, 6.0, 0.5, 60.0), (2.5, 6.0, 0.3, 60.0), (1.6, 4.5, 0.3, 30.0),
      (1.0, 6.0, 0.3, 30.0), (1.0, 4.5, 0.3, 30.0), (1.0, 4.5, 0.3, 15.0), (1.0, 3.0, 0.3, 15.0),
      (0.7, 2.5, 0.2, 12.0)]],
)  # fmt: skip
HIGH_ORDER = _settings(
    "order finest widest growth step",
    [(3, 8.0, 26.0, 1.0, 60.0), (3, 8.0, 18.0, 1.0, 60.0), (4, 4.0, 26.0, 1.0, 60.0), (4, 4.0, 26.0, 1.0, 45.0),
     (4, 4.0, 18.0, 1.0, 45.0), (4, 4.0, 18.0, 1.0, 40.0), (4, 4.0, 18.0, 1.0, 30.0), (4, 4.0, 14.0, 1.0, 30.0),
     (4, 4.0, 18.0, 1.0, 20.0), (5, 4.0, 36.0, 1.0, 20.0), (5, 4.0, 26.0, 1.0, 20.0), (5, 4.0, 26.0, 1.0, 18.0),
     (5, 4.0, 36.0, 1.0, 15.0), (5, 4.0, 26.0, 1.0, 15.0), (5, 4.0, 18.0, 1.0, 15.0)],
)  # fmt: skip
STIFF = _settings(
    "finest widest growth tolerance",
    [(1.0, 3.0, 0.2, 0.03), (1.0, 3.0, 0.1, 0.03), (1.0, 3.0, 0.1, 0.01), (0.5, 1.5, 0.1, 0.03),
     (0.5, 1.5, 0.1, 0.01), (0.25, 1.0, 0.1, 0.01), (0.12, 1.0, 0.1, 0.003), (0.12, 0.6, 0.1, 0.003),
     (0.12, 0.4, 0.08, 0.001)],
)  # fmt: skip
FIPY = _settings(
    "finest widest growth step implicit",
    [(0.7, 3.0, 0.2, 60.0, 1.0), (0.7, 3.0, 0.2, 60.0, 0.5), (0.7, 2.5, 0.15, 60.0, 0.5), (0.5, 2.2, 0.1, 60.0, 0.5),
     (0.5, 1.5, 0.1, 40.0, 0.5), (0.25, 1.0, 0.1, 30.0, 0.5), (0.12, 0.6, 0.1, 15.0, 0.5)],
)  # fmt: skip
EVEN = _settings("across along", [(17, 51), (26, 80), (33, 101), (50, 153), (60, 184), (80, 245), (120, 367)])

ENTRIES = (
    Entry("thermsim", "by_thermsim", "thermsim", composite_jar, THERMSIM),
    Entry("scikit-fem, quadratic quads", "by_scikit_fem", "skfem", composite_jar, QUADS),
    Entry("scikit-fem, quadratic triangles", "by_scikit_fem", "skfem", composite_jar, TRIANGLES),
    Entry("NGSolve, order 3 to 5", "by_ngsolve", "ngsolve", composite_jar, HIGH_ORDER),
    Entry("solve_ivp, BDF", "by_solve_ivp", "scipy", composite_jar, STIFF),
    Entry("FiPy", "by_fipy", "fipy", composite_jar, FIPY),
    Entry("thermsim, bare product", "by_thermsim", "thermsim", bare_product, THERMSIM),
    Entry("py-pde, bare product", "by_py_pde", "pde", bare_product, EVEN),
)
