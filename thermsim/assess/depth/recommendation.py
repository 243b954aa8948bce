"""From a case with a probe to the advice how deep it should go, through which wall, with the hardware at hand."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

from thermsim.assess.depth.insertion import ADDED, COARSE, Climb
from thermsim.assess.depth.limits import other_entries, reachable_depths, set_to
from thermsim.assess.depth.stems import other_stems
from thermsim.assess.fields.curve import Curve
from thermsim.assess.fields.refinement import Refined
from thermsim.assess.probe.advice import Advice, Candidate, Recommendation, Setting
from thermsim.assess.probe.effect import by_all
from thermsim.assess.probe.hardware import made_up, settings
from thermsim.assess.probe.mismatch import Truth
from thermsim.assess.simulate.probe_cautions import notices_of_advice
from thermsim.assess.simulate.result import Result
from thermsim.assess.simulate.simulation import from_side, simulate_container, with_input_range, with_probe
from thermsim.assess.spots.cold_spot import ProductFields
from thermsim.case.case import Case
from thermsim.case.probe import Probe
from thermsim.case.study import CRITERIA, Criterion
from thermsim.errors import InputError
from thermsim.solve.matrix.linear import in_one_thread

#: Of the window of depths: mismatch beyond the least, a fraction.
MARGIN = 0.02
#: Accuracy of the sensor that confirmation depths go by [K].
SENSOR_ACCURACY = 0.3
#: So many settings of the hardware at hand, the nearest, are solved each as it is.
SOLVED = 3


@in_one_thread
def recommend(
    case: Case,
    *,
    criterion: Criterion = "least lethality",
    margin: float = MARGIN,
    sensor_accuracy: float = SENSOR_ACCURACY,
    side: bool = False,
    progress: Callable[[float], None] | None = None,
) -> Result:
    """Find how deep the case's probe should go, and compare it with its other entry and with other probes.

    Parameters
    ----------
    case : Case
        With a probe; the insertion it may have is not used.
    criterion : {"least lethality", "slowest heating"}, optional
        Which undisturbed cold spot the reading is to follow.
    margin : float, optional
        Of the window: mismatch beyond the least, a fraction.
    sensor_accuracy : float, optional
        [K]; confirmation depths are chosen so that the sensor can tell them apart.
    side : bool, optional
        Whether probes through lid or base are compared with the same from the side, at the cold spot's height, too;
        one from the side is always compared with both.
    progress : callable, optional
        Called with the part of the work that is done (0 to 1).

    Returns
    -------
    Result
        With ``advice``, and with ``probe`` at the recommended depth.

    Raises
    ------
    InputError
        If the case has no probe, no depth is possible for it, or it cannot enter from the side where that is asked.

    Examples
    --------
    >>> import thermsim
    >>> rough = thermsim.Accuracy(1.0, 0.2, 5e-3)
    >>> case = thermsim.read_case("cases/can_probe.toml").replace(accuracy=rough, probes=(), stock=None)
    >>> result = thermsim.recommend(case)
    >>> own = result.advice.own.recommended("least lethality")
    >>> print(f"{own.depth:.2f} m, over-reading until heating ends {own.heating_over_reading:.0%}")
    0.06 m, over-reading until heating ends 9%
    >>> result.probe.ladder.over_reading.shape == result.probe.ladder.depth.shape
    True
    """
    if case.probe is None:
        raise InputError("the case has no [probe]: add one to ask how deep it should go")
    limits = reachable_depths(case, case.probe)
    if limits is None:
        raise InputError(
            f'probe "{case.probe.name}": no depth is possible; its sensing length does not fit into the product '
            "beyond its fitting (see fitting, sensing_mm, segments, headspace)"
        )
    undisturbed, refined = simulate_container(case.replace(probe=None, probes=()), once=True)
    undisturbed = with_input_range(undisturbed)
    height = undisturbed.both_spots[0].z
    case = case.replace(
        probe=case.at_height(case.probe, height), probes=tuple(case.at_height(one, height) for one in case.probes)
    )
    if case.probe is None:
        raise ValueError("the probe is there")
    wanted = _entries(case, height, side=side)
    background, spots = None, undisturbed.spots
    if any(probe.entry == "side" for probe in wanted):
        background, spots = from_side(undisturbed, refined)
    truths = (_truth(undisturbed, refined, spots, 0), _truth(undisturbed, refined, spots, 1))
    rungs = len(wanted) * (COARSE + ADDED + 1)
    done = 0

    def advance() -> None:
        nonlocal done
        done += 1
        if progress is not None:
            progress(0.1 + 0.8 * min(1.0, done / rungs))

    fields = ProductFields.of(refined.grid, refined.best)
    climb = Climb(
        case=case,
        undisturbed=fields,
        background=background,
        truths=truths,
        criterion=criterion,
        margin=margin,
        sensor_accuracy=sensor_accuracy,
        tolerance=undisturbed.effort.tolerance,
        advance=advance,
    )
    # one after the other: on grids as small as a rung's, threads wait for each other longer than they save
    climbed = [climb.candidate(probe, own=k == 0) for k, probe in enumerate(wanted)]
    found = [one for one in climbed if one is not None]
    own = found[0]  # the case's own probe is asked for first
    ranked = sorted(found, key=lambda one: _rank(one.recommended(criterion)))
    depth = own.recommended(criterion).depth
    placed = case.replace(probe=set_to(case, case.probe, depth))
    result = with_probe(undisturbed, refined, placed, solved=climb.kept.get(depth))
    ranked[ranked.index(own)] = own = _as_solved(own, result)
    if progress is not None:
        progress(1.0)
    window = own.recommended(criterion).window
    hardware = (
        settings(case.stock, case.probe, case.container, depth=depth, window=window, limits=limits)
        if case.stock
        else ()
    )
    given = case.probe.insertion
    advice = Advice(
        criterion=criterion,
        candidates=tuple(ranked),
        chosen=ranked.index(own),
        confirmation=climb.confirmation(case.probe, own.ladder, depth),
        sensor_accuracy=sensor_accuracy,
        settings=(*(_with_worth(climb, own, one) for one in hardware[:SOLVED]), *hardware[SOLVED:]),
        stems=other_stems(climb, case.probe, depth),
        given=None if given is None else climb.at_setting(case.probe, given, window),
    )
    result = dataclasses.replace(result, advice=advice)
    return result.noting(*notices_of_advice(result))


def _as_solved(own: Candidate, result: Result) -> Candidate:
    """The case's own probe as known as the whole solution at its depth is: a figure is stated in one way."""
    (least, slowest), probe = own.recommendations, result.probe
    if probe is None or least.depth != probe.depth:
        return own
    off, read = (result.uncertainty[f"probe.{name}.lethality"] for name in ("at_cold_spot", "reading"))
    # how slowly errors fall is looked at there alone: a mismatch is uncertain by as much more as an over-reading is
    least = dataclasses.replace(
        least,
        uncertainty=off,
        reading_uncertainty=read / probe.reading.lethality,
        mismatch_uncertainty=least.mismatch_uncertainty * max(1.0, off / least.uncertainty),
    )
    return dataclasses.replace(own, recommendations=(least, slowest))


def _with_worth(climb: Climb, own: Candidate, setting: Setting) -> Setting:
    """A setting with what its hardware reads at its depth; the recommended one is solved already."""
    chosen, set_up = own.recommended(climb.criterion), made_up(own.probe, setting, climb.case.container)
    if set_up == set_to(climb.case, own.probe, chosen.depth):
        return dataclasses.replace(setting, worth=chosen)
    return dataclasses.replace(setting, worth=climb.at_setting(set_up, setting.depth, chosen.window))


def _entries(case: Case, z: float, *, side: bool) -> list[Probe]:
    """The probes to compare: the case's own first, then the others, each at the other walls where it can be."""
    probes = [probe for probe in (case.probe, *case.probes) if probe is not None]
    found = [one for probe in probes for one in (probe, *other_entries(case, probe, z, side=side))]
    if case.container.brick is not None and len({probe.entry == "side" for probe in found}) > 1:
        raise InputError(
            "a probe through the edge of a brick is compared with the brick itself, one through its upper or lower "
            "face with the cylinder round it: ask for each in a case of its own"
        )
    for probe in found:
        faults = case.side_faults(probe)
        if faults:
            raise InputError(f"from the side: {faults[0]}")
    return found


def _rank(recommendation: Recommendation) -> tuple[bool, float]:
    """Good ones first, then by their mismatch."""
    return not recommendation.good, recommendation.mismatch


def _truth(result: Result, refined: Refined, spots: tuple[Curve, Curve], which: int) -> Truth:
    """Reference of readings: one of the undisturbed cold spots."""
    curve = spots[which]
    name = ("least_lethality.lethality", "slowest_heating.heating_lethality")[which]
    of = "cold_spot" if spots is result.spots else result.body
    truth = Truth(CRITERIA[which], curve, result.case.lethality, result.case.process.heated_until)
    others = (
        [dataclasses.replace(truth, curve=one) for one in by_all(refined, curve)[1:]] if of == "cold_spot" else []
    )
    stated = result.uncertainty[f"{of}.{name}"] / truth.aim
    return dataclasses.replace(truth, uncertainty=stated, others=tuple(others))
