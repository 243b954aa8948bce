"""What a length out of its range may be meant to be. Rung: hand-worked, on both sides of each bound."""

import pytest

from thermsim.case.keys.key import Key, range_rule

#: A length from 4 to 2000 mm.
KEY = Key("height_mm", "a height", low=4.0, high=2000.0)


@pytest.mark.parametrize(("value", "meant"), [
    (3.9, "; did you mean inches (99.06 mm)?"), (2.1, "; did you mean inches (53.34 mm)?"),
    (1.9, "; did you mean inches (48.26 mm) or metres (1900 mm)?"), (0.1, "; did you mean metres (100 mm)?"),
    (2001.0, ""), (3999.0, ""), (4000.0, "; did you mean 4 mm?"), (5000.0, "; did you mean 5 mm?"),
    (2.1e6, ""), (0.001, ""), (-1.0, ""), (float("inf"), ""),
])  # fmt: skip
def test_a_length_far_out_of_its_range_may_be_in_another_unit(value, meant):
    assert range_rule(value, KEY) == f"must be at least 4 and at most 2000 mm{meant}"


@pytest.mark.parametrize("value", [4.0, 70.0, 2000.0])
def test_a_length_within_its_range_breaks_no_rule(value):
    assert range_rule(value, KEY) == ""
