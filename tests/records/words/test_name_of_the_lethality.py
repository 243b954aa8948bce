"""One name for the lethality on screens, reports and sheets: that of its reference and z.

Rung: hand-worked. A sterilised jar and a measured run are told as if they were pasteurised.
"""

import dataclasses
import re

from job_cases import words
from measured_runs import made_comparison

from thermsim.case.case import Lethality
from thermsim.figures.bench.sheet import plot_bench_sheet
from thermsim.records.measured.report import measured_report_html
from thermsim.records.measured.sentences import measured_answer
from thermsim.records.report.page import report_html
from thermsim.records.words.answer import answer

PASTEURISED = Lethality(90.0, 10.0, target=600.0)


def check(text):
    assert re.search(r"\bP\b", text)
    other = re.search(r".{30}\b(F|F0|F₀)\b.{10}", re.sub(r"<style>.*?</style>", "", text, flags=re.DOTALL))
    assert other is None, other[0]


def told_as(found):
    return dataclasses.replace(found, case=found.case.replace(lethality=PASTEURISED))


def test_a_pasteurised_container_has_p_and_nowhere_f(advised):
    result = told_as(advised)
    check("\n".join(answer(result, full=True)))
    check(words(plot_bench_sheet(result, program="program 1", digest="abc")))
    check(report_html(result, {}, program="program 1", when="now", case_name="jar.toml"))


def test_a_pasteurised_run_has_p_and_nowhere_f():
    found = told_as(made_comparison())
    check("\n".join(measured_answer(found, full=True)))
    check(measured_report_html(found, {}, program="program 1", when="now"))
