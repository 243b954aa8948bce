"""The section drawing: the container to scale, its materials named, its dimensions given, both cold spots marked."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.figure import Figure, SubFigure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.text import Text

from thermsim.assess.cold_spot import Spot
from thermsim.assess.probe_effect import ProbeEffect
from thermsim.assess.result import Result
from thermsim.case.case import Case
from thermsim.case.container import Wall
from thermsim.figures import style
from thermsim.figures.outline import MM, headspace_rectangle, mark_cold_spots, wall_parts
from thermsim.figures.probe_outline import draw_probe, outer_face, reach

#: Room on paper for the dimensions at the left, the names at the right, and below and above the container [mm].
LEFT, RIGHT, BELOW, ABOVE = 33.0, 48.0, 15.0, 4.0
#: Height of a line of text on paper [mm].
LINE_HEIGHT = 3.4
#: Letters in a line at the right.
COLUMN = 26


@dataclass(frozen=True)
class Section:
    """What was drawn: the walls' rectangles, the names at the right, the dimensions, and the two cold spots.

    ``probe`` are the rectangles of its fitting and segments, the tip's last; none where there is no probe.
    """

    walls: tuple[Rectangle, ...]
    names: tuple[Text, ...]
    dimensions: tuple[Text, ...]
    least_lethality: Line2D
    slowest_heating: Line2D
    probe: tuple[Rectangle, ...] = ()


@dataclass(frozen=True)
class _Name:
    """A text at the right and the place it names [mm]."""

    r: float
    z: float
    text: str
    colour: str = style.LINE

    @property
    def height(self) -> float:
        """Height of the text on paper [mm]."""
        return LINE_HEIGHT * (self.text.count("\n") + 1)


def plot_section(result: Result, *, figure: Figure | SubFigure | None = None) -> Figure | SubFigure:
    """Draw the container's section with names and dimensions.

    Parameters
    ----------
    result : Result
        The result of a run.
    figure : Figure or SubFigure, optional
        Where to draw, at least 110 mm wide; a new figure of fitting height where left out.

    Returns
    -------
    Figure or SubFigure
    """
    container = result.case.container
    with style.styled():
        if figure is None:
            low, high = _reach(result)
            scale = min((style.WIDTH - LEFT - RIGHT) / (2 * container.outer_radius * MM), 105.0 / (high - low))
            names = sum(name.height + 1.5 for name in _names(result))
            figure = style.new_figure(
                max((high - low) * scale, names - BELOW + 6.0) + BELOW + ABOVE, constrained=False
            )
        draw_section(result, ax=figure.add_axes((0.0, 0.0, 1.0, 1.0)))
    return figure


def draw_section(result: Result, *, ax: Axes) -> Section:
    """Draw the section on an axes, in millimetres of the container, its scale chosen so that all texts find room.

    Parameters
    ----------
    result : Result
        The result of a run.
    ax : Axes
        Where to draw; its size must be final.

    Returns
    -------
    Section
    """
    case = result.case
    radius, (low, high) = case.container.outer_radius * MM, _reach(result)
    height = high - low
    box = ax.get_window_extent()
    inch = ax.figure.dpi * style.INCH
    paper = box.width / inch, box.height / inch
    scale = min((paper[0] - LEFT - RIGHT) / (2 * radius), (paper[1] - BELOW - ABOVE) / height)
    with style.styled():
        ax.set_axis_off()
        # one unit is one millimetre of the container in both directions; the container stands in the middle
        left = -radius - LEFT / scale - (paper[0] - LEFT - RIGHT - 2 * radius * scale) / 2 / scale
        bottom = low - BELOW / scale - (paper[1] - BELOW - ABOVE - height * scale) / 2 / scale
        ax.set_xlim(left, left + paper[0] / scale)
        ax.set_ylim(bottom, bottom + paper[1] / scale)
        ax.set_aspect("equal", adjustable="box")
        walls = draw_container(case, ax=ax)
        probe = _draw_probe(result, ax, scale)
        names = _draw_names(result, ax, scale, (bottom, bottom + paper[1] / scale))
        dimensions = _draw_dimensions(case, ax, scale, low)
        least, slowest = mark_cold_spots(result, ax)
    return Section(walls, names, dimensions + probe[1], least, slowest, probe[0])


def _reach(result: Result) -> tuple[float, float]:
    """Lowest and highest z [mm] of what is drawn."""
    return reach(result.probe.probe if result.probe else None, result.case.container)


def draw_container(case: Case, *, ax: Axes) -> tuple[Rectangle, ...]:
    """Product, headspace and walls; a line round each wall keeps a thin one visible."""
    container = case.container
    inner, outer, floor = container.inner_radius * MM, container.outer_radius * MM, container.floor * MM
    ax.add_patch(
        Rectangle((-inner, floor), 2 * inner, case.fill_height * MM, facecolor=style.PRODUCT, edgecolor="none")
    )
    headspace = headspace_rectangle(case)
    if headspace is not None:
        left, bottom, width, depth = headspace
        insulated = case.headspace.model == "insulated"
        ax.add_patch(
            Rectangle(
                (left, bottom),
                width,
                depth,
                facecolor="white" if insulated else style.HEADSPACE,
                edgecolor=style.PALE,
                linewidth=0.0,
                hatch="////" if insulated else None,
            )
        )
        ax.plot([left, left + width], [bottom, bottom], color=style.LINE, linewidth=0.7)
    # where there is no wall a dashed line shows what meets the medium
    open_edges = [
        (container.side, [(-inner, floor), (-inner, container.ceiling * MM)]),
        (container.side, [(inner, floor), (inner, container.ceiling * MM)]),
        (container.base, [(-outer, 0.0), (outer, 0.0)]),
        (container.lid, [(-outer, container.ceiling * MM), (outer, container.ceiling * MM)]),
    ]
    for behind, edge in open_edges:
        if behind is None:
            ax.plot(*zip(*edge, strict=True), color=style.LINE, linewidth=0.9, linestyle=(0, (3, 2)))
    walls = tuple(
        Rectangle((x, z), width, height, facecolor=style.WALL, edgecolor=style.LINE, linewidth=0.9, zorder=3)
        for part in wall_parts(case)
        for x, z, width, height in part.rectangles
    )
    for wall in walls:
        ax.add_patch(wall)
    ax.plot([0, 0], [0, container.outer_height * MM], color=style.PALE, linewidth=0.6, linestyle="-.")
    return walls


def _names(result: Result) -> list[_Name]:
    """What is named at the right, with the places the leaders go to."""
    case, container = result.case, result.case.container
    inner, outer = container.inner_radius * MM, container.outer_radius * MM
    floor, surface, top = container.floor * MM, case.surface * MM, container.outer_height * MM
    thin = (outer - inner) / 2 if container.side else 0.0
    names = [
        _Name(0.7 * outer, top, _wall_text(case, "lid", container.lid)),
        _Name(outer - thin, floor + 0.36 * (surface - floor), _wall_text(case, "side", container.side)),
        _Name(0.7 * outer, 0.0, _wall_text(case, "base", container.base)),
        _Name(0.6 * inner, floor + 0.2 * (surface - floor), _folded(f"product: {case.product.material.name}")),
    ]
    if case.headspace_height > 0.0:
        inside = "insulated" if case.headspace.material is None else case.headspace.material.name
        names.append(_Name(0.6 * inner, surface + case.headspace_height * MM / 2, _folded(f"headspace: {inside}")))
    least, slowest = result.cold_spot.least_lethality, result.cold_spot.slowest_heating
    if result.cold_spot.distance < 1e-4:
        names.append(_spot_name(least, "least lethality and\nslowest heating", style.LEAST_LETHALITY))
    else:
        names.append(_spot_name(least, "least lethality", style.LEAST_LETHALITY))
        names.append(_spot_name(slowest, "slowest heating", style.SLOWEST_HEATING))
    if result.probe:
        names.append(_probe_name(result.probe, case))
    # from the top down; of equal heights the outer place first, so that leaders do not cross
    return sorted(names, key=lambda name: (-name.z, -name.r))


def _spot_name(spot: Spot, what: str, colour: str) -> _Name:
    return _Name(spot.r * MM, spot.z * MM, f"{what}\nr = {spot.r * MM:.1f}, z = {spot.z * MM:.1f} mm", colour)


def _probe_name(effect: ProbeEffect, case: Case) -> _Name:
    """The stem, named in the middle of what of its last segment stands in the container."""
    tip, low, high = next(effect.probe.placed(case.container))
    middle = (max(low, 0.0) + min(high, case.container.outer_height)) / 2 * MM
    text = f"{_folded(f'probe: {effect.probe.name}')}\n{tip.diameter * MM:g} mm {tip.material.name}"
    return _Name(tip.radius * MM, middle, text)


def _folded(text: str) -> str:
    """Break a text into lines that the room at the right holds."""
    return textwrap.fill(text, COLUMN)


def _wall_text(case: Case, name: str, wall: Wall | None) -> str:
    """What a wall is made of, its thickness, and the film coefficients at its surface."""
    if wall is None:
        head = "no side wall" if name == "side" else f"no {name}"
    else:
        head = f"{_folded(f'{name}: {wall.material.name}')}\n{wall.thickness * MM:g} mm thick"
    return f"{head}\n{film_text(case, name)}"


def film_text(case: Case, surface: str) -> str:
    """The film coefficients at a surface ("side", "base" or "lid") while heating and in cooling."""
    stages = case.process.stages
    parts = []
    for phase, cooling in (("heating", False), ("cooling", True)):
        films = sorted({getattr(stage.film, surface) for stage in stages if (stage.name == "cool") is cooling})
        if films:
            low, high = (f"{film:g}" if math.isfinite(film) else "∞" for film in (films[0], films[-1]))
            parts.append((phase, low if low == high else f"{low}–{high}"))
    values = {value for _, value in parts}
    if values == {"∞"}:
        return "at the medium's\ntemperature"
    if len(values) == 1:
        return f"film {values.pop()} W/m²K"
    return "film " + ",\n".join(f"{value} W/m²K {phase}" for phase, value in parts)


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


def _draw_names(result: Result, ax: Axes, scale: float, bounds: tuple[float, float]) -> tuple[Text, ...]:
    """The names in a column at the right, each with a leader to its place."""
    names = _names(result)
    outer = result.case.container.outer_radius * MM
    column = outer + 9.0 / scale
    heights = [(name.height + 1.5) / scale for name in names]
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


def _draw_probe(result: Result, ax: Axes, scale: float) -> tuple[tuple[Rectangle, ...], tuple[Text, ...]]:
    """The probe, and how deep its tip stands below the outer face of the wall it enters, left of the stem."""
    effect, container = result.probe, result.case.container
    if effect is None:
        return (), ()
    parts = draw_probe(effect.probe, container, ax=ax, fill=True)
    tip, face = effect.reading.z * MM, outer_face(effect.probe, container)
    widest = max(part.get_width() / 2 for part in parts)
    x = -(widest + container.inner_radius * MM) / 2
    dimension_line(ax, (x, tip), (x, face))
    ax.plot([x - 1.0 / scale, 0.0], [tip, tip], color=style.LINE, linewidth=0.4, zorder=3.5)
    word = "tip at" if effect.probe.mount == "inside" else "insertion"
    text = ax.text(
        x - 0.8 / scale, (tip + face) / 2, f"{word} {effect.depth * MM:.1f}", va="center", ha="right",
        fontsize=style.SMALL, rotation=90,
    )  # fmt: skip
    return parts, (text,)


def _draw_dimensions(case: Case, ax: Axes, scale: float, lowest: float) -> tuple[Text, ...]:
    """Dimension lines [mm]: fill height, headspace, inner height at the left, inner diameter below."""
    container = case.container
    inner, outer = container.inner_radius * MM, container.outer_radius * MM
    floor, surface, ceiling = container.floor * MM, case.surface * MM, container.ceiling * MM
    near, far = -outer - 3.5 / scale, -outer - 20.5 / scale
    spans = [(near, floor, surface, f"fill\n{case.fill_height * MM:.1f}")]
    if case.headspace_height > 0.0:
        spans.insert(0, (near, surface, ceiling, f"headspace\n{case.headspace_height * MM:.1f}"))
    wanted = [(low + high) / 2 for _, low, high, _ in spans]
    two_lines = (2 * LINE_HEIGHT + 1.2) / scale
    middles = spread(wanted, [two_lines] * len(spans), min(wanted) - two_lines, max(wanted) + two_lines)
    spans.append((far, floor, ceiling, f"inner\nheight\n{container.inner_height * MM:.1f}"))
    middles.append((floor + ceiling) / 2)
    texts = []
    for (x, low, high, text), middle in zip(spans, middles, strict=True):
        dimension_line(ax, (x, low), (x, high))
        texts.append(ax.text(x - 1.2 / scale, middle, text, va="center", ha="right", fontsize=style.SMALL))
    for z in {floor, surface, ceiling}:
        reach = near if z == surface != ceiling else far
        ax.plot([reach - 1.0 / scale, -inner], [z, z], color=style.PALE, linewidth=0.4, zorder=0.5)
    below = lowest - 4.0 / scale
    dimension_line(ax, (-inner, below), (inner, below))
    for x in (-inner, inner):
        ax.plot([x, x], [below - 1.0 / scale, floor], color=style.PALE, linewidth=0.4, zorder=0.5)
    text = f"inner diameter {container.inner_diameter * MM:.1f}\n(all in mm; z from the outside of the base)"
    texts.append(ax.text(0.0, below - 1.2 / scale, text, va="top", ha="center", fontsize=style.SMALL))
    return tuple(texts)


def dimension_line(ax: Axes, start: tuple[float, float], end: tuple[float, float]) -> None:
    """A line with arrows at both ends."""
    looks = {
        "arrowstyle": "<->",
        "linewidth": 0.6,
        "color": style.LINE,
        "shrinkA": 0,
        "shrinkB": 0,
        "mutation_scale": 5,
    }
    ax.annotate("", start, end, arrowprops=looks)
