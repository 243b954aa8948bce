"""The figures of a probe, and of the advice about its depth, for other programs."""

import dataclasses
import json

import pytest
from numpy.testing import assert_allclose

from thermsim.records.numbers.probe import correction_factor
from thermsim.records.numbers.summary import summary

CURVE = ["lethality_min", "heating_lethality_min", "end_of_heating_C", "time_min", "temperature_C"]
BIAS = [
    "lethality_percent",
    "heating_lethality_percent",
    "cooling_lethality_percent",
    "temperature_K",
    "temperature_time_min",
    "cooling_temperature_K",
    "cooling_temperature_time_min",
    "end_of_heating_K",
]
WORTH = [
    "insertion_mm",
    "window_mm",
    "mismatch_percent",
    "over_reading_percent",
    "heating_over_reading_percent",
    "cooling_over_reading_percent",
    "heating_bias_percent",
    "uncertainty_percent",
    "mismatch_uncertainty_percent",
    "good",
    "at_limit",
    "needed_length_mm",
]
# one or two multiplications apart
EXACT = {"rtol": 1e-14}


def leaves(tree, where=""):
    if isinstance(tree, dict):
        return [leaf for key, item in tree.items() for leaf in leaves(item, f"{where}.{key}")]
    if isinstance(tree, list):
        return [leaf for k, item in enumerate(tree) for leaf in leaves(item, f"{where}.{k}")]
    return [(where, tree)]


@pytest.mark.parametrize("name", ["probed", "advised", "stacked", "uncooled"])
def test_summary_of_a_probe_is_json_without_loss(name, request):
    found = summary(request.getfixturevalue(name))
    assert json.loads(json.dumps(found, allow_nan=False)) == found
    assert {type(value) for _, value in leaves(found)} <= {float, int, bool, str, type(None)}


def test_probe_has_the_agreed_keys(probed):
    found = summary(probed)["probe"]
    assert list(found) == [
        "name",
        "entry",
        "z_mm",
        "mount",
        "insertion_mm",
        "tip",
        "reading",
        "without_probe",
        "bias",
        "bias_to_cold_spot",
        "heat_penetration",
        "least_lethality",
    ]
    assert list(found["tip"]) == ["r_mm", "z_mm"]
    assert list(found["reading"]) == list(found["without_probe"]) == CURVE
    assert list(found["bias"]) == list(found["bias_to_cold_spot"]) == BIAS
    assert list(found["heat_penetration"]) == ["reading", "without_probe"]
    assert list(found["heat_penetration"]["reading"]) == ["fh_min", "jh"]
    assert list(found["least_lethality"]) == [
        *["r_mm", "z_mm", *CURVE[:3]],
        *["inside", "beside_stem", "moved_mm"],
    ]


def test_probe_is_in_mm_min_and_percent(probed):
    found, effect = summary(probed)["probe"], probed.probe
    assert (found["name"], found["entry"], found["mount"]) == ('stepped "stem"', "lid", "through")
    assert_allclose(found["insertion_mm"], 36.0, **EXACT)
    # 0.2 mm base, 70 mm inside, 0.2 mm lid, less 36 mm
    assert_allclose([found["tip"]["r_mm"], found["tip"]["z_mm"]], [0.0, 34.4], rtol=1e-12)
    assert_allclose(found["reading"]["lethality_min"], effect.reading.lethality / 60, **EXACT)
    assert_allclose(found["reading"]["time_min"][-1], 60.0, **EXACT)
    assert found["reading"]["temperature_C"] == effect.reading.temperature.tolist()
    assert found["without_probe"]["end_of_heating_C"] == effect.without_probe.end_of_heating
    read, without = (found[name]["heating_lethality_min"] for name in ("reading", "without_probe"))
    assert_allclose(found["bias"]["heating_lethality_percent"], 100 * (read / without - 1), rtol=1e-12)
    truth = probed.cold_spot.least_lethality.lethality / 60
    read = found["reading"]["lethality_min"]
    # the truth is the curve at the cold spot, here the cold spot itself
    assert_allclose(found["bias_to_cold_spot"]["lethality_percent"], 100 * (read / truth - 1), rtol=1e-9)
    assert_allclose(found["bias"]["temperature_time_min"], effect.at_place.temperature_time / 60, **EXACT)
    assert_allclose(found["heat_penetration"]["reading"]["fh_min"], effect.factors.f / 60, **EXACT)
    assert_allclose(found["least_lethality"]["moved_mm"], 1000 * effect.moved, **EXACT)


@pytest.mark.parametrize("name", ["probed", "advised", "stacked", "uncooled"])
def test_every_uncertainty_of_a_probe_is_under_its_figures_key(name, request):
    result = request.getfixturevalue(name)
    found = summary(result)
    known = [key for key in result.uncertainty if key.startswith("probe.")]
    shown = [where for where, value in leaves(found["numerical_uncertainty"]["probe"]) if value is not None]
    assert len(shown) == len(known) > 25
    figures = {where for where, _ in leaves(found["probe"])}
    # the uncertainty of a curve is one number for the whole curve
    assert {where for where in shown if where not in figures} == {
        ".reading.temperature_C",
        ".without_probe.temperature_C",
    }
    given = found["numerical_uncertainty"]["probe"]["bias"]["lethality_percent"]
    assert_allclose(given, 100 * result.uncertainty["probe.at_place.lethality"], **EXACT)


def test_heat_penetration_factors_that_do_not_exist_are_null(uncooled):
    found = summary(uncooled)
    nothing = {"reading": None, "without_probe": None}
    assert found["probe"]["heat_penetration"] == nothing
    assert found["numerical_uncertainty"]["probe"]["heat_penetration"] == nothing


def test_no_probe_and_no_advice_are_null(probed):
    found = summary(probed)
    for name in ("recommended", "recommended_by_criterion", "ladder", "candidates", "hardware", "confirmation_mm"):
        assert found[name] is None
    assert found["stems"] is None
    bare = dataclasses.replace(probed, probe=None)
    assert summary(bare)["probe"] is None
    assert "probe" not in summary(bare)["numerical_uncertainty"]


def test_recommendation_has_the_agreed_keys(advised):
    found = summary(advised)
    keys = [
        *WORTH,
        "margin_percent",
        "reading_lethality_min",
        "reading_heating_lethality_min",
        "reading_end_of_heating_C",
        "compared",
        "least_lethality_min",
        "criterion",
        "correction_factor",
        "correction_factors",
    ]
    assert list(found["recommended"]) == keys
    assert list(found["recommended_by_criterion"]) == ["least_lethality", "slowest_heating"]
    assert list(found["recommended_by_criterion"]["slowest_heating"]) == keys
    assert list(found["ladder"][0]) == [
        "insertion_mm",
        "tip_z_mm",
        "tip_from_axis_mm",
        "reading_lethality_min",
        "heating_lethality_min",
        "end_of_heating_C",
        "mismatch_percent",
        "over_reading_percent",
        "without_probe_lethality_min",
        "without_probe_heating_lethality_min",
        "without_probe_end_of_heating_C",
    ]
    assert list(found["candidates"][0]) == ["name", "entry", "z_mm", "own", *WORTH]
    assert list(found["hardware"][0]) == [
        "insertion_mm",
        "misfit_mm",
        "in_window",
        "probe_length_mm",
        "stick_out_mm",
        "spacers_mm",
        "reading_lethality_min",
        "mismatch_percent",
        "heating_over_reading_percent",
    ]
    assert list(found["stems"][0]) == [
        "diameter_mm",
        "conductivity_W_mK",
        "heating_bias_percent",
        "end_of_heating_K",
    ]


@pytest.mark.parametrize("name", ["advised", "stacked"])
def test_recommended_is_that_of_the_chosen_criterion(name, request):
    result = request.getfixturevalue(name)
    found = summary(result)
    chosen = found["recommended"]
    assert chosen == found["recommended_by_criterion"][result.advice.criterion.replace(" ", "_")]
    # the reading is that of the probe in the same result: two ways to one figure, extrapolated alike
    assert_allclose(chosen["reading_lethality_min"], found["probe"]["reading"]["lethality_min"], rtol=1e-9)
    assert_allclose(chosen["insertion_mm"], found["probe"]["insertion_mm"], rtol=1e-12)
    read, truth = chosen[chosen["compared"]], chosen["least_lethality_min"]
    alike = abs(chosen["heating_over_reading_percent"] - chosen["cooling_over_reading_percent"]) <= 2.0
    one = result.advice.own.recommended(result.advice.criterion)
    # without cooling nothing is gathered there that could ask for another factor
    heated = dataclasses.replace(one, over_reading=0.25, heating_over_reading=0.25, cooling_over_reading=0.0)
    assert_allclose(correction_factor(heated), 0.8, rtol=1e-12)
    if result.advice.criterion == "least lethality" and not alike:
        assert chosen["correction_factor"] is None  # one factor would hold for this process alone
    else:
        assert_allclose(chosen["correction_factor"], truth / read, rtol=1e-12)
    assert_allclose(chosen["over_reading_percent"], 100 * (read / truth - 1), rtol=1e-9)
    low, high = chosen["window_mm"]
    assert low < chosen["insertion_mm"] < high


def test_what_a_reading_should_be_is_named_by_the_figure_compared(advised, stacked):
    least, slowest = summary(advised), summary(stacked)
    assert least["recommended"]["compared"] == "reading_lethality_min"
    truth = least["cold_spot"]["least_lethality"]["lethality_min"]
    assert_allclose(least["recommended"]["least_lethality_min"], truth, rtol=1e-9)
    assert slowest["recommended"]["compared"] == "reading_heating_lethality_min"
    truth = slowest["cold_spot"]["slowest_heating"]["heating_lethality_min"]
    assert_allclose(slowest["recommended"]["least_lethality_min"], truth, rtol=1e-9)


def test_ladder_goes_from_shallow_to_deep_and_tells_the_tips_height(advised, stacked):
    through_lid, on_base = summary(advised)["ladder"], summary(stacked)["ladder"]
    for ladder, height in ((through_lid, lambda depth: 70.4 - depth), (on_base, lambda depth: depth)):
        depths = [rung["insertion_mm"] for rung in ladder]
        assert depths == sorted(depths)
        assert_allclose([rung["tip_z_mm"] for rung in ladder], [height(depth) for depth in depths], rtol=1e-12)
    chosen = summary(advised)["recommended"]
    assert chosen["mismatch_percent"] <= min(rung["mismatch_percent"] for rung in through_lid) + 1.1
    near = min(through_lid, key=lambda rung: abs(rung["insertion_mm"] - chosen["insertion_mm"]))
    assert abs(near["mismatch_percent"] - chosen["mismatch_percent"]) < 1.0
    truth = summary(stacked)["recommended"]["least_lethality_min"]
    for rung in on_base:
        over = 100 * (rung["heating_lethality_min"] / truth - 1)
        assert_allclose(rung["over_reading_percent"], over, rtol=1e-9, atol=1e-9)


def test_candidates_are_sorted_and_one_is_the_cases_own(advised):
    found = summary(advised)["candidates"]
    assert [one["entry"] for one in found if one["own"]] == ["lid"]
    assert {one["entry"] for one in found} == {"lid", "base"}
    ranks = [(not one["good"], one["mismatch_percent"]) for one in found]
    assert ranks == sorted(ranks)


def test_hardware_of_a_probe_and_of_a_stack_are_told_apart(advised, stacked):
    through, inside = summary(advised)["hardware"], summary(stacked)["hardware"]
    for one in through:
        assert_allclose(one["probe_length_mm"], one["insertion_mm"] + one["stick_out_mm"], rtol=1e-12)
        assert one["spacers_mm"] == []
    assert {tuple(one["spacers_mm"]) for one in inside} >= {(), (5.0,), (10.0, 10.0)}
    assert all(one["probe_length_mm"] is None and one["stick_out_mm"] is None for one in inside)
    wanted = summary(advised)["recommended"]
    for one in through:
        assert_allclose(one["misfit_mm"], one["insertion_mm"] - wanted["insertion_mm"], atol=1e-9)
        assert one["in_window"] == (wanted["window_mm"][0] <= one["insertion_mm"] <= wanted["window_mm"][1])


def changed(result, **changes):
    """The same result with something changed in the chosen recommendation."""
    advice = result.advice
    own = advice.own
    found = tuple(
        dataclasses.replace(one, **changes) if one.criterion == advice.criterion else one
        for one in own.recommendations
    )
    candidates = list(advice.candidates)
    candidates[advice.chosen] = dataclasses.replace(own, recommendations=found)
    return dataclasses.replace(result, advice=dataclasses.replace(advice, candidates=tuple(candidates)))


@pytest.mark.parametrize(
    ("over_reading", "mismatch", "heating_over_reading", "good"),
    [
        (0.00, 0.04, 0.04, True),
        (0.00, 0.48, 0.02, False),
        (0.00, 0.04, 0.06, False),
        (0.06, 0.06, 0.06, False),
        (-0.04, 0.04, -0.10, True),
    ],
)
def test_depth_whose_errors_cancel_is_not_called_good(advised, over_reading, mismatch, heating_over_reading, good):
    worth = {"over_reading": over_reading, "mismatch": mismatch, "heating_over_reading": heating_over_reading}
    found = summary(changed(advised, **worth))
    assert found["recommended"]["good"] is good
    assert found["candidates"][advised.advice.chosen]["good"] is good
