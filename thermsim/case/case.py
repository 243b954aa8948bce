"""The case: everything the user said, checked, in SI units and degC."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass, field

from thermsim.case.consistency import inconsistencies
from thermsim.case.container import Container
from thermsim.case.probe import Probe, Stock
from thermsim.case.process import Process
from thermsim.case.product import Headspace, Product
from thermsim.case.study import Study
from thermsim.errors import CaseError


@dataclass(frozen=True)
class Lethality:
    """How heat is credited: F = integral of 10^((T - reference)/z) dt.

    ``reference`` [degC], ``z`` [K], ``target`` [s] or None, ``zone`` the cold zone's margin above the least
    lethality (a fraction), ``reach`` temperatures [degC] whose first arrival at the cold spot is reported.
    """

    reference: float
    z: float
    target: float | None = None
    zone: float = 0.1
    reach: tuple[float, ...] = ()


@dataclass(frozen=True)
class Point:
    """A further place to follow: name, r and z [m]."""

    name: str
    r: float
    z: float


@dataclass(frozen=True)
class Accuracy:
    """Numerical uncertainty that the grid and the time steps must reach.

    ``temperature`` [K], ``lethality`` (a fraction), ``place`` [m].
    """

    temperature: float = 0.05
    lethality: float = 0.01
    place: float = 0.5e-3


@dataclass(frozen=True)
class Case:
    """One container, its product and its process, as the user described them.

    ``fill_height`` is the product's depth above the inside of the base [m]; ``output_every`` the step of the times at
    which temperatures are kept [s], None for a round one; ``probes`` are further ones to compare with ``probe``;
    ``text`` is the case file's own text, ``file`` its name ("" where there is none) and ``attachments`` the files it
    names (file name to text), so that a result can be reproduced from itself; ``notes`` are sentences the reader
    wants shown to the user (assumptions made while reading); ``study`` is what is to be varied, if anything.

    Raises
    ------
    CaseError
        If it cannot be computed: a product deeper than the container, sizes or properties that are not positive,
        stages that do not follow one another, ... with every such fault.
    """

    title: str
    container: Container
    product: Product
    fill_height: float
    headspace: Headspace
    process: Process
    lethality: Lethality
    points: tuple[Point, ...] = ()
    accuracy: Accuracy = Accuracy()
    probe: Probe | None = None
    stock: Stock | None = None
    probes: tuple[Probe, ...] = ()
    output_every: float | None = None
    text: str = ""
    file: str = ""
    attachments: Mapping[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    study: Study | None = None

    def __post_init__(self) -> None:
        faults = inconsistencies(self)
        if faults:
            raise CaseError(faults)

    @property
    def surface(self) -> float:
        """Height z of the product's surface [m]."""
        return self.container.floor + self.fill_height

    @property
    def bottom(self) -> float:
        """Height z of the product's lower end at the axis [m]."""
        return self.container.floor + self.container.crown

    @property
    def product_volume(self) -> float:
        """Volume of the product [m3], exact; what a probe takes up is not taken off."""
        return self.container.volume_below(self.fill_height)

    @property
    def headspace_volume(self) -> float:
        """Volume of the room above the product [m3], exact."""
        return self.container.volume - self.product_volume

    @property
    def headspace_height(self) -> float:
        """Distance from the product's surface to the inside of the lid [m]."""
        return self.container.inner_height - self.fill_height

    @property
    def met(self) -> tuple[float, float]:
        """Lowest and highest temperature of all that is there at the start, and of the medium [degC]."""
        low, high = self.process.medium_range
        starts = (self.product.initial, self.container.initial, *(p.initial for p in (self.probe, *self.probes) if p))
        known = [start for start in starts if start is not None]
        return min(low, *known), max(high, *known)

    def replace(self, **changes: object) -> Case:
        """Return the case with some of its parts replaced; raises ``CaseError`` like the case itself."""
        return dataclasses.replace(self, **changes)  # type: ignore[arg-type]
