"""A page without a browser, on a coarse case that is solved quickly."""

import asyncio
import contextlib
import gc
import signal
import time

from nicegui import background_tasks
from nicegui.elements.upload_files import SmallFileUpload
from nicegui.testing import user_simulation
from small_case import SMALL

from thermsim.page.draft import draft_of_text
from thermsim.page.server import Benches, page_of

# the library collects garbage twice for each page, which need not go through all that was imported
gc.freeze()

COARSE = SMALL + "\n[accuracy]\ntemperature_K = 0.5\nlethality_percent = 10.0\nplace_mm = 10.0\n"
#: Of the same can a probe whose depth is known.
PROBE = """
[probe]
entry = "lid"
mount = "through"
insertion_mm = 60.0
segments = [{ diameter_mm = 6.0, length_mm = 94.0, material = "stainless steel" }]
sensing_mm = 4.0
"""


class Visit:
    """Somebody at the page: the user of the library's tests, and the bench behind it."""

    def __init__(self, user, benches):
        self.user = user
        self.benches = benches

    @property
    def bench(self):
        return self.benches.bench("1")

    async def type(self, mark, words):
        """Put words into a field in place of what it holds."""
        self.user.find(marker=mark).clear()
        if words:
            self.user.find(marker=mark).type(words)
        await asyncio.sleep(0)

    async def give(self, mark, name, data):
        """Drop a file of bytes."""
        await self.field(mark).handle_uploads([SmallFileUpload(name, "text/csv", data)])
        await asyncio.sleep(0.1)

    async def downloaded(self, mark):
        """The bytes that a button leaves behind."""
        self.user.find(marker=mark).click()
        return (await self.user.download.next(timeout=60)).content

    def field(self, mark):
        (element,) = self.user.find(marker=mark).elements
        return element

    async def solved(self):
        """Wait for the answer of the case as it stands."""
        await self.until(lambda: self.bench.fresh and not self.bench.jobs["answer"].running)
        return self.bench.result

    @staticmethod
    async def until(true, seconds=240.0):
        end = time.monotonic() + seconds
        while not true():
            assert time.monotonic() < end, "it never came true"
            await asyncio.sleep(0.02)


async def _cancelled():
    """Cancel what the library would cancel once and then wait two seconds for, as some of it goes on once."""
    for _ in range(3):
        for task in tuple(background_tasks.running_tasks):
            task.cancel()
        await asyncio.sleep(0.01)


def visit(act, text=COARSE, attachments=None):
    """Open the page on a case, and do something there; gives back what that gives back."""

    async def visited():
        benches, failure = Benches(draft_of_text(text, "can.toml", attachments)), None
        async with user_simulation(root=page_of(benches)) as user:
            await user.open("/")
            with contextlib.closing(benches):
                try:
                    found = await act(Visit(user, benches))
                except BaseException as raised:  # the library does not end if it is left by an exception
                    failure = raised
            await _cancelled()
        if failure is not None:
            raise failure
        return found

    # the library hears interrupts by itself from now on; tests of studies need them where they were
    before = signal.getsignal(signal.SIGINT)
    try:
        return asyncio.run(visited())
    finally:
        signal.signal(signal.SIGINT, before)
