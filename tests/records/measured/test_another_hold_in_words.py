"""What holds if heating was longer or shorter: on the screen, in JSON and in the spreadsheet, where it may be.

Rung: hand-worked. Nothing is computed: the comparison is made up.
"""

import dataclasses

import pytest
from measured_runs import made_comparison

from thermsim.assess.measured.doubts.explanation import Held
from thermsim.assess.measured.doubts.whole_run import doubts_of_run
from thermsim.assess.measured.result import ENDED_OTHERWISE
from thermsim.notice import Notice
from thermsim.records.measured.rows import corrected_text
from thermsim.records.measured.sentences import measured_answer
from thermsim.records.measured.sheets import sheets
from thermsim.records.measured.summary import measured_summary

#: What a fit leaves over [K] if heating was longer, and if the clocks differ; what that tells.
#: A hold that explains a curve badly explains nothing.
TOLD = [(0.1, 4.0, True), (4.0, 0.1, False), (0.1, 0.14, None), (0.4, 4.0, None)]


def with_held(rms, against):
    """A run of one container, corrected to 10 min, or 8 min if it was heated 5 min longer, until it turned."""
    found = made_comparison()
    one = found.containers[1]
    spot = dataclasses.replace(one.corrected, lethality=600.0, low=540.0, high=660.0)
    offset = dataclasses.replace(one.fit.estimates[2], value=290.0, at_bound=False)
    fit = dataclasses.replace(one.fit, estimates=(*one.fit.estimates[:2], offset))
    flag = Notice(ENDED_OTHERWISE, "danger", "logger", "HEATING ENDED 5.0 min later.", {}, "whose clock?")
    one = dataclasses.replace(one, corrected=spot, fit=fit, held=Held(300.0, 480.0, rms, against), flags=(flag,))
    return dataclasses.replace(found, containers=(one,), slowest=0)


@pytest.mark.parametrize(("rms", "against", "likelier"), TOLD)
def test_the_lower_of_both_counts_unless_the_curve_tells_against_it(rms, against, likelier):
    found = with_held(rms, against)
    (one,) = found.containers
    assert one.held.likelier is likelier
    assert one.lethality == (600.0 if likelier is False else 480.0)
    texts = ["10.00 (9.00 to 11.00) DOUBTFUL", "8.00 if heated 5.0 min longer DOUBTFUL; 10.00 (9.00 to 11.00) if not"]
    assert corrected_text(one) == texts[likelier is not False]
    screen = " ".join(" ".join(measured_answer(found, full=True)).split())
    assert ("IN DOUBT (8.00 if heated 5.0 min longer)" in screen) == (likelier is not False)
    turn = (
        f"Its turn if heated 5.0 min longer the corrected lethality is 8.00 min, and the fit leaves {rms:.2f} K over"
    )
    assert (f"{turn}; if the clocks differ, {against:.2f} K" in screen) == (likelier is not False)
    (_, heads, rows), *_ = sheets(found)
    cell = dict(zip(heads, rows[0], strict=True))["lethality corrected if heated until it turned [min]"]
    assert cell == ("" if likelier is False else 8.0)
    (record,) = measured_summary(found)["containers"]
    assert record["if_heated_until_it_turned"] == {
        "later_min": 5.0, "corrected_min": 8.0, "left_over_K": rms, "left_over_if_clocks_differ_K": against
    }  # fmt: skip


@pytest.mark.parametrize((("rms", "against", "likelier")), TOLD)
def test_the_danger_says_both_lethalities_and_what_the_curves_tell(rms, against, likelier):
    found = with_held(rms, against)
    (said,) = [doubt.said for doubt in doubts_of_run(found.case.process, found.process, found.run, found.containers)]
    both = "If the clocks differ, the least corrected lethality is 10.00 min; if heating was really longer, 8.00 min "
    told = {
        True: f"{both}(so the curves tell).",
        None: f"{both}(the curves do not tell which).",
        False: "The curves tell for clocks that differ: least corrected lethality 10.00 min.",
    }[likelier]
    assert told in said.short and told in said.text
    # what is corrected by a clock further off than is looked for stands for nothing
    one, far = found.containers[0], dataclasses.replace(found.containers[0].fit.estimates[2], at_bound=True)
    stopped = dataclasses.replace(one, fit=dataclasses.replace(one.fit, estimates=(*one.fit.estimates[:2], far)))
    (said,) = [doubt.said for doubt in doubts_of_run(found.case.process, found.process, found.run, [stopped])]
    assert said.short.endswith("The curves tell that heating was really longer: least corrected lethality 8.00 min.")
    # where neither can be worked out it asks
    bare = dataclasses.replace(found.containers[0], held=None)
    (said,) = [doubt.said for doubt in doubts_of_run(found.case.process, found.process, found.run, [bare])]
    assert said.short.endswith("Whose clock?")
