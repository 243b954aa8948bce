"""The server of the page: this machine alone, a secret in the address, nothing from elsewhere and nothing kept."""

from __future__ import annotations

import contextlib
import gc
import hmac
import secrets
import socket
import webbrowser
from collections.abc import Awaitable, Callable, Iterable, Mapping
from importlib import resources
from pathlib import Path
from typing import Any

import uvicorn
from fastapi import FastAPI
from nicegui import app as pages
from nicegui import ui

from thermsim.case.file.reader import LARGEST_CASE, read_case
from thermsim.errors import CaseError, InputError
from thermsim.loggers.textfile import read_bytes, utf8
from thermsim.page.bench import Bench
from thermsim.page.draft import Draft, draft_of_text
from thermsim.page.files import LARGEST_UPLOAD
from thermsim.page.form.samples import new_draft
from thermsim.page.layout import MOST_BENCHES, Page
from thermsim.text import plain

Scope = dict[str, Any]
Receive = Callable[[], Awaitable[dict[str, Any]]]
Send = Callable[[dict[str, Any]], Awaitable[None]]

#: Bytes in the secret of the address.
SECRET = 24
#: What an answer lets a browser do: nothing that is not served from here.
HEADERS = (
    (
        b"content-security-policy",
        b"default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval'; style-src 'self' 'unsafe-inline'; "
        b"img-src 'self' data: blob:; font-src 'self' data:; connect-src 'self' ws: wss:; object-src 'none'; "
        b"base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
    ),
    (b"referrer-policy", b"no-referrer"),
    (b"x-content-type-options", b"nosniff"),
)


def starting_draft(path: str | None) -> Draft:
    """The case that the page begins with: a file's, with the logger's file that it names, or the starting case.

    Raises ``InputError`` if the file cannot be read or is no TOML; what else is wrong with it is shown on the page.
    """
    if path is None:
        return new_draft()
    name = plain(Path(path).name, 120)
    text = utf8(read_bytes(path, limit=LARGEST_CASE, what="a case file"), name)
    try:
        attachments: Mapping[str, str] = read_case(path).attachments
    except CaseError:
        attachments = {}
    return draft_of_text(text, name, attachments)


class Guard:
    """Lets through what comes to this machine by its own name, with the secret, and is no larger than a file may be.

    The secret is the first step of every path; the names under which the server may be asked have their port each.
    """

    def __init__(self, app: Any, secret: str, hosts: Iterable[str]) -> None:
        self.app, self.secret, self.hosts = app, secret, frozenset(hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request, or refuse it."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        status = self.refusal(scope)
        if status is None:
            got = _Received(receive)
            try:
                await self.app(scope, got, _with_headers(send))
            except Exception:
                if not got.gone:  # what fails as nobody is there to answer any more is no failure
                    raise
        elif scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": 1008})
        else:
            await send({"type": "http.response.start", "status": status, "headers": [(b"content-length", b"0")]})
            await send({"type": "http.response.body", "body": b""})

    def refusal(self, scope: Scope) -> int | None:
        """The status with which a request is refused; None if it is not."""
        headers = {name.lower(): value.decode("latin-1") for name, value in scope["headers"]}
        if headers.get(b"host", "") not in self.hosts:
            return 421
        origin = headers.get(b"origin")
        if origin is not None and origin not in {f"http://{host}" for host in self.hosts}:
            return 403
        first = scope["path"].split("/")[1] if scope["path"].startswith("/") else ""
        if not hmac.compare_digest(first.encode("utf-8", "replace"), self.secret.encode()):
            return 404
        length = headers.get(b"content-length", "0")
        return 413 if not length.isdigit() or int(length) > LARGEST_UPLOAD + 10_000 else None


class _Received:
    """Receives no more than the largest file, whatever length was said; ``gone`` once the browser is."""

    def __init__(self, receive: Receive) -> None:
        self.receive, self.bytes, self.gone = receive, 0, False

    async def __call__(self) -> dict[str, Any]:
        """The next message."""
        message = await self.receive()
        if message["type"] == "http.request":
            self.bytes += len(message.get("body", b""))
            if self.bytes > LARGEST_UPLOAD + 10_000:
                return {"type": "http.disconnect"}
        self.gone = message["type"] == "http.disconnect"
        return message


def _with_headers(send: Send) -> Send:
    async def one(message: dict[str, Any]) -> None:
        if message["type"] == "http.response.start":
            message = {**message, "headers": [*message.get("headers", ()), *HEADERS]}
        await send(message)

    return one


class Benches:
    """The benches of a server: that of the printed address, and more by their numbers, ``?bench=2``."""

    def __init__(self, draft: Draft) -> None:
        self.draft = draft
        self.made: dict[int, Bench] = {}

    def bench(self, number: str) -> Bench:
        """The bench of a number; what is no number of one is the first."""
        place = int(number) if number.isdecimal() and len(number) < 4 and 1 <= int(number) <= MOST_BENCHES else 1
        if place not in self.made:
            self.made[place] = Bench(self.draft)
        return self.made[place]

    def close(self) -> None:
        """Stop all work."""
        for bench in self.made.values():
            bench.close()


def page_of(benches: Benches) -> Callable[[], None]:
    """The function that builds a page for whoever asks."""
    style = resources.files("thermsim.page").joinpath("page.css").read_text("utf-8")

    def root() -> None:
        request = ui.context.client.request
        number = request.query_params.get("bench", "1") if request is not None else "1"
        Page(benches.bench(number), style)

    return root


def guarded(benches: Benches, secret: str, hosts: Iterable[str]) -> Guard:
    """The whole application behind its guard."""
    outer = FastAPI(docs_url=None, redoc_url=None, openapi_url=None)
    ui.run_with(
        outer,
        root=page_of(benches),
        mount_path=f"/{secret}",
        title="thermsim",
        favicon="🥫",
        show_welcome_message=False,
        tailwind=False,
        reconnect_timeout=60.0,
    )
    pages.on_shutdown(benches.close)
    return Guard(outer, secret, hosts)


def serve(draft: Draft, *, address: str, port: int = 0, browser: bool = True) -> None:
    """Serve the page until Ctrl-C, beginning with a case; on a free port where it is 0.

    Raises ``InputError`` if that cannot be listened on.
    """
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    listening = socket.socket(family)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((address, port))
    except (OSError, UnicodeError) as failure:
        listening.close()
        reason = getattr(failure, "strerror", None) or "no such address"
        raise InputError(f"{plain(address)}, port {port}: cannot be listened on ({reason.lower()})") from None
    port = listening.getsockname()[1]
    name = f"[{address}]" if family == socket.AF_INET6 else address
    hosts = {f"{name}:{port}", *({f"localhost:{port}"} if address in ("127.0.0.1", "localhost", "::1") else ())}
    secret = secrets.token_urlsafe(SECRET)
    url = f"http://{name}:{port}/{secret}/"
    server = uvicorn.Server(
        uvicorn.Config(guarded(Benches(draft), secret, hosts), log_level="warning", access_log=False)
    )
    print(f"the page is at {url}\nCtrl-C ends it", flush=True)
    if browser:
        webbrowser.open(url)
    with contextlib.suppress(KeyboardInterrupt):
        server.run(sockets=[listening])
    gc.freeze()  # or the interpreter would look for garbage for seconds before it ends
