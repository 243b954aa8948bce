"""Cautions on a bench sheet: what cuts, breaks, gives way or leaks, by the walls that the container has."""

from __future__ import annotations

from collections.abc import Iterator

from thermsim.assess.simulate.cautions import NO_VALIDATION
from thermsim.assess.simulate.result import Result
from thermsim.case.container import Container, Wall
from thermsim.case.doubts import METAL, PLASTIC
from thermsim.case.probe import Probe
from thermsim.notice import Notice
from thermsim.quantities import LENGTH

#: Metal thinner than this is foil, which tears and creases [m].
FOIL = 0.1e-3
#: To be seen to where walls are of plastic, film or foil.
TIGHT = "Before the run, check that the container is tight at the probe and at every seam."
#: ... and where none is.
HOLDS = "Before the run, check that the {}container holds vacuum and the retort's pressure."
#: Where a headspace is left.
UPRIGHT = "Stand the container upright in the retort: on its side or lid its headspace and cold spot are elsewhere."
#: What cuts whoever closes a container, by its hard walls; where nothing is known of them it may be all.
_EDGES = {
    frozenset({"metal", "glass"}): "Lids and broken glass have sharp edges: wear gloves. ",
    frozenset({"metal"}): "Lids and cut metal have sharp edges: wear gloves. ",
    frozenset({"glass"}): "Glass can break: wear gloves. ",
}
_UNKNOWN = ("metal", "glass")


def pieces_caution(pieces: str) -> str:
    """Caution about a tip in or beside a piece."""
    return (
        f'Pieces in the product ("{pieces}"): a tip in a piece and a tip beside it read differently, and neither is '
        "the even body that was computed. Put the tip where the process authority says, alike in all containers, and "
        "note which; a piece that was pierced is held fast and heats along the stem."
    )


def cautions(result: Result, probe: Probe) -> tuple[str, ...]:
    """Warnings to heed at the bench."""
    pieces = result.case.product.pieces
    return (
        *_of_walls(result.case.container, probe),
        *(_near_end(notice, probe) for notice in result.notices if notice.code == "near-end"),
        *([pieces_caution(pieces)] if pieces else []),
        *([UPRIGHT] if result.case.headspace_height > 0.0 else []),
        "Retorts hold hot steam, hot water and pressure: open, enter and test them only by the maker's and the "
        "site's safety rules.",
        "What is in a test container is not for eating.",
        NO_VALIDATION,
    )


def _of_walls(container: Container, probe: Probe) -> Iterator[str]:
    """Say what is to be heeded of the wall that is drilled, and of all others."""
    kinds = {name: _kind(wall) for name, wall in container.walls.items()}
    # where no wall is given a brick is one of film
    all_of = {*kinds.values()} or ({"soft"} if container.brick is not None else {*_UNKNOWN})
    entered = {kinds[probe.entry]} if probe.entry in kinds else all_of
    if probe.mount != "through":
        yield "Fix the stack so that it cannot tip over or float; close the container without pressing on it."
        yield f"{_EDGES.get(frozenset(all_of - {'soft'}), '')}{_closed(all_of, 'closed ')}"
        return
    if "soft" in entered:
        yield (
            "Plastic, film and foil give way and crease: support them flat where the probe enters, cut or drill "
            "clean, and keep chips out of the food."
        )
    if hard := sorted(entered - {"soft"}, reverse=True):
        breaks = ", and glass can break" if "glass" in all_of else ""
        what = " and ".join(hard)
        have = "have" if len(hard) > 1 else "has"
        yield (
            f"Drilled {what} {have} sharp edges{breaks}: wear gloves and goggles, deburr the hole, keep chips out of "
            "the food."
        )
    elif "glass" in all_of:
        yield "Glass can break: wear gloves and goggles."
    if probe.entry == "side" and container.brick is None and entered == {"metal"}:
        yield "Keep the hole away from the can's side seam."
    wall = container.walls.get(probe.entry)
    if wall is not None and wall.contact:
        yield "Cut the label away where the fitting seals, and nowhere else."
    yield f"Seal the fitting. {_closed(all_of, '')}"


def _kind(wall: Wall) -> str:
    """Kind of a wall for whoever works on it."""
    conducts = wall.material.conductivity
    if conducts < PLASTIC or (conducts > METAL and wall.thickness < FOIL):
        return "soft"
    return "metal" if conducts > METAL else "glass"


def _closed(kinds: set[str], closed: str) -> str:
    """Check before the run, and after it where walls give way."""
    return f"{TIGHT} After it, look where the tip is." if "soft" in kinds else HOLDS.format(closed)


def _near_end(notice: Notice, probe: Probe) -> str:
    """Caution about a probe from the side near to the product's upper or lower end."""
    left = LENGTH.number(notice.figures["left"], 1)  # a bound, whatever it is told in
    what = "Drill" if probe.mount == "through" else "Fix the foot"
    return (
        f"{what} at the height that is given: only {left} mm of product are left above or below the probe, and one "
        "that enters a little higher or lower reads quite differently."
    )
