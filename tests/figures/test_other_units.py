"""Figures in inches and degF: each mark stands where its number says, and no metric unit is left.

Rung: hand-worked; definitions of inch and degF.
"""

import dataclasses
import re

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text
from numpy.testing import assert_allclose

from thermsim.figures.files import _as_written, figures_of
from thermsim.figures.other_units import tell_in_asked_units
from thermsim.figures.style import new_figure
from thermsim.systems import shown_in

#: From the number that is written to the one that is drawn.
BACK = {"in": lambda x: 25.4 * x, "°F": lambda x: (x - 32.0) / 1.8, "degF": lambda x: x / 1.8}


def check_marks(axis):
    """Compare an axis's marks with their numbers; the unit, or None."""
    found = re.search(r"\[(in|°F|degF)\]", axis.label.get_text())
    if found is None:
        return None
    ticks = axis.get_major_ticks()
    labels = [tick.label1 if tick.label1.get_visible() else tick.label2 for tick in ticks]
    marks = [
        (tick.get_loc(), float(label.get_text().replace("−", "-")))
        for tick, label in zip(ticks, labels, strict=True)
        if label.get_text()
    ]
    assert len(marks) >= 2, axis.label.get_text()
    for place, number in marks:
        assert_allclose(place, BACK[found[1]](number), rtol=6e-3, atol=0.06)
    return found[1]


def test_marks_are_round_numbers_of_the_unit_asked_for():
    figure = new_figure(50.0)
    ax = figure.subplots()
    ax.plot([0.0, 100.0], [20.0, 120.0], label="20.0 °C at 50.8 mm")
    ax.set_xlabel("Depth [mm]")
    ax.set_ylabel("T [°C], z = 10 K")
    ax.legend()
    with shown_in("us"):
        tell_in_asked_units(figure)
        FigureCanvasAgg(figure).draw()
    assert (check_marks(ax.xaxis), check_marks(ax.yaxis)) == ("in", "°F")
    assert ax.get_ylabel() == "T [°F], z = 18 °F"
    written = [float(text.get_text()) for text in ax.get_xticklabels()]
    assert_allclose(np.diff(written), 1.0, rtol=1e-9)
    assert [text.get_text() for text in ax.get_legend().get_texts()] == ["68.0 °F at 2.000 in"]


def test_metric_figures_stay_as_they_are():
    figure = new_figure(50.0)
    ax = figure.subplots()
    ax.set_xlabel("Depth [mm]")
    before = ax.xaxis.get_major_locator()
    tell_in_asked_units(figure)
    assert ax.get_xlabel() == "Depth [mm]" and ax.xaxis.get_major_locator() is before


@pytest.mark.parametrize(
    "name",
    [
        "section",
        pytest.param("ladder", marks=pytest.mark.long),
        "maps",
        "candidates",
        "bench",
        *(pytest.param(name, marks=pytest.mark.long) for name in ("bias", "tip", "stems", "histories", "track")),
    ],
)
def test_no_metric_unit_is_left_in_a_figure_but_in_names(advised, name):
    title = "Can of 73 mm, from 40 degC"
    named = dataclasses.replace(advised, case=advised.case.replace(title=title))
    with shown_in("us"):
        (kind,) = (one for one in figures_of(named) if one.name == name)
        with _as_written(kind.plot(named)) as figure:
            FigureCanvasAgg(figure).draw()
            axes = [ax for whole in figure.axes for ax in (whole, *whole.child_axes)]
            units = {check_marks(axis) for ax in axes for axis in (ax.xaxis, ax.yaxis)}
            texts = [text.get_text().replace("\u00a0", " ") for text in figure.findobj(Text)]
    assert name in ("section", "candidates", "bench") or units & {"in", "°F", "degF"}
    assert (title in texts) == (name == "bench")
    # what the user called the case and the probes is the user's
    names = (title, *(one.probe.name for one in named.advice.candidates))
    told = [re.sub("|".join(map(re.escape, names)), "", text) for text in texts]
    assert [text for text in told if re.search(r"(?<![\w\"])(mm|°C|degC|W/mK|W/m²K)(?!\w)", text)] == []
