"""Rung: hand-worked. What a run may take over from the one before, and what it may not."""

import dataclasses

from small_cans import small_can

from thermsim.assess.fields.cache import MOST_BODIES, SolutionCache


def test_grids_and_processes_are_taken_over_where_all_they_depend_on_is_the_same():
    case, made = small_can(), []

    def make():
        made.append(object())
        return made[-1]

    cache = SolutionCache()
    first = cache.family(case, (1.0, 0.01, False), make)
    assert cache.family(case.replace(title="another"), (1.0, 0.01, False), make) is first
    warmer = case.replace(product=dataclasses.replace(case.product, initial=41.0))
    for other in ((case, (2.0, 0.01, False)), (case, (1.0, 0.01, True)), (warmer, (1.0, 0.01, False))):
        assert cache.family(*other, make) is not first
    assert len(made) == 4 == MOST_BODIES and cache.taken == {"families": 1, "processes": 0}
    # the oldest goes, unless it was used since
    assert cache.family(case, (1.0, 0.01, False), make) is first
    cache.family(case, (3.0, 0.01, False), make)
    assert cache.family(case, (1.0, 0.01, False), make) is first and len(made) == 5
    pair = cache.followed(case, case.process, (1.0, 0.01, False), make)
    assert cache.followed(case, case.process, (1.0, 0.01, False), make) is pair and cache.taken["processes"] == 1
    longer = case.process.with_hold(100.0)
    for other in (
        (case, longer, (1.0, 0.01, False)),
        (case, case.process, (1.0, 0.02, False)),
        (case, case.process, (2.0, 0.01, False)),
    ):
        assert cache.followed(*other, make) is not pair
