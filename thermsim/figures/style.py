"""Style of the figures: one colour for each quantity, one width, type that stays legible at 100 mm width."""

from __future__ import annotations

import warnings
from contextlib import AbstractContextManager

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, LogLocator, NullLocator

# letters of users' names that the typeface lacks are drawn as boxes; that is all there is to say of them
warnings.filterwarnings("ignore", "Glyph .* missing from", UserWarning)

#: Inches in a millimetre of paper.
INCH = 1 / 25.4
#: Width of every figure [mm of paper]; printed at 100 mm its type is still 6 pt.
WIDTH = 130.0
#: Type sizes [pt].
TYPE, SMALL = 8.5, 7.5

# Single colours after the set of M. Okabe and K. Ito (2008), told apart with all common kinds of colour blindness.
LEAST_LETHALITY = "#0072b2"
SLOWEST_HEATING = "#d55e00"
COLDEST_POINT = "#333333"
MEDIUM = "#767676"
TARGET = "#8b3a7e"
READING = "#111111"
WITHOUT_PROBE = "#e69f00"
WITHOUT_DASHES = (0, (4, 1.5))
POINTS = ("#009e73", "#cc79a7", "#b58900", "#56b4e9")
POINT_DASHES = ("-", "--", "-.", ":")

PRODUCT = "#f2e2bf"
HEADSPACE = "#e3eef4"
WALL = "#8595a1"
LINE = "#222222"
PALE = "#9a9a9a"
PROBE = "#4a545c"
FITTING = "#c9aa5f"
SENSING = "#f0e442"
LOUD = "#b00020"
PASSED, FAILED = "#0072b2", "#d55e00"

# Perceptually uniform and monotonous in lightness, so that they survive a grey copier too.
TEMPERATURE_MAP = "inferno"
CHANGE_MAP = "RdBu_r"
LETHALITY_MAP = "cividis"

# the disc is the larger, so that it shows behind the triangle where the two cold spots are one
LEAST_MARKER, LEAST_SIZE = "v", 6.5
SLOWEST_MARKER, SLOWEST_SIZE = "o", 9.5

_SETTINGS = {
    "font.family": ["DejaVu Sans"],
    "font.size": TYPE,
    "axes.titlesize": TYPE,
    "axes.labelsize": TYPE,
    "xtick.labelsize": SMALL,
    "ytick.labelsize": SMALL,
    "legend.fontsize": SMALL,
    "figure.titlesize": TYPE,
    "axes.linewidth": 0.7,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.titlelocation": "left",
    "lines.linewidth": 1.4,
    "hatch.linewidth": 0.6,
    "legend.frameon": False,
    "axes.grid": False,
    "figure.facecolor": "white",
    "savefig.facecolor": "white",
}


def styled() -> AbstractContextManager[None]:
    """Settings in force while a figure is drawn."""
    return mpl.rc_context(_SETTINGS)  # type: ignore[arg-type]


def logarithmic(ax: Axes, steps: tuple[float, ...]) -> None:
    """Make an upright axis logarithmic, with plain numbers at some steps of each decade."""
    ax.set_yscale("log")
    ax.yaxis.set_major_locator(LogLocator(subs=steps, numticks=50))
    ax.yaxis.set_minor_locator(NullLocator())
    ax.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))


def new_figure(height: float, *, constrained: bool = True) -> Figure:
    """An empty figure of the common width and the given height [mm of paper]."""
    return Figure(figsize=(WIDTH * INCH, height * INCH), layout="constrained" if constrained else None)
