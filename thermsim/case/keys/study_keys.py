"""The keys of a study: which quantities of the case are varied, and how."""

from __future__ import annotations

from collections.abc import Mapping

from thermsim.case.keys.key import Key, positive

KINDS = ("scan", "tornado", "spread")
SAMPLERS = ("sobol", "latin hypercube")
DISTRIBUTIONS = ("uniform", "normal", "triangular", "discrete")
#: Runs of one study, at most.
MOST_RUNS = 200_000

_OWN_UNIT = "in the unit of that key"

STUDY_TABLES: Mapping[str, tuple[Key, ...]] = {
    "study": (
        Key("kind", '"scan": one or two quantities on a grid; "tornado": one at a time; "spread": distributions'),
        Key("vary", "the quantities, [[study.vary]]", most=50),
        Key("sampler", 'with spread: "sobol" (scrambled) or "latin hypercube"', '"sobol"'),
        Key("samples", "with spread: size of the base sample; a power of 2 with sobol", 64.0, low=4, high=100_000),
        Key("indices", "with spread: false saves the runs that Sobol indices take", "true"),
        Key("seed", "with spread: number from which the sample is drawn; the same gives the same", 1.0, 0, 1e9),
        Key("required_hold", "true: find the hold that just reaches target_min in every run (slower)", "false"),
        Key(
            "recommend_depth",
            "true: find the depth of the probe in every run, and one depth for all (much slower)",
            "false",
        ),
        Key("criterion", 'with recommend_depth: "least lethality" or "slowest heating"', '"least lethality"'),
        Key(
            "tip_tolerance_mm",
            "with recommend_depth: how far the tip may lie off the depth that is set",
            0.0,
            low=0,
            high=100,
        ),
    ),
    "study.vary": (
        Key("key", 'path of a number of this file, "fill.headspace_mm", "process.stage.hold.film_W_m2K"'),
        Key("values", f"list of values (scan, discrete), {_OWN_UNIT}", "low, high and steps", most=1000),
        Key("low", f"lowest value, {_OWN_UNIT}", "none; needed but with values and with normal"),
        Key("high", f"highest value, {_OWN_UNIT}", "none; needed but with values and with normal"),
        Key("steps", "with scan: number of values from low to high", "none", low=2, high=1000),
        Key("distribution", 'with spread: "uniform", "normal", "triangular" or "discrete"', "needed with spread"),
        Key("mean", f"with normal, {_OWN_UNIT}; low and high may cut the distribution off", "none"),
        positive("deviation", f"with normal: standard deviation, {_OWN_UNIT}", "none"),
        Key("mode", f"with triangular: the most likely value, {_OWN_UNIT}", "none"),
        positive("weights", "with discrete: list of weights of the values", "all alike", most=1000),
    ),
}
