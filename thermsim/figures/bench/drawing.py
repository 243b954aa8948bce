"""The drawing on a bench sheet: the container and the probe as it is to be set, to a round scale, with dimensions."""

from __future__ import annotations

from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.patches import Rectangle
from matplotlib.text import Text

from thermsim.assess.simulate.result import Result
from thermsim.case.container import Container
from thermsim.figures import style
from thermsim.figures.bench.flowing import band
from thermsim.figures.bench.setting import Bench, edge_radius
from thermsim.figures.container.outline import mark_cold_spots
from thermsim.figures.container.probe_outline import draw_probe, fitting_rectangle, outer_face, reach
from thermsim.figures.container.section import dimension_line, draw_container, number_place
from thermsim.figures.container.section_names import spread
from thermsim.figures.container.shape import shape_of
from thermsim.quantities import LENGTH, SHOWN, mm

#: Scales that a rule measures easily: paper to container.
SCALES = (5.0, 2.0, 1.0, 0.5, 0.4, 0.25, 0.2, 0.1)
#: Room on paper left and right of the container, below and above what is drawn [mm].
LEFT, RIGHT, BELOW, ABOVE = 17.0, 29.0, 18.0, 1.0
#: So far from the datum's line a number leaves room for its name [mm on paper].
ROOM = 5.5
#: Height of a label on paper [mm], and its type [pt].
LABEL, FINE = 3.4, 7.0


@dataclass(frozen=True)
class Drawing:
    """Artists of the drawing: the scale, the probe's parts (the tip's last), the labels and the dimensions."""

    scale: float
    probe: tuple[Rectangle, ...]
    labels: tuple[Text, ...]
    dimensions: tuple[Text, ...]


def scale_for(bench: Bench, container: Container, width: float, height: float) -> float:
    """The largest round scale at which all finds room on paper of a width and height [mm]."""
    low, high = reach(bench.probe, container)
    room = (width - LEFT - RIGHT) / (mm(2 * container.outer_radius)), (height - BELOW - ABOVE) / (high - low)
    return next((scale for scale in SCALES if scale <= min(room)), SCALES[-1])


def printed_scale(scale: float) -> str:
    """A scale as it is written on a drawing."""
    return f"{scale:g} : 1" if scale >= 1.0 else f"1 : {1.0 / scale:g}"


def draw_bench(result: Result, bench: Bench, *, ax: Axes, paper: tuple[float, float]) -> Drawing:
    """Draw on axes that are ``paper`` wide and high [mm], in millimetres of the container.

    Parameters
    ----------
    result : Result
        The result of a recommendation.
    bench : Bench
        What is to be set.
    ax : Axes
        Where to draw.
    paper : (float, float)
        Width and height of the axes on paper [mm].

    Returns
    -------
    Drawing
    """
    container = result.case.container
    low, high = reach(bench.probe, container)
    scale = scale_for(bench, container, *paper)
    left = mm(-container.outer_radius) - (LEFT + _spare(paper[0], container, scale) / 2) / scale
    top = high + ABOVE / scale
    with style.styled():
        ax.set_axis_off()
        ax.set_xlim(left, left + paper[0] / scale)
        ax.set_ylim(top - paper[1] / scale, top)
        draw_container(shape_of(result.case, bench.probe), ax=ax)
        parts = draw_probe(bench.probe, container, ax=ax, fill=True)
        if result.case.product.convects:
            mark_band(result, ax)
        else:
            mark_cold_spots(result, ax)
        flows = result.case.product.convects
        dimensions = (*_depths(bench, container, ax, scale, flows), *_widths(bench, container, ax, scale, low))
        labels = _labels(result, bench, ax, scale, (low, top))
    return Drawing(scale, parts, labels, dimensions)


def mark_band(result: Result, ax: Axes) -> None:
    """Hatch the heights where the trade looks in a product that convects."""
    low, high = (mm(z) for z in band(result.case))
    radius = mm(result.case.container.radius_at((low + high) / 2e3))
    ax.add_patch(
        Rectangle(
            (-radius, low), 2 * radius, high - low, fill=False, hatch="////", edgecolor=style.LEAST_LETHALITY,
            linewidth=0.8, zorder=3,
        )
    )  # fmt: skip


def _spare(width: float, container: Container, scale: float) -> float:
    """Width that is left over on paper [mm]."""
    return max(width - LEFT - RIGHT - mm(2 * container.outer_radius) * scale, 0.0)


def _depths(bench: Bench, container: Container, ax: Axes, scale: float, flows: bool) -> tuple[Text, ...]:
    """Dimension lines left of the container, from the datum to the tip and to the outer end."""
    probe = bench.probe
    face, x = outer_face(probe, container), mm(-container.outer_radius) - 5.0 / scale
    ends = _ends(bench, face)
    texts = []
    # no depth is large where the product flows
    for end, text in () if flows else zip(ends, map(LENGTH.number, (bench.depth, bench.stick_out)), strict=False):
        dimension_line(ax, (x, face), (x, end))
        ax.plot([x - 1.0 / scale, 0.0], [end, end], color=style.LINE, linewidth=0.4, zorder=3.5)
        texts.append(
            ax.text(
                x - 1.2 / scale, number_place(face, end, scale), text, va="center", ha="right",
                fontsize=style.TYPE + 1, weight="bold",
            )
        )  # fmt: skip
    ax.plot(
        [x - 10.0 / scale, mm(container.outer_radius) + 2.0 / scale], [face, face], color=style.LOUD, linewidth=0.9,
        zorder=3.6,
    )  # fmt: skip
    if not flows and _crowded(face, ends, scale):
        return tuple(texts)
    above = _farthest(face, ends, scale) > face
    texts.append(
        ax.text(
            x - 10.0 / scale, face + (0.6 if above else -0.8) / scale, "datum", va="bottom" if above else "top",
            ha="left", fontsize=FINE, color=style.LOUD,
        )
    )  # fmt: skip
    return tuple(texts)


def _ends(bench: Bench, face: float) -> list[float]:
    """Heights z [mm] of the tip, and of the outer end of a probe through the wall; ``face`` is that of the datum."""
    inwards = -1.0 if bench.probe.entry == "lid" else 1.0
    tip = face + mm(inwards * bench.depth)
    return [tip, face - mm(inwards * bench.stick_out)] if bench.probe.mount == "through" else [tip]


def _farthest(face: float, ends: list[float], scale: float) -> float:
    """Height z [mm] of the number at the left that stands farthest from the datum: its name has room on that side."""
    return max((number_place(face, end, scale) for end in ends), key=lambda z: abs(z - face))


def _crowded(face: float, ends: list[float], scale: float) -> bool:
    """Tell whether the numbers at the left leave no room for the datum's name beside its line."""
    return abs(_farthest(face, ends, scale) - face) * scale < ROOM


def _widths(bench: Bench, container: Container, ax: Axes, scale: float, low: float) -> tuple[Text, ...]:
    """The distance of the axis from the edge and the outer diameter, below; a bar for scale under them."""
    radius, wall = mm(container.outer_radius), edge_radius(bench.probe, container)
    widest = container.measured(container.outer_radius, container.profile.widest)
    edge = mm(wall)
    straight = container.profile.is_straight
    whose, largest = ("", "") if straight else (f"{bench.probe.entry}'s ", "largest ")
    if container.seam is not None:
        whose = "body's "
    lines = (
        (-edge, 0.0, f"{whose}edge to axis {LENGTH.number(wall)}{_seam(container)}"),
        (-radius, radius, f"{largest}outer diameter {LENGTH.number(2 * widest)}"),
    )
    texts = []
    for k, (start, end, text) in enumerate(lines):
        z = low - (3.0 + 5.2 * k) / scale
        dimension_line(ax, (start, z), (end, z))
        texts.append(ax.text(-radius, z - 0.9 / scale, text, va="top", ha="left", fontsize=FINE))
        ax.plot([end, end], [z - 0.8 / scale, low], color=style.PALE, linewidth=0.4, zorder=0.5)
    if not straight:
        # to the edge that is meant, over the drawing where that is narrower than the container
        face = outer_face(bench.probe, container) if bench.probe.entry == "lid" else 0.0
        ax.plot([-edge, -edge], [low - 3.8 / scale, face], color=style.PALE, linewidth=0.5, zorder=3.5)
    texts.append(draw_bar(ax, -radius, low - 15.0 / scale))
    return tuple(texts)


def draw_bar(ax: Axes, x: float, z: float) -> Text:
    """Draw a bar of a round length in the units asked for, from a place [mm] to the right, and say how long it is."""
    length = 20.0 if SHOWN.get() == "metric" else 25.4
    ax.plot([x, x + length], [z, z], color=style.LINE, linewidth=2.2, solid_capstyle="butt")
    return ax.text(x + length + 1.0, z, f" {length:g} mm", va="center", ha="left", fontsize=FINE)


def _seam(container: Container) -> str:
    """The distance from the seam's edge to the axis, where that is known."""
    radius = None if container.seam is None else container.seam.radius
    return "" if radius is None else f", seam's {LENGTH.number(radius)}"


def _labels(result: Result, bench: Bench, ax: Axes, scale: float, bounds: tuple[float, float]) -> tuple[Text, ...]:
    """Labels at the right, each with a leader to its place; confirmation depths are ticks across the axis."""
    container, probe = result.case.container, bench.probe
    outer, face = mm(container.outer_radius), outer_face(probe, container)
    inwards = -1.0 if probe.entry == "lid" else 1.0
    ends = _ends(bench, face)
    places = [(mm(probe.tip_radius), ends[0], "tip", style.LINE)]
    if not result.case.product.convects and _crowded(face, ends, scale):
        places.append((outer, face, "datum", style.LOUD))
    fitting = fitting_rectangle(probe, container)
    if probe.mount == "through":
        width = mm(2 * probe.tip_radius) if fitting is None else fitting[2]
        z = face if fitting is None else (fitting[1] + fitting[3] if probe.entry == "lid" else fitting[1])
        places.append(
            (
                width / 2,
                z,
                f"{'stem' if fitting is None else 'fitting'} ⌀ {LENGTH.number(LENGTH.si_value(width))}",
                style.LINE,
            )
        )
    for rung in bench.confirmation:
        z = face + mm(inwards * rung.depth)
        ax.plot([-2.0 / scale, 2.0 / scale], [z, z], color=style.TARGET, linewidth=1.4, zorder=5)
        places.append((2.0 / scale, z, f"confirm {LENGTH.number(rung.depth)}", style.TARGET))
    spots = result.cold_spot
    if result.case.product.convects:
        lowest, highest = band(result.case)
        low, high = mm(lowest), mm(highest)
        places.append((mm(container.radius_at(lowest)), (low + high) / 2, "look here", style.LEAST_LETHALITY))
    else:
        for spot, text, colour in (
            (spots.least_lethality, "least lethality", style.LEAST_LETHALITY),
            (spots.slowest_heating, "slowest heating", style.SLOWEST_HEATING),
        ):
            places.append((mm(spot.r), mm(spot.z), text, colour))
    places.sort(key=lambda place: (-place[1], -place[0]))
    heights = [LABEL * (text.count("\n") + 1) / scale for _, _, text, _ in places]
    middles = spread([z for _, z, _, _ in places], heights, bounds[0], bounds[1])
    texts = []
    for (r, z, text, colour), middle in zip(places, middles, strict=True):
        elbow, column = outer + 1.5 / scale, outer + 5.0 / scale
        ax.plot([r, elbow, column - 0.5 / scale], [z, z, middle], color=colour, linewidth=0.5, zorder=4)
        texts.append(
            ax.text(column, middle, text, va="center", ha="left", fontsize=FINE, color=colour, linespacing=1.15)
        )
    return tuple(texts)
