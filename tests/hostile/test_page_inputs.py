"""What others may type into the page or hand it: told as faults at their fields, never run, never a stack trace.

Rung: hand-worked (nothing but the refusals of the readers may come of it). Seeded.
"""

import asyncio
import random
import tomllib

import pytest

pytest.importorskip("nicegui", reason='the page is not tested without NiceGUI: pip install "thermsim[page]"')

from nicegui import ui
from page_scenes import COARSE, PROBE, visit

from thermsim.errors import InputError
from thermsim.page import files
from thermsim.page.bench import Bench
from thermsim.page.draft import draft_of_bytes, draft_of_text
from thermsim.page.form.fields import fields_of
from thermsim.page.units import tables_in

#: What is typed, given as a name, or stands in a title.
WORDS = (
    "<img src=x onerror=alert(1)>", "<script>alert(1)</script>", '"><svg onload=alert(1)>', "javascript:alert(1)",
    "{{ constructor.constructor('return 1')() }}", "${7*7}", "'; DROP TABLE cans; --", '"""', "'''", "]]", "\\",
    "\\u0000", "\x00", "\x1b[31m", "\x7f", "\r\n[probe]\n", "a\tb", "\u202egnp.exe", "\ufeff", "\ud800", "🥫" * 40,
    "x" * 100_000, "../../../../etc/passwd", "/dev/zero", "\\\\host\\share", "C:\\con", "file:///etc/passwd", "nan",
    "inf", "-inf", "1e999", "-1e999", "0x10", "1_000", "1" * 5000, "1,", ";", ";;,", "1;2;3", "a b, c d", "__class__",
    "+", "1e-320", "٣", "½", "True", "[1]", "{ a = 1 }",
)  # fmt: skip
#: Names of files.
NAMES = ("../../x.csv", "/etc/passwd", "a\nb.csv", 'a"b.csv', "<b>.csv", "", "\x00.csv", "x" * 5000 + ".csv", "nul")
LOG = "Time [min],<b>Retort</b> [C],\"=cmd|' /C calc'!A0\"\n0,20,20\n1,80,20\n2,118,20\n3,118,20\n60,30,20\n"


def _trails(tables, trail=()):
    """Where values stand in tables."""
    for key, value in tables.items() if isinstance(tables, dict) else enumerate(tables):
        if isinstance(value, dict | list) and value:
            yield from _trails(value, (*trail, key))
        else:
            yield (*trail, key)


@pytest.mark.long
def test_whatever_is_typed_is_a_value_or_a_fault(monkeypatch):
    monkeypatch.setattr(Bench, "solve", lambda self: None)
    draw = random.Random(1)

    async def act(at):
        clean = at.bench.draft
        trails = [*_trails(clean.tables)]
        for words in draw.sample(WORDS, 16):
            fields = [field for field in _inputs(at) if draw.random() < 0.05]
            for field in fields or [draw.choice(_inputs(at))]:
                field.value = words
            if words != "\ud800" and draw.random() < 0.5:
                at.bench.edit(at.bench.draft.with_value(draw.choice(trails), words))
            # what is saved is read back, or was refused with the fault that is shown
            text = at.bench.draft.text
            assert (at.bench.case is None) == bool(at.bench.faults)
            assert tomllib.loads(text) is not None and text.encode("utf-8")
            for fault in at.bench.faults:
                assert fault.text and fault.text.isprintable()
            at.bench.edit(clean)
            await asyncio.sleep(0)
        assert not at.bench.faults

    visit(act, COARSE + PROBE)


def _inputs(at):
    """The text fields of the form."""
    found = at.user.client.elements.values()
    return [element for element in found if isinstance(element, ui.input) and element.props.get("debounce")]


@pytest.mark.parametrize("words", WORDS)
def test_titles_and_names_are_texts_wherever_they_stand(words, monkeypatch):
    draft = (
        draft_of_text(COARSE, "can.toml")
        .with_value(("title",), words)
        .with_name(("materials",), "dense paste", words)
    )
    draft = draft.with_value(("points",), [{"name": words, "r_mm": 0.0, "z_mm": 59.0}])
    try:
        case = draft.case()
    except InputError as failure:
        assert str(failure)
        return
    from thermsim.figures.container import live

    drawn = live.outlines_svg(case, live.canvas_of(case, 560, 480), filled=True)
    assert "<img" not in drawn and "<script" not in drawn
    assert tomllib.loads(draft.text)["title"] == words


@pytest.mark.parametrize("seed", range(2))
def test_files_of_any_bytes_are_opened_or_refused(seed):
    draw = random.Random(100 + seed)
    sound = (COARSE + PROBE).encode()
    for name in ("case.toml", "result.h5", "result.hdf5", *NAMES):
        mixed = (
            b"PK\x03\x04" + bytes(99),
            b"\x89HDF\r\n\x1a\n" + draw.randbytes(400),
            b"\xff\xfe" + draw.randbytes(50),
        )
        flipped = bytes(one ^ (draw.random() < 0.01) for one in sound)
        for data in (b"", bytes(100), draw.randbytes(3000), *mixed, flipped, sound[: draw.randrange(900)]):
            try:
                found, result = files.opened(data, name)
            except InputError as failure:
                assert "\n[" not in str(failure) and "Traceback" not in str(failure)
            else:
                assert result is None
                assert tables_in(tables_in(found.tables, "us"), "metric") is not None
                for system in ("metric", "us"):
                    fields_of(found.seen(system), "container", ("container",), system)


@pytest.mark.parametrize("name", NAMES)
def test_a_log_is_never_sought_by_its_name_and_its_headers_are_texts(name, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    draft = files.with_log(draft_of_text(COARSE, "can.toml"), name, LOG)
    trail = ("process",)
    (field,) = [one for one in fields_of(draft, "process", trail) if one.key.name == "csv_temperature"]
    assert field.choices == ("Time [min]", "<b>Retort</b> [C]", "=cmd|' /C calc'!A0")
    with pytest.raises(InputError) as raised:  # the films are still to be given
        draft.case()
    assert "cooling_starts_min" in str(raised.value)
    with pytest.raises(InputError):  # a name without the file that was handed in
        draft_of_text(draft.text, "can.toml").case()


def test_too_large_files_are_refused(monkeypatch):
    with pytest.raises(InputError, match="too large"):
        draft_of_bytes(b"#" * 1_000_001, "a.toml")
    monkeypatch.setattr(files, "LARGEST_LOG", 1000)
    with pytest.raises(InputError, match="too large"):
        files.log_text(b"1,2\n" * 300, "a.csv")
    with pytest.raises(InputError, match="spreadsheet"):
        files.log_text(b"PK\x03\x04....", "a.csv")
    with pytest.raises(InputError, match="NUL"):
        files.log_text(b"1,2\n3,\x004\n\x01", "a.csv")
