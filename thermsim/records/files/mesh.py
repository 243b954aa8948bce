"""A grid and its fields as lists of nodes and quadrilaterals, the form in which viewers of meshes read them.

In a results file they are the group ``mesh`` (``probe_mesh`` for the container with its probe). Fields and places are
no copies there: they are virtual datasets, views of the variables at the root.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import h5py
import numpy as np
from numpy.typing import NDArray

from thermsim.assess.simulate.result import Result
from thermsim.records.files.variables import PROBED
from thermsim.solve.grid.grid import Grid

#: Fields that do not change with time, by what the names of the grid's variables begin with.
STEADY: Mapping[str, tuple[str, ...]] = {
    "": ("end_of_heating", "lethality", "heating_lethality"),
    PROBED: ("end_of_heating", "lethality"),
}
#: Where in a variable at the root the values of a view are taken from, and to where in the view.
_Part = tuple[object, h5py.Dataset, object]


def meshes(result: Result) -> dict[str, Grid]:
    """The grids of a result, by what the names of their variables begin with."""
    probed = None if result.probe is None else result.probe.grid
    return {"": result.grid} if probed is None else {"": result.grid, PROBED: probed}


def quadrilaterals(grid: Grid) -> NDArray[np.int32]:
    """Node numbers of the corners of the quadrilaterals that conduct, counterclockwise seen with r to the right.

    Parameters
    ----------
    grid : Grid

    Returns
    -------
    ndarray of int, shape (n, 4)
        A node's number is that of its column times the number of levels, plus that of its level; all from 0.
    """
    columns, levels = np.nonzero(grid.material >= 0)
    across, first = grid.shape[1], columns * grid.shape[1] + levels
    return np.stack([first, first + across, first + across + 1, first + 1], axis=1).astype(np.int32)


def write_meshes(file: h5py.File, result: Result) -> None:
    """Add the groups to a results file that holds its variables already."""
    for before, grid in meshes(result).items():
        _write(file, before, grid)
    source = file["temperature"]
    for step in range(result.time.size):
        _view(file["mesh"], f"temperature_{step}", [(np.s_[:], source, np.s_[step])], (source[0].size,))


def _write(file: h5py.File, before: str, grid: Grid) -> None:
    group = file.create_group(f"{before}mesh")
    group.attrs["long_name"] = "nodes, the quadrilaterals that conduct, and fields, as lists for viewers of meshes"
    cells, (n_r, n_z) = quadrilaterals(grid), grid.shape
    axes = {"node": n_r * n_z, "quadrilateral": len(cells), "corner": 4, "direction": 2}
    for axis, size in axes.items():
        _list(group, axis, np.arange(size, dtype=np.int32), (), f"number of a {axis}").make_scale(axis)
    group["direction"].attrs["long_name"] = "0: distance from the axis, 1: height"
    _list(group, "cells", cells, ("quadrilateral", "corner"), "node numbers of the corners, counterclockwise")
    material = grid.material[grid.material >= 0].astype(np.int32)
    _list(group, "material", material, ("quadrilateral",), f"{before}material_number of a quadrilateral")
    _view(
        group,
        "places",
        [(np.s_[:, 0], file[f"{before}r"], np.s_[:]), (np.s_[:, 1], file[f"{before}z"], np.s_[:])],
        (n_r * n_z, 2),
    )
    for name in STEADY[before]:
        _view(group, name, [(np.s_[:], file[before + name], np.s_[:])], (n_r * n_z,))


def _list(
    group: h5py.Group, name: str, values: NDArray[np.int32], axes: Sequence[str], long_name: str
) -> h5py.Dataset:
    data = group.create_dataset(name, data=values, compression="gzip", shuffle=True)
    data.attrs["units"], data.attrs["long_name"] = "1", long_name
    for place, axis in enumerate(axes):
        data.dims[place].attach_scale(group[axis])
    return data


def _view(group: h5py.Group, name: str, parts: Sequence[_Part], shape: tuple[int, ...]) -> None:
    """A virtual dataset over the nodes: parts of variables of the same file, their axes laid end to end."""
    layout = h5py.VirtualLayout(shape, dtype=parts[0][1].dtype)
    for there, source, here in parts:
        # a dot stands for the file itself, whatever it comes to be called
        layout[there] = h5py.VirtualSource(".", source.name, shape=source.shape)[here]
    data = group.create_virtual_dataset(name, layout, fillvalue=np.nan)
    data.attrs["units"] = parts[0][1].attrs["units"]
    data.attrs["long_name"] = parts[0][1].attrs["long_name"] if len(parts) == 1 else "places of the nodes: r, z"
    for place, axis in enumerate(("node", "direction")[: len(shape)]):
        data.dims[place].attach_scale(group[axis])
