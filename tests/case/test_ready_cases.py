from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from thermsim.case import case_from_text, read_case

CASES = Path(__file__).parents[2] / "cases"


@pytest.mark.parametrize("path", sorted(CASES.glob("*.toml")), ids=lambda path: path.stem)
def test_every_ready_case_is_read_and_says_that_it_is_invented(path):
    case = read_case(path)
    assert "invented" in case.text
    assert case.lethality.target > 0
    assert case.process.heating_end < case.process.end


def test_the_cups_record_passes_midnight_and_is_followed():
    case = read_case(CASES / "cup.toml")
    assert case.process.source == "cup_retort.csv"
    # the record runs from 22:47:12 to 00:37:12
    assert_allclose(case.process.end, 110 * 60, rtol=1e-12)
    assert_allclose(case.process.heating_end, 75 * 60, rtol=1e-12)
    assert [stage.name for stage in case.process.stages] == ["come-up", "hold", "cool"]
    # 22:47:12 reads 48,0 and 22:48:12 reads 50,0 in the file; the case allows 0.1 K
    assert_allclose(case.process.medium_at(np.array([0.0, 60.0])), [48.0, 50.0], rtol=0, atol=0.1)


def test_the_cup_can_be_read_again_without_its_files():
    case = read_case(CASES / "cup.toml")
    again = case_from_text(case.text, name="cup.toml", attachments=case.attachments)
    assert again.notes == case.notes
    for stage, other in zip(again.process.stages, case.process.stages, strict=True):
        assert np.array_equal(stage.time, other.time)
        assert np.array_equal(stage.medium, other.medium)
