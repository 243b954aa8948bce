"""Properties over temperature: what the product conducts and stores, and what a headspace of gas carries."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure, SubFigure

from thermsim.assess.simulate.result import Result
from thermsim.figures import style
from thermsim.physics.gap import GasGap, gap_parts
from thermsim.physics.materials import Material
from thermsim.quantities import CONDUCTIVITY, DIFFUSIVITY, HEAT_CAPACITY, TEMPERATURE


def changing(result: Result) -> bool:
    """True if the product's properties or the headspace's change with temperature."""
    return _product(result) is not None or result.case.headspace.gap is not None


def plot_properties(result: Result, *, figure: Figure | SubFigure | None = None) -> Figure | SubFigure:
    """Draw the product's conductivity, heat capacity and diffusivity, and the headspace's effective conductivity.

    Parameters
    ----------
    result : Result
        The result of a run; see :func:`changing`.
    figure : Figure or SubFigure, optional
        Where to draw; a new figure where left out.

    Returns
    -------
    Figure or SubFigure
    """
    product, gap = _product(result), result.case.headspace.gap
    span = result.case.met
    with style.styled():
        rows = (3 if product else 0) + (1 if gap else 0)
        if figure is None:
            figure = style.new_figure(34.0 * rows + (20.0 if gap else 10.0))
        panels = list(np.atleast_1d(figure.subplots(rows, 1, sharex=True)))
        if product:
            _plot_product(product, span, panels[:3])
        if gap:
            _plot_gap(gap, span, panels[-1])
        panels[-1].set_xlabel(TEMPERATURE.axis("temperature"))
        panels[-1].set_xlim(*span)
    return figure


def _product(result: Result) -> Material | None:
    material = result.case.product.material
    return material if material.tabulated is not None else None


def _plot_product(material: Material, span: tuple[float, float], panels: list[Axes]) -> None:
    if material.tabulated is None:
        return
    temperature = np.linspace(*span, 201)
    conductivity, capacity = (
        np.interp(temperature, material.tabulated.temperature, values)
        for values in (material.tabulated.conductivity, material.tabulated.capacity)
    )
    drawn = (
        (conductivity, CONDUCTIVITY.axis()),
        (HEAT_CAPACITY.edge(capacity), HEAT_CAPACITY.axis()),
        (DIFFUSIVITY.edge(conductivity / capacity), DIFFUSIVITY.axis()),
    )
    for ax, (values, label) in zip(panels, drawn, strict=True):
        ax.plot(temperature, values, color=style.LINE)
        ax.set_ylabel(label)
        ax.margins(y=0.15)
    panels[0].set_title("Product")


def _plot_gap(gap: GasGap, span: tuple[float, float], ax: Axes) -> None:
    temperature = np.linspace(*span, 201)
    parts = gap_parts(gap, temperature)
    total = parts.wet if gap.model == "humid" else parts.dry
    ax.plot(temperature, total, color=style.LINE, label="upwards" if gap.model == "humid" else "effective")
    if gap.model == "humid" and not gap.lid_wet:
        ax.plot(temperature, parts.dry, color=style.LINE, linestyle=(0, (4, 2)), label="downwards")
    ax.plot(temperature, parts.gas, color=style.MEDIUM, linewidth=1.0, label="gas")
    ax.plot(temperature, parts.radiation, color=style.POINTS[1], linewidth=1.0, label="radiation")
    if gap.model == "humid":
        ax.plot(temperature, parts.vapour, color=style.POINTS[3], linewidth=1.0, label="vapour")
    style.logarithmic(ax, (1.0, 2.0, 5.0))
    ax.set_ylabel(CONDUCTIVITY.axis("k, headspace\n"))
    ax.legend(ncols=3, loc="lower left", bbox_to_anchor=(0.0, 1.0))
