"""Sentences that a reader must see beside the figures."""

from __future__ import annotations

import math

import numpy as np

from thermsim.assess.simulate.result import Result
from thermsim.physics.gap import rayleigh_remark

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


#: Places whose lethality differs by less than this are as good as one (a fraction).
FLAT = 0.005
#: Cold spots nearer to each other than this are one [m].
APART = 0.5e-3


def warnings_for(result: Result, excess: float) -> tuple[str, ...]:
    """What must be said of a result.

    Parameters
    ----------
    result : Result
        The result.
    excess : float
        Largest ratio of a figure's uncertainty to the accuracy asked for.
    """
    found = [
        sentence
        for sentence in (
            _uniform(result),
            _bound(result),
            _two_spots(result),
            _competing(result),
            _accuracy(result, excess),
            _near_target(result),
            _turning(result),
            _energy(result),
        )
        if sentence
    ]
    return (*result.case.notes, *found)


def _uniform(result: Result) -> str:
    """Say when there is no cold spot to speak of."""
    spread = float(np.nanmax(result.lethality) / np.nanmin(result.lethality)) - 1.0
    if spread > FLAT:
        return ""
    return (
        f"The product gathers the same lethality everywhere, within {100 * spread:.1g} %: there is no cold spot to "
        "speak of, and the places given mean nothing."
    )


def _two_spots(result: Result) -> str:
    """Explain why the two cold spots are different places, where they are."""
    cold_spot = result.cold_spot
    least, slowest = cold_spot.least_lethality, cold_spot.slowest_heating
    if cold_spot.distance <= max(2.0 * result.case.accuracy.place, APART):
        return ""
    where = "inside the product" if least.inside else "on the product's surface"
    places = (
        f"the least-lethality place ({where}, r = {least.r * 1e3:.1f} mm, z = {least.z * 1e3:.1f} mm) and the "
        f"slowest-heating place (r = {slowest.r * 1e3:.1f} mm, z = {slowest.z * 1e3:.1f} mm)"
    )
    more = slowest.lethality / least.lethality - 1.0
    if more <= FLAT:
        return (
            f"The minimum is flat: {places}, {cold_spot.distance * 1e3:.1f} mm apart, differ by {100 * more:.1g} % "
            "of lethality. Treat them as one place."
        )
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
    return f"{told}: {why}"


def _bound(result: Result) -> str:
    """Say what counts where the container stands in for a body that is none of revolution."""
    if not result.case.container.stands_in:
        return ""
    least = float(np.nanmin(result.heating_lethality)) / 60.0
    told = f"The cylinder stands in for another body: count only what is gathered while heating, {least:.3g} min"
    if result.target is None:
        return f"{told}."
    wanted = result.target.lethality / 60.0
    verdict = "reaches" if least >= wanted else "does NOT reach"
    return (
        f"{told}. That {verdict} the target of {wanted:g} min. The target line and the hold above count cooling, "
        "which is no bound: do not go by them."
    )


def _competing(result: Result) -> str:
    """Say when a second minimum is as low as the first within the uncertainty."""
    minima = result.cold_spot.minima
    if len(minima) < 2:
        return ""
    first, second = minima[:2]
    unsure = sum(result.uncertainty[f"cold_spot.minima.{k}.lethality"] for k in (0, 1))
    excess = 100.0 * (second.lethality / first.lethality - 1.0)
    if second.lethality - first.lethality > max(unsure, 0.02 * first.lethality):
        return ""
    return (
        f"A second place with almost as little lethality ({excess:.1f} % more) lies at r = {second.r * 1e3:.1f} mm, "
        f"z = {second.z * 1e3:.1f} mm: measure at both."
    )


def _accuracy(result: Result, excess: float) -> str:
    """Say when the accuracy asked for was not reached."""
    if excess <= 1.0:
        return ""
    return (
        f"The accuracy asked for was not reached: the largest numerical uncertainty is {excess:.1f} times what "
        f"[accuracy] allows, on grids refined {result.effort.refinement:g} times. Each figure's own uncertainty "
        "stands beside it; a flat minimum has an uncertain place even where its lethality is certain."
    )


def _near_target(result: Result) -> str:
    """Say when the target is reached or missed by less than the numbers can tell."""
    if result.target is None:
        return ""
    unsure = result.uncertainty["target.least"]
    if math.fabs(result.target.least - result.target.lethality) > unsure:
        return ""
    return (
        "The least lethality differs from the target by less than its numerical uncertainty: treat it as not reached."
    )


def worse_end(result: Result) -> str:
    """Say when the target is reached with the films taken, but not with the worst of those that are usual."""
    found, target = result.input_range, result.target
    if found is None or target is None or not target.reached:
        return ""
    least = min(found.low[0].lethality, found.high[0].lethality)
    if least >= target.lethality:
        return ""
    return (
        f"NOT SAFE YET: with the film coefficients at the worse end of what is usual of the medium F is "
        f"{least / 60.0:.3g} min, below the target of {target.lethality / 60.0:g} min. Measure them, or the product."
    )


def _turning(result: Result) -> str:
    """Say when the gas of the headspace may turn over, which is not in the model."""
    case, grid = result.case, result.grid
    gap = case.headspace.gap
    if gap is None or case.headspace_height <= 0.0:
        return ""
    rim = int(np.searchsorted(grid.columns, grid.reference(case.container.radius_at(case.surface), case.surface)[0]))
    below, above = (
        np.average(
            result.temperature[:, : rim + 1, int(np.abs(grid.levels - grid.reference(0.0, z)[1]).argmin())],
            axis=1,
            weights=grid.columns[: rim + 1] + grid.columns[1] / 4.0,
        )
        for z in (case.surface, case.container.ceiling)
    )
    worst = int((below - above).argmax())
    return rayleigh_remark(gap, below=round(float(below[worst]), 1), above=round(float(above[worst]), 1))


def _energy(result: Result) -> str:
    """Say when the energy balance does not close."""
    # where properties change with temperature each step settles to a small part of its tolerance only
    changing = any(material.courses is not None for material in result.grid.materials)
    if abs(result.energy.relative_defect) <= (1e-6 if changing else 1e-8):
        return ""
    return f"The energy balance closes only to {result.energy.relative_defect:.1e}: do not use these figures."
