"""A probe's outline in the section: fitting, segments and sensing length, for drawings in (r, z)."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.patheffects import withStroke

from thermsim.case.container import Container
from thermsim.case.probe import Probe
from thermsim.figures import style
from thermsim.quantities import mm

#: Left, bottom, width, height [mm].
Place = tuple[float, float, float, float]


def segment_rectangles(probe: Probe, container: Container) -> tuple[Place, ...]:
    """The probe's segments as rectangles of the section [mm], the tip's first; its insertion must be known."""
    return tuple(_rectangle(probe, segment.diameter, low, high) for segment, low, high in probe.placed(container))


def _rectangle(probe: Probe, diameter: float, low: float, high: float) -> Place:
    """A cylinder between two places along the probe [m]."""
    if probe.entry == "side" and probe.z is not None:
        return mm(low), mm(probe.z - diameter / 2), mm(high - low), mm(diameter)
    return mm(-diameter / 2), mm(low), mm(diameter), mm(high - low)


def fitting_rectangle(probe: Probe, container: Container) -> Place | None:
    """The fitting as a rectangle of the section [mm]: it reaches inside and outside of the wall that it sits in."""
    fitting = probe.fitting
    if fitting is None:
        return None
    low, high = probe.fitted(container)
    return _rectangle(probe, fitting.diameter, low, high)


def reach(probe: Probe | None, container: Container) -> tuple[float, float]:
    """Lowest and highest z [mm] of the container and of what of the probe sticks out of it."""
    low, high = 0.0, mm(container.outer_height)
    if probe is None or probe.entry == "side":
        return low, high
    places = [*segment_rectangles(probe, container)]
    fitting = fitting_rectangle(probe, container)
    if fitting is not None:
        places.append(fitting)
    return min(low, *(place[1] for place in places)), max(high, *(place[1] + place[3] for place in places))


def outer_face(probe: Probe, container: Container) -> float:
    """Height z [mm] of the datum: the outer face of the wall that is entered, at the axis; of a side wall its r."""
    if probe.entry == "side":
        return mm(probe.side_face(container))
    return mm(container.outer_height if probe.entry == "lid" else container.crown)


def rim_below(probe: Probe, container: Container) -> float:
    """Depth of the rim of a base that rises below the datum [m]; 0 where the datum is a level face."""
    return container.crown if probe.entry == "base" else 0.0


def datum(probe: Probe, container: Container) -> str:
    """Datum of insertion depths, in words."""
    panel = "'s panel" if container.seam is not None and probe.entry != "side" else ""
    return f"outer face of the {probe.wall}{panel}{' on the axis' if rim_below(probe, container) else ''}"


def draw_probe(probe: Probe, container: Container, *, ax: Axes, fill: bool = False) -> tuple[Rectangle, ...]:
    """Draw the fitting, if there is one, and the segments, the tip's last.

    Parameters
    ----------
    probe : Probe
        Its insertion must be known.
    container : Container
        What it stands in.
    ax : Axes
        Where to draw, in mm.
    fill : bool, optional
        Colour the parts, spacers hatched; otherwise only lines are drawn (over a map).

    Returns
    -------
    tuple of Rectangle
    """
    drawn = []
    fitting = fitting_rectangle(probe, container)
    if fitting is not None:
        left, bottom, width, height = fitting
        drawn.append(Rectangle((left, bottom), width, height, facecolor=style.FITTING if fill else "none"))
    parts = zip(segment_rectangles(probe, container), reversed(probe.segments), strict=True)
    for (left, bottom, width, height), segment in reversed(list(parts)):
        part = Rectangle((left, bottom), width, height, facecolor=style.PROBE if fill else "none")
        if segment.spacer and fill:
            part.set(facecolor="white", hatch="xxxxx")
        drawn.append(part)
    for part in drawn:
        part.set(edgecolor=style.LINE, linewidth=0.7, zorder=4)
        ax.add_patch(part)
    return tuple(drawn)


def mark_sensing(probe: Probe, container: Container, *, ax: Axes) -> Line2D:
    """A bright line along the sensing length on the axis, or across the tip's face where that alone senses."""
    low, high = probe.sensed(container)
    radius = probe.tip_radius
    ends = ([0.0, 0.0], [low, high]) if high > low else ([-radius, radius], [low, low])
    if probe.entry == "side" and probe.z is not None:
        ends = (ends[1], [probe.z + off for off in ends[0]])
    (line,) = ax.plot(
        *([mm(value) for value in part] for part in ends),
        color=style.SENSING,
        linewidth=2.0,
        solid_capstyle="butt",
        label="sensing length" if high > low else "sensing face",
        zorder=6,
    )
    line.set_path_effects([withStroke(linewidth=3.2, foreground="black")])
    return line
