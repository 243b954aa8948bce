"""Findings that a reader must know of beside the figures."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from thermsim.assess.fields.reading import hat_integrals
from thermsim.assess.simulate.result import Result
from thermsim.assess.spots.brick_field import unsolved
from thermsim.case.case import Case
from thermsim.case.doubts import doubts
from thermsim.notice import Notice, as_given
from thermsim.physics.convection import flow_notices
from thermsim.physics.gap import rayleigh_notice
from thermsim.text import plain

CONDUCTION_ONLY = (
    "Heat moves by conduction alone in this model. A product that flows or is stirred (thin sauces, brine, broth, "
    "agitated retorts) heats otherwise, and its cold spot lies elsewhere: these figures do not hold for it."
)

NO_VALIDATION = (
    "A simulation is not a validation: it says where to measure, and the measurement decides. Thermal processes are "
    "set by the process authority, under local regulation and licensed practice."
)
#: What every report says before anything is done with it.
CAUTIONS = (
    "Low-acid food in a sealed container can grow Clostridium botulinum. A process that heats too little can kill "
    "those who eat the food. This page is no permission to use a process.",
    NO_VALIDATION,
    CONDUCTION_ONLY,
    "Retorts hold pressure, steam and hot water: enter, open and test them only by the maker's and the site's safety "
    "rules. Holes drilled into containers have sharp edges: deburr them, wear gloves, and keep chips out of food.",
)


#: Said where nothing is known of a product's flow.
NOT_LOOKED_AT = Notice(
    "flow-not-looked-at",
    "warning",
    "convection",
    "Nobody has looked whether the product flows: give its viscosity, or its thickness in words, in [product]. "
    "Of a product that flows while it heats these figures do not hold.",
    pressing=True,
)
#: Places whose lethality differs by less than this are as good as one (a fraction).
FLAT = 0.005
#: Cold spots nearer to each other than this are one [m].
APART = 0.5e-3


def notices_of_case(case: Case) -> tuple[Notice, ...]:
    """Cautions of a case alone: whether its product convects, and what was assumed where it leaves something open."""
    flow = case.product.flow
    convects = (NOT_LOOKED_AT,) if flow is None else flow_notices(flow, depth=case.fill_height)
    return (*convects, *_pieces(case), *doubts(case), *_no_cooling(case), *as_given(case.notes), *_upright(case))


def _pieces(case: Case) -> Iterator[Notice]:
    """Caution about pieces in the product, for the figures and for a probe."""
    if not case.product.pieces:
        return
    brief = (
        f'Pieces in the product ("{plain(case.product.pieces, 80)}"): computed is one even body, and a tip in a '
        "piece reads differently from a tip beside it."
    )
    text = (
        f"{brief} Put the tip where the process authority says, alike in all containers, and note which. Liquid "
        "between pieces may flow even where the whole looks stiff; the middle of the largest piece often heats last "
        "(from memory)."
    )
    yield Notice("pieces", "warning", "cold spot", text, {}, brief, pressing=True)


def _upright(case: Case) -> Iterator[Notice]:
    """Position of the container, which decides where its headspace is."""
    if case.headspace_height > 0.0:
        text = (
            "The headspace lies level above the product throughout: the container stands upright. In one that lies "
            "on its side, stands on its lid or tumbles it is elsewhere, and so is the cold spot."
        )
        yield Notice("upright", "note", "headspace", text)


def _no_cooling(case: Case) -> Iterator[Notice]:
    """A process that ends while it heats."""
    process = case.process
    if process.heated_until < process.end:
        return
    text = (
        "The process has no cooling stage: it ends with heating, and no figure holds the lethality that is gathered "
        "while the container cools. A hold that just reaches the target is longer than it need be, and a reading in "
        "cooling is not looked at. Add a cool stage, or keep in mind that the lethality is without cooling."
    )
    brief = "No cooling stage: the lethality is without what cooling adds, and no reading in cooling is looked at."
    yield Notice("no-cooling", "warning", "target", text, {}, brief, pressing=True)


def notices_of_result(result: Result, excess: float) -> tuple[Notice, ...]:
    """Cautions about a container's result, its case included.

    Parameters
    ----------
    result : Result
        The result.
    excess : float
        Largest ratio of a figure's uncertainty to the accuracy asked for.
    """
    found = (
        _uniform(result),
        _bound(result),
        # of a brick that is solved itself the cylinder's places are nobody's concern
        *((_two_spots(result), _competing(result)) if result.brick is None else ()),
        _accuracy(result, excess),
        _near_target(result),
        _turning(result),
        _energy(result),
    )
    return (*notices_of_case(result.case), *(notice for notice in found if notice is not None))


def _uniform(result: Result) -> Notice | None:
    """Say when there is no cold spot to speak of."""
    spread = float(np.nanmax(result.lethality) / np.nanmin(result.lethality)) - 1.0
    if spread > FLAT:
        return None
    text = (
        f"The product gathers the same lethality everywhere, within {100 * spread:.1g} %: there is no cold spot to "
        "speak of, and the places given mean nothing."
    )
    return Notice("no-cold-spot", "warning", "cold spot", text, {"spread": spread}, pressing=True)


def _two_spots(result: Result) -> Notice | None:
    """Explain why the two cold spots are different places, where they are."""
    cold_spot = result.cold_spot
    least, slowest = cold_spot.least_lethality, cold_spot.slowest_heating
    if cold_spot.distance <= max(2.0 * result.case.accuracy.place, APART):
        return None
    where = "inside the product" if least.inside else "on the product's surface"
    places = (
        f"the least-lethality place ({where}, r = {least.r * 1e3:.1f} mm, z = {least.z * 1e3:.1f} mm) and the "
        f"slowest-heating place (r = {slowest.r * 1e3:.1f} mm, z = {slowest.z * 1e3:.1f} mm)"
    )
    more = slowest.lethality / least.lethality - 1.0
    figures = {"distance": cold_spot.distance, "more_lethality": more}
    if more <= FLAT:
        text = (
            f"The minimum is flat: {places}, {cold_spot.distance * 1e3:.1f} mm apart, differ by {100 * more:.1g} % "
            "of lethality. Treat them as one place."
        )
        return Notice("flat-minimum", "note", "cold spot", text, figures)
    in_cooling = [100.0 * (1.0 - spot.heating_lethality / spot.lethality) for spot in (least, slowest)]
    told = f"T{places[1:]} lie {cold_spot.distance * 1e3:.1f} mm apart"
    shares = (
        f"({in_cooling[0]:.0f} % of the lethality is gathered in cooling at the first, {in_cooling[1]:.0f} % at the "
        "second)"
    )
    if in_cooling[1] > in_cooling[0]:
        why = (
            "after heating ends the core goes on gathering lethality while places nearer the outside cool "
            f"{shares}. Which of the two the record uses is the process authority's decision."
        )
    else:
        why = (
            f"the place that is coldest when heating ends gathers less afterwards than the other {shares}. Check "
            "that heating ends where the case says so."
        )
    return Notice("two-cold-spots", "note", "cold spot", f"{told}: {why}", figures)


def _bound(result: Result) -> Notice | None:
    """Say what counts where the container stands in for a body that is none of revolution."""
    if not result.case.container.stands_in:
        return None
    if result.brick is not None:
        text = (
            "Cold spots, target, hold and what a probe through an edge reads are those of the brick itself, solved "
            "in three dimensions, the heat that its walls store counted as the product's. Maps, points and what a "
            "probe through the lid or the base reads are those of the upright cylinder that encloses it."
        )
        brief = (
            "Cold spots, target, hold and probes through an edge are those of the brick itself; maps, points and "
            "what a probe through the lid or the base reads are those of the upright cylinder that encloses it."
        )
        return Notice("brick-solved", "warning", "cold spot", text, {}, brief, pressing=True)
    least = float(np.nanmin(result.heating_lethality))
    told = (
        "The enclosing cylinder stands in for the brick, and only what it gathers while heating counts: "
        f"{least / 60.0:.3g} min"
    )
    figures = {"least_heating_lethality": least}
    if result.target is None:
        return Notice("stands-in", "warning", "target", f"{told}.", figures, pressing=True)
    wanted = result.target.lethality
    if least >= wanted:
        text = (
            f"{told}, which reaches the target of {wanted / 60.0:g} min. Cooling is left out: it is no bound there."
        )
        return Notice("stands-in", "warning", "target", text, figures, pressing=True)
    brief = (
        f"NOT SAFE YET: while heating the cylinder that stands in for the brick gathers {least / 60.0:.3g} min, and "
        f"{wanted / 60.0:g} min are wanted; what cooling adds does not count for a brick."
    )
    text = (
        f"{brief} The verdict on the target and the hold count cooling, which is no bound for a brick, as the "
        "cylinder cools more slowly: do not go by them. The brick itself, which heats faster, is not solved in three "
        f"dimensions, as {unsolved(result.case)}: measure it."
    )
    return Notice("stands-in", "danger", "target", text, figures, brief)


def _competing(result: Result) -> Notice | None:
    """Say when a second minimum is as low as the first within the uncertainty."""
    minima = result.cold_spot.minima
    if len(minima) < 2:
        return None
    first, second = minima[:2]
    unsure = sum(result.uncertainty[f"cold_spot.minima.{k}.lethality"] for k in (0, 1))
    excess = 100.0 * (second.lethality / first.lethality - 1.0)
    if second.lethality - first.lethality > max(unsure, 0.02 * first.lethality):
        return None
    text = (
        f"A second place with almost as little lethality ({excess:.1f} % more) lies at r = {second.r * 1e3:.1f} mm, "
        f"z = {second.z * 1e3:.1f} mm: measure at both."
    )
    figures = {"r": second.r, "z": second.z, "more_lethality": excess / 100.0}
    return Notice("second-minimum", "warning", "cold spot", text, figures, pressing=True)


def _accuracy(result: Result, excess: float) -> Notice | None:
    """Say when the accuracy asked for was not reached."""
    if excess <= 1.0:
        return None
    text = (
        f"The accuracy asked for was not reached: the largest numerical uncertainty is {excess:.1f} times what "
        f"[accuracy] allows, on grids refined {result.effort.refinement:g} times. Each figure's own uncertainty "
        "stands beside it; a flat minimum has an uncertain place even where its lethality is certain."
    )
    return Notice("accuracy-not-reached", "warning", "accuracy", text, {"excess": excess})


def _near_target(result: Result) -> Notice | None:
    """Say when the target is reached or missed by less than the numbers can tell."""
    if result.target is None:
        return None
    unsure = result.uncertainty["target.least"]
    if math.fabs(result.target.least - result.target.lethality) > unsure:
        return None
    text = (
        "The least lethality differs from the target by less than its numerical uncertainty: treat it as not reached."
    )
    return Notice("near-target", "warning", "target", text, {"uncertainty": unsure}, pressing=True)


def worse_end(result: Result) -> Notice | None:
    """Say when the target is reached with the films taken, but not with the worst of those that are usual."""
    found, target = result.input_range, result.target
    if found is None or target is None or not target.reached:
        return None
    least = min(found.low[0].lethality, found.high[0].lethality)
    if least >= target.lethality:
        return None
    text = (
        "NOT SAFE YET: with the heat-transfer coefficients at the worse end of what is usual of the medium "
        f"{result.case.lethality.symbol} is {least / 60.0:.3g} min, below the target of "
        f"{target.lethality / 60.0:g} min. Measure them, or the product."
    )
    return Notice("films-miss-target", "danger", "films", text, {"least": least, "target": target.lethality})


def _turning(result: Result) -> Notice | None:
    """Say when the gas of the headspace may turn over, which is not in the model."""
    case, grid = result.case, result.grid
    gap = case.headspace.gap
    if gap is None or case.headspace_height <= 0.0:
        return None
    rim = int(np.searchsorted(grid.columns, grid.reference(case.container.radius_at(case.surface), case.surface)[0]))
    means = []
    for z in (case.surface, case.container.ceiling):
        level = int(np.abs(grid.levels - grid.reference(0.0, z)[1]).argmin())
        r = grid.r[: rim + 1, level]
        areas = hat_integrals(r, 0.0, r[-1], ring=True)
        means.append(result.temperature[:, : rim + 1, level] @ (areas / areas.sum()))
    below, above = means
    worst = int((below - above).argmax())
    return rayleigh_notice(gap, below=round(float(below[worst]), 1), above=round(float(above[worst]), 1))


def _energy(result: Result) -> Notice | None:
    """Say when the energy balance does not close."""
    # where properties change with temperature each step settles to a small part of its tolerance only
    changing = any(material.tabulated is not None for material in result.grid.materials)
    if abs(result.energy.relative_defect) <= (1e-6 if changing else 1e-8):
        return None
    text = f"The energy balance closes only to {result.energy.relative_defect:.1e}: do not use these figures."
    return Notice("energy-not-balanced", "danger", "energy", text, {"defect": result.energy.relative_defect})
