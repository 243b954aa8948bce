"""A headless Chromium driven over its DevTools protocol: what a page asks for, says and shows, and how it is used."""

from __future__ import annotations

import base64
import contextlib
import json
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

NAMES = ("chromium", "chromium-browser", "google-chrome")


def chromium() -> str | None:
    """The browser's path; None where there is none."""
    return next((found for name in NAMES if (found := shutil.which(name))), None)


@contextlib.contextmanager
def served(case: Path) -> Iterator[str]:
    """The address of a page on a case, served by a process of its own, which ends with status 0."""
    command = [sys.executable, "-m", "thermsim", "page", str(case), "--no-browser"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=case.parent) as server:
        told = server.stdout.readline() if server.stdout else ""
        try:
            yield re.search(r"http\S+", told).group()  # type: ignore[union-attr]
        finally:
            server.send_signal(2)
            assert server.wait(60) == 0


class Tab:
    """One tab: ``requests`` are the addresses it asked for, ``errors`` what its console had to complain of."""

    def __init__(self, address: str) -> None:
        from websockets.sync.client import connect

        self._open = contextlib.ExitStack()
        self._socket = self._open.enter_context(connect(address, max_size=None, proxy=None))
        self._number = 0
        self.requests: list[str] = []
        self.errors: list[str] = []
        for domain in ("Page", "Runtime", "Network", "Log"):
            self.send(f"{domain}.enable")

    def close(self) -> None:
        self._open.close()

    def send(self, method: str, **parameters: object) -> dict:
        self._number += 1
        self._socket.send(json.dumps({"id": self._number, "method": method, "params": parameters}))
        while True:
            message = json.loads(self._socket.recv(timeout=60))
            if message.get("id") == self._number:
                if "error" in message:
                    raise RuntimeError(f"{method}: {message['error']}")
                return message["result"]
            self._heard(message)

    def _heard(self, message: dict) -> None:
        method, said = message.get("method"), message.get("params", {})
        if method in ("Network.requestWillBeSent", "Network.webSocketCreated"):
            self.requests.append(said.get("request", said)["url"])
        elif method == "Runtime.exceptionThrown":
            self.errors.append(said["exceptionDetails"].get("exception", {}).get("description", "exception"))
        elif method == "Log.entryAdded" and said["entry"]["level"] == "error":
            self.errors.append(said["entry"]["text"])
        elif method == "Runtime.consoleAPICalled" and said["type"] in ("error", "assert"):
            self.errors.append(str([one.get("value", one.get("description")) for one in said["args"]]))

    def listen(self, seconds: float) -> None:
        """Let the page be for a while."""
        until = time.monotonic() + seconds
        while (left := until - time.monotonic()) > 0:
            with contextlib.suppress(TimeoutError):
                self._heard(json.loads(self._socket.recv(timeout=left)))

    def size(self, width: int, height: int) -> None:
        self.send("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)

    def open(self, url: str) -> None:
        self.send("Page.bringToFront")  # a tab behind others takes no clicks
        self.send("Page.navigate", url=url)

    def ask(self, expression: str) -> object:
        """The value of a JavaScript expression."""
        found = self.send("Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True)
        if "exceptionDetails" in found:
            raise RuntimeError(found["exceptionDetails"]["exception"]["description"])
        return found["result"].get("value")

    def wait(self, expression: str, seconds: float = 90.0) -> object:
        """Wait until an expression is true."""
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            if found := self.ask(expression):
                return found
            self.listen(0.05)
        raise TimeoutError(expression)

    def text(self) -> str:
        return str(self.ask("document.body.innerText"))

    def middle(self, selector: str) -> tuple[float, float]:
        """Where the middle of an element is, after it was brought into sight."""
        found = self.ask(
            f"(() => {{ const e = document.querySelector({json.dumps(selector)});"
            " e.scrollIntoView({block: 'center'});"
            " const b = e.getBoundingClientRect(); return [b.x + b.width / 2, b.y + b.height / 2] })()"
        )
        return float(found[0]), float(found[1])

    def mouse(self, kind: str, x: float, y: float, *, held: bool = False) -> None:
        button = "left" if held or kind != "mouseMoved" else "none"
        self.send("Input.dispatchMouseEvent", type=kind, x=x, y=y, button=button, buttons=int(held), clickCount=1)

    def click(self, selector: str) -> None:
        x, y = self.middle(selector)
        self.mouse("mouseMoved", x, y)
        self.mouse("mousePressed", x, y, held=True)
        self.mouse("mouseReleased", x, y)

    def drag(self, start: tuple[float, float], end: tuple[float, float], steps: int = 6) -> None:
        self.mouse("mouseMoved", *start)
        self.mouse("mousePressed", *start, held=True)
        for k in range(1, steps + 1):
            part = k / steps
            self.mouse(
                "mouseMoved", *(one + part * (other - one) for one, other in zip(start, end, strict=True)), held=True
            )
            self.listen(0.05)
        self.mouse("mouseReleased", *end)

    def type(self, selector: str, words: str) -> None:
        """Put words in place of what an input holds; again where the page was built anew under the hand."""
        field = f"document.querySelector({json.dumps(selector)})"
        for _ in range(20):
            self.click(selector)
            self.ask(f"{field}.select()")
            self.send("Input.insertText", text=words)
            self.listen(0.3)
            if self.ask(f"{field}?.value") == words:
                return
        raise AssertionError(f"{selector} does not keep {words!r}")

    def press(self, key: str) -> None:
        for kind in ("keyDown", "keyUp"):
            self.send("Input.dispatchKeyEvent", type=kind, key=key, code=key, windowsVirtualKeyCode=_CODES[key])

    def picture(self, path: Path) -> None:
        """Write what is seen, in the format of the file's name."""
        found = self.send("Page.captureScreenshot", format=path.suffix[1:])
        Path(path).write_bytes(base64.b64decode(found["data"]))


_CODES = {"Tab": 9, "Enter": 13, "ArrowRight": 39, "ArrowLeft": 37, "Escape": 27}


class Browser:
    """A headless browser with a profile of its own; a context manager."""

    def __enter__(self) -> Browser:
        self._folder = tempfile.TemporaryDirectory(ignore_cleanup_errors=True)
        program = chromium()
        assert program is not None
        flags = (
            "--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--no-first-run",
            "--disable-background-networking", "--remote-debugging-port=0", f"--user-data-dir={self._folder.name}",
            "about:blank",
        )  # fmt: skip
        self._process = subprocess.Popen([program, *flags], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        told = Path(self._folder.name) / "DevToolsActivePort"
        for _ in range(600):
            if told.exists() and told.read_text().count("\n"):
                break
            time.sleep(0.1)
        self.port = int(told.read_text().split("\n")[0])
        self.tabs: list[Tab] = []
        return self

    def tab(self) -> Tab:
        """A new tab."""
        import urllib.request

        opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
        request = urllib.request.Request(f"http://127.0.0.1:{self.port}/json/new?about:blank", method="PUT")
        with opener.open(request) as answer:
            made = Tab(json.load(answer)["webSocketDebuggerUrl"])
        made.size(1280, 800)
        self.tabs.append(made)
        return made

    def __exit__(self, *_: object) -> None:
        for tab in self.tabs:
            tab.close()
        self._process.terminate()
        self._process.wait(timeout=20)
        self._folder.cleanup()
