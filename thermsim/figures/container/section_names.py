"""The names beside the section drawing: materials, films, diameters, cold spots, probe, each with a leader."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.text import Text

from thermsim.assess.probe.effect import ProbeEffect
from thermsim.assess.simulate.result import Result
from thermsim.assess.spots.cold_spot import Spot
from thermsim.assess.spots.zone import Zone
from thermsim.case.case import Case
from thermsim.case.container import Container, Wall
from thermsim.figures import style
from thermsim.figures.container.shape import Shape
from thermsim.quantities import LENGTH, mm
from thermsim.systems import told_bare

#: Height of a line of text on paper, and the room between two names [mm].
LINE_HEIGHT, BETWEEN = 3.4, 1.5
#: Letters in a line at the right.
COLUMN = 26
#: Radii nearer to each other than this are one [m].
SAME = 5e-5


@dataclass(frozen=True)
class Name:
    """A text at the right and the place it names [mm]."""

    r: float
    z: float
    text: str
    colour: str = style.LINE

    @property
    def height(self) -> float:
        """Height of the text on paper, with the room below it [mm]."""
        return LINE_HEIGHT * (self.text.count("\n") + 1) + BETWEEN


def names_of(result: Result, shape: Shape) -> list[Name]:
    """Names at the right, with the places the leaders go to, from the top down."""
    case, container = result.case, result.case.container
    side, outside = shape.coordinates.side, shape.coordinates.outside
    floor, depth, top = container.floor, case.surface - container.floor, container.outer_height
    diameters = [*_diameters(container)]

    def clear_of_them(*parts: float) -> float:
        """The first level, of those at parts of the product's depth, on which no diameter's leader runs."""
        levels = [floor + part * depth for part in parts]
        apart = [min((abs(mm(level) - name.z) for name in diameters), default=math.inf) for level in levels]
        return next((level for level, room in zip(levels, apart, strict=True) if room > mm(0.04 * top)), levels[0])

    names = [
        Name(*shape.at(0.7 * outside, top), _wall_text(case, "lid", container.lid)),
        Name(*shape.at((side + outside) / 2, clear_of_them(0.36, 0.44)), _wall_text(case, "side", container.side)),
        Name(*shape.at(0.7 * outside, 0.0), _wall_text(case, "base", container.base)),
        Name(*shape.at(0.6 * side, clear_of_them(0.2, 0.28)), _folded(f"product: {case.product.material.name}")),
        *diameters,
    ]
    if case.headspace_height > 0.0:
        inside = "insulated" if case.headspace.material is None else case.headspace.material.name
        if case.headspace.gap is not None:
            inside += f", gap of {LENGTH.text(case.headspace_height)}"
        place = shape.at(0.6 * side, case.surface + case.headspace_height / 2)
        names.append(Name(*place, _folded(f"headspace: {inside}")))
    least, slowest, valley = (
        result.cold_spot.least_lethality,
        result.cold_spot.slowest_heating,
        result.cold_spot.valley,
    )
    if result.cold_spot.distance < 1e-4:
        names.append(_spot_name(least, "least lethality and\nslowest heating", style.LEAST_LETHALITY, valley))
    else:
        names.append(_spot_name(least, "least lethality", style.LEAST_LETHALITY, valley))
        names.append(_spot_name(slowest, "slowest heating", style.SLOWEST_HEATING))
    if result.probe:
        names.append(_probe_name(result.probe, case))
    # of equal heights the outer place first, so that leaders do not cross
    return sorted(names, key=lambda name: (-name.z, -name.r))


def _diameters(container: Container) -> Iterator[Name]:
    """The inner diameter at the top, the widest and the narrowest, where they are not that at the base."""
    profile = container.profile
    heights = {end[0] for piece in profile.pieces for end in (piece.low, piece.high)}
    # an arc is widest or narrowest level with its centre
    heights |= {
        piece.centre[0] for piece in profile.pieces if piece.centre and piece.low[0] < piece.centre[0] < piece.high[0]
    }
    radii = {height: float(profile.radius(height)) for height in heights}
    base, top = radii[0.0], radii[profile.height]
    if abs(top - base) > SAME:
        # its leader just below the lid's
        below = container.floor + 0.98 * profile.height
        yield Name(mm(container.radius_at(below)), mm(below), _inside(2 * top, "at the top"))
    for extreme, word in ((max(radii.values()), "at the widest"), (min(radii.values()), "at the narrowest")):
        if min(abs(extreme - base), abs(extreme - top)) > SAME:
            there = [height for height, radius in radii.items() if abs(radius - extreme) <= SAME]
            # in the middle of a straight body, at the lower one of two bulges
            middle = (min(there) + max(there)) / 2
            place = middle if abs(float(profile.radius(middle)) - extreme) <= SAME else min(there)
            yield Name(mm(extreme), mm(container.floor + place), _inside(2 * extreme, word))


def _inside(diameter: float, where: str) -> str:
    return told_bare(f"inside ⌀ {LENGTH.number(diameter)} {where}")


def _spot_name(spot: Spot, what: str, colour: str, valley: Zone | None = None) -> Name:
    height = LENGTH.text(spot.z)
    if valley is not None:
        height = f"{LENGTH.number(valley.z_low)} to {LENGTH.text(valley.z_high)}"
    return Name(mm(spot.r), mm(spot.z), f"{what}\nr = {LENGTH.number(spot.r)}, z = {height}", colour)


def _probe_name(effect: ProbeEffect, case: Case) -> Name:
    """The stem, named in the middle of what of its last segment stands in the container."""
    container, probe = case.container, effect.probe
    tip, low, high = next(probe.placed(container))
    named = _folded(f'probe "{probe.name}"')
    text = f"{named}\n{mm(tip.diameter):g} mm {tip.material.name}"
    if probe.entry == "side" and probe.z is not None:
        return Name(mm((low + min(high, container.outer_radius)) / 2), mm(probe.z - tip.radius), text)
    middle = mm((max(low, container.crown) + min(high, container.outer_height)) / 2)
    return Name(mm(tip.radius), middle, text)


def _folded(text: str) -> str:
    """Break a text into lines that the room at the right holds."""
    return textwrap.fill(text, COLUMN)


def _wall_text(case: Case, name: str, wall: Wall | None) -> str:
    """Material of a wall, its thickness, a base's rise, and the film coefficients at its surface."""
    lines = []
    if wall is None:
        lines.append("no side wall" if name == "side" else f"no {name}")
    else:
        lines += [_folded(f"{name}: {wall.material.name}"), f"{thickness_text(wall)} mm thick"]
    rise = case.container.rise
    if name == "base" and rise is not None:
        lines.append(told_bare(f"{rise.form} {LENGTH.number(rise.height)} high, ⌀ {LENGTH.number(rise.diameter)}"))
    return "\n".join([*lines, film_text(case, name)])


def thickness_text(wall: Wall) -> str:
    """A wall's thickness [mm], or the least and the largest where it is not the same everywhere."""
    low, high = (f"{mm(thickness):g}" for thickness in (min(wall.course or (wall.thickness,)), wall.thickness))
    return low if low == high else f"{low} to {high}"


def film_text(case: Case, surface: str) -> str:
    """The film coefficients at a surface ("side", "base" or "lid") while heating and in cooling."""
    stages, wall = case.process.stages, case.container.walls.get(surface)
    film = "behind a label\nfilm" if wall is not None and wall.contact else "film"
    parts = []
    for phase, cooling in (("heating", False), ("cooling", True)):
        films = sorted({getattr(stage.film, surface) for stage in stages if (stage.name == "cool") is cooling})
        if films:
            low, high = (f"{float(f'{end:.3g}'):g}" if math.isfinite(end) else "∞" for end in (films[0], films[-1]))
            parts.append((phase, low if low == high else f"{low} to {high}"))
    values = {value for _, value in parts}
    if values == {"∞"}:
        return "at the medium's\ntemperature"
    if len(values) == 1:
        return f"{film} {values.pop()} W/m²K"
    return f"{film} " + ",\n".join(f"{value} W/m²K {phase}" for phase, value in parts)


def spread(wanted: Sequence[float], heights: Sequence[float], low: float, high: float) -> list[float]:
    """Middles of boxes stacked from the top down without overlap, each near the middle wanted, between two bounds.

    Parameters
    ----------
    wanted : sequence of float
        Middles wanted, falling.
    heights : sequence of float
        Heights of the boxes.
    low, high : float
        Bounds of the stack; where it is higher than they allow it reaches below ``low``.

    Returns
    -------
    list of float
    """
    middles: list[float] = []
    ceiling = high
    for middle, height in zip(wanted, heights, strict=True):
        middles.append(min(middle, ceiling - height / 2))
        ceiling = middles[-1] - height / 2
    floor = min(low, high - sum(heights)) if sum(heights) > high - low else low
    for k in range(len(middles) - 1, -1, -1):
        middles[k] = max(middles[k], floor + heights[k] / 2)
        floor = middles[k] + heights[k] / 2
    return middles


def draw_names(
    names: Sequence[Name], outer: float, *, ax: Axes, scale: float, bounds: tuple[float, float]
) -> tuple[Text, ...]:
    """Write names in a column at the right, each with a leader to its place.

    Parameters
    ----------
    names : sequence of Name
        From the top down.
    outer : float
        Largest outer radius [mm]: the column stands right of it.
    ax : Axes
        Where to draw, in mm of the container.
    scale : float
        Millimetres of paper for one of the container.
    bounds : (float, float)
        Heights between which the column is to stay [mm].

    Returns
    -------
    tuple of Text
    """
    column = outer + 9.0 / scale
    heights = [name.height / scale for name in names]
    middles = spread([name.z for name in names], heights, bounds[0] + 1.0 / scale, bounds[1] - 1.0 / scale)
    texts = []
    for name, middle in zip(names, middles, strict=True):
        elbow = outer + 2.5 / scale
        ax.plot(
            [name.r, elbow, column - 1.5 / scale, column - 0.5 / scale],
            [name.z, name.z, middle, middle],
            color=name.colour,
            linewidth=0.6,
            zorder=4,
        )
        if name.colour == style.LINE:
            ax.plot([name.r], [name.z], marker="o", markersize=2.0, color=name.colour, zorder=4)
        texts.append(
            ax.text(
                column, middle, name.text, va="center", ha="left", fontsize=style.SMALL, color=name.colour,
                linespacing=1.2,
            )
        )  # fmt: skip
    return tuple(texts)
