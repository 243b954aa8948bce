"""The reader of case files: TOML text in, a checked :class:`Case` out, or every fault of the file at once."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path

from thermsim.case import packing, probes, schedule
from thermsim.case.case import Accuracy, Case, Lethality, Point
from thermsim.case.checks import (
    Table,
    check_keys,
    child,
    children,
    given_number,
    number,
    numbers,
    plain,
    printed,
    word,
)
from thermsim.case.container import Container
from thermsim.case.keys import HEADINGS, MOST_OUTPUTS, OPTIONAL_TABLES, REQUIRED_TABLES, keys_of
from thermsim.case.process import Process
from thermsim.case.product import Headspace
from thermsim.case.textfile import read_bytes, utf8
from thermsim.errors import CaseError, InputError

FORMAT = 1
LARGEST_CASE = 1_000_000  # bytes


def read_case(path: str | Path) -> Case:
    """Read a case file.

    Parameters
    ----------
    path : str or Path
        The file: TOML in UTF-8, at most 1 MB. A CSV file that it names is looked for from its folder.

    Returns
    -------
    Case

    Raises
    ------
    CaseError
        With every fault of the file, one line each.
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
    """
    name = plain(name, 120)
    faults: list[str] = []
    notes: list[str] = []
    top = Table(name, "", _parsed(text, name), keys_of(""), faults)
    top = check_keys(top, "", (*REQUIRED_TABLES, *OPTIONAL_TABLES))
    _check_format(top)
    title = word(top, "title")
    used: set[str] = set()
    own = packing.own_materials(top, notes)
    container = packing.container(top, own, used, notes)
    product = packing.product(top, own, used)
    filled = packing.fill_height(top, container, product)
    headspace = packing.headspace(top, container.inner_height - filled, own, used, notes)
    process, files = schedule.process(top, attachments or {}, folder, notes)
    lethality = _lethality(top, process, notes)
    stems = probes.probes(top, container, filled, own, used)
    stock = probes.stock(top, stems)
    points = _points(top, container, headspace, filled)
    accuracy = _accuracy(top)
    every = _output(top, process)
    if faults:
        raise CaseError(faults)
    if container.initial is None and (container.side or container.base or container.lid):
        notes.append(f"The walls start at the product's temperature, {product.initial:g} degC.")
    notes += probes.assumptions(stems, product.initial, process)
    notes += [f"Material {printed(unused)} is described but not used." for unused in own if unused not in used]
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
        attachments=files,
        notes=tuple(notes),
    )


def _parsed(text: str, name: str) -> dict[str, object]:
    try:
        return tomllib.loads(text.removeprefix("\ufeff"))
    except RecursionError:
        raise CaseError([f"{name}: is not valid TOML: brackets are nested too deeply"]) from None
    except ValueError as failure:
        raise CaseError([_syntax_fault(text, name, str(failure))]) from None


def _syntax_fault(text: str, name: str, reason: str) -> str:
    """One line about text that is no TOML: the line's number, what is wrong there, and the line itself."""
    match = re.search(r" \(at line (\d+), column \d+\)$", reason)
    if match is None:
        what = re.sub(r" \(at end of document\)$", " at the end of the file", reason)
        return f"{name}: is not valid TOML: {plain(what[:1].lower() + what[1:], 120)}"
    number = int(match.group(1))
    lines = text.split("\n")
    line = lines[number - 1].strip() if number <= len(lines) else ""
    what = plain(reason[: match.start()], 120)
    hint = ""
    if re.search(r"=\s*[-+]?\d+,\d", line):
        hint = "; decimals take a point"
    elif line.startswith("[[") and "overwrite" in what.lower():
        hint = "; an earlier heading of that name has single brackets"
    elif re.search(r"=\s*[A-Za-z]", line):
        hint = '; texts are written in quotes, "..."'
    return f"{name} line {number}: is not valid TOML: {what[:1].lower() + what[1:]}{hint}: {plain(line)}"


def _check_format(top: Table) -> None:
    value = top.entries.get("format")
    if "format" not in top.entries:
        if "format" not in top.meant:
            top.fault(f'key "format" is missing; write format = {FORMAT} at the top')
    elif isinstance(value, bool) or value != FORMAT or not isinstance(value, int):
        top.fault(f"format = {printed(value)} is not handled by this version; allowed here: {FORMAT}")


def _lethality(top: Table, process: Process, notes: list[str]) -> Lethality:
    table = child(top, "lethality", "lethality", "[lethality]", required=True)
    reach = numbers(table, "reach_C")
    if process.stages:
        hottest = process.medium_range[1]
        notes += [
            f"reach_C {temperature:g} degC is never reached: the medium gets no hotter than {hottest:g} degC."
            for temperature in reach
            if temperature > hottest
        ]
    return Lethality(
        number(table, "reference_C"),
        number(table, "z_C"),
        given_number(table, "target_min"),
        number(table, "zone_percent"),
        reach,
    )


def _points(top: Table, container: Container, headspace: Headspace, filled: float) -> tuple[Point, ...]:
    points: list[Point] = []
    for table in children(top, "points", "points"):
        point = Point(word(table, "name"), number(table, "r_mm"), number(table, "z_mm"))
        if point.name and point.name in {other.name for other in points}:
            table.fault(f"name = {printed(point.name)} is taken by an earlier point; give each its own")
        surface = container.floor + filled
        if point.r > container.outer_radius * (1 + 1e-12):
            table.fault(
                f"r_mm = {1e3 * point.r:g} lies outside the container, whose outer radius is "
                f"{1e3 * container.outer_radius:.6g} mm"
            )
        elif point.z > container.outer_height * (1 + 1e-12):
            table.fault(
                f"z_mm = {1e3 * point.z:g} lies above the container, which is "
                f"{1e3 * container.outer_height:.6g} mm high"
            )
        elif (
            headspace.model == "insulated"
            and surface < point.z < container.ceiling
            and point.r < container.inner_radius
        ):
            table.fault(
                f"z_mm = {1e3 * point.z:g} lies in the insulated headspace, where no temperature is computed; the "
                f"product ends at z = {1e3 * surface:.6g} mm"
            )
        points.append(point)
    return tuple(points)


def _accuracy(top: Table) -> Accuracy:
    table = child(top, "accuracy", "accuracy", HEADINGS["accuracy"])
    return Accuracy(number(table, "temperature_K"), number(table, "lethality_percent"), number(table, "place_mm"))


def _output(top: Table, process: Process) -> float | None:
    table = child(top, "output", "output", HEADINGS["output"])
    every = given_number(table, "every_min")
    if every is not None and process.stages and process.end > MOST_OUTPUTS * every:
        table.fault(
            f"every_min = {every / 60:g} asks for more than {MOST_OUTPUTS} times; in a process of "
            f"{process.end / 60:g} min it must be at least {process.end / 60 / MOST_OUTPUTS:.3g} min"
        )
    return every
