"""From the [process] table of a case file to the process: stages as written, or as logged in a CSV file."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from thermsim.case.file.logged_process import HOLD_BELOW_HIGHEST, Record, calmed, knots_of, medium_of, stages_of
from thermsim.case.keys.checks import Table
from thermsim.case.keys.tables import CSV_ONLY, STAGE_NAMES
from thermsim.case.process import (
    AFTER_COOLING,
    JUMP_AT_THE_END,
    JUMP_TO_NOWHERE,
    ONLY_COOLING,
    SHORTEST,
    TOO_SHORT,
    Film,
    Process,
    Stage,
    StageName,
    in_turn,
)
from thermsim.case.rules import collecting
from thermsim.errors import InputError
from thermsim.loggers.clock import TIME_UNITS
from thermsim.loggers.logger import log_from_text, log_text
from thermsim.physics.films import film_remark, find_film
from thermsim.text import printed

LARGEST_RECORD = 20_000_000  # bytes; the record is kept inside every result file
with collecting():
    _UNKNOWN_FILM = Film.everywhere(math.nan)


@dataclass(frozen=True)
class Planned:
    """The process as the case plans it (without stages if it is at fault).

    ``files`` holds the text of the CSV file it was read from by that file's name, ``thin`` is how closely that
    record is followed [K]; None for stages as written.
    """

    process: Process
    files: Mapping[str, str] = field(default_factory=dict)
    thin: float | None = None


def planned(top: Table, attachments: Mapping[str, str], folder: Path | None, notes: list[str]) -> Planned:
    """The process of a case file, as written or as logged."""
    table = top.child("process", required=True)
    if "csv" not in table:
        table.refuse(CSV_ONLY, 'has a meaning only beside csv = "..."')
        return Planned(_from_stages(table, notes))
    table.refuse(("stage", "start_C"), "and csv exclude each other; give the stages or the record, not both")
    return _from_record(table, attachments, folder, notes)


def film(table: Table, name: str) -> Film | None:
    """Film coefficients under a key: one number or one for each surface; ``None`` where it is left out."""
    value = table.entries.get(name)
    if isinstance(value, dict):
        where = f"{table.where} {name}"
        inside = table.child(name, "film", where=where)
        return Film(inside.number("side"), inside.number("base"), inside.number("lid"), inside.given_number("probe"))
    if isinstance(value, list | str):
        table.fault(
            f"{name} = {printed(value)} must be a number, or {{ side = ..., base = ..., lid = ... }}; "
            "inf is written without quotes, and the name of a medium stands under medium"
        )
        return _UNKNOWN_FILM
    coefficient = table.given_number(name)
    return None if coefficient is None else Film.everywhere(coefficient)


def film_or_medium(table: Table, name: str, medium: str, notes: list[str]) -> Film | None:
    """Film coefficients under a key, or those of the medium that another key names, which is remarked on once."""
    given = film(table, name)
    if medium not in table:
        return given
    named = table.word(medium)
    if given is not None:
        table.fault(f"{name} and {medium} are given together; give one of them")
        return given
    if not named:
        return _UNKNOWN_FILM
    try:
        found = find_film(named)
    except InputError as failure:
        table.fault(f"{medium}: {failure}")
        return _UNKNOWN_FILM
    remark = film_remark(found)
    if remark not in notes:
        notes.append(remark)
    return Film.of_medium(found)


def _from_stages(table: Table, notes: list[str]) -> Process:
    common = film_or_medium(table, "film_W_m2K", "medium", notes)
    start = table.given_number("start_C")
    if start is None:
        table.missing("start_C")
    tables = table.children("stage", "process.stage")
    if not tables and "stage" not in table:
        table.missing("stage", " (or csv)")
    elif not tables and isinstance(table.entries["stage"], list) and not table.entries["stage"]:
        table.fault("stage = [] holds no stage; at least one is needed")
    cooling = False
    steps: list[tuple[StageName, float, float | None, Film]] = []
    without_film: list[int] = []
    for place, row in enumerate(tables):
        name = row.word("name", STAGE_NAMES)
        if cooling and name in ("come-up", "hold"):
            row.fault(f"{printed(name)} {AFTER_COOLING}")
        cooling = cooling or name == "cool"
        lasting = row.number("minutes")
        reached = row.given_number("to_C")
        own = film_or_medium(row, "film_W_m2K", "medium", notes)
        if lasting == 0 and reached is None:
            row.fault(f"minutes = 0 {JUMP_TO_NOWHERE.format('to_C')}")
        elif 0 < lasting < SHORTEST:
            row.fault(f"{row.shown('minutes')} {TOO_SHORT}")
        if lasting > 0 and own is None and common is None:
            without_film.append(place)
        steps.append((_stage_name(name), lasting, reached, own or common or _UNKNOWN_FILM))
    stages = in_turn(math.nan if start is None else start, steps)
    _report_films(table, tables, without_film)
    if steps and steps[-1][1] == 0 and steps[-1][2] is not None:
        tables[-1].fault(JUMP_AT_THE_END)
    elif stages and all(stage.name == "cool" for stage in stages):
        table.fault(ONLY_COOLING)
    return Process(stages)


def _report_films(table: Table, rows: Sequence[Table], without: Sequence[int]) -> None:
    """Stages without a film coefficient, in one line."""
    said = {"film_W_m2K", "medium"}
    without = [] if said & table.meant else [place for place in without if not said & rows[place].meant]
    if len(without) == 1:
        rows[without[0]].missing("film_W_m2K", " (or medium), here and in [process]")
    elif without:
        *some, last = (str(place + 1) for place in without)
        table.missing("film_W_m2K", f" (or medium), here and in [[process.stage]] no. {', '.join(some)} and {last}")


def _stage_name(name: str) -> StageName:
    return "come-up" if name == "come-up" else "cool" if name == "cool" else "hold"


def _column(table: Table, name: str) -> str | int | None:
    """A column of the CSV file by header or number."""
    value = table.entries.get(name)
    if value is None or (isinstance(value, int) and not isinstance(value, bool) and value >= 1):
        return value
    if isinstance(value, str) and value.strip():
        return value
    table.fault(f"{name} = {printed(value)} is no column; give its header in quotes, or its number from 1")
    return None


def _record_text(table: Table, name: str, attachments: Mapping[str, str], folder: Path | None) -> str | None:
    if name in attachments:
        return attachments[name]
    if folder is None:
        table.fault(f"csv = {printed(name)} is not at hand: the case came without a folder and without that file")
        return None
    try:
        return log_text(folder / name, limit=LARGEST_RECORD)
    except InputError as failure:
        table.fault(f"csv = {printed(name)}: {failure}")
        return None


def _from_record(table: Table, attachments: Mapping[str, str], folder: Path | None, notes: list[str]) -> Planned:
    nothing = Planned(Process(()))
    heating = film_or_medium(table, "film_W_m2K", "medium", notes)
    if heating is None:
        table.missing("film_W_m2K")
    cooling = film_or_medium(table, "cooling_film_W_m2K", "cooling_medium", notes)
    start_of_cooling = table.given_number("cooling_starts_min")
    if start_of_cooling is None:
        table.missing("cooling_starts_min")
    thin = table.number("thin_K")
    time_column, temperature_column = _column(table, "csv_time"), _column(table, "csv_temperature")
    unit = table.given_word("csv_time_unit", TIME_UNITS)
    decimal = table.given_word("csv_decimal", (".", ","))
    name = table.word("csv")
    text = _record_text(table, name, attachments, folder) if name else None
    if text is None:
        return nothing
    try:
        log = log_from_text(
            text, name=Path(name).name, time=time_column, time_unit=unit or None, decimal=decimal or None
        )
        record = medium_of(log, temperature_column)
    except InputError as failure:
        table.fault(str(failure))
        return nothing
    if start_of_cooling is None or math.isnan(start_of_cooling) or math.isnan(thin):
        return nothing
    last = float(record.time[-1])
    if start_of_cooling > last:
        table.fault(
            f"{table.shown('cooling_starts_min')} lies after the end of the record, which is {last / 60:.6g} min long"
        )
        return nothing
    if cooling is None and start_of_cooling < last:
        table.missing(
            "cooling_film_W_m2K", f" although the record goes on for {(last - start_of_cooling) / 60:.3g} min"
        )
    if start_of_cooling < SHORTEST:
        table.fault(
            f"{table.shown('cooling_starts_min')} leaves no heating; it must be at least {SHORTEST / 60:g} min"
        )
        return nothing
    calm, interval = calmed(record, start_of_cooling, thin)
    stages = stages_of(calm, start_of_cooling, thin, heating or _UNKNOWN_FILM, cooling or _UNKNOWN_FILM)
    notes += record.notes
    notes += [f"{name}: {made}" for made in _made_of(record, stages, interval=interval, thin=thin)]
    return Planned(Process(tuple(stages), name), {name: text}, thin)


def _made_of(record: Record, stages: Sequence[Stage], *, interval: float, thin: float) -> Iterator[str]:
    """Account of what was made of a record, in words."""
    if interval > 0:
        yield f"the record is noisy: averaged over {interval:.3g} s. Food cannot follow faster changes."
    yield (
        f"the medium follows column {printed(record.header)}, {record.time.size} samples over "
        f"{record.time[-1] / 60:.6g} min, by {knots_of(stages)} knots and straight lines within {thin:g} K of every "
        f"{'mean' if interval > 0 else 'sample'}."
    )
    near = f"within {HOLD_BELOW_HIGHEST:g} K of its highest heating temperature"
    if stages[0].name == "come-up":
        yield f"come-up until the medium first comes {near}, at {stages[0].end / 60:.4g} min."
    else:
        yield f"no come-up: the medium is {near} from the first sample on."
