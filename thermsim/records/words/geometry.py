"""A container's size and shape, and what is in it, as numbers with units and in words."""

from __future__ import annotations

from thermsim.case.case import Case
from thermsim.case.container import Container
from thermsim.case.probe import Probe
from thermsim.quantities import LENGTH, MASS, PART, VOLUME
from thermsim.records.numbers.geometry import inner_diameters, product_mass, side_thickness
from thermsim.records.words.figure_text import millimetres
from thermsim.records.words.parts import Entry


def geometry_sentences(case: Case) -> list[Entry]:
    """Contents of the container, and of one that is not straight its shape, as labels and texts."""
    container = case.container
    entries = (
        []
        if container.is_straight
        else [("Container", f"{_shape(container)}; holds {VOLUME.text(container.volume)}")]
    )
    if container.seam is not None:
        entries.append(("Seams", seams_text(container)))
    return [*entries, ("Fill", _fill(case))]


def diameters_text(container: Container) -> str:
    """The inner diameters [mm], those of the ends and those that are larger or smaller."""
    found = inner_diameters(container)
    base, top, widest, narrowest = (
        millimetres(length) for length in (found.base, found.top, found.widest, found.narrowest)
    )
    parts = [f"{base} mm at the base", f"{top} mm at the top"]
    # as they are shown: rounding errors are no shape
    if widest not in (base, top):
        parts.append(f"{widest} mm where it is widest")
    if narrowest not in (base, top):
        parts.append(f"{narrowest} mm where it is narrowest")
    return ", ".join(parts)


def seam_sentence(container: Container, probe: Probe, depth: float) -> str:
    """Place of the seam's edge, and a depth [m] counted from there; "" where there is none."""
    beyond = container.seam_above(probe.entry)
    if container.seam is None or not beyond:
        return ""
    assumed = " (common practice, no source: measure it)" if container.seam.assumed else ""
    return (
        f"the seam's edge stands {LENGTH.text(beyond)} beyond the {probe.wall}'s panel{assumed}: "
        f"{LENGTH.text(depth + beyond)} from there to the tip"
    )


def seams_text(container: Container) -> str:
    """Distances from the edges of body and seam to the axis, and how far the seams stand beyond the panels."""
    seam = container.seam
    if seam is None:
        return ""
    body = container.measured(container.outer_radius, container.profile.widest)
    parts = [f"edge to axis {LENGTH.text(body)} of the body"]
    if seam.radius is not None:
        parts.append(f"{LENGTH.text(seam.radius)} of the seam")
    over = container.outer_height + seam.lid + seam.base
    stands = (
        f"the seam's top stands {LENGTH.text(seam.lid)} above the lid's panel, its foot {LENGTH.text(seam.base)} "
        f"below the base's, {LENGTH.text(over)} high over both"
    )
    return f"{', '.join(parts)}; {stands}{' (common practice, no source)' if seam.assumed else ''}"


def displacement_note(case: Case) -> str:
    """The end of a sentence about volume and mass: what they are not reduced by."""
    return "" if case.probe is None else " (what the probe takes up is not taken off)"


def _shape(container: Container) -> str:
    parts = [f"inner diameter {diameters_text(container)}"]
    if container.rise is not None:
        parts.append(f"base rises {millimetres(container.crown)} mm")
    side = side_thickness(container)
    if side is not None:
        parts.append(f"side wall {thickness_text(*side)} mm")
    return "; ".join(parts)


def thickness_text(least: float, largest: float) -> str:
    """A wall's range of thickness in mm, without the unit."""
    texts = [f"{round(LENGTH.edge(length), 3):g}" for length in (least, largest)]
    return texts[0] if texts[0] == texts[1] else " to ".join(texts)


def _fill(case: Case) -> str:
    part = PART.text(case.product_volume / case.container.volume)
    headspace = "no headspace"
    if case.headspace_height > 0.0:
        room = VOLUME.text(case.headspace_volume)
        headspace = f"headspace {millimetres(case.headspace_height)} mm, {room} for vacuum or gas"
    return (
        f"{VOLUME.text(case.product_volume)}, {MASS.text(product_mass(case))}, {LENGTH.text(case.fill_height)} high: "
        f"{part} of the inner volume{displacement_note(case)}; {headspace}"
    )
