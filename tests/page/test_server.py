"""The guard of the page: the secret, the names it may be asked by, foreign pages, sizes; the command without NiceGUI.

Rung: hand-worked.
"""

import asyncio
import contextlib
import importlib.util
from pathlib import Path

import pytest

from thermsim.cli import main


def test_without_nicegui_one_line_says_how_to_get_it(monkeypatch, capsys):
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    assert main(["page"]) == 2
    told = capsys.readouterr().err
    assert told == 'thermsim: the page needs NiceGUI, which is not installed; run: pip install "thermsim[page]"\n'


nicegui = pytest.importorskip(
    "nicegui", reason='the page is not tested without NiceGUI: pip install "thermsim[page]"'
)

from thermsim.page.files import LARGEST_UPLOAD  # noqa: E402
from thermsim.page.server import Guard, starting_draft  # noqa: E402

CUP = Path(__file__).parents[2] / "cases" / "cup.toml"
HOST = "127.0.0.1:4711"


def _asked(path="/secret/", kind="http", body=(), **headers):
    """What the guard answers: the status, what the application was asked for, and the headers."""
    seen, sent, bodies = [], [], list(body)

    async def application(scope, receive, send):
        seen.append((scope["path"], await receive()))
        await send({"type": "http.response.start", "status": 200, "headers": []})

    async def receive():
        return {"type": "http.request", "body": bodies.pop(0)} if bodies else {"type": "http.disconnect"}

    async def send(message):
        sent.append(message)

    named = {"host": HOST, **headers}
    scope = {"type": kind, "path": path, "headers": [(k.encode(), v.encode("latin-1")) for k, v in named.items()]}
    asyncio.run(Guard(application, "secret", {HOST, "localhost:4711"})(scope, receive, send))
    return sent[0], seen


def test_the_address_with_its_secret_is_let_through_and_may_load_nothing_from_elsewhere():
    for headers in ({}, {"origin": f"http://{HOST}"}, {"host": "localhost:4711"}):
        answer, seen = _asked(**headers)
        assert answer["status"] == 200 and seen[0][0] == "/secret/"
    told = dict(answer["headers"])
    assert told[b"content-security-policy"].startswith(b"default-src 'self';")
    assert told[b"referrer-policy"] == b"no-referrer"


@pytest.mark.parametrize(
    ("headers", "path", "status"),
    [
        ({"host": "evil.example:4711"}, "/secret/", 421),
        ({"host": "127.0.0.1"}, "/secret/", 421),
        ({"host": ""}, "/secret/", 421),
        ({"origin": "http://evil.example"}, "/secret/", 403),
        ({"origin": "null"}, "/secret/", 403),
        ({"origin": "https://127.0.0.1:4711"}, "/secret/", 403),
        ({}, "/", 404),
        ({}, "/secre/", 404),
        ({}, "/secrets/", 404),
        ({}, "//secret/", 404),
        ({}, "/s\u00e9cret/", 404),
        ({"content-length": str(LARGEST_UPLOAD * 2)}, "/secret/", 413),
        ({"content-length": "-1"}, "/secret/", 413),
    ],
)
def test_foreign_names_and_pages_wrong_secrets_and_huge_files_are_refused(headers, path, status):
    answer, seen = _asked(path, **headers)
    assert answer["status"] == status and not seen


def test_a_socket_from_a_foreign_page_is_closed():
    answer, seen = _asked(kind="websocket", origin="http://evil.example")
    assert answer == {"type": "websocket.close", "code": 1008} and not seen


def test_a_body_that_grows_beyond_its_limit_is_cut_off(monkeypatch):
    monkeypatch.setattr("thermsim.page.server.LARGEST_UPLOAD", -9_000)
    assert _asked(body=[b"x" * 999])[1][0][1]["type"] == "http.request"
    assert _asked(body=[b"x" * 1001])[1][0][1]["type"] == "http.disconnect"


@pytest.mark.parametrize("left", [True, False])
def test_what_fails_as_its_browser_has_left_is_not_told_and_all_else_is(left):
    async def application(scope, receive, send):
        await receive()
        raise RuntimeError("No response returned.")

    async def receive():
        return {"type": "http.disconnect"} if left else {"type": "http.request", "body": b""}

    scope = {"type": "http", "path": "/secret/", "headers": [(b"host", HOST.encode())]}
    with contextlib.nullcontext() if left else pytest.raises(RuntimeError, match="No response"):
        asyncio.run(Guard(application, "secret", {HOST})(scope, receive, None))


def test_the_page_begins_with_a_file_and_the_log_that_it_names():
    draft = starting_draft(str(CUP))
    assert draft.name == "cup.toml" and list(draft.attachments) == ["cup_retort.csv"]
    assert draft.case().process.source == "cup_retort.csv"
    assert starting_draft(None).case().title == "New case"


def test_a_log_is_never_looked_for_on_the_servers_disk(tmp_path):
    draft = starting_draft(str(CUP))
    (tmp_path / "other.csv").write_text("Time [min],Retort [C]\n0,20\n1,30\n", "utf-8")
    from thermsim.errors import CaseError

    with pytest.raises(CaseError):
        draft.with_value(("process", "csv"), str(tmp_path / "other.csv")).case()


def test_a_port_that_is_taken_is_one_line(capsys):
    import socket

    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        assert main(["page", "--port", str(taken.getsockname()[1]), "--no-browser"]) == 2
    assert "cannot be listened on" in capsys.readouterr().err
