"""From the [study] table to the study."""

from __future__ import annotations

import math

from thermsim.case.keys.checks import Table
from thermsim.case.keys.paths import place_of
from thermsim.case.keys.study_keys import DISTRIBUTIONS, KINDS, MOST_RUNS, SAMPLERS
from thermsim.case.study import CRITERIA, Study, Vary
from thermsim.errors import InputError


def study_of(top: Table, *, target: bool, probe: bool) -> Study | None:
    """The study of a case file; ``None`` where there is none.

    ``target`` and ``probe`` say whether the case has them.
    """
    table = top.child("study")
    if table.absent:
        return None
    kind = table.word("kind", KINDS)
    sampler = table.given_word("sampler", SAMPLERS) or "sobol"
    samples, seed = table.whole("samples"), table.whole("seed")
    indices = table.flag("indices") if "indices" in table else True
    hold, depth = table.flag("required_hold"), table.flag("recommend_depth")
    criterion = table.given_word("criterion", CRITERIA) or CRITERIA[0]
    tolerance = table.number("tip_tolerance_mm")
    if hold and not target:
        table.fault("required_hold needs the lethality that is wanted; give target_min in [lethality]")
    if depth and not probe:
        table.fault("recommend_depth needs a probe; describe it in [probe]")
    if not depth:
        table.refuse(("criterion", "tip_tolerance_mm"), "has a meaning only beside recommend_depth = true")
    if kind and kind != "spread":
        table.refuse(("sampler", "samples", "indices", "seed"), 'has a meaning only with kind = "spread"')
    elif sampler == "sobol" and samples >= 4 and samples & (samples - 1):
        below = 1 << (samples.bit_length() - 1)
        table.fault(f"samples = {samples} must be a power of 2 with the sobol sampler: {below} or {2 * below}")
    vary = _vary(top, table, kind)
    study = Study(  # words at fault are "", and the case is refused
        kind,  # type: ignore[arg-type]
        vary,
        sampler,  # type: ignore[arg-type]
        samples,
        indices,
        seed,
        hold,
        depth,
        criterion,  # type: ignore[arg-type]
        tolerance,
    )
    if kind and study.runs > MOST_RUNS:
        table.fault(f"it would take {study.runs} runs; at most {MOST_RUNS} are made")
    return study


def _vary(top: Table, table: Table, kind: str) -> tuple[Vary, ...]:
    rows = table.children("vary", "study.vary", written="[[study.vary]] before each quantity")
    found: list[Vary] = []
    paths: list[object] = []
    for row in rows:
        key = row.word("key")
        if key:
            try:
                place = place_of(top.entries, key)
            except InputError as failure:
                row.fault(f"key = {failure}")
            else:
                key = place.path
                if place.trail in paths:
                    row.fault(f'key = "{key}" is varied by an earlier one already')
                paths.append(place.trail)
        found.append(_READERS[kind](row, key) if kind else Vary(key))
    if table.entries.get("vary", []) == [] and "vary" not in table.meant:
        table.fault("nothing is varied; write [[study.vary]] with a key for each quantity")
    if kind == "scan" and len(rows) > 2:
        table.fault(f"a scan varies one or two quantities, not {len(rows)}; a tornado or a spread takes more")
    return tuple(found)


def _allowed(row: Table, names: tuple[str, ...], what: str) -> None:
    others = [name for name in row.entries if name in row.keys and name not in ("key", *names)]
    row.refuse(others, f"has no meaning with {what}; it takes {', '.join(names)}")


def _is_given(row: Table, name: str, what: str) -> bool:
    """True if a key that is needed is there, be it misspelt."""
    given = name in row or name in row.meant
    if not given:
        row.fault(f'key "{name}" is missing; {what} needs it')
    return given


def _needed(row: Table, name: str, what: str) -> float:
    return row.number(name) if _is_given(row, name, what) and name in row else math.nan


def _ends(row: Table, what: str) -> tuple[float, float]:
    low, high = _needed(row, "low", what), _needed(row, "high", what)
    if low >= high:
        row.fault(f"low = {low:g} must be below high = {high:g}")
    return low, high


def _values(row: Table) -> tuple[float, ...]:
    values = row.numbers("values")
    if isinstance(row.entries.get("values"), list) and len(values) < 2:
        row.fault("values must be two numbers or more")
    elif any(later <= earlier for earlier, later in zip(values[:-1], values[1:], strict=True)):
        row.fault("values must grow from each to the next")
    return values


def _scanned(row: Table, key: str) -> Vary:
    if "values" in row or "values" in row.meant:
        _allowed(row, ("values",), "values of a scan")
        return Vary(key, _values(row))
    _allowed(row, ("low", "high", "steps"), "a scan from low to high")
    low, high = _ends(row, "a scan without values")
    steps = row.whole("steps") if "steps" in row else 0
    _is_given(row, "steps", "a scan without values")
    # decimal fractions stay what they are: 0.30000000000000004 is not what anybody asked for
    between = (float(f"{low + (high - low) * k / (steps - 1):.12g}") for k in range(steps) if steps > 1)
    return Vary(key, tuple(between), low, high)


def _tornado(row: Table, key: str) -> Vary:
    _allowed(row, ("low", "high"), "a tornado")
    return Vary(key, (), *_ends(row, "a tornado"))


#: What each distribution takes.
_TAKES = {
    "uniform": ("low", "high"),
    "triangular": ("low", "mode", "high"),
    "normal": ("mean", "deviation", "low", "high"),
    "discrete": ("values", "weights"),
}


def _spread(row: Table, key: str) -> Vary:
    distribution = row.word("distribution", DISTRIBUTIONS)
    if not distribution:
        return Vary(key)
    what = f"a {distribution} distribution"
    _allowed(row, ("distribution", *_TAKES[distribution]), what)
    if distribution == "normal":
        mean, deviation = _needed(row, "mean", what), _needed(row, "deviation", what)
        low_end, high_end = row.given_number("low"), row.given_number("high")
        if (low_end is not None and low_end >= mean) or (high_end is not None and high_end <= mean):
            row.fault("low must be below the mean, and high above it")
        return Vary(key, (), low_end, high_end, distribution, mean, deviation)
    if distribution == "discrete":
        values, weights = _values(row), row.numbers("weights")
        if _is_given(row, "values", what) and weights and len(weights) != len(values):
            row.fault(f"there are {len(weights)} weights and {len(values)} values: each value needs one")
        return Vary(key, values, distribution=distribution, weights=weights)
    low, high = _ends(row, what)
    if distribution == "uniform":
        return Vary(key, (), low, high, distribution)
    mode = _needed(row, "mode", what)
    if mode < low or mode > high:
        row.fault(f"mode = {mode:g} must lie from low = {low:g} to high = {high:g}")
    return Vary(key, (), low, high, distribution, mode=mode)


_READERS = {"scan": _scanned, "tornado": _tornado, "spread": _spread}
