"""The section for a screen: outlines and marks as SVG, fields as pixels, quick enough to follow a hand."""

from __future__ import annotations

import functools
import struct
import zlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LogNorm, Normalize
from matplotlib.figure import Figure
from matplotlib.tri import Triangulation
from numpy.typing import NDArray

from thermsim.assess.simulate.result import Result
from thermsim.assess.spots.cold_spot import Spot
from thermsim.case.case import Case
from thermsim.case.probe import Probe
from thermsim.figures import style
from thermsim.figures.container.maps import WIDE_RANGE
from thermsim.figures.container.outline import ON_AXIS, cold_zone_outlines
from thermsim.figures.container.probe_outline import fitting_rectangle, reach, segment_rectangles
from thermsim.figures.container.section_names import names_of, spread
from thermsim.figures.container.shape import shape_of
from thermsim.quantities import LENGTH, mm
from thermsim.solve.grid.grid import Grid
from thermsim.solve.matrix.linear import in_one_thread
from thermsim.systems import row_shown, told

Array = NDArray[np.float64]

#: Room round the container for a scale at the left, names at the right, and the colours' scale below [px].
LEFT, RIGHT, BELOW, ABOVE = 60.0, 172.0, 58.0, 12.0
#: Height of a line of text, and its type [px].
LINE, TYPE = 14.0, 12
#: Steps of the marks along the height, in the unit shown.
STEPS = (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500)
#: A probe's parts that stick out farther than this part of the container's height are cut off.
STICKING_OUT = 0.35


@dataclass(frozen=True)
class Canvas:
    """A picture's size [px], its scale [px/mm], and where r = 0, z = 0 lies in it [px]."""

    width: int
    height: int
    scale: float
    axis: float
    base: float

    def at(self, r: float, z: float) -> tuple[float, float]:
        """Pixels of a place [mm]."""
        return self.axis + self.scale * r, self.base - self.scale * z

    def place(self, x: float, y: float) -> tuple[float, float]:
        """Place r, z [mm] of a pixel; r is negative left of the axis."""
        return (x - self.axis) / self.scale, (self.base - y) / self.scale


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


class _Same:
    """A thing by its identity, for what is kept of it."""

    def __init__(self, thing: Any) -> None:
        self.thing = thing

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and self.thing is other.thing

    def __hash__(self) -> int:
        return id(self.thing)


@functools.lru_cache(maxsize=4)
def _pixels(grid: _Same, canvas: Canvas) -> Pixels:
    return Pixels(grid.thing, canvas)


class Pixels:
    """Nodes of a grid and their weights, for each pixel of a picture's right half that shows the container."""

    def __init__(self, grid: Grid, canvas: Canvas) -> None:
        r, z = mm(grid.r), mm(grid.z)
        columns, rows = (
            np.arange(n, dtype=np.float64) + 0.5 for n in (int(canvas.scale * r.max()) + 2, canvas.height)
        )
        across, along = columns / canvas.scale, (canvas.base - rows) / canvas.scale
        node = np.arange(r.size).reshape(r.shape)
        if np.ptp(r, axis=1).max() == 0.0 == np.ptp(z, axis=0).max():
            self._between_lines(r[:, 0], z[0], across, along, node)
        else:
            self._within_triangles(r.ravel(), z.ravel(), across, along, node)

    def _between_lines(self, r: Array, z: Array, across: Array, along: Array, node: NDArray[np.int64]) -> None:
        """Find the pixels between straight lines of nodes."""
        columns, rows = np.flatnonzero(across <= r[-1]), np.flatnonzero((along >= z[0]) & (along <= z[-1]))
        (i, x), (j, y) = _between(r, across[columns]), _between(z, along[rows])
        self.rows, self.right = (one.ravel() for one in np.meshgrid(rows, columns, indexing="ij"))
        i, j, x, y = i[None, :], j[:, None], x[None, :], y[:, None]
        corners = ((i, j, 1 - x, 1 - y), (i + 1, j, x, 1 - y), (i, j + 1, 1 - x, y), (i + 1, j + 1, x, y))
        self.nodes = np.stack([node[a, b].ravel() for a, b, _, _ in corners])
        self.weights = np.stack([(a * b).ravel() for _, _, a, b in corners])

    def _within_triangles(self, r: Array, z: Array, across: Array, along: Array, node: NDArray[np.int64]) -> None:
        """Find the pixels within triangles of nodes."""
        a, b, c, d = node[:-1, :-1].ravel(), node[1:, :-1].ravel(), node[1:, 1:].ravel(), node[:-1, 1:].ravel()
        triangles = np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])
        finder = Triangulation(r, z, triangles).get_trifinder()
        found = np.asarray(finder(*np.broadcast_arrays(across[None, :], along[:, None])))
        self.rows, self.right = np.nonzero(found >= 0)
        self.nodes = triangles[found[self.rows, self.right]].T
        x, y = across[self.right], along[self.rows]
        (x0, x1, x2), (y0, y1, y2) = r[self.nodes], z[self.nodes]
        whole = (x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0)
        first = ((x1 - x) * (y2 - y) - (x2 - x) * (y1 - y)) / whole
        second = ((x2 - x) * (y0 - y) - (x0 - x) * (y2 - y)) / whole
        self.weights = np.stack([first, second, 1.0 - first - second])

    def values(self, field: Array) -> Array:
        """A field of the nodes at the pixels that show the container."""
        return np.asarray((field.ravel()[self.nodes] * self.weights).sum(axis=0))


def _between(lines: Array, places: Array) -> tuple[NDArray[np.int64], Array]:
    """The lines before places, and the parts of the way to the next lines at which they are."""
    before = np.clip(np.searchsorted(lines, places, side="right") - 1, 0, len(lines) - 2)
    return before, (places - lines[before]) / (lines[before + 1] - lines[before])


@dataclass(frozen=True)
class Scale:
    """Colours of a field: edges of its bands, growing, and what it is."""

    edges: tuple[float, ...]
    ticks: tuple[float, ...]
    label: str
    colours: str

    def shades(self) -> NDArray[np.uint8]:
        """A colour for each band, shape (n, 3), values from 0 to 255."""
        edges = np.asarray(self.edges)
        wide = edges[0] > 0.0 and edges[-1] / edges[0] > WIDE_RANGE and self.colours == style.LETHALITY_MAP
        norm = (LogNorm if wide else Normalize)(edges[0], edges[-1])
        middles = np.sqrt(edges[1:] * edges[:-1]) if wide else (edges[1:] + edges[:-1]) / 2
        return np.asarray(mpl.colormaps[self.colours](norm(middles), bytes=True)[:, :3])


def field_png(grid: Grid, field: Array, scale: Scale, canvas: Canvas) -> bytes:
    """A field of a grid's nodes in the mirrored section as a PNG; what is not known stays white."""
    pixels = _pixels(_Same(grid), canvas)
    values = pixels.values(field)
    shades = scale.shades()
    band = np.clip(np.searchsorted(scale.edges, values, side="right"), 1, len(shades))
    band[np.isnan(values)] = 0
    picture = np.zeros((canvas.height, canvas.width), dtype=np.uint8)
    axis = round(canvas.axis)
    for columns in (axis + pixels.right, axis - 1 - pixels.right):
        inside = (columns >= 0) & (columns < canvas.width)
        picture[pixels.rows[inside], columns[inside]] = band[inside]
    return png(picture, np.concatenate([[(255, 255, 255)], shades]))


def value_at(grid: Grid, field: Array, canvas: Canvas, x: float, y: float) -> float:
    """A field of a grid's nodes at a pixel; NaN where nothing is known."""
    pixels = _pixels(_Same(grid), canvas)
    found = np.flatnonzero((pixels.rows == int(y)) & (pixels.right == int(abs(x - round(canvas.axis)))))
    if not found.size:
        return float("nan")
    one = found[0]
    return float(field.ravel()[pixels.nodes[:, one]] @ pixels.weights[:, one])


def png(picture: NDArray[np.uint8], colours: NDArray[np.integer]) -> bytes:
    """A picture (height, width) of colours by their number (n, 3) as PNG; in full colour it would take longer."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    height, width = picture.shape
    rows = np.pad(picture, ((0, 0), (1, 0)))  # a row begins with the number of its filter, 0: none
    head = struct.pack(">IIBBBBB", width, height, 8, 3, 0, 0, 0)
    palette = np.asarray(colours, dtype=np.uint8).tobytes()
    chunks = ((b"IHDR", head), (b"PLTE", palette), (b"IDAT", zlib.compress(rows.tobytes(), 1)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(chunk(*one) for one in chunks)


@functools.lru_cache(maxsize=4)
def blank_png(canvas: Canvas) -> bytes:
    """A white picture."""
    return png(np.zeros((canvas.height, canvas.width), dtype=np.uint8), np.array([(255, 255, 255)]))


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
    outlines = _zone_outlines(_Same(result))
    points = [_points(outline, canvas) for outline in outlines if len(outline) > 2]
    looks = (("black", 2.6, ""), ("white", 1.4, ' stroke-dasharray="5 3"'))
    return "".join(
        f'<polygon points="{outline}" fill="none" stroke="{colour}" stroke-width="{width}"{dashes}/>'
        for outline in points
        for colour, width, dashes in looks
    )


@functools.lru_cache(maxsize=4)
def _zone_outlines(one: _Same) -> tuple[Array, ...]:
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
