"""The parts of an answer as elements of the page; every text is set as text and never as markup."""

from __future__ import annotations

import base64
from collections.abc import Callable, Iterable, Mapping
from typing import TypeVar

from nicegui import run, ui
from nicegui.events import UploadEventArguments

from thermsim.errors import InputError, ThermsimError
from thermsim.notice import Severity
from thermsim.page.files import LARGEST_UPLOAD, made
from thermsim.quantities import System
from thermsim.records.report.render import typeset
from thermsim.records.words.parts import Facts, Heading, Notices, Part, Prose, Section, Table, in_units

Found = TypeVar("Found")

#: How notices begin.
LABELS: Mapping[Severity, str] = {"danger": "Danger", "warning": "Warning", "note": "Note"}


def show(sections: Iterable[Section]) -> None:
    """Set sections below each other, in the units that are asked for."""
    for section in in_units(sections):
        for part in section.parts:
            _part(part)


def _part(part: Part) -> None:
    if isinstance(part, Facts):
        with ui.element("dl").classes("framed facts" if part.framed else "facts"):
            for label, texts in part.entries:
                with ui.element("dt"):
                    ui.label(label)
                with ui.element("dd"):
                    for text in texts:
                        ui.label(typeset(text))
    elif isinstance(part, Notices):
        for notice in part.notices:
            with ui.row().classes(f"notice {notice.severity}").mark(f"notice {notice.severity}"):
                ui.label(LABELS[notice.severity]).classes("kind")
                ui.label(typeset(notice.text)).classes("grow")
    elif isinstance(part, Table):
        show_table(part.heads, part.rows)
    elif isinstance(part, Heading):
        ui.label(part.text).classes("title")
    elif isinstance(part, Prose):
        for text in part.texts:
            ui.label(typeset(text)).classes("hint" if part.small else "")


def show_table(heads: Iterable[str], rows: Iterable[Iterable[str]]) -> None:
    """Set heads and rows as a table; their units are those that they have."""
    with ui.element("table").classes("plain"):
        with ui.element("tr"):
            for head in heads:
                with ui.element("th"):
                    ui.label(typeset(head))
        for row in rows:
            with ui.element("tr"):
                for cell in row:
                    with ui.element("td"):
                        ui.label(typeset(cell))


def show_drawing(svg: str) -> None:
    """Set a figure as a picture, so that nothing in it is markup of the page."""
    ui.image("data:image/svg+xml;base64," + base64.b64encode(svg.encode()).decode()).classes("drawing")


async def download(make: Callable[[Found], bytes], of: Found, name: str, system: System) -> None:
    """Let the browser have a file that is made beside the page, in the units of a system; it says why it is not."""
    try:
        ui.download.content(await run.io_bound(made, make, of, system) or b"", name)
    except ThermsimError as failure:
        ui.notify(str(failure), type="negative")


def show_upload(
    words: str, read: Callable[[bytes, str], Found], act: Callable[[Found, str], None], kinds: str, mark: str
) -> None:
    """A place for a file, to be dropped there or chosen, and read beside the page; it says why one is not taken."""

    async def taken(event: UploadEventArguments) -> None:
        name = event.file.name
        try:
            found = await run.io_bound(read, await event.file.read(), name)
        except InputError as failure:
            ui.notify(str(failure), type="negative", multi_line=True, close_button=True, timeout=0)
            return
        if found is not None:  # None: the server is ending
            act(found, name)

    place = ui.upload(label=words, on_upload=taken, auto_upload=True, max_file_size=LARGEST_UPLOAD, max_files=20)
    place.props(f'accept="{kinds}" flat bordered').classes("upload").mark(mark)
    place.on_upload(lambda: place.reset())
    place.on_rejected(lambda: ui.notify(f"Not taken: at most {LARGEST_UPLOAD / 1e6:g} MB, and {kinds}."))
