"""An XDMF file beside a results file: general viewers of meshes open it and find the fields in the results file.

It holds no numbers of its own but names the lists in the results file (see :mod:`thermsim.records.files.mesh`): the
quadrilaterals that conduct, with r and z in m as X and Y, the temperatures as a series over the process time in s,
and the fields that do not change. Units stand in the fields' names. Where there is no product the lethality is NaN:
viewers leave such places out, or paint them in their colour for what is not a number.

Source of the format: the extensible data model and format (XDMF), version 3, as two readers of it take it (the tests
hold it against one of them).
"""

from __future__ import annotations

import os
from pathlib import Path
from xml.etree import ElementTree as Xml
from xml.sax.saxutils import escape

import numpy as np
from numpy.typing import NDArray

from thermsim.assess.simulate.result import Result
from thermsim.errors import InputError
from thermsim.records.files.atomic import write_text
from thermsim.records.files.mesh import STEADY, meshes, quadrilaterals
from thermsim.records.files.variables import PROBED
from thermsim.solve.grid.grid import Grid
from thermsim.text import plain

#: Names of the fields in viewers, with their units.
FIELDS = {
    "temperature": "temperature_C",
    "end_of_heating": "end_of_heating_C",
    "lethality": "lethality_s",
    "heating_lethality": "heating_lethality_s",
}


def save_xdmf(result: Result, results_file: str | Path) -> list[Path]:
    """Write the XDMF file of a results file beside it, and one for the container with its probe if there is one.

    Parameters
    ----------
    result : Result
        The result that was saved.
    results_file : str or Path
        Where :func:`~thermsim.records.files.results.save_result` saved it. The new file has its name with the ending
        ``.xdmf``; that of the container with its probe ends in ``-probe.xdmf``. Both refer to it without a folder, so
        that all of them can be moved together.

    Returns
    -------
    list of Path
        The files written, each whole or not at all.

    Raises
    ------
    InputError
        If a file cannot be written, or the results file has a name that XDMF cannot refer to.
    """
    path = Path(results_file)
    name = path.name
    if ":" in name or name != name.strip() or not name.isprintable():
        raise InputError(
            f"{plain(os.fspath(path), 200)}: an XDMF file cannot refer to this name; use one without colons, control "
            "characters, and spaces at its ends"
        )
    written = []
    for before, grid in meshes(result).items():
        place = path.with_name(f"{path.stem}{'-probe' if before == PROBED else ''}.xdmf")
        write_text(place, _document(_Mesh(name, before, grid), None if before else result.time, result.case.title))
        written.append(place)
    return written


class _Mesh:
    """The XML elements of one mesh in a results file."""

    def __init__(self, file: str, before: str, grid: Grid) -> None:
        self.file, self.before, self.grid = file, before, grid
        self.nodes, self.cells = int(np.prod(grid.shape)), len(quadrilaterals(grid))

    def uniform(self, within: Xml.Element, name: str, time: float | None, step: int) -> None:
        """Add a grid: the mesh itself, its time if it has one, and its fields."""
        grid = Xml.SubElement(within, "Grid", Name=name, GridType="Uniform")
        if time is not None:
            Xml.SubElement(grid, "Time", Value=repr(time))
        topology = Xml.SubElement(grid, "Topology", TopologyType="Quadrilateral", NumberOfElements=f"{self.cells}")
        self._data(topology, "cells", f"{self.cells} 4", whole=True)
        geometry = Xml.SubElement(grid, "Geometry", GeometryType="XY")
        self._data(geometry, "places", f"{self.nodes} 2")
        if time is not None:
            self._field(grid, FIELDS["temperature"], f"temperature_{step}")
        for name in STEADY[self.before]:
            self._field(grid, FIELDS[name], name)
        material = Xml.SubElement(grid, "Attribute", Name="material", AttributeType="Scalar", Center="Cell")
        self._data(material, "material", f"{self.cells}", whole=True)

    def _field(self, grid: Xml.Element, shown: str, name: str) -> None:
        field = Xml.SubElement(grid, "Attribute", Name=shown, AttributeType="Scalar", Center="Node")
        self._data(field, name, f"{self.nodes}")

    def _data(self, within: Xml.Element, name: str, size: str, *, whole: bool = False) -> None:
        kind, precision = ("Int", "4") if whole else ("Float", "8")
        data = Xml.SubElement(within, "DataItem", Dimensions=size, NumberType=kind, Precision=precision, Format="HDF")
        data.text = f"{self.file}:/{self.before}mesh/{name}"


def _document(mesh: _Mesh, time: NDArray[np.float64] | None, title: str) -> str:
    """The file's text: a series over time, or where there are no times a single grid."""
    root = Xml.Element("Xdmf", Version="3.0")
    domain = Xml.SubElement(root, "Domain")
    if time is None:
        mesh.uniform(domain, "container with its probe", None, 0)
    else:
        series = Xml.SubElement(domain, "Grid", Name="container", GridType="Collection", CollectionType="Temporal")
        for step, when in enumerate(time):
            mesh.uniform(series, f"step {step}", float(when), step)
    Xml.indent(root, " ")
    materials = "; ".join(f"{number} {plain(one.name, 60)}" for number, one in enumerate(mesh.grid.materials))
    about = (
        f"{plain(title, 200)}: X is r, Y is z, in m; times in s; temperatures in degC, lethality in s (NaN outside "
        f"of the product). Materials: {materials}."
    )
    # two hyphens would end an XML comment
    about = escape(about.replace("--", "- "))
    return f'<?xml version="1.0" encoding="utf-8"?>\n<!-- {about} -->\n{Xml.tostring(root, encoding="unicode")}\n'
