"""The reader of case files: TOML text in, a checked :class:`Case` out, or every fault of the file at once."""

from __future__ import annotations

import functools
import json
import math
from collections.abc import Mapping
from pathlib import Path

from thermsim.case.case import Accuracy, Case, Lethality, Point, met, output_faults, points_faults
from thermsim.case.container import Container
from thermsim.case.file import air_cooling, logged_process, packing, schedule, substances
from thermsim.case.file import probe_tables as probes
from thermsim.case.file.context import Context
from thermsim.case.file.shape import container_table as shapes
from thermsim.case.file.study_table import study_of
from thermsim.case.keys.checks import Table
from thermsim.case.keys.members import family_faults, laid_over, member_names
from thermsim.case.keys.paths import Trail, changed
from thermsim.case.keys.syntax import parsed
from thermsim.case.keys.systems import mixed
from thermsim.case.keys.tables import OPTIONAL_TABLES, REQUIRED_TABLES, keys_of
from thermsim.case.process import Process
from thermsim.case.product import Headspace
from thermsim.case.rules import collecting
from thermsim.errors import CaseError, InputError
from thermsim.loggers.textfile import read_bytes, utf8
from thermsim.text import plain, printed

FORMAT = 1
LARGEST_CASE = 1_000_000  # bytes
MOST_NAMED = 20  # materials in one note


def read_case(path: str | Path) -> Case:
    """Read a case file.

    Parameters
    ----------
    path : str or Path
        The file: TOML in UTF-8, at most 1 MB. A CSV file that it names is looked for from its folder.

    Raises
    ------
    CaseError
        With every fault of the file, one line each.

    Examples
    --------
    >>> import thermsim
    >>> thermsim.read_case("cases/jar.toml").title
    'Bean paste, 66 mm jar'
    """
    path = Path(path)
    name = plain(path.name, 120)
    try:
        text = utf8(read_bytes(path, limit=LARGEST_CASE, what="a case file"), name)
    except InputError as failure:
        raise CaseError([str(failure)]) from None
    return case_from_text(text, name=name, folder=path.parent)


def case_from_text(
    text: str, *, name: str = "case.toml", attachments: Mapping[str, str] | None = None, folder: Path | None = None
) -> Case:
    """Like :func:`read_case`, from the text of a case file.

    Parameters
    ----------
    text : str
        The TOML text.
    name : str
        What the messages call it.
    attachments : mapping of str to str, optional
        Texts of files that the case names; looked at before the folder.
    folder : Path, optional
        Where other files are looked for; without it only ``attachments`` are.

    Examples
    --------
    >>> import thermsim
    >>> thermsim.case_from_text("format = 1")  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    ...
    thermsim.errors.CaseError: case.toml: key "title" is missing...
    """
    name = plain(name, 120)
    tables = parsed(text, name)
    return case_from_tables(tables, text=text, name=name, attachments=attachments, folder=folder)


def read_family(path: str | Path) -> list[Case]:
    """Read the members of a case file's family, in its order; the case itself where it has none.

    Each has ``member`` and a text of its own, from which it can be read again by itself.

    Raises ``CaseError`` with every fault of the file, or of the first member that is at fault.
    """
    path = Path(path)
    whole = read_case(path)
    names = [] if whole.member else member_names(parsed(whole.text, whole.file))
    texts = [f"member = {json.dumps(name)}\n{whole.text}" for name in names]
    return [case_from_text(text, name=whole.file, folder=path.parent) for text in texts] or [whole]


def varied_case(text: str, values: Mapping[Trail, float], *, name: str, attachments: Mapping[str, str]) -> Case:
    """The case of a file's text with other numbers at some trails, in the file's units, without its study.

    Raises ``CaseError`` as :func:`read_case`, if a value is out of its range or does not go with the rest.
    """
    tables = changed(_tables(text, name), values)
    del tables["study"]
    return case_from_tables(tables, text="", name=name, attachments=attachments)


@functools.lru_cache(maxsize=4)
def _tables(text: str, name: str) -> dict[str, object]:
    """The tables of a text; a worker that makes many runs of one study parses it once."""
    return parsed(text, name)


@collecting()
def case_from_tables(
    tables: Mapping[str, object],
    *,
    text: str,
    name: str,
    attachments: Mapping[str, str] | None = None,
    folder: Path | None = None,
) -> Case:
    """Like :func:`case_from_text`, from the tables of a case file and the text that the case is to keep."""
    faults = [f"{name}: {fault}" for fault in family_faults(tables)]
    context = Context(name, faults)
    top = Table(name, "", laid_over(tables), keys_of(""), faults)
    top = top.checked("", (*REQUIRED_TABLES, *OPTIONAL_TABLES))
    _check_format(top)
    title, member = top.word("title"), top.given_word("member") or ""
    title = f"{title}: {member}" if member else title
    substances.own_materials(top, context)
    container = shapes.container(top, context)
    product = substances.product(top, context)
    filled = packing.fill_height(top, container, product)
    process_notes: list[str] = []
    planned = schedule.planned(top, attachments or {}, folder, process_notes)
    product = substances.as_it_is(top, product, container, filled, planned.process)
    process = air_cooling.air_cooled(planned.process, container, process_notes)
    process = _behind_labels(container, process, context.notes)
    stems = probes.probes(top, container, filled, context)
    left, ends = container.inner_height - filled, met(container, product, process, stems)
    headspace = packing.headspace(top, left, context, met=ends)
    notes = context.notes
    notes += process_notes
    lethality = _lethality(top, process, notes)
    stock = probes.stock(top, stems, context)
    points = _points(top, container, headspace, filled, context)
    accuracy = _accuracy(top)
    every = _output(top, process, context)
    study = study_of(top, target=lethality.target is not None, probe=bool(stems))
    if faults:
        raise CaseError(faults)
    if planned.thin is not None:
        notes.append(logged_process.on_thinning(planned.thin, lethality))
    notes += logged_process.on_process(process, product.initial)
    if container.initial is None and container.walls:
        notes.append(f"The walls start at the product's temperature, {product.initial:g} degC.")
    notes += probes.assumptions(stems, product.initial, process)
    notes += [remark] if (remark := mixed(tables)) else []
    unused = [printed(name) for name in context.own if name not in context.used]
    if unused:
        some = ", ".join(unused[:MOST_NAMED]) + (f" and {len(unused) - MOST_NAMED} more" * (len(unused) > MOST_NAMED))
        notes.append(f"Material {some} is described but not used.")
    try:
        return Case(
            title,
            container,
            product,
            filled,
            headspace,
            process,
            lethality,
            points,
            accuracy,
            probe=stems[0] if stems else None,
            stock=stock,
            probes=stems[1:],
            output_every=every,
            text=text,
            file=name,
            attachments=planned.files,
            notes=tuple(notes),
            study=study,
            member=member,
        )
    except CaseError as refused:
        context.report(refused.found)
        raise CaseError(faults, refused.found) from None


def _behind_labels(container: Container, process: Process, notes: list[str]) -> Process:
    """The process with the film coefficients that walls have behind labels and sleeves."""
    contacts = container.contacts
    if not any(contacts):
        return process
    notes.append(
        "A label or sleeve is taken into the heat-transfer coefficients: with "
        + ", ".join(
            f"{value:.3g} m2K/W on the {name}"
            for name, value in zip(("side", "base", "lid"), contacts, strict=True)
            if value
        )
        + "."
    )
    return process.with_films(lambda film: film.behind(contacts))


def _check_format(top: Table) -> None:
    value = top.entries.get("format")
    if "format" not in top:
        if "format" not in top.meant:
            top.fault(f'key "format" is missing; write format = {FORMAT} at the top')
    elif isinstance(value, bool) or value != FORMAT or not isinstance(value, int):
        top.fault(f"format = {printed(value)} is not handled by this version; allowed here: {FORMAT}")


def _lethality(top: Table, process: Process, notes: list[str]) -> Lethality:
    table = top.child("lethality", required=True)
    reach = table.numbers("reach_C")
    if process.stages:
        hottest = process.medium_range[1]
        beyond = [f"{temperature:g}" for temperature in reach if temperature > hottest]
        if beyond:
            are = "is" if len(beyond) == 1 else "are"
            notes.append(
                f"reach_C {', '.join(beyond)} degC {are} never reached: the medium gets no hotter than {hottest:g} "
                "degC."
            )
    return Lethality(
        table.number("reference_C"),
        table.number("z_C"),
        table.given_number("target_min"),
        table.number("zone_percent"),
        reach,
    )


def _points(
    top: Table, container: Container, headspace: Headspace, filled: float, context: Context
) -> tuple[Point, ...]:
    points: list[Point] = []
    for table in top.children("points", "points"):
        context.tables[f"points[{len(points)}]"] = table
        points.append(Point(table.word("name"), table.number("r_mm"), table.number("z_mm")))
    if not math.isnan(container.outer_radius + container.outer_height):
        context.report(points_faults(points, container, headspace, container.floor + filled))
    return tuple(points)


def _accuracy(top: Table) -> Accuracy:
    table = top.child("accuracy")
    return Accuracy(table.number("temperature_K"), table.number("lethality_percent"), table.number("place_mm"))


def _output(top: Table, process: Process, context: Context) -> float | None:
    table = top.child("output")
    every = table.given_number("every_min")
    context.label("output_every", table, "every_min")
    if every is not None and not math.isnan(every):
        context.report(output_faults(every, process))
    return every
