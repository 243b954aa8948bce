"""Cases of a family in one file: [[family]] says for each member what differs from the case itself."""

from __future__ import annotations

import json
import re
from pathlib import Path

from thermsim.case.case import Case
from thermsim.case.file.reader import case_from_text, read_case
from thermsim.case.keys.members import member_names
from thermsim.case.keys.syntax import parsed


def read_family(path: str | Path) -> list[Case]:
    """Read the members of a case file's family, in its order; the case itself where it has none.

    Parameters
    ----------
    path : str or Path
        The file, as for :func:`thermsim.case.file.reader.read_case`.

    Returns
    -------
    list of Case
        Each with ``member`` and with a text of its own, from which it can be read again by itself.

    Raises
    ------
    CaseError
        With every fault of the file, or of the first member that is at fault.
    """
    path = Path(path)
    whole = read_case(path)
    if whole.member:
        return [whole]
    names = member_names(parsed(whole.text, whole.file))
    if not names:
        return [whole]
    texts = [f"member = {json.dumps(name)}\n{whole.text}" for name in names]
    return [case_from_text(text, name=whole.file, folder=path.parent) for text in texts]


def folder_name(name: str) -> str:
    """A member's name as that of a folder."""
    return re.sub(r"[^\w.-]+", "-", name).strip("-.") or "case"
