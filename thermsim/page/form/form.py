"""The case as a form: a field for every key of the case format, each fault at its own field."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from nicegui import ui
from nicegui.elements.mixins.validation_element import ValidationElement
from nicegui.events import ValueChangeEventArguments

from thermsim.case.keys.paths import Trail
from thermsim.case.keys.tables import CONTENTS, HEIGHT_KEYS, REQUIRED_TABLES, TABLES, WHOLE_SHAPES
from thermsim.page import files
from thermsim.page.bench import Bench
from thermsim.page.draft import Said, shape_of, shown, typed, where_of
from thermsim.page.form.fields import LISTS, OPEN, PARTS, SHORT, Field, alternatives_of, chosen, fields_of
from thermsim.page.form.samples import example, sample, with_stages
from thermsim.page.words import show_upload
from thermsim.records.numbers.geometry import container_record, fill_record

#: Milliseconds without a key pressed after which what is typed is taken.
PAUSE = 20
#: How fields look.
CELL = "dense outlined hide-bottom-space stack-label"
#: Temperatures with which a table over it begins [degC].
TABLED = (20.0, 120.0)


class Form:
    """The form of one page, which edits a bench."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.fields: dict[tuple[str, str], tuple[ValidationElement[Any], Trail]] = {}
        self._shape: object = None
        self._quiet = False
        self.said: dict[tuple[str, str], str] = {}
        self.heads: dict[str, ui.label] = {}
        self.open = dict.fromkeys((title for title, _ in PARTS), False) | dict.fromkeys(OPEN, True)
        self.rest = ui.column().classes("faults").mark("faults")
        self.holder = ui.column().classes("form")
        self.build()

    def follow(self) -> None:
        """Show the case as it stands; numbers alone are put into the fields that are there, which costs far less."""
        if self._shape != shape_of(self.bench.shown.tables):
            self.build()
            return
        self._quiet = True
        for element, trail in self.fields.values():
            value = self.bench.shown.value(trail)
            if isinstance(element, ui.input) and typed(str(element.value or "")) != value:
                element.value = shown(value)
        self._quiet = False
        self.show_faults()

    def build(self) -> None:
        """Make all fields anew: the tables changed their shape."""
        self.fields, self.heads = {}, {}
        self._shape = shape_of(self.bench.shown.tables)
        self.holder.clear()
        with self.holder:
            self._field(self._fields("", ())[1])
            for title, tables in PARTS:
                with ui.expansion(title, value=self.open[title]).classes("part") as part:
                    part.on_value_change(lambda event, title=title: self.open.update({title: event.value}))
                    for table in tables:
                        self._top(table)
        self.show_faults()

    def show_faults(self) -> None:
        """Put every fault of the case at its field; those of no field stand on top."""
        self.said = {}
        for head in self.heads.values():
            head.text = ""
            head.visible = False
        left = [said for said in self.bench.faults if not self._placed(said)]
        for place, (element, _) in self.fields.items():
            element.error = self.said.get(place)
        self.rest.clear()
        with self.rest:
            for said in left:
                ui.label(f"{said.where}: {said.text}".removeprefix(": ")).classes("fault")

    def _placed(self, said: Said) -> bool:
        above, _, last = said.where.rpartition(" ")
        for place in ((said.where, said.key), (above, last)):
            if place in self.fields:
                self.said[place] = f"{self.said[place]}; {said.text}" if place in self.said else said.text
                return True
        head = self.heads.get(f"{said.where} {said.key}") or self.heads.get(said.where)
        if head is None:
            return False
        head.text = f"{head.text}; {said.text}".removeprefix("; ")
        head.visible = True
        return True

    # -- tables

    def _top(self, table: str) -> None:
        """A table of the file, or all of a kind."""
        draft = self.bench.draft
        if table == "materials":
            for name in draft.table(table):
                self._material(name)
            self.button("Add a material", self._add_material)
        elif table in LISTS:
            for place in range(len(draft.rows(table))):
                with self._framed(f"{table[:-1]} {place + 1}", (table, place)):
                    self._table(LISTS[table], (table, place))
            self.button(f"Add a {'further ' if table == 'probes' else ''}{table[:-1]}", partial(self._add, table))
        elif table in REQUIRED_TABLES:
            self._table(table, (table,))
            if table == "process":
                show_upload("Drop a logger's file (CSV) here", files.log_text, self._log, ".csv,.txt", "log")
                if "csv" in draft.table(table):
                    back = "Stages in place of the logger's file"
                    self.button(back, lambda: self.bench.edit(with_stages(self.bench.draft)))
        elif draft.value((table,)) is None:
            self.head((table,))
            ui.label(CONTENTS[table]).classes("hint")
            self.button(f"Add {table}", partial(self._set_shape, (table,), sample(table)))
        else:
            with self._framed(table, (table,)):
                self._table(table, (table,))

    def _table(self, table: str, trail: Trail) -> None:
        """The fields of a table: what must be given and what is given in sight, the rest below."""
        self.head(trail)
        draft = self.bench.shown
        by_name = {field.own.name: field for field in self._fields(table, trail)}
        with ui.row().classes("fields"):
            shape = ""
            for group in alternatives_of(table):
                fields, given = [by_name.pop(name) for name in group], chosen(group, draft, trail)
                shape = shape or given
                # a whole shape has a height of its own
                if not (shape in WHOLE_SHAPES and {*group} == {*HEIGHT_KEYS}):
                    self._alternatives(fields, given, trail)
            for field in by_name.values():
                if field.shown and field.kind != "rows":
                    self._field(field)
        for field in by_name.values():
            if field.kind == "rows":
                self._rows(field)
        hidden = [field for field in by_name.values() if not field.shown and field.kind != "rows"]
        if hidden:
            with ui.expansion("More").classes("more").props("dense"), ui.row().classes("fields"):
                for field in hidden:
                    self._field(field)

    def _alternatives(self, fields: list[Field], name: str, trail: Trail) -> None:
        """A choice of which of several keys is given, and the field of that one."""
        by_name = {field.own.name: field for field in fields}
        options = {own: field.label for own, field in by_name.items()}

        def choose(event: ValueChangeEventArguments[Any]) -> None:
            draft, wanted = self.bench.draft, str(event.value)
            # a whole shape has its own height: one that stays would go before it without a word
            besides = HEIGHT_KEYS if wanted in WHOLE_SHAPES else ()
            for gone in (*by_name, *besides):
                draft = draft.with_value((*trail, gone), None)
            known, blank = self._known(trail, wanted), by_name[wanted].trail
            self.bench.edit(draft.with_blank(blank) if known is None else draft.with_value((*trail, wanted), known))

        choice = ui.select(options, label="given by", value=name, on_change=choose).props("dense outlined")
        choice.classes("field").mark(f"given-by:{fields[0].own.name}")
        self._field(by_name[name])

    def _known(self, trail: Trail, name: str) -> object:
        """Say with a key what the case is now, or what the starting case says; None where neither is known."""
        case, record = self.bench.case, {}
        if case is not None and trail in (("fill",), ("container",)):
            record = fill_record(case) if trail == ("fill",) else container_record(case.container)
        value = record.get(name, record.get(f"product_{name}"))
        if isinstance(value, float):
            return float(f"{value:.6g}")
        return example(".".join(str(step) for step in trail), name)

    def _rows(self, field: Field) -> None:
        """Tables in a list: stages, segments."""
        self.head(field.trail)
        for place in range(len(self.bench.draft.rows(*field.trail))):
            trail = (*field.trail, place)
            with ui.row().classes("line").mark(where_of(trail)):
                with ui.row().classes("fields narrow"):
                    self.head(trail)
                    for inner in self._fields(field.table, trail):
                        self._field(inner)
                with ui.column().classes("tools"):
                    self.tool("arrow_upward", "Move up", partial(self._move, field.trail, place, -1))
                    self.tool("arrow_downward", "Move down", partial(self._move, field.trail, place, 1))
                    self.tool("close", "Remove", partial(self._set_shape, trail, None))
        word = field.key.name.removesuffix("s")
        self.button(f"Add a {word}", partial(self._add_row, field))

    def _material(self, name: str) -> None:
        trail = ("materials", name)
        with self._framed("own material", trail):
            ui.input("name", value=name).props("dense outlined").classes("field").on(
                "change",
                lambda event: self.bench.edit(
                    self.bench.draft.with_name(("materials",), name, str(event.sender.value).strip())
                ),
            )
            self._table("materials", trail)

    def _framed(self, title: str, trail: Trail) -> ui.column:
        """A frame with a title and a button that takes it out."""
        frame = ui.column().classes("frame")
        with frame, ui.row().classes("titled"):
            ui.label(title).classes("title")
            self.tool("close", f"Remove {title}", partial(self._set_shape, trail, None))
        return frame

    def head(self, trail: Trail) -> None:
        """Make room for the faults of a table as a whole."""
        where = where_of(trail)
        if where not in self.heads:
            self.heads[where] = ui.label("").classes("fault").mark(f"faults-of {where}")
            self.heads[where].visible = False

    # -- fields

    def _fields(self, table: str, trail: Trail) -> list[Field]:
        return fields_of(self.bench.shown, table, trail, self.bench.system)

    def _field(self, field: Field) -> None:
        where, name = where_of(field.trail[:-1]), field.own.name
        value = self.bench.shown.value(field.trail)
        if field.kind == "table":
            self._inner(field, value)
            return
        if field.kind in ("parts", "points"):
            self._parts(field) if field.kind == "parts" else self._points(field, value)
            return
        if field.kind == "flag":
            box = ui.checkbox(field.label, value=value is True).classes("field").tooltip(field.hint)
            box.mark(f"{where} {name}").on_value_change(lambda event: self.put(field.trail, event.value or None))
            return
        element: ui.select | ui.input
        if field.kind == "choice" or (field.kind == "text" and field.choices):
            known = [*field.choices, *([value] if isinstance(value, str) and value not in field.choices else [])]
            element = ui.select(
                known,
                label=field.label,
                value=value or None,
                clearable=field.key.default != "required",
                new_value_mode="add-unique" if field.kind == "text" else None,
            )
            element.on_value_change(lambda event: self.put(field.trail, event.value, shape=True))
            if len(known) > 8 and field.kind == "choice":
                element.props("use-input input-debounce=0 fill-input hide-selected")
        else:
            element = ui.input(field.label, value=shown(value), placeholder=field.blank)
            element.on_value_change(lambda event: self.put(field.trail, self._read(field, event.value or "")))
            element.props(f'debounce={PAUSE} suffix="{field.unit}"')
            if field.choices:
                with element.add_slot("append"):
                    what = f"{field.label} as a table: {' and '.join(field.choices)}"
                    self.tool("table_rows", what, partial(self._make_table, field), f"table:{field.own.name}")
        element.props(CELL).classes("field").mark(f"{where} {name}")
        element.props(f'hide-hint hint="{_quoted(field.hint)}"')
        self._register(element, (where, name), field.trail)

    def _register(self, element: ValidationElement[Any], place: tuple[str, str], trail: Trail) -> None:
        """Let an element show what is said of its place; it asks again whenever its value changes."""
        element.validation = lambda value: self.said.get(place)
        self.fields[place] = element, trail

    @staticmethod
    def _read(field: Field, text: str) -> object:
        text = text.encode("utf-8", "replace").decode("utf-8")  # halves of characters can be in no file
        if field.kind == "text":
            asked = "number" in field.key.meaning and text.strip().isdigit()
            return int(text) if asked else text.strip() or None
        return typed(text, listed=field.key.meaning.startswith("list of"))

    def _inner(self, field: Field, value: object) -> None:
        """A table within a table: its fields in a frame, or a button that adds it."""
        if value is None:
            self.button(f"Add {field.label}", partial(self._set_shape, field.trail, sample(field.table)))
            return
        if len(TABLES[field.table]) > SHORT:
            with self._framed(field.label, field.trail):
                self._table(field.table, field.trail)
            return
        with ui.column().classes("short"):
            self.head(field.trail)
            with ui.row().classes("line"):
                ui.label(field.label).classes("title what")
                with ui.row().classes("fields narrow"):
                    for inner in self._fields(field.table, field.trail):
                        self._field(inner)
                self.tool("close", f"Remove {field.label}", partial(self._set_shape, field.trail, None))

    def _parts(self, field: Field) -> None:
        """A value of several named numbers."""
        with ui.column().classes("frame").mark(f"{where_of(field.trail[:-1])} {field.own.name}"):
            self.head(field.trail)
            ui.label(field.label).classes("title")
            with ui.row().classes("fields narrow"):
                for part in field.choices:
                    trail = (*field.trail, part)
                    element = ui.input(part, value=shown(self.bench.draft.value(trail))).classes("field")
                    element.props(f"{CELL} debounce={PAUSE}").mark(f"{where_of(field.trail)} {part}")
                    element.on_value_change(lambda event, trail=trail: self.put(trail, typed(event.value or "")))
                    self._register(element, (where_of(field.trail), part), trail)

    def _points(self, field: Field, value: object) -> None:
        """A list of pairs as a small table; what is asked of it as a whole stands above it."""
        rows = [list(row) if isinstance(row, list) else [row] for row in value] if isinstance(value, list) else []

        def typed_in(place: int, column: int, text: str) -> None:
            rows[place][column] = typed(text) if text.strip() else ""
            self.put(field.trail, rows)

        def without(place: int) -> None:
            self._set_shape(field.trail, rows[:place] + rows[place + 1 :] or None)

        def with_another() -> None:
            self._set_shape(field.trail, [*rows, [*rows[-1]] if rows else [0.0, 0.0]])

        with ui.column().classes("frame").mark(f"{where_of(field.trail[:-1])} {field.own.name}"):
            self.head((*field.trail[:-1], field.own.name))
            ui.label(f"{field.label} [{field.unit}]").classes("title").tooltip(field.hint)
            for place, row in enumerate(rows):
                with ui.row().classes("line"), ui.row().classes("fields narrow"):
                    for column, name in enumerate(field.choices[: len(row)]):
                        cell = ui.input(name, value=shown(row[column])).classes("field")
                        cell.props(f"{CELL} debounce={PAUSE}")
                        cell.mark(f"{field.own.name}:{place + 1}:{column + 1}").on_value_change(
                            lambda event, place=place, column=column: typed_in(place, column, event.value or "")
                        )
                    self.tool("close", f"Remove row {place + 1}", partial(without, place))
            self.button("Add a row", with_another)

    # -- changes

    def _make_table(self, field: Field) -> None:
        """Let a number be a table of the same at two temperatures, to be changed."""
        trail = (*field.trail[:-1], field.own.name)
        number = self.bench.draft.seen("metric").value(trail) or 0.0
        self._set_shape(trail, [[end, number] for end in TABLED])

    def _log(self, text: str, name: str) -> None:
        """Let a logger's file become the process."""
        self.bench.edit(files.with_log(self.bench.draft, name, text))

    def put(self, trail: Trail, value: object, *, shape: bool = False) -> None:
        """Set a value of the case; ``shape`` if that changes which fields there are."""
        if self._quiet:
            return
        change = "shape" if shape else "value"
        self.bench.edit(self.bench.draft.with_value(trail, value), change=change, who=self, of=trail)  # type: ignore[arg-type]

    def _set_shape(self, trail: Trail, value: object) -> None:
        self.bench.edit(self.bench.draft.with_value(trail, value))

    def _add(self, table: str) -> None:
        self.bench.edit(self.bench.draft.with_row((table,), sample(table)))

    def _add_row(self, field: Field) -> None:
        rows = self.bench.draft.rows(*field.trail)
        self.bench.edit(self.bench.draft.with_row(field.trail, rows[-1] if rows else {}))

    def _move(self, trail: Trail, place: int, by: int) -> None:
        self.bench.edit(self.bench.draft.with_row_moved(trail, place, by))

    def _add_material(self) -> None:
        taken = self.bench.draft.table("materials")
        name = next(name for k in range(1, 1000) if (name := f"own material {k}") not in taken)
        self.bench.edit(self.bench.draft.with_value(("materials", name), sample("materials")))

    def button(self, text: str, act: Callable[[], object]) -> None:
        """A button that adds something."""
        ui.button(text, on_click=lambda: act()).props("flat dense no-caps icon=add")

    def tool(self, icon: str, what: str, act: Callable[[], object], mark: str = "tool") -> None:
        """A small button that says what it does when pointed at, and to screen readers."""
        button = ui.button(icon=icon, on_click=lambda: act()).props(f'flat dense round size=xs aria-label="{what}"')
        button.mark(mark).tooltip(what)


def _quoted(text: str) -> str:
    """A text as it may stand in quotes among an element's properties."""
    return text.replace("\\", "").replace('"', "'")
