"""Marks of what came from elsewhere."""

from __future__ import annotations

from dataclasses import dataclass

from thermsim.case.case import Case
from thermsim.case.container import Container
from thermsim.quantities import LENGTH, MASS, PART, VOLUME


@dataclass(frozen=True)
class Diameters:
    """Inner diameters of a container [m]: at its base, at its top, the largest and the smallest."""

    base: float
    top: float
    widest: float
    narrowest: float


def inner_diameters(container: Container) -> Diameters:
    """The inner diameters of a container, of its roundings and not of the corners that they round."""
    profile = container.profile
    heights = {end[0] for piece in profile.pieces for end in (piece.low, piece.high)}
    # an arc may be widest or narrowest between its ends
    heights |= {
        piece.centre[0]
        for piece in profile.pieces
        if piece.centre is not None and piece.low[0] < piece.centre[0] < piece.high[0]
    }
    found = [2.0 * float(radius) for radius in profile.radius(sorted(heights))]
    return Diameters(found[0], found[-1], max(found), min(found))


def side_thickness(container: Container) -> tuple[float, float] | None:
    """The least and the largest thickness of the side wall [m]; None where there is none."""
    if container.side is None:
        return None
    course = container.side.course or (container.side.thickness,)
    return min(course), max(course)


def product_mass(case: Case) -> float:
    """Mass of the product [kg]; what a probe takes up is not taken off."""
    return case.product_volume * case.product.material.density


def container_record(container: Container) -> dict[str, object]:
    """Size and shape of a container for machines; every key is there for straight ones too."""
    diameters, side = inner_diameters(container), side_thickness(container)
    return {
        "straight": container.is_straight,
        **VOLUME.record(inner_volume=container.volume),
        **LENGTH.record(
            inner_height=container.inner_height,
            inner_diameter_base=diameters.base,
            inner_diameter_top=diameters.top,
            inner_diameter_widest=diameters.widest,
            inner_diameter_narrowest=diameters.narrowest,
            base_rise=container.crown,
            side_thickness=side,
            base_thickness=None if container.base is None else container.base.thickness,
            lid_thickness=None if container.lid is None else container.lid.thickness,
            outer_diameter=2.0 * container.outer_radius,
            outer_height=container.outer_height,
        ),
    }


def fill_record(case: Case) -> dict[str, object]:
    """Contents of a container, for machines; what a probe takes up is not taken off.

    ``height_mm`` counts from the inside of the base, at its rim where it rises; ``depth_on_axis_mm`` is the product's
    depth over the rise. The headspace's volume is what holds a vacuum or gas.
    """
    return {
        **VOLUME.record(product_volume=case.product_volume),
        **MASS.record(mass=product_mass(case)),
        **LENGTH.record(height=case.fill_height, depth_on_axis=case.fill_height - case.container.crown),
        "percent_of_volume": PART.edge(case.product_volume / case.container.volume),
        **LENGTH.record(headspace=case.headspace_height),
        **VOLUME.record(headspace_volume=case.headspace_volume),
    }
