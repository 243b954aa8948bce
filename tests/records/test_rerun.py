"""What a results file is computed again with: the question that it answered.

Rung: hand-worked. Whoever computes is replaced by something that notes what it is asked.
"""

import dataclasses

import pytest

from thermsim.records import rerun


@pytest.mark.parametrize("name", ["advised", "stacked"])
def test_a_recommendation_is_asked_for_again_as_it_was(name, request, monkeypatch):
    result = request.getfixturevalue(name)
    advice = dataclasses.replace(result.advice, sensor_accuracy=0.7)
    recommendations = tuple(dataclasses.replace(one, margin=0.07) for one in advice.own.recommendations)
    own = dataclasses.replace(advice.own, recommendations=recommendations)
    advice = dataclasses.replace(advice, candidates=(own,), chosen=0)
    stored, asked = dataclasses.replace(result, advice=advice), {}

    def recommend(case, **named):
        asked.update(named, case=case)
        return stored

    monkeypatch.setattr(rerun, "holds", lambda path: "result")
    monkeypatch.setattr(rerun, "load_result", lambda path: stored)
    monkeypatch.setattr(rerun, "recommend", recommend)
    monkeypatch.setattr(rerun, "simulate", lambda case, **named: pytest.fail("not what was asked"))
    found = rerun.rerun("result.h5")
    assert asked["criterion"] == {"advised": "least lethality", "stacked": "slowest heating"}[name]
    assert (asked["margin"], asked["sensor_accuracy"], asked["case"]) == (0.07, 0.7, stored.case)
    # every figure that is uncertain is compared, and is the same
    assert len(found) == len(result.uncertainty) and all(one.part == 0.0 for one in found)


def test_a_figure_that_is_off_by_more_than_its_uncertainty_does_not_agree(probed, monkeypatch):
    name = "cold_spot.least_lethality.lethality"
    spot = probed.cold_spot.least_lethality
    for times, agrees in ((0.9, True), (1.1, False)):
        lethality = spot.lethality + times * probed.uncertainty[name]
        cold_spot = dataclasses.replace(
            probed.cold_spot, least_lethality=dataclasses.replace(spot, lethality=lethality)
        )
        spots = (dataclasses.replace(probed.spots[0], lethality=lethality), probed.spots[1])
        again = dataclasses.replace(probed, cold_spot=cold_spot, spots=spots)
        monkeypatch.setattr(rerun, "holds", lambda path: "result")
        monkeypatch.setattr(rerun, "load_result", lambda path: probed)
        monkeypatch.setattr(rerun, "simulate", lambda case, again=again, **named: again)
        (one,) = [one for one in rerun.rerun("result.h5") if one.name == name]
        assert one.part == pytest.approx(times, rel=1e-6)
        assert (one.part <= 1.0) is agrees
