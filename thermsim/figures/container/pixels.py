"""Fields as pixels of a section on a screen, quick enough to follow a hand."""

from __future__ import annotations

import functools
import struct
import zlib
from dataclasses import dataclass
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.colors import LogNorm, Normalize
from matplotlib.tri import Triangulation
from numpy.typing import NDArray

from thermsim.figures import style
from thermsim.figures.container.maps import WIDE_RANGE
from thermsim.quantities import mm
from thermsim.solve.grid.grid import Grid

Array = NDArray[np.float64]


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


class Same:
    """A thing by its identity, for what is kept of it."""

    def __init__(self, thing: Any) -> None:
        self.thing = thing

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Same) and self.thing is other.thing

    def __hash__(self) -> int:
        return id(self.thing)


@functools.lru_cache(maxsize=4)
def _pixels(grid: Same, canvas: Canvas) -> Pixels:
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
    pixels = _pixels(Same(grid), canvas)
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
    pixels = _pixels(Same(grid), canvas)
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
