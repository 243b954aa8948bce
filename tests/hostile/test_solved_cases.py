"""Cases with other numbers that are accepted: solved at loose accuracy, their answers keep to what physics allows.

Rung: conservation and bounds (maximum principle, balance of heat, the least is the least).
"""

import contextlib
import random

import pytest
from mutated_cases import ATTACHMENTS, bases, dumped, nudged
from sound_answers import nonsense, not_for_ever

from thermsim import case_from_text
from thermsim.assess.simulate.simulation import simulate
from thermsim.errors import CaseError, ThermsimError

KNOWN = bases()


def accepted(seeds):
    for seed in seeds:
        with contextlib.suppress(CaseError):
            yield seed, case_from_text(dumped(nudged(random.Random(seed), KNOWN)), attachments=ATTACHMENTS)


@pytest.mark.parametrize(
    "seeds", [range(20, 24), *(pytest.param(range(k, k + 40), marks=pytest.mark.whole) for k in range(0, 400, 40))]
)
def test_what_is_accepted_is_solved_without_nonsense(seeds):
    solved = 0
    for seed, case in accepted(seeds):
        with not_for_ever():
            try:
                result = simulate(case)
            except ThermsimError:
                continue
        assert [*nonsense(case, result)] == [], seed
        solved += 1
    assert solved
