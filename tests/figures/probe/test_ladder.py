"""The ladder's figure, read off its artists: rungs, truth, window, recommended depths; beside it the candidates."""

import dataclasses

import numpy as np
import pytest
from matplotlib.figure import Figure
from numpy.testing import assert_allclose

from thermsim.assess.probe.advice import Profile
from thermsim.figures.probe.candidates import draw_candidates, plot_candidates
from thermsim.figures.probe.ladder import draw_ladder, draw_mismatch, plot_ladder

SAME_FLOAT = "the same number but for its unit"


def ladder(result, criterion):
    return draw_ladder(result, criterion, ax=Figure().subplots())


@pytest.mark.parametrize(
    ("criterion", "read", "without"),
    [
        ("least lethality", "lethality", "without_lethality"),
        ("slowest heating", "heating_lethality", "without_heating"),
    ],
)
def test_dots_are_the_rungs_in_mm_and_minutes(advised, criterion, read, without):
    drawn = ladder(advised, criterion)
    rungs = advised.advice.own.ladder
    assert len(rungs) >= 5
    for line, name in ((drawn.reading, read), (drawn.without, without)):
        assert_allclose(line.get_xdata(), [1e3 * rung.depth for rung in rungs], rtol=1e-12, err_msg=SAME_FLOAT)
        assert_allclose(
            line.get_ydata(), [getattr(rung, name) / 60 for rung in rungs], rtol=1e-12, err_msg=SAME_FLOAT
        )


def test_truth_is_the_undisturbed_cold_spots_lethality(advised):
    least, slowest = advised.spots
    for criterion, truth in (
        ("least lethality", least.lethality),
        ("slowest heating", slowest.heating_lethality),
    ):
        assert_allclose(ladder(advised, criterion).truth.get_ydata(), truth / 60, rtol=1e-12, err_msg=SAME_FLOAT)


@pytest.mark.parametrize("criterion", ["least lethality", "slowest heating"])
def test_window_and_both_depths_stand_where_they_are_recommended(logged, criterion):
    drawn = ladder(logged, criterion)
    own = logged.advice.own.recommended(criterion)
    (other,) = (one for one in logged.advice.own.recommendations if one.criterion != criterion)
    for line, depth in zip(drawn.depths, (own.depth, other.depth), strict=True):
        assert_allclose(line.get_xdata(), 1e3 * depth, rtol=1e-12, err_msg=SAME_FLOAT)
    across = drawn.window.get_extents().transformed(drawn.window.axes.transData.inverted())
    assert_allclose([across.x0, across.x1], 1e3 * np.array(own.window), rtol=1e-9, err_msg="to pixels and back")
    assert own.depth != other.depth


def test_wide_span_is_drawn_with_a_logarithmic_scale_and_a_narrow_one_is_not(logged):
    assert ladder(logged, "slowest heating").reading.axes.get_yscale() == "linear"
    own = logged.advice.own
    hot = dataclasses.replace(own.ladder[0], heating_lethality=1000.0 * own.ladder[0].heating_lethality)
    own = dataclasses.replace(own, ladder=(hot, *own.ladder[1:]))
    wide = dataclasses.replace(logged, advice=dataclasses.replace(logged.advice, candidates=(own,), chosen=0))
    assert ladder(wide, "slowest heating").reading.axes.get_yscale() == "log"


@pytest.mark.parametrize(("factor", "top"), [(1e-3, 40.0), (1.0, 75.0)])
def test_mismatches_are_drawn_up_to_three_times_the_least(advised, factor, top):
    own = advised.advice.own
    profile = Profile(
        np.linspace(0.02, 0.06, 3), factor * np.array([5.0, 0.3, 0.9]), factor * np.array([2.0, 0.5, 0.25])
    )
    advice = dataclasses.replace(advised.advice, candidates=(dataclasses.replace(own, profile=profile),), chosen=0)
    ax = Figure().subplots()
    lines = draw_mismatch(dataclasses.replace(advised, advice=advice), ax=ax)
    assert ax.get_ylim() == (0.0, pytest.approx(top))
    for criterion, mismatch in (("least lethality", profile.mismatch), ("slowest heating", profile.heating_mismatch)):
        assert_allclose(lines[criterion].get_ydata(), 100 * mismatch, rtol=1e-12, err_msg="per cent")
        assert_allclose(lines[criterion].get_xdata(), [20.0, 40.0, 60.0], rtol=1e-12, err_msg=SAME_FLOAT)


def test_second_scale_gives_the_tips_height_from_either_entry(advised, logged, shouldered):
    # through the domed base from 6 mm above its rim
    for result, height in ((advised, 118.2 - 40.0), (logged, 40.0), (shouldered, 6.0 + 40.0)):
        figure = plot_ladder(result)
        (second,) = figure.axes[0].child_axes
        figure.draw_without_rendering()
        across = [ax.transData.transform((x, 0.0))[0] for ax, x in ((figure.axes[0], 40.0), (second, height))]
        assert_allclose(across[0], across[1], rtol=1e-9, err_msg="a depth of 40 mm and its z, in pixels")


def test_second_scale_is_named_by_what_it_counts(advised):
    own = advised.advice.own
    inwards = dataclasses.replace(own, probe=dataclasses.replace(own.probe, entry="side", z=0.05))
    from_side = dataclasses.replace(advised.advice, candidates=(inwards,), chosen=0)
    for result, words in (
        (advised, "Height z of the tip [mm]"),
        (dataclasses.replace(advised, advice=from_side), "Tip's distance from the axis, below 0 beyond it [mm]"),
    ):
        (second,) = plot_ladder(result).axes[0].child_axes
        assert second.get_xlabel() == words


def test_depths_in_a_domed_base_are_said_to_be_from_its_middle(shouldered, logged):
    for result, words in ((shouldered, "outer face of the base on the axis"), (logged, "outer face of the base")):
        label = ladder(result, "least lethality").reading.axes.get_xlabel()
        assert label == f"Insertion depth from the {words} to the tip [mm]"


def test_single_depth_is_drawn_as_dots_alone(logged):
    own = logged.advice.own
    single = dataclasses.replace(own, ladder=own.ladder[-1:])
    result = dataclasses.replace(logged, advice=dataclasses.replace(logged.advice, candidates=(single,), chosen=0))
    assert len(ladder(result, "least lethality").reading.get_xdata()) == 1


def test_result_without_advice_is_refused(jar):
    with pytest.raises(ValueError, match="no advice"):
        plot_ladder(jar)


def test_bars_are_the_candidates_in_the_advices_order(advised):
    figure = Figure()
    axes = figure.subplots(1, 2, sharey=True)
    bars = draw_candidates(advised, ax=tuple(axes))
    found = [one.recommended("least lethality") for one in advised.advice.candidates]
    assert len(found) == 2
    for container, name in ((bars.mismatch, "mismatch"), (bars.heating_over_reading, "heating_over_reading")):
        widths = [bar.get_width() for bar in container]
        assert_allclose(widths, [100 * getattr(one, name) for one in found], rtol=1e-12, err_msg="per cent")
        middles = [bar.get_y() + bar.get_height() / 2 for bar in container]
        assert middles == sorted(middles, reverse=True)
    names = [label.get_text() for label in axes[0].get_yticklabels()]
    for name, candidate, one in zip(names, advised.advice.candidates, found, strict=True):
        assert name == f"{candidate.probe.name}\n{candidate.probe.entry}, {1e3 * one.depth:.1f} mm"
    bold = [label.get_fontweight() == "bold" for label in axes[0].get_yticklabels()]
    assert bold.index(True) == advised.advice.chosen
    assert sum(bold) == 1


def test_only_what_is_beyond_five_per_cent_is_hatched(advised):
    figure = plot_candidates(advised)
    bars = [bar for ax in figure.axes for bar in ax.containers[0]]
    assert [bool(bar.get_hatch()) for bar in bars] == [bar.get_width() > 5.0 for bar in bars]
    assert any(bar.get_hatch() for bar in bars)


def test_next_to_nothing_has_no_minus_beside_its_bar(advised):
    own = advised.advice.candidates[0]
    picks = tuple(dataclasses.replace(one, heating_over_reading=-2e-4) for one in own.recommendations)
    advice = dataclasses.replace(
        advised.advice, candidates=(dataclasses.replace(own, recommendations=picks),), chosen=0
    )
    figure = plot_candidates(dataclasses.replace(advised, advice=advice))
    assert "+0.0" in [text.get_text() for text in figure.axes[1].texts]
