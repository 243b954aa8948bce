"""Context of a case file being read: faults and notes so far, and where the paths of faults lead to in the file."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

from thermsim.case.keys.checks import Table
from thermsim.case.rules import key_of
from thermsim.errors import WHOLE, Fault, sentence
from thermsim.physics.materials import Material


@dataclass(frozen=True)
class Context:
    """Faults and notes of a case file so far, its ``own`` materials, the names of those ``used``, and its places.

    ``tables`` stand by the paths of the nouns that they were read into. ``labels`` are the parts of tables whose keys
    are not called like the noun's fields: path to the table and to what a sentence about that part begins with,
    "profile_mm: point 2 = [80, 33]".
    """

    file: str
    faults: list[str]
    notes: list[str] = field(default_factory=list)
    own: dict[str, Material] = field(default_factory=dict)
    used: set[str] = field(default_factory=set)
    tables: dict[str, Table] = field(default_factory=dict)
    labels: dict[str, tuple[Table, str]] = field(default_factory=dict)

    def label(self, path: str, table: Table, key: str) -> None:
        """Say which key of a table holds what a path leads to; nothing where it is left out."""
        if key in table:
            self.labels[path] = table, table.shown(key)

    def report(self, found: Iterable[Fault]) -> list[str]:
        """Add faults to those of the file, in its own words; give back the paths of those that are at fault.

        What the reader itself has reported and left as NaN, empty or out is not reported again.
        """
        paths = []
        for fault in found:
            paths.append(fault.path)
            if fault.path in self.labels:
                table, label = self.labels[fault.path]
                table.fault(sentence(label, fault.rule))
            elif not _is_known(fault.value):
                self._report(fault)
        return paths

    def _report(self, fault: Fault) -> None:
        owner, _, last = fault.path.rpartition(".")
        if fault.path in self.tables:
            self.tables[fault.path].fault(fault.rule)
        elif owner not in self.tables:
            self.faults.append(f"{self.file}: {fault}")
        else:
            table = self.tables[owner]
            key = key_of(table.keys, last.partition("[")[0])
            if key is None:
                table.fault(f"{last}: {fault.rule}")
            elif key.name in table:
                table.fault(sentence(table.shown(key.name), fault.rule))
            else:
                edge = key.quantity.edge
                amount = f"{edge(fault.value):.6g} {key.unit}" if isinstance(fault.value, float) else ""
                table.fault(f"the {last.replace('_', ' ')}, {amount.rstrip()}, {fault.rule}")


def _is_known(value: object) -> bool:
    """Tell whether a value stands for one that the reader has reported."""
    if isinstance(value, tuple):
        return not value or any(_is_known(one) for one in value)
    return value is not WHOLE and (value is None or value == "" or (isinstance(value, float) and math.isnan(value)))
