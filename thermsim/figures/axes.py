"""Figures for people who write Python: each on axes of theirs, or on new ones of pyplot, which it returns."""

from __future__ import annotations

from typing import TYPE_CHECKING

from thermsim.assess.simulate.result import Result
from thermsim.assess.study.plan import FIGURES, StudyResult
from thermsim.case.study import Criterion
from thermsim.errors import InputError
from thermsim.figures import style
from thermsim.figures.container import histories, maps, section, track
from thermsim.figures.probe import ladder, probe_bias
from thermsim.figures.study import bars, scan, spread
from thermsim.quantities import mm
from thermsim.records.study.sentences import quantity_name
from thermsim.text import did_you_mean

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def _new(height: float, columns: int = 1) -> list[Axes]:
    """Axes side by side in a new figure of the common width and a height [mm of paper]."""
    from matplotlib import pyplot  # notebooks and ``pyplot.show`` find the figure there

    size = style.WIDTH * style.INCH, height * style.INCH
    with style.styled():
        figure = pyplot.figure(figsize=size, layout="constrained")
        return list(figure.subplots(1, columns, squeeze=False)[0])


def _named(ax: Axes) -> Axes:
    """Axes with the names of what is drawn on them."""
    with style.styled():
        ax.legend()
    return ax


def plot_section(result: Result, ax: Axes | None = None) -> Axes:
    """Draw the container's section with names, dimensions, both cold spots and the probe.

    Parameters
    ----------
    result : Result
        Of a run.
    ax : Axes, optional
        At least 110 mm wide, its size final; new ones where left out.

    Returns
    -------
    Axes

    Examples
    --------
    >>> import thermsim
    >>> case = thermsim.read_case("cases/jar.toml").replace(accuracy=thermsim.Accuracy(1.0, 0.2, 5e-3))
    >>> ax = thermsim.plot_section(thermsim.simulate(case))
    >>> any("inner diameter 66" in text.get_text() for text in ax.texts)
    True
    """
    if ax is None:
        from matplotlib import pyplot

        whole = section.plot_section(result)
        figure = pyplot.figure(figsize=whole.get_figure(root=True).get_size_inches())
        ax = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    section.draw_section(result, ax=ax)
    return ax


def plot_maps(result: Result, ax: tuple[Axes, Axes] | None = None, *, time: float | None = None) -> tuple[Axes, Axes]:
    """Draw the map of the temperature [degC] and that of the lethality [min].

    Parameters
    ----------
    result : Result
        Of a run.
    ax : pair of Axes, optional
        For the temperature and for the lethality; new ones where left out.
    time : float, optional
        Process time of the temperature map [s]; the end of heating where left out.

    Returns
    -------
    pair of Axes

    Examples
    --------
    >>> import thermsim
    >>> case = thermsim.read_case("cases/jar.toml").replace(accuracy=thermsim.Accuracy(1.0, 0.2, 5e-3))
    >>> result = thermsim.simulate(case)
    >>> temperature, lethality = thermsim.plot_maps(result)
    >>> temperature.get_ylabel()
    'z [mm]'
    """
    left, right = ax if ax is not None else _new(130.0, 2)
    maps.plot_temperature_map(result, ax=left, time=time)
    maps.plot_lethality_map(result, ax=right)
    return left, right


def plot_histories(result: Result, ax: Axes | None = None) -> Axes:
    """Draw the temperatures [degC] of the medium, both cold spots and the points over time [min].

    Examples
    --------
    >>> import thermsim
    >>> case = thermsim.read_case("cases/jar.toml").replace(accuracy=thermsim.Accuracy(1.0, 0.2, 5e-3))
    >>> result = thermsim.simulate(case)
    >>> thermsim.plot_histories(result).get_ylabel()
    'Temperature [°C]'
    """
    ax = ax if ax is not None else _new(90.0)[0]
    histories.plot_temperatures(result, ax=ax)
    return _named(ax)


def plot_gathered(result: Result, ax: Axes | None = None) -> Axes:
    """Draw the lethality [min] gathered at both cold spots over time [min], and the target.

    Examples
    --------
    >>> import thermsim
    >>> case = thermsim.read_case("cases/jar.toml").replace(accuracy=thermsim.Accuracy(1.0, 0.2, 5e-3))
    >>> result = thermsim.simulate(case)
    >>> thermsim.plot_gathered(result).get_ylabel()
    'Lethality [min]'
    """
    ax = ax if ax is not None else _new(80.0)[0]
    histories.plot_gathered(result, ax=ax)
    return _named(ax)


def plot_track(result: Result, ax: Axes | None = None) -> Axes:
    """Draw the height of the coldest point [mm] over time [min].

    Examples
    --------
    >>> import thermsim
    >>> case = thermsim.read_case("cases/jar.toml").replace(accuracy=thermsim.Accuracy(1.0, 0.2, 5e-3))
    >>> result = thermsim.simulate(case)
    >>> thermsim.plot_track(result).get_xlabel()
    'Time [min]'
    """
    ax = ax if ax is not None else _new(80.0)[0]
    track.plot_track_height(result, ax=ax)
    return ax


def plot_reading(result: Result, ax: Axes | None = None) -> Axes:
    """Draw what the probe reads [degC] over time [min], beside its place without it and the cold spot.

    Raises
    ------
    ValueError
        If the result is of no probe whose depth is known.

    Examples
    --------
    >>> import thermsim
    >>> rough = thermsim.Accuracy(1.0, 0.2, 5e-3)
    >>> case = thermsim.read_case("cases/measured_can.toml").replace(accuracy=rough)
    >>> thermsim.plot_reading(thermsim.simulate(case)).get_title()
    'Insertion 60.0 mm'
    """
    effect = probe_bias.effect_of(result)
    ax = ax if ax is not None else _new(90.0)[0]
    probe_bias.draw_readings(result, ax=ax)
    ax.set_title(f"Insertion {mm(effect.depth):.1f} mm", fontsize=style.TYPE)
    return _named(ax)


def plot_ladder(result: Result, ax: Axes | None = None, *, criterion: Criterion | None = None) -> Axes:
    """Draw what the probe is worth over its insertion depth [mm].

    Parameters
    ----------
    result : Result
        Of a recommendation.
    ax : Axes, optional
        New ones where left out.
    criterion : {"least lethality", "slowest heating"}, optional
        Draw the lethality [min] that it compares; where left out the mismatch [%] by both.

    Returns
    -------
    Axes

    Raises
    ------
    ValueError
        If the result holds no advice about a depth.

    Examples
    --------
    >>> import thermsim
    >>> result = thermsim.simulate(thermsim.read_case("cases/jar.toml"))
    >>> thermsim.plot_ladder(result)
    Traceback (most recent call last):
    ...
    ValueError: the result holds no advice about a depth
    """
    ladder.advice_of(result)
    ax = ax if ax is not None else _new(95.0)[0]
    if criterion is None:
        ladder.draw_mismatch(result, ax=ax)
        return ax
    ladder.draw_ladder(result, criterion, ax=ax)
    return _named(ax)


def plot_study(result: StudyResult, figure: str = "least_lethality", ax: Axes | None = None) -> Axes:
    """Draw a figure of a study's runs: over the quantities of a scan, as bars of a tornado, as a histogram.

    Parameters
    ----------
    result : StudyResult
    figure : str, optional
        Name of one of ``result.figures``.
    ax : Axes, optional
        New ones where left out.

    Returns
    -------
    Axes

    Raises
    ------
    InputError
        If the runs have no such figure, or the scan is one of more than two quantities.

    Examples
    --------
    >>> from concurrent.futures import ThreadPoolExecutor
    >>> import thermsim
    >>> case = thermsim.read_case("cases/jar.toml").replace(accuracy=thermsim.Accuracy(1.0, 0.2, 5e-3))
    >>> with ThreadPoolExecutor(1) as here:
    ...     found = thermsim.run_study(case, {"process.hold": [4200.0, 4800.0]}, executor=here)
    >>> thermsim.plot_study(found, "least_z").get_ylabel()
    'least z [mm]'
    """
    if not result.shown(figure):
        raise InputError(f'the runs have no figure "{figure}"; {did_you_mean(figure, [*result.figures])}')
    study = result.plan.study
    if study.kind == "scan" and len(study.vary) > 2:
        raise InputError("a scan of more than two quantities has no picture; choose some of its arrays")
    ax = ax if ax is not None else _new(95.0)[0]
    if study.kind == "tornado":
        bars.draw_tornado(result, figure, ax=ax)
    elif study.kind == "spread":
        spread.draw_histogram(result, figure, ax=ax)
    elif len(study.vary) == 1:
        scan.draw_cut(result, figure, ax=ax)
        ax.set_xlabel(quantity_name(result, 0))
    else:
        mesh = scan.draw_map(result, figure, ax=ax)
        with style.styled():
            ax.figure.colorbar(mesh, ax=ax, label=FIGURES[figure].label)
    return ax
