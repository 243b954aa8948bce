"""From the [probe], [[probes]] and [stock] tables of a case file to probes and to the hardware at hand."""

from __future__ import annotations

import math
from collections.abc import Sequence

from thermsim.case.container import Container
from thermsim.case.file.context import Context
from thermsim.case.file.substances import material
from thermsim.case.keys.checks import Table
from thermsim.case.keys.tables import EDGES, ENTRIES, MOUNTS
from thermsim.case.mounting import mounting_faults
from thermsim.case.probe import Entry, Fitting, Gap, Mount, Probe, Segment, Stock
from thermsim.case.process import Process
from thermsim.case.rules import name_faults
from thermsim.text import printed

_SEGMENTS = 'segments = [{ diameter_mm = ..., length_mm = ..., material = "..." }]'
_FITTING = 'fitting = { diameter_mm = ..., inside_mm = ..., outside_mm = ..., material = "..." }'
_GAP = 'gap = { thickness_mm = ..., material = "..." }'


def probes(top: Table, container: Container, filled: float, context: Context) -> tuple[Probe, ...]:
    """The probe and those to compare with it, ``filled`` [m] being the product's depth; none where none is given."""
    written = "[probe] and its keys below it, and [[probes]] for further ones"
    tables = []
    if "probe" in top:
        tables.append(top.child("probe", written=written))
    further = top.children("probes", "probe", where="[[probes]]")
    if further and "probe" not in top and "probe" not in top.meant:
        top.fault("[[probes]] are further ones to compare with [probe], which is missing; make the first one [probe]")
    found: list[Probe] = []
    for table in (*tables, *further):
        path = f"probes[{len(found)}]"
        probe = _probe(table, path, context)
        context.report(probe.faults(path))
        sound = not math.isnan(container.inner_height + container.profile.narrowest + filled) or probe.entry != "side"
        inside = probe.mount == "inside" and probe.insertion is not None
        known = table.entries.get("entry") in ENTRIES and table.entries.get("mount") in MOUNTS
        if sound and probe.segments and not inside and known:
            context.report(mounting_faults(probe, path, container, filled))
        found.append(probe)
    names = [probe.name for probe in found]
    context.report(name_faults(names, [f"probes[{k}]" for k in range(len(found))], "probe"))
    return tuple(found)


def _probe(table: Table, path: str, context: Context) -> Probe:
    entry = table.word("entry", ENTRIES)
    mount = table.word("mount", MOUNTS)
    name = table.word("name") if "name" in table or table.where != "[probe]" else "probe"
    rows = table.children("segments", "probe.segments", where=f"{table.where} segments", written=_SEGMENTS)
    if "segments" not in table:
        table.missing("segments")
    elif table.entries["segments"] == []:
        table.fault(f"segments = [] holds no segment; write {_SEGMENTS}")
    segments = tuple(_segment(row, context) for row in rows)
    fitting_table = table.child("fitting", "probe.fitting", where=f"{table.where} fitting", written=_FITTING)
    gap_table = table.child("gap", "probe.gap", where=f"{table.where} gap", written=_GAP)
    context.tables.update({path: table, f"{path}.fitting": fitting_table, f"{path}.gap": gap_table})
    context.tables.update({f"{path}.segments[{place}]": row for place, row in enumerate(rows)})
    return Probe(
        _entry_name(entry),
        _mount_name(mount),
        segments,
        insertion=table.given_number("insertion_mm"),
        sensing=table.number("sensing_mm"),
        fitting=None if fitting_table.absent else _fitting(fitting_table, context),
        gap=None if gap_table.absent else Gap(gap_table.number("thickness_mm"), material(gap_table, context)),
        film=table.given_number("film_W_m2K"),
        initial=table.given_number("initial_C"),
        name=name,
        z=table.given_number("z_mm"),
        edge=table.given_word("edge", EDGES) or "",
    )


def _entry_name(entry: str) -> Entry:
    return "base" if entry == "base" else "side" if entry == "side" else "lid"


def _mount_name(mount: str) -> Mount:
    return "inside" if mount == "inside" else "through"


def _segment(row: Table, context: Context) -> Segment:
    diameter, length = row.number("diameter_mm"), row.number("length_mm")
    made_of = material(row, context)
    wall = row.given_number("wall_mm")
    core = material(row, context, "core") if "core" in row else None
    if core is None and wall is not None:
        row.missing("core", " beside wall_mm")
    elif core is not None and wall is None:
        row.missing("wall_mm", " beside core")
    return Segment(diameter, length, made_of, wall, core, row.flag("spacer"))


def _fitting(table: Table, context: Context) -> Fitting:
    diameter, inside, outside = (table.number(name) for name in ("diameter_mm", "inside_mm", "outside_mm"))
    made_of, hole = material(table, context), table.given_number("hole_mm")
    return Fitting(diameter, inside, outside, made_of, hole, table.given_word("thread") or "")


def stock(top: Table, probes: Sequence[Probe], context: Context) -> Stock | None:
    """The hardware at hand; ``None`` where the case says nothing of it."""
    table = top.child("stock")
    most = table.whole("most_spacers") or Stock.most_spacers
    found = Stock(table.numbers("probe_lengths_mm"), _travel(table), table.numbers("spacers_mm"), most)
    context.tables["stock"] = table
    context.label("stock.travel", table, "stick_out_mm")
    context.report(found.faults())
    for k, probe in enumerate(probes):
        context.report(found.misfits(probe, f"probes[{k}]"))
    _check_spacers(table, probes)
    if table.absent:
        return None
    if not probes and not top.meant & {"probe", "probes"} and "probe" not in top:
        table.fault("without a [probe] it has no meaning; describe the probe, or leave [stock] out")
    elif probes and all(probe.mount == "inside" for probe in probes):
        rule = 'has a meaning only for a probe with mount = "through"; leave it out'
        table.refuse(("probe_lengths_mm", "stick_out_mm"), rule)
    return found


def _travel(table: Table) -> tuple[float, float] | None:
    limits = table.numbers("stick_out_mm")
    if not isinstance(table.entries.get("stick_out_mm"), list):
        return None
    if len(limits) != 2:
        table.fault(f"{table.shown('stick_out_mm')} must be two numbers, [least, most]")
        return None
    return limits[0], limits[1]


def _check_spacers(table: Table, probes: Sequence[Probe]) -> None:
    """A segment made up of spacers and the spacers at hand belong together."""
    given = "spacers_mm" in table
    stacked = [probe for probe in probes if any(segment.spacer for segment in probe.segments)]
    standing = [probe.name for probe in stacked if probe.mount == "inside"]
    if standing and (not given or table.entries["spacers_mm"] == []):
        if "spacers_mm" not in table.meant:
            table.fault(
                f"spacers_mm is missing, but a segment of probe {printed(standing[0])} is a spacer; give the heights "
                "at hand, or leave out spacer = true"
            )
    elif given and not stacked and probes and all(probe.segments for probe in probes):
        table.fault(
            "spacers_mm is given, but no segment is a spacer; write spacer = true in the one that they make up"
        )
    if "most_spacers" in table and not given and "spacers_mm" not in table.meant:
        table.fault("most_spacers has a meaning only beside spacers_mm")


def assumptions(probes: Sequence[Probe], product: float, process: Process) -> list[str]:
    """Sentences on what the case leaves open about its probes; ``product`` is the product's temperature [degC]."""
    films = [stage.film.probe for stage in process.stages]
    sticking_out = [probe for probe in probes if probe.sticks_out]
    notes = []
    open_heights = [probe for probe in probes if probe.entry == "side" and probe.z is None]
    if open_heights:
        notes.append(f"{_each(open_heights, 'enter')} at the height of the cold spot: z_mm is not given.")
    as_product = [probe for probe in probes if probe.initial is None]
    if as_product:
        notes.append(f"{_each(as_product, 'start')} at the product's temperature, {product:g} degC.")
    as_wall = [probe for probe in sticking_out if probe.film is None]
    if as_wall and None in films:
        notes.append(
            f"{_each(as_wall, 'take')} the heat-transfer coefficient of the wall entered for the parts outside."
        )
    if not sticking_out and any(film is not None for film in films):
        notes.append(
            "The heat-transfer coefficient of the probe is not used: no part of a probe is outside the container."
        )
    for probe in probes:
        pairs = zip(probe.segments[:-1], probe.segments[1:], strict=True)
        if probe.mount == "through" and any(inner.diameter > outer.diameter for outer, inner in pairs):
            notes.append(
                f"Probe {printed(probe.name)}: a thicker part nearer the tip cannot pass the wall's hole: make sure "
                "that it can be mounted."
            )
    return notes


def _each(probes: Sequence[Probe], verb: str) -> str:
    """The beginning of a sentence about one or more probes."""
    names = ", ".join(printed(probe.name) for probe in probes)
    return f"Probe {names} {verb}s" if len(probes) == 1 else f"Probes {names} {verb}"
