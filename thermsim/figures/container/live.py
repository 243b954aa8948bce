"""The section for a screen: outlines, marks and names as SVG, to lie upon its fields."""

from __future__ import annotations

import functools
from collections.abc import Iterable, Sequence
from html import escape

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from thermsim.assess.simulate.result import Result
from thermsim.assess.spots.cold_spot import Spot
from thermsim.case.case import Case
from thermsim.case.probe import Probe
from thermsim.figures import style
from thermsim.figures.container.outline import ON_AXIS, cold_zone_outlines
from thermsim.figures.container.pixels import Array, Canvas, Same, Scale
from thermsim.figures.container.probe_outline import fitting_rectangle, reach, segment_rectangles
from thermsim.figures.container.section_names import names_of, spread
from thermsim.figures.container.shape import shape_of
from thermsim.quantities import LENGTH, mm
from thermsim.solve.matrix.linear import in_one_thread
from thermsim.systems import row_shown, told

#: Room round the container for a scale at the left, names at the right, and the colours' scale below [px].
LEFT, RIGHT, BELOW, ABOVE = 60.0, 172.0, 58.0, 12.0
#: Height of a line of text, and its type [px].
LINE, TYPE = 14.0, 12
#: Steps of the marks along the height, in the unit shown.
STEPS = (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500)
#: A probe's parts that stick out farther than this part of the container's height are cut off.
STICKING_OUT = 0.35


def canvas_of(case: Case, width: int, height: int) -> Canvas:
    """The picture in which a case's section finds room, as large as it can be."""
    container = case.container
    low, high = reach(_set(case), container)
    extra = STICKING_OUT * mm(container.outer_height)
    low, high = max(low, -extra), min(high, mm(container.outer_height) + extra)
    radius = mm(container.outer_radius)
    scale = min((width - LEFT - RIGHT) / (2 * radius), (height - BELOW - ABOVE) / (high - low))
    spare = height - BELOW - ABOVE - scale * (high - low)
    return Canvas(width, height, scale, (width - RIGHT + LEFT) / 2, height - BELOW - spare / 2 + scale * low)


def _set(case: Case) -> Probe | None:
    """The case's probe if it is known how deep it goes, and how high from the side."""
    probe = case.probe
    known = probe is not None and probe.depth(case.container) is not None
    return probe if known and probe is not None and (probe.entry != "side" or probe.z is not None) else None


def outlines_svg(case: Case, canvas: Canvas, *, filled: bool) -> str:
    """Container, fill, headspace and probe to scale; ``filled`` with the colours of their materials."""
    shape = shape_of(case, _set(case))
    parts = []
    if filled:
        parts.append(_polygon(shape.product, canvas, style.PRODUCT, "none"))
    if shape.headspace is not None:
        insulated = case.headspace.model == "insulated"
        if filled or insulated:
            parts.append(_polygon(shape.headspace, canvas, "white" if insulated else style.HEADSPACE, "none"))
        parts.append(_line(shape.surface, canvas, style.LINE, 1.6))
    parts += [_line(edge, canvas, style.LINE, 1.2, dashes="5 4") for edge in shape.open_edges]
    for wall in shape.walls:
        fill = style.WALL if filled else "none"
        parts += [_polygon(outline, canvas, fill, style.LINE) for outline in wall.outlines]
    top = mm(case.container.outer_height)
    parts.append(_line([(0.0, 0.0), (0.0, top)], canvas, style.PALE, 0.8, dashes="9 3 2 3"))
    probe = _set(case)
    if probe is not None:
        fitting = fitting_rectangle(probe, case.container)
        if fitting is not None:
            parts.append(_rectangle(fitting, canvas, style.FITTING))
        parts += [_rectangle(one, canvas, style.PROBE) for one in reversed(segment_rectangles(probe, case.container))]
        parts.append(_sensing(probe, case, canvas))
    return "".join(parts) + _height_scale(canvas, top)


def marks_svg(result: Result, canvas: Canvas, *, zone: bool) -> str:
    """The cold zone, where it is asked for, and both cold spots, as in all figures."""
    spots = result.cold_spot
    found = _zone(result, canvas) if zone else ""
    found += "".join(_disc(x, y) for x, y in _both_sides(spots.slowest_heating, canvas))
    return found + "".join(_triangle(x, y) for x, y in _both_sides(spots.least_lethality, canvas))


def names_svg(result: Result, canvas: Canvas) -> str:
    """The names of materials, diameters and cold spots at the right, each with a line to its place."""
    shape = shape_of(result.case, result.probe.probe if result.probe else None)
    names = names_of(result, shape)
    rooms = [LINE * (name.text.count("\n") + 1) + 4.0 for name in names]
    wanted = [canvas.at(name.r, name.z)[1] for name in names]
    middles = spread(wanted[::-1], rooms[::-1], ABOVE, canvas.height - BELOW)[::-1]
    left = canvas.axis + canvas.scale * mm(result.case.container.outer_radius)
    parts = []
    for name, middle in zip(names, middles, strict=True):
        x, y = canvas.at(name.r, name.z)
        leader = f"{x:.1f},{y:.1f} {left + 10:.1f},{middle:.1f} {left + 18:.1f},{middle:.1f}"
        parts.append(f'<polyline points="{leader}" fill="none" stroke="{style.PALE}" stroke-width="0.8"/>')
        lines = told(name.text).split("\n")
        first = middle - LINE * (len(lines) - 1) / 2 + 4.0
        for k, line in enumerate(lines):
            parts.append(text_svg(left + 22, first + LINE * k, line, colour=name.colour, small=True))
    return "".join(parts)


def scale_svg(scale: Scale, canvas: Canvas) -> str:
    """The scale of the colours below the container, with numbers at some of its edges."""
    edges, shades = scale.edges, scale.shades()
    left, width = 14.0, min(canvas.width - 28.0, 330.0)
    step, top = width / len(shades), canvas.height - 36.0
    parts = [
        f'<rect x="{left + k * step:.2f}" y="{top:.1f}" width="{step + 0.4:.2f}" height="10" '
        f'fill="rgb({shade[0]},{shade[1]},{shade[2]})"/>'
        for k, shade in enumerate(shades)
    ]
    places = np.interp(scale.ticks, edges, left + step * np.arange(len(edges)))
    last = -1e9
    for tick, x in zip(scale.ticks, places, strict=True):
        words = f"{tick:.6g}"
        if x - last > 7.5 * len(words) + 8.0:
            parts.append(text_svg(x, top + 22.0, words, small=True, anchor="middle"))
            last = float(x)
    return "".join(parts) + text_svg(left, top - 5.0, scale.label, small=True)


def text_svg(
    x: float, y: float, words: str, *, colour: str = style.LINE, small: bool = False, anchor: str = "start"
) -> str:
    """A text, escaped, with a white edge so that it can be read on any ground."""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{TYPE - (1 if small else 0)}" text-anchor="{anchor}" '
        f'fill="{colour}" stroke="white" stroke-width="3" paint-order="stroke" '
        f'font-family="sans-serif">{escape(words)}</text>'
    )


def _points(outline: Iterable[Sequence[float]] | Array, canvas: Canvas) -> str:
    return " ".join(f"{x:.2f},{y:.2f}" for x, y in (canvas.at(float(r), float(z)) for r, z in outline))


def _polygon(outline: Array, canvas: Canvas, fill: str, edge: str) -> str:
    looks = f'fill="{fill}" stroke="{edge}" stroke-width="1.1" stroke-linejoin="round"'
    return f'<polygon points="{_points(outline, canvas)}" {looks}/>'


def _line(
    places: Iterable[Sequence[float]] | Array, canvas: Canvas, colour: str, width: float, dashes: str = ""
) -> str:
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    looks = f'fill="none" stroke="{colour}" stroke-width="{width}"{dashed}'
    return f'<polyline points="{_points(places, canvas)}" {looks}/>'


def _rectangle(place: tuple[float, float, float, float], canvas: Canvas, fill: str) -> str:
    left, bottom, width, height = place
    x, y = canvas.at(left, bottom + height)
    size = f'width="{width * canvas.scale:.2f}" height="{height * canvas.scale:.2f}"'
    return f'<rect x="{x:.2f}" y="{y:.2f}" {size} fill="{fill}" stroke="{style.LINE}" stroke-width="0.9"/>'


def _sensing(probe: Probe, case: Case, canvas: Canvas) -> str:
    """A bright line along the sensing length, or across the tip's face."""
    low, high = (mm(end) for end in probe.sensed(case.container))
    radius = mm(probe.tip_radius)
    ends = [(0.0, low), (0.0, high)] if high > low else [(-radius, low), (radius, low)]
    if probe.entry == "side" and probe.z is not None:
        z = mm(probe.z)
        ends = [(low, z), (high, z)] if high > low else [(low, z - radius), (low, z + radius)]
    return _line(ends, canvas, "black", 4.4) + _line(ends, canvas, style.SENSING, 2.6)


def _both_sides(spot: Spot, canvas: Canvas) -> list[tuple[float, float]]:
    sides = (0.0,) if spot.r < ON_AXIS else (-mm(spot.r), mm(spot.r))
    return [canvas.at(r, mm(spot.z)) for r in sides]


def _disc(x: float, y: float) -> str:
    return (
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="7.5" fill="{style.SLOWEST_HEATING}" stroke="white" '
        'stroke-width="1.5"/>'
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="8.6" fill="none" stroke="black" stroke-width="0.8"/>'
    )


def _triangle(x: float, y: float) -> str:
    points = f"{x - 5.2:.1f},{y - 4:.1f} {x + 5.2:.1f},{y - 4:.1f} {x:.1f},{y + 5.6:.1f}"
    return f'<polygon points="{points}" fill="{style.LEAST_LETHALITY}" stroke="white" stroke-width="1.2"/>'


def _zone(result: Result, canvas: Canvas) -> str:
    """The cold zone's outline, white on black."""
    outlines = _zone_outlines(Same(result))
    points = [_points(outline, canvas) for outline in outlines if len(outline) > 2]
    looks = (("black", 2.6, ""), ("white", 1.4, ' stroke-dasharray="5 3"'))
    return "".join(
        f'<polygon points="{outline}" fill="none" stroke="{colour}" stroke-width="{width}"{dashes}/>'
        for outline in points
        for colour, width, dashes in looks
    )


@functools.lru_cache(maxsize=4)
def _zone_outlines(one: Same) -> tuple[Array, ...]:
    """Closed outlines of the cold zone [mm]."""
    return tuple(in_one_thread(cold_zone_outlines)(one.thing, _board(), times=2))


@functools.cache
def _board() -> Axes:
    """Axes that nobody sees, kept because they take longer to make than a zone."""
    return Figure().add_axes((0.0, 0.0, 1.0, 1.0))


def _height_scale(canvas: Canvas, top: float) -> str:
    """Heights above the base at the left, a mark each 10 or 20 mm and so on."""
    row, left = row_shown(LENGTH), 48.0
    step = next(one for one in STEPS if canvas.scale * mm(row.si_value(one)) >= 26.0 or one == STEPS[-1])
    parts = [text_svg(left - 44.0, canvas.at(0.0, top)[1] - 2.0, row.axis("z"), small=True)] if top else []
    for k in range(int(row.edge(LENGTH.si_value(top)) / step + 1e-9) + 1):
        z = mm(row.si_value(k * step))
        y = canvas.at(0.0, z)[1]
        parts.append(f'<line x1="{left - 6}" y1="{y:.1f}" x2="{left}" y2="{y:.1f}" stroke="{style.LINE}"/>')
        if z == 0 or canvas.at(0.0, top)[1] + 13.0 < y:
            parts.append(text_svg(left - 9.0, y + 4.0, f"{k * step:.6g}", small=True, anchor="end"))
    y0, y1 = canvas.at(0.0, 0.0)[1], canvas.at(0.0, top)[1]
    return f'<line x1="{left}" y1="{y0:.1f}" x2="{left}" y2="{y1:.1f}" stroke="{style.LINE}"/>' + "".join(parts)
