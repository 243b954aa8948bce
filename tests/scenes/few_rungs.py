"""Advice from ladders of few rungs, for tests of what is said, kept and drawn of it, not of how good it is."""

import pytest

from thermsim.assess.depth import insertion
from thermsim.assess.depth.recommendation import recommend
from thermsim.assess.simulate.result import Result
from thermsim.case.case import Case


def advised_by_few(case: Case, **more) -> Result:
    """The advice on a case from half as many rungs."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(insertion, "COARSE", 6)
        patch.setattr(insertion, "ADDED", 2)
        patch.setattr(insertion, "SETTLED", 1)
        return recommend(case, **more)
