"""The element of the page that shows the section and tells where the pointer is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from nicegui.element import Element
from nicegui.events import GenericEventArguments


@dataclass(frozen=True)
class Pointer:
    """A move of the pointer: the browser's name of it, and pixels of the picture."""

    kind: str
    x: float
    y: float


class Section(Element, component="section.js"):
    """A picture under a drawing, with what is read off below; its size is in its pixels, shown as wide as can be."""

    def __init__(self, size: tuple[int, int], on_pointer: Callable[[Pointer], None]) -> None:
        super().__init__()
        self._props["width"], self._props["height"] = size
        # what a page that is opened later begins with
        self._shown = self._props["shown_first"] = {"source": "", "drawing": "", "read": "", "old": False}

        def told(event: GenericEventArguments) -> None:
            on_pointer(Pointer(str(event.args["kind"]), float(event.args["x"]), float(event.args["y"])))

        self.on("pointer", told)

    @property
    def drawing(self) -> str:
        """The drawing over the picture, as SVG."""
        return str(self._shown["drawing"])

    def show(self, **changes: str | bool) -> None:
        """Change the picture's ``source``, the ``drawing`` (SVG), what is ``read`` off, whether it is ``old``."""
        changes = {name: value for name, value in changes.items() if self._shown[name] != value}
        if changes:
            self._shown.update(changes)
            self.run_method("show", changes)
