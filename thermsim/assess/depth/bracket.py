"""Between which bounds the headspace may put the cold spot: no heat through it, and as much as moist gas carries.

Which of the two a real headspace is nearer to is seldom known; how far the cold spot and the recommended depth lie
apart between them says how much that matters.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from thermsim.assess.depth.limits import reachable_depths
from thermsim.assess.simulate.result import Result
from thermsim.assess.simulate.simulation import simulate, simulate_container
from thermsim.assess.spots.cold_spot import Spot
from thermsim.case.case import Accuracy, Case
from thermsim.case.file.packing import PLAIN_LID, WET_FOOD
from thermsim.case.product import Headspace
from thermsim.errors import InputError
from thermsim.notice import Notice, Severity
from thermsim.physics.gap import GasGap
from thermsim.physics.materials import Material
from thermsim.quantities import LENGTH, LETHALITY
from thermsim.text import listed

#: What a quick estimate of the headspace's part is to reach.
_COARSE = Accuracy(temperature=0.5, lethality=0.05, place=1e-2)
#: Density [kg/m3] and specific heat [J/kgK] of a gas, which hold next to no heat.
_GAS = 1.0, 1010.0
#: A cold spot that moves farther is worth a warning [m] (our own limit, no source).
_MATTERS = 3e-3


@dataclass(frozen=True)
class Bound:
    """Answer of a case with one headspace.

    ``name`` says which; ``depth`` is the recommended insertion [m], None without a probe; ``reading`` is what the
    probe then reads [s].
    """

    name: str
    least_lethality: Spot
    slowest_heating: Spot
    depth: float | None = None
    reading: float | None = None


@dataclass(frozen=True)
class Bracket:
    """A case's own headspace, and the two bounds: ``insulated``, and ``humid``, wet both ways.

    ``assumed`` are sentences on what the humid bound took for granted.
    """

    own: Bound
    insulated: Bound
    humid: Bound
    assumed: tuple[str, ...]

    @property
    def bounds(self) -> tuple[Bound, Bound, Bound]:
        """All three, the case's own first."""
        return self.own, self.insulated, self.humid

    @property
    def outside(self) -> bool:
        """Tell whether the case's own headspace gives less, or more, lethality than both bounds do."""
        bounds = [bound.least_lethality.lethality for bound in (self.insulated, self.humid)]
        return not min(bounds) <= self.own.least_lethality.lethality <= max(bounds)

    @property
    def least_lethality_moves(self) -> float:
        """Farthest distance between the places of least lethality [m]."""
        return _apart([bound.least_lethality for bound in self.bounds])

    @property
    def slowest_heating_moves(self) -> float:
        """Farthest distance between the slowest-heating places [m]."""
        return _apart([bound.slowest_heating for bound in self.bounds])

    @property
    def depth_moves(self) -> float | None:
        """Farthest distance between the recommended depths [m]; None without a probe."""
        depths = [bound.depth for bound in self.bounds if bound.depth is not None]
        return max(depths) - min(depths) if len(depths) == len(self.bounds) else None

    @property
    def notice(self) -> Notice:
        """The effect of the headspace alone, to be kept with the case's own answer."""
        depth = self.depth_moves
        further = "" if depth is None else f", the recommended depth by up to {LENGTH.text(depth)}"
        return _moved(
            {bound.name: (bound.least_lethality, bound.slowest_heating) for bound in self.bounds},
            " ".join((f"{further}.", *self.assumed)),
        )


def headspace_bracket(case: Case, *, progress: Callable[[float], None] | None = None) -> Bracket:
    """Solve a case with its own headspace, with an insulated one, and with a humid one that is wet both ways.

    Parameters
    ----------
    case : Case
        With a probe its depth is recommended anew each time.
    progress : callable, optional
        Called with the part of the work that is done (0 to 1).

    Raises
    ------
    InputError
        If the container is filled to the lid, or the humid gap would boil.

    Examples
    --------
    >>> import thermsim
    >>> case = thermsim.read_case("cases/jar.toml").replace(accuracy=thermsim.Accuracy(1.0, 0.2, 5e-3))
    >>> bracket = thermsim.headspace_bracket(case)
    >>> bracket.insulated.least_lethality.z > bracket.humid.least_lethality.z
    True
    """
    if case.headspace_height <= 0.0:
        raise InputError("the container is filled to the lid: there is no headspace whose bounds could be found")
    humid, assumed = _humid(case)
    found = []
    for k, (name, headspace) in enumerate(
        (("as given", case.headspace), ("insulated", Headspace("insulated")), ("humid, wet both ways", humid))
    ):

        def on_part(part: float, k: int = k) -> None:
            if progress is not None:
                progress((k + part) / 3)

        # places followed may lie in a headspace that has no temperature when it is insulated
        varied = case.replace(headspace=headspace, points=(), notes=(), probes=(), stock=None)
        found.append(_bound(name, varied, on_part))
    own, insulated, damp = found
    return Bracket(own, insulated, damp, assumed)


def with_headspace_moves(result: Result) -> Result:
    """The result with a notice of how far the headspace alone moves its cold spots, where there is a headspace."""
    moves = headspace_moves(result.case)
    return result if moves is None else result.noting(moves)


def headspace_moves(case: Case) -> Notice | None:
    """Distance by which the headspace alone moves the cold spots, estimated fast; None where there is no headspace.

    Without probe, with constant properties and on coarse grids: two linear solutions, a second or less.
    """
    if case.headspace_height <= 0.0:
        return None
    constant = dataclasses.replace(case.product.material, tabulated=None)
    quick = case.replace(
        probe=None,
        probes=(),
        stock=None,
        points=(),
        notes=(),
        accuracy=_COARSE,
        lethality=dataclasses.replace(case.lethality, target=None),
        product=dataclasses.replace(case.product, material=constant),
    )
    try:
        moist = _humid(case)[0].material
    except InputError:
        moist = case.headspace.material
    if moist is None:
        return None
    solid = Material("headspace", moist.at(max(case.met)).conductivity, *_GAS)
    ends = [
        simulate_container(quick.replace(headspace=headspace), once=True)[0].cold_spot
        for headspace in (Headspace("insulated"), Headspace("fixed", solid))
    ]
    names = "with no heat through it", "with as much as moist gas carries when hottest"
    return _moved(
        {name: (end.least_lethality, end.slowest_heating) for name, end in zip(names, ends, strict=True)},
        ". Which of the two a real headspace is nearer to is seldom known: a quick estimate with constant "
        "properties, on a coarse grid.",
    )


def _moved(spots: Mapping[str, tuple[Spot, Spot]], further: str) -> Notice:
    """The effect of the headspace alone: places of least lethality and of slowest heating by what it is."""
    least, slowest = ([pair[k] for pair in spots.values()] for k in range(2))
    apart, heating = _apart(least), _apart(slowest)
    heights = [
        f"{LENGTH.text(spot.z)} ({LETHALITY.text(spot.lethality)}) {name}"
        for name, spot in zip(spots, least, strict=True)
    ]
    moves = f"The headspace alone moves the place of least lethality by up to {LENGTH.text(apart)}"
    text = (
        f"{moves}: its height z is {listed(heights)}; the slowest-heating place moves by up to "
        f"{LENGTH.text(heating)}{further}"
    )
    severity: Severity = "warning" if max(apart, heating) > _MATTERS else "note"
    low, high = min(spot.z for spot in least), max(spot.z for spot in least)
    brief = f"{moves}: z = {LENGTH.number(low)} to {LENGTH.text(high)}, by how much heat it lets through."
    figures = {"least_lethality": apart, "slowest_heating": heating}
    return Notice("headspace-moves", severity, "headspace", text, figures, brief, pressing=severity == "warning")


def _humid(case: Case) -> tuple[Headspace, tuple[str, ...]]:
    """The humid bound of a case's headspace, and what was assumed for it."""
    assumed = []
    gap = case.headspace.gap
    if gap is None:
        gap = GasGap("humid", case.headspace_height, WET_FOOD, PLAIN_LID)
        assumed.append(f"The humid bound takes emissivities of {WET_FOOD:g} (product) and {PLAIN_LID:g} (lid).")
    if gap.model != "humid" or (gap.sealed_at is None and case.headspace.gap is None):
        gap = dataclasses.replace(gap, sealed_at=case.product.initial)
        assumed.append(
            "The humid bound takes the gas to be closed in, saturated, at the product's "
            f"{case.product.initial:g} degC under {gap.pressure / 1e3:.4g} kPa."
        )
    wet = dataclasses.replace(gap, model="humid", lid_wet=True)
    return Headspace.of_gas(wet, case.met), tuple(assumed)


def _bound(name: str, case: Case, progress: Callable[[float], None]) -> Bound:
    result = _solved(case, progress)
    spots = result.both_spots
    if result.advice is None:
        return Bound(name, *spots)
    chosen = result.advice.own.recommended(result.advice.criterion)
    return Bound(name, *spots, chosen.depth, chosen.lethality)


def _solved(case: Case, progress: Callable[[float], None]) -> Result:
    if case.probe is not None and reachable_depths(case, case.probe) is not None:
        from thermsim.assess.depth.recommendation import recommend  # an answer without a depth is to begin at once

        return recommend(case, progress=progress)
    return simulate(case.replace(probe=None), progress=progress)


def _apart(spots: list[Spot]) -> float:
    return max(math.hypot(one.r - other.r, one.z - other.z) for one in spots for other in spots)
