"""Limits to what a file of unknown origin makes this program read: plain arrays and texts in the file itself."""

from __future__ import annotations

from typing import Any

import h5py
import numpy as np
from numpy.typing import NDArray

#: Compression makes numbers at most about this many times smaller (the limit of deflate is 1032).
TIGHTEST = 1100
#: No result is larger than this [bytes].
LARGEST = 8_000_000_000
#: Filters that this program writes: deflate, shuffle, checksum. Any other would be looked for on the machine and run.
_FILTERS = (h5py.h5z.FILTER_DEFLATE, h5py.h5z.FILTER_SHUFFLE, h5py.h5z.FILTER_FLETCHER32)


class Guarded:
    """The datasets at the root of an HDF5 file of a known size, read one by one by name.

    Parameters
    ----------
    file : h5py.File
    size : int
        Of the file [bytes]; all that is read must be able to come out of it.
    """

    def __init__(self, file: h5py.File, size: int) -> None:
        self.file = file
        self.left = min(TIGHTEST * size, LARGEST)

    def __contains__(self, name: str) -> bool:
        return name in self.file

    def value(self, name: str) -> NDArray[Any] | str:
        """The array or the text of that name.

        Raises
        ------
        ValueError
            If it is a link, lies elsewhere, is of another kind, or claims to be larger than the file can hold.
        KeyError
            If there is none.
        """
        if "/" in name or not isinstance(self.file.get(name, getlink=True), h5py.HardLink):
            raise ValueError(f"{name} is no part of the file itself")
        data = self.file[name]
        if not isinstance(data, h5py.Dataset) or data.is_virtual or data.external:
            raise ValueError(f"{name} is no array that lies in the file itself")
        made = data.id.get_create_plist()
        if any(made.get_filter(k)[0] not in _FILTERS for k in range(made.get_nfilters())):
            raise ValueError(f"{name} is packed in a way that this program does not use")
        text = h5py.check_string_dtype(data.dtype) is not None
        if not text and data.dtype.kind not in "biuf":
            raise ValueError(f"{name} holds neither numbers nor text")
        if data.nbytes > TIGHTEST * data.id.get_storage_size():
            raise ValueError(f"{name} claims to be larger than the file can hold")
        self._take(data.nbytes, name)
        if not text:
            array: NDArray[Any] = data[()]
            return array.astype(bool) if data.attrs.get("dtype") == "bool" else array
        if data.shape == ():
            return self._text(data[()], name)
        # one after another: many may point to the same long text
        return np.array([self._text(data[place], name) for place in np.ndindex(data.shape)], dtype=object)

    def text(self, name: str) -> str:
        """The text of that name."""
        value = self.value(name)
        if not isinstance(value, str):
            raise ValueError(f"{name} is no text")
        return value

    def array(self, name: str) -> NDArray[Any]:
        """The array of that name."""
        value = self.value(name)
        if isinstance(value, str):
            raise ValueError(f"{name} is no array")
        return value

    def _text(self, value: bytes, name: str) -> str:
        self._take(len(value), name)
        return value.decode("utf-8")

    def _take(self, size: int, name: str) -> None:
        self.left -= size
        if self.left < 0:
            raise ValueError(f"{name} claims to be larger than the file can hold")
