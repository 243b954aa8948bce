"""A case with some of its numbers changed, checked by the same reader as the file."""

from __future__ import annotations

import functools
from collections.abc import Mapping

from thermsim.case.case import Case
from thermsim.case.file.reader import case_from_tables
from thermsim.case.keys.paths import Trail, changed
from thermsim.case.keys.syntax import parsed


def varied_case(text: str, values: Mapping[Trail, float], *, name: str, attachments: Mapping[str, str]) -> Case:
    """The case of a file's text with other numbers at some trails, without its study.

    Parameters
    ----------
    text : str
        The case file.
    values : mapping of trail to float
        As of :class:`thermsim.case.keys.paths.Place`, in the file's units.
    name : str
        What messages call the file.
    attachments : mapping of str to str
        Texts of the files that the case names.

    Raises
    ------
    CaseError
        As the reader's, if a value is out of its range or does not go with the rest.
    """
    tables = changed(_tables(text, name), values)
    del tables["study"]
    return case_from_tables(tables, text="", name=name, attachments=attachments)


@functools.lru_cache(maxsize=4)
def _tables(text: str, name: str) -> dict[str, object]:
    """The tables of a text; a worker that makes many runs of one study parses it once."""
    return parsed(text, name)
