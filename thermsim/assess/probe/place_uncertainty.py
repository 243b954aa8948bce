"""Uncertainty of where the product's own cold spot lies with a probe in it, and of how far that moved it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.fields.error_estimate import QUARTER, USUAL, left_by
from thermsim.assess.fields.refinement import Refined
from thermsim.assess.probe.effect import ProbeEffect
from thermsim.assess.spots.cold_spot import ProductFields, Spot, least_lethality, reach_alike
from thermsim.assess.spots.place_uncertainty import (
    between_nodes,
    closely,
    nodes_left_out,
    off_axis,
    off_level,
    off_surface,
    on_another,
)

Array = NDArray[np.float64]

#: What counts, for r of the product's own cold spot, of what coarser grids change of it: along a stem it hardly moves
#: but between nodes, which counts by itself. A choice, made on drawn cases.
ACROSS = 0.25
#: Errors of the two places cancel in their distance as far as coarser grids change both alike, but no farther than
#: to so much of both together: they may happen to be alike. A choice likewise: of seed 23 of ``honesty``.
ALIKE = 0.5
#: What counts, in their distance, of what coarser grids and looser steps change of a field's rise off a surface:
#: where it is not clear that a place lies on it, that seldom hides how far it moved. A choice likewise.
CLEAR = 0.15
#: What counts of how far the product's own cold spot's temperature and lethality while heating change within what its
#: place is uncertain by: the other computations show it as far as their places differ. A choice likewise.
WITHIN = 0.5
#: So many times less closely a place inside is known beside a corner in which errors fall slowly: those of two signs
#: hide each other on three grids. A choice likewise: of seed 25.
FROM_A_CORNER = 20.0


@dataclass(frozen=True)
class Changes:
    """Changes of r and z [m] of a place: by coarser grids, by looser steps, and where nodes are left out."""

    coarser: Sequence[float]
    looser: Sequence[float]
    fewer: Sequence[float]

    @classmethod
    def of(cls, refined: Refined, spots: Sequence[Spot]) -> Changes:
        """Of the place of least lethality, as all three computations have it, the best first."""
        best, *others = spots
        coarser, looser = ((other.r - best.r, other.z - best.z) for other in others)
        return cls(coarser, looser, nodes_left_out(refined, refined.best.log_lethality, best))


def place_uncertainties(
    effects: Sequence[ProbeEffect],
    undisturbed: Refined,
    probed: Refined,
    unsure: Mapping[str, float],
    *,
    slow: float,
    valley: tuple[float, float],
    corner: float = USUAL,
    end: float = USUAL,
) -> dict[str, float]:
    """Uncertainties of the product's own cold spot's place and what follows from it, by the figures' names.

    These are r and z, how far it moved [m], and the temperature when heating ends and the lethality until then, which
    are not at their least there.

    Parameters
    ----------
    effects : sequence of ProbeEffect
        By the best, the coarser and the looser computation.
    undisturbed, probed : Refined
        The container without and with the probe.
    unsure : mapping of str to float
        What coarser grids and looser steps change of the figures of that place, as it counts.
    slow : float
        See :func:`thermsim.assess.fields.error_estimate.slowness`.
    valley : (float, float)
        How far the undisturbed place may lie off along r and z, where it is anywhere in a flat valley; else 0.
    corner : float, optional
        See :func:`thermsim.assess.fields.error_estimate.corner_of`.
    end : float, optional
        See :func:`thermsim.assess.fields.error_estimate.end_of`.
    """
    own = [effect.least_lethality for effect in effects]
    bare = [
        least_lethality(ProductFields.of(undisturbed.grid, fields))[0]
        for fields in (undisturbed.best, undisturbed.coarser, undisturbed.looser)
    ]
    found = {}
    times, about = 1.0 if corner == USUAL else FROM_A_CORNER, (0.0, 0.0)
    if corner < USUAL and effects[0].probe.entry == "lid":
        about = _about_a_stem_in_a_corner(probed, own[0], unsure)
    coarser = ACROSS * unsure["least_lethality.r"], unsure["least_lethality.z"]
    among, off = between_nodes(probed, probed.best.log_lethality, own[0]), _off(probed, own[0], 1.0)
    # along a stem what coarser grids and what nodes left out change have nothing to do with each other
    both = coarser[0] + among[0] + off[0], math.hypot(coarser[1], among[1] + off[1])
    # at an end of the stem so much more than a little way off
    more = left_by(end) / left_by(min(end**2, USUAL))
    for axis, by, *there, least in zip("rz", both, on_another(own), about, closely(probed, own[0]), strict=True):
        found[f"least_lethality.{axis}"] = more * max(by, *there, times * least)
    changing = _within(probed, own[0], found["least_lethality.r"], found["least_lethality.z"])
    for figure, by in changing.items():
        name = f"least_lethality.{figure}"
        found[name] = math.hypot(unsure[name], WITHIN * by)
    beyond = (
        *(_off(probed, own[0], CLEAR), _off(undisturbed, bare[0], CLEAR), closely(probed, own[0])),
        *(on_another(own), on_another(bare), valley, about),
    )
    found["moved"] = move_uncertainty(
        (own[0].r - bare[0].r, own[0].z - bare[0].z),
        Changes.of(probed, own),
        Changes.of(undisturbed, bare),
        slow=slow,
        beyond=[math.hypot(*those) for those in zip(*beyond, strict=True)],
    )
    return found


def _about_a_stem_in_a_corner(probed: Refined, spot: Spot, unsure: Mapping[str, float]) -> tuple[float, float]:
    """Least uncertainty of r and z [m] of a place inside about a stem that goes on beside an insulated headspace.

    Errors of two signs hide each other there on three grids: it may lie wherever lethality is least but for what that
    is uncertain by. On the axis r is exact.
    """
    if not spot.inside:
        return 0.0, 0.0
    relative = unsure["least_lethality.lethality"] / spot.lethality
    by_r, by_z = reach_alike(ProductFields.of(probed.grid, probed.best), probed.best.log_lethality, spot, relative)
    return by_r * (spot.r > 0.0), by_z


def _within(refined: Refined, spot: Spot, by_r: float, by_z: float) -> dict[str, float]:
    """Most that what happens at a place until heating ends changes as far along r or z as it is uncertain [m]."""
    grid, product = refined.grid, ProductFields.of(refined.grid, refined.best)
    places = [(abs(spot.r + way * by_r), spot.z) for way in (-1, 1)] + [
        (spot.r, spot.z + way * by_z) for way in (-1, 1)
    ]
    there = [product.spot_at(r, z) for r, z in places if grid.holds_product(r, z)]
    return {
        figure: max((abs(getattr(one, figure) - getattr(spot, figure)) for one in there), default=0.0)
        for figure in ("end_of_heating", "heating_lethality")
    }


def _off(refined: Refined, spot: Spot, counted: float) -> tuple[float, float]:
    """Uncertainty of r and z of the place of least lethality as it may lie off the axis or a surface [m].

    ``counted`` is what counts of the differences to the other computations, at a surface.
    """
    field = refined.best.log_lethality
    apart = [field - fields.log_lethality for fields in (refined.coarser, refined.looser)]
    at_axis = [share * one for share, one in zip(QUARTER, apart, strict=True)]
    rises = [counted * one for one in apart]
    by_r = off_surface(refined, field, spot, rises) + off_axis(refined, field, spot, at_axis)
    return by_r, off_level(refined, field, spot, rises)


def move_uncertainty(
    by: tuple[float, float], own: Changes, bare: Changes, *, slow: float, beyond: Sequence[float]
) -> float:
    """Uncertainty of how far the cold spot moved [m].

    Both places lie on grids that are much alike, and so are their errors: what counts is by how much more the one
    changes than the other, as far as it went that way. What coarser grids, looser steps and nodes left out change has
    nothing to do with each other.

    Parameters
    ----------
    by : (float, float)
        How far along r and z it moved [m].
    own, bare : Changes
        Of the place with the probe and without it.
    slow : float
        So many times more counts of what coarser grids change.
    beyond : sequence of float
        What is uncertain along r and z for other reasons [m].
    """
    moved, parts = max(math.hypot(*by), 1e-12), []
    for axis in (0, 1):
        coarser, looser, fewer = (
            _apart(getattr(own, name)[axis], getattr(bare, name)[axis]) for name in ("coarser", "looser", "fewer")
        )
        off = math.hypot(slow * QUARTER[0] * coarser, QUARTER[1] * looser, fewer, beyond[axis])
        parts.append(min(1.0, (abs(by[axis]) + off) / moved) * off)
    return math.hypot(*parts)


def _apart(one: float, other: float) -> float:
    """By how much two changes differ, as it counts."""
    return max(abs(one - other), ALIKE * math.hypot(one, other))
