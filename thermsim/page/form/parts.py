"""Larger pieces of the form: a list of pairs as a table, and the place for a logger's file."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Protocol

from nicegui import ui
from nicegui.events import UploadEventArguments

from thermsim.case.keys.paths import Trail
from thermsim.errors import InputError
from thermsim.page import files
from thermsim.page.bench import Bench
from thermsim.page.draft import shown, typed, where_of
from thermsim.page.form.fields import Field
from thermsim.page.form.samples import with_stages

#: Milliseconds without a key pressed after which what is typed is taken.
PAUSE = 20
#: How fields look.
CELL = "dense outlined hide-bottom-space stack-label"
#: Temperatures with which a table over it begins [degC].
TABLED = (20.0, 120.0)


class Form(Protocol):
    """The form that these are pieces of."""

    bench: Bench

    def head(self, trail: Trail) -> None:
        """Make room for faults."""

    def put(self, trail: Trail, value: object) -> None:
        """Set a value of the case."""

    def button(self, text: str, act: Callable[[], object]) -> None:
        """A button that adds something."""

    def tool(self, icon: str, what: str, act: Callable[[], object]) -> None:
        """A small button."""


def show_points(form: Form, field: Field, value: object) -> None:
    """A list of pairs as a small table; what is asked of it as a whole stands above it."""
    rows = [list(row) if isinstance(row, list) else [row] for row in value] if isinstance(value, list) else []

    def changed(now: list[list[object]]) -> None:
        form.bench.edit(form.bench.draft.with_value(field.trail, now or None))

    def typed_in(place: int, column: int, text: str) -> None:
        rows[place][column] = typed(text) if text.strip() else ""
        form.put(field.trail, rows)

    def without(place: int) -> None:
        changed(rows[:place] + rows[place + 1 :])

    with ui.column().classes("frame").mark(f"{where_of(field.trail[:-1])} {field.own.name}"):
        form.head((*field.trail[:-1], field.own.name))
        ui.label(f"{field.label} [{field.unit}]").classes("title").tooltip(field.hint)
        for place, row in enumerate(rows):
            with ui.row().classes("line"), ui.row().classes("fields narrow"):
                for column, name in enumerate(field.choices[: len(row)]):
                    cell = ui.input(name, value=shown(row[column])).classes("field")
                    cell.props(f"{CELL} debounce={PAUSE}")
                    cell.mark(f"{field.own.name}:{place + 1}:{column + 1}").on_value_change(
                        lambda event, place=place, column=column: typed_in(place, column, event.value or "")
                    )
                form.tool("close", f"Remove row {place + 1}", partial(without, place))
        form.button("Add a row", lambda: changed([*rows, list(rows[-1]) if rows else [0.0, 0.0]]))


def make_table(form: Form, field: Field) -> None:
    """Let a number be a table of the same at two temperatures, to be changed."""
    trail = (*field.trail[:-1], field.own.name)
    number = form.bench.draft.seen("metric").value(trail) or 0.0
    form.bench.edit(form.bench.draft.with_value(trail, [[end, number] for end in TABLED]))


def show_log(form: Form, *, logged: bool) -> None:
    """A place for a logger's file that becomes the process; with one there, the way back to stages."""

    async def taken(event: UploadEventArguments) -> None:
        try:
            text = files.log_text(await event.file.read(), event.file.name)
        except InputError as failure:
            refused(failure)
            return
        form.bench.edit(files.with_log(form.bench.draft, event.file.name, text))

    show_upload("Drop a logger's file (CSV) here", taken, ".csv,.txt", "log")
    if logged:
        form.button("Stages in place of the logger's file", lambda: form.bench.edit(with_stages(form.bench.draft)))


def show_upload(words: str, act: Callable[[UploadEventArguments], object], kinds: str, mark: str) -> None:
    """A place for a file, to be dropped there or chosen."""
    place = ui.upload(label=words, on_upload=act, auto_upload=True, max_file_size=files.LARGEST_UPLOAD, max_files=20)
    place.props(f'accept="{kinds}" flat bordered').classes("upload").mark(mark)
    place.on_upload(lambda: place.reset())
    place.on_rejected(lambda: ui.notify(f"Not taken: at most {files.LARGEST_UPLOAD / 1e6:g} MB, and {kinds}."))


def refused(failure: InputError) -> None:
    """Say why a file was not taken."""
    ui.notify(str(failure), type="negative", multi_line=True, close_button=True, timeout=0)
